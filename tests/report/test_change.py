"""Beside a number stands what it was at an earlier visit, and that this says little by itself."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from html import unescape

import pytest

from fanlight.cli.marks_words import say_numbers
from fanlight.measure.marked import GIVEN_BY
from fanlight.reference.load import load_house
from fanlight.report.change import OTHER_CAUSES, with_changes
from fanlight.report.document import Grid
from fanlight.report.html import render_html
from fanlight.report.measurements import measurement_blocks
from fanlight.report.summary import build_summary
from fanlight.study import Change, Compared, Meaning, Measurement
from tests.report.sample import sample_review

RATIO = Measurement(name="la_ao", label="LA:Ao", value=2.3, unit="1", uncertainty=0.05, given_by=GIVEN_BY, clip="a.dcm",
                    frames=(4,))  # fmt: skip
CHANGE = Change(
    quantity="la_ao", label="LA:Ao", given_by=GIVEN_BY, clip="a.dcm", examined_on=date(2026, 3, 1),
    told=Compared.BEYOND, before=1.5, now=2.3, unit="1", least=0.66,
    words="1 March 2026: 1.50. +0.80 since: differs by more than 95 of 100 repeat scans of one heart do.",
    citation="HSUE2020",
)  # fmt: skip
TOLD = "1 March 2026: 1.50. +0.80 since: differs by more than 95 of 100 repeat scans of one heart do [HSUE2020]."


def row_of(change: Change, *, whole: bool, number: Measurement = RATIO) -> str:
    review = replace(sample_review(), measurements=(number,), meaning=Meaning(changes=(change,)))
    (grid,) = (block for block in measurement_blocks(review, {}, {}, whole=whole) if isinstance(block, Grid))
    return str(grid.rows[0][-1])


def test_the_row_of_a_number_says_what_it_was() -> None:
    assert row_of(CHANGE, whole=False) == f"No reference row for this quantity. {TOLD}"
    assert TOLD in row_of(CHANGE, whole=True)
    beside = row_of(CHANGE, whole=True, number=replace(RATIO, rank=1, beside="of 2 clips clip 1"))
    assert f"{TOLD} Of 2 clips clip 1." in beside


def test_the_summary_names_source_and_other_causes_and_leaves_the_verdict_to_the_veterinarian() -> None:
    review = replace(sample_review(), measurements=(RATIO,), meaning=Meaning(changes=(CHANGE,)))
    page = unescape(render_html(build_summary(review, {"HSUE2020": "a paper"}, load_house(), datetime(2026, 6, 1))))

    assert TOLD in page
    assert "HSUE2020: a paper" in page
    assert OTHER_CAUSES in page
    assert "the veterinarian decides" in OTHER_CAUSES


def test_what_rests_on_a_number_kept_off_the_summary_stands_on_the_sheet_alone() -> None:
    kept_off = replace(CHANGE, sheet_only=True)
    review = replace(sample_review(), measurements=(RATIO,), meaning=Meaning(changes=(kept_off,)))

    assert "March" not in row_of(kept_off, whole=False)
    assert TOLD in row_of(kept_off, whole=True)
    assert OTHER_CAUSES not in str(measurement_blocks(review, {}, {}))


def test_of_rows_that_are_alike_the_first_says_it_and_of_clips_the_one_that_gives_the_number() -> None:
    alike, second, none = replace(RATIO, value=2.2), replace(RATIO, rank=2), replace(RATIO, value=None)
    found = with_changes((none, second, RATIO, alike), (CHANGE,))

    assert [item.beside for item in found] == ["", "", TOLD.rstrip("."), ""]


def test_the_command_line_says_it_behind_the_number(capsys: pytest.CaptureFixture[str]) -> None:
    say_numbers((RATIO,), is_quiet=False, changes=(CHANGE,))
    said = " ".join(capsys.readouterr().out.split())

    assert f"LA:Ao: 2.3 ± 0.05; {TOLD.rstrip('.')}" in said
    assert OTHER_CAUSES in said
