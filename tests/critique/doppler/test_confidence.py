"""What is called sure enough for a letter: only what was measured."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fanlight.critique.accumulator import ClipContext, Family, judged, not_assessable
from fanlight.critique.doppler import confidence
from fanlight.critique.doppler.confidence import UNMEASURED, as_sure_as_measured
from fanlight.critique.doppler.families import DOPPLER_FAMILIES
from fanlight.critique.every_family import EVERY_FAMILY
from fanlight.reference.criteria import read_family
from fanlight.reference.letter import read_letter_limits
from fanlight.study import ClipTime, Finding, PictureChunk
from tests.critique.doppler.colour_clips import HOUSE

FAMILY = DOPPLER_FAMILIES[0]
KEY = next(iter(read_family(HOUSE, FAMILY.name)))


class _Says:
    """A family that has been shown nothing and says two things."""

    def __init__(self, context: ClipContext) -> None:
        self.context = context
        self.chunks = 0

    def add(self, chunk: PictureChunk) -> None:
        self.chunks += 1

    def finish(self, time: ClipTime) -> tuple[Finding, ...]:
        return (
            judged(self.context, FAMILY, KEY, 1.0, confidence=UNMEASURED),
            not_assessable(self.context, FAMILY, KEY, f"{self.chunks} chunks"),
        )


def _said(monkeypatch: pytest.MonkeyPatch, table: dict[str, float]) -> tuple[Finding, ...]:
    monkeypatch.setattr(confidence, "CONFIDENCE", table)
    context: Any = type("Context", (), {"criteria": read_family(HOUSE, FAMILY.name), "house": ""})()
    context.clip = type("Clip", (), {"key": "k"})()
    work = as_sure_as_measured(Family(name=FAMILY.name, version=3, start=_Says)).start(context)
    work.add(
        PictureChunk(first=0, pixels=np.zeros((1, 2, 2), np.uint8), grey=np.zeros((1, 2, 2), np.uint8), beams=None)
    )
    return work.finish(None)  # type: ignore[arg-type]


def test_what_was_not_measured_is_too_little_for_a_letter() -> None:
    assert read_letter_limits(HOUSE).sure_from > UNMEASURED


def test_what_was_measured_enters_a_letter_and_is_never_certain() -> None:
    sure_from = read_letter_limits(HOUSE).sure_from

    assert all(sure_from <= value < 1.0 for value in confidence.CONFIDENCE.values())


def test_every_confidence_belongs_to_a_criterion() -> None:
    keys = {key for family in DOPPLER_FAMILIES for key in read_family(HOUSE, family.name)}

    assert set(confidence.CONFIDENCE) <= keys


def test_a_measured_criterion_is_as_sure_as_it_held(monkeypatch: pytest.MonkeyPatch) -> None:
    found, none = _said(monkeypatch, {KEY: 0.77})

    assert found.confidence == 0.77
    assert none.confidence == 0.0
    assert none.reason == "1 chunks"


def test_another_keeps_what_its_family_says(monkeypatch: pytest.MonkeyPatch) -> None:
    assert _said(monkeypatch, {})[0].confidence == UNMEASURED


def test_a_changed_confidence_makes_kept_results_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    before = as_sure_as_measured(FAMILY).version
    monkeypatch.setattr(confidence, "VERSION", confidence.VERSION + 1)

    assert as_sure_as_measured(FAMILY).version != before
    assert as_sure_as_measured(replace(FAMILY, version=FAMILY.version + 1)).version != before


def test_the_engine_asks_doppler_as_sure_as_measured() -> None:
    versions = {family.name: family.version for family in EVERY_FAMILY}

    assert all(versions[f.name] == as_sure_as_measured(f).version for f in DOPPLER_FAMILIES)


# Criteria that held on ring A by the rule and stay out of letters all the same, and why.
OUT_BY_CAUTION = {
    "spectrum_wrap": "raised on many good clips of ring C",
    "spectrum_baseline": "67 % of its faults were seen in another measurement of ring A",
    "spectrum_gate_place": "six good clips are too few; good pulmonic gates were called off until it left them",
    "colour_over_tissue": "its limits were set on these very clips; the causes were learnt without it",
    "colour_scale_use": "its limits were set on these very clips, with five good ones among them",
    "spectrum_open_edge": "73 % of its faults were seen in another measurement of ring A, two thirds are on B and C",
    "spectrum_faint": "its limits were set on these very clips; 57 % of its faults are seen on rings B and C",
}
RATE = re.compile(r"(\d+) % \(\d+–\d+\), n (\d+)")
FEW = re.compile(r"too few to tell: (\d+) of (\d+) quiet")
UNJUDGED = re.compile(r"(\d+) of (\d+); (\d+) of them n\. a\.")
LEAST_CLIPS, LEAST_RAISED, LEAST_QUIET = 4, 80, 90  # per cent
PAGE = Path(__file__).parents[3] / "docs" / "accuracy.md"


def measured() -> str:
    """Return the table of the Doppler criteria, with what stands below it."""
    page = PAGE.read_text(encoding="utf-8")
    return page.split("<!-- measured: doppler-criteria\n")[1].split("<!-- measured end: doppler-criteria -->")[0]


def rows_of(table: str) -> list[list[str]]:
    cells = [[cell.strip().replace("*", "") for cell in line.strip("|").split("|")] for line in table.splitlines()]
    return [row for row in cells if len(row) > 1]


def unjudged_quiet(table: str) -> dict[str, bool]:
    """Return of each criterion that judged no good clip somewhere whether it left enough of ring A alone.

    Its row tells on how many good clips it raised nothing. Without that row nobody knows whether it is ever quiet.
    """
    rows = rows_of(table)
    heads = [k for k, row in enumerate(rows) if row[1].startswith("quiet or not assessable, ring A")]
    quiet: dict[str, bool] = {}
    for row in rows[heads[0] + 2 :] if heads else ():
        told = UNJUDGED.fullmatch(row[1])
        if told is None:
            break
        n = int(told[2])
        quiet[row[0].strip("`")] = n >= LEAST_CLIPS and 100 * int(told[1]) >= LEAST_QUIET * n
    return quiet


def held_on_ring_a(table: str) -> dict[str, bool]:
    """Return of each Doppler criterion of a table whether each of its faults was told by the rule."""
    unjudged = unjudged_quiet(table)
    held: dict[str, bool] = {}
    for cells in rows_of(table):
        if len(cells) != 9 or not cells[1].startswith("`"):
            continue
        key = cells[1].strip("`")
        raised, quiet, few = RATE.match(cells[3]), RATE.match(cells[6]), FEW.match(cells[6])
        good = raised is not None and int(raised[1]) >= LEAST_RAISED and int(raised[2]) >= LEAST_CLIPS
        if few is not None:
            good &= 100 * int(few[1]) >= LEAST_QUIET * int(few[2])
        elif quiet is not None:
            good &= int(quiet[1]) >= LEAST_QUIET
        else:
            good &= unjudged.get(key, False)
        held[key] = held.get(key, True) and good
    return held


def test_what_may_enter_a_letter_is_what_held_in_the_table() -> None:
    held = held_on_ring_a(measured())

    assert len(held) > 15
    assert {key for key in confidence.CONFIDENCE if not held.get(key, False)} == set()
    assert {key for key, good in held.items() if good} - set(confidence.CONFIDENCE) == set(OUT_BY_CAUTION)


HEAD = "| criterion | quiet or not assessable, ring A |\n|---|---|\n"
ROW = "| fault | `{key}` | 3 | 100 % (68–100), n 8 | – | – | none judged, 11 n. a. | – | – |\n"


@pytest.mark.parametrize(
    ("below", "may"),
    [
        ("", False),
        (HEAD + "| `spectrum_angle` | 21 of 22; 21 of them n. a. |", False),  # of another criterion
        (HEAD + f"| `{KEY}` | 11 of 11; 11 of them n. a. |", True),
        (HEAD + f"| `{KEY}` | 8 of 11; 8 of them n. a. |", False),
        (HEAD + f"| `{KEY}` | 3 of 3; 3 of them n. a. |", False),
    ],
    ids=["no row", "another's row", "left all alone", "raised on a quarter", "too few"],
)
def test_what_judged_no_good_clip_needs_the_row_that_tells_it_left_them_alone(below: str, may: bool) -> None:
    assert held_on_ring_a(f"{ROW.format(key=KEY)}\n{below}\n")[KEY] is may


def test_the_page_has_that_row_of_each_that_may_enter_a_letter() -> None:
    rows = [row for row in rows_of(measured()) if len(row) == 9 and row[6].startswith("none judged")]
    unjudged = {row[1].strip("`") for row in rows}

    assert unjudged, "the parser found none, or the page has none any more: then this test can go"
    assert unjudged <= set(unjudged_quiet(measured()))
