"""What the numbers of a study mean together, a line each on the command line, and the earlier visits of a run."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from fanlight.cli.exit_code import ExitCode
from fanlight.cli.screen import OUT, fail
from fanlight.reference.letter import read_letter_limits
from fanlight.report.meaning import GRADED, remark_words, result_words, waiting_words
from fanlight.study import Meaning, Refusal

if TYPE_CHECKING:
    from fanlight.intake.request_sheet import RequestSheet
    from fanlight.study import House


def with_earlier(
    request: RequestSheet, files: Iterable[Path], house: House
) -> tuple[RequestSheet, tuple[Refusal, ...]]:
    """Return the request with numbers and advice of earlier reviews, and what of them is broken.

    Ends the command when a file cannot be used at all.
    """
    from fanlight.intake.earlier_review import EarlierReviewError, read_earlier_review
    from fanlight.validity.meaning.change import earlier_values
    from fanlight.validity.meaning.inputs import TakenOn

    found, records = list(request.request.earlier), list(request.request.records)
    sure_from = read_letter_limits(house).sure_from
    refused: list[Refusal] = []
    for file in files:
        try:
            review = read_earlier_review(file.read_bytes(), file.name)
        except OSError as error:
            raise fail(f"{file}: {error.strerror}. Name an existing review.json.", ExitCode.SETTINGS) from error
        except EarlierReviewError as error:
            raise fail(str(error), ExitCode.SETTINGS) from error
        taken = {name: TakenOn(view=view, mode=review.modes.get(name, "")) for name, view in review.views.items()}
        found += earlier_values(review.measurements, house, review.identity, review.examined_on, taken)
        records.append(review.record(sure_from))
        refused += review.refused
    told = replace(request.request, earlier=tuple(found), records=tuple(records))
    return replace(request, request=told), tuple(refused)


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
        used = f" From {'; '.join(item.used)}." if item.used else ""
        notes = f" {' '.join(item.notes)}" if item.notes else ""
        caution = f" {item.caution}" if item.result and item.caution else ""
        said = f"{item.title}: {result_words(item)}.{used}{missing}{notes} [{item.citation}, {item.status}]{caution}"
        OUT.print(said, markup=False)
    if meaning.named and (waiting := waiting_words(meaning)):
        OUT.print(waiting, markup=False)
    if any(item.result for item in meaning.gradings):
        OUT.print(GRADED, markup=False)
