"""The few changes that would resolve most findings, printed."""

from __future__ import annotations

from fanlight.cli.screen import OUT
from fanlight.study import StudyReview


def say_corrections(draft: StudyReview, is_quiet: bool) -> None:
    """Print each change in its order, a line each."""
    if is_quiet:
        return
    from fanlight.report.causes import correction_words

    for place, item in enumerate(draft.corrections, start=1):
        OUT.print(f"change {place}: {correction_words(item, draft)}", markup=False)
