"""What the numbers of a study mean together, a line each on the command line."""

from __future__ import annotations

from fanlight.cli.screen import OUT
from fanlight.report.meaning import GRADED, remark_words, result_words, waiting_words
from fanlight.study import Meaning


def say_meaning(meaning: Meaning, is_quiet: bool) -> None:
    """Print remarks, stages and scores; why these stay empty only where somebody began to name."""
    if is_quiet:
        return
    for remark in meaning.remarks:
        OUT.print(remark_words(remark), markup=False)
    if meaning.named:
        OUT.print(f"Named by {meaning.named}.", markup=False)
    for item in meaning.gradings:
        missing = f" Missing: {'; '.join(item.missing)}." if item.missing else ""
        OUT.print(f"{item.title}: {result_words(item)}.{missing} [{item.citation}, {item.status}]", markup=False)
    if meaning.named and (waiting := waiting_words(meaning)):
        OUT.print(waiting, markup=False)
    if any(item.result for item in meaning.gradings):
        OUT.print(GRADED, markup=False)
