"""The clinical summary gives a number only where the published tables bear it out on the rings nobody tuned on."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import pytest

from fanlight.reference.load import load_house
from fanlight.reference.validity import TakenFrom, read_standings

DOCS = Path(__file__).resolve().parents[2] / "docs"
STANDINGS = read_standings(load_house())
INSIDE_PERCENT, WRONG_PERCENT = 90.0, 1.0  # the project's rule: nine tenths inside, one in a hundred wrong
RINGS = ("B", "C")
# RMS that is tolerated, in the unit of the table: the project's targets (LA:Ao 0.10, a diameter of the ventricle and a
# velocity 3 %, an integral 5 %), all else what the pages call tolerable (engineering judgement).
BY_HAND = {
    "la_ao": {"LA:Ao, commissure-parallel": 0.10, "LA:Ao, single line": 0.10},
    "lvidd": {"LVIDd, short axis": 3.0, "LVIDd, four-chamber": 3.0},
    "lvids in *_short_axis_*": {"LVIDs, short axis": 3.0},
    "lvids in right_parasternal_long_axis_outflow": {"LVIDs, long axis with the outflow tract": 3.0},
    "lvids": {"LVIDs, four-chamber": 3.0},
    "ivsd": {"IVSd, short axis": 10.0},
    "ivss in *_short_axis_*": {"IVSs, short axis": 10.0},
    "lvwd": {"LVWd, short axis": 10.0},
    "lvws in *_short_axis_*": {"LVWs, short axis": 10.0},
    "fractional_shortening": {"FS, short axis": 5.0},
    "lv_length_d": {"LV length, end-diastole": 5.0},
    "lv_length_s": {"LV length, end-systole": 5.0},
    "edv": {"EDV, discs": 15.0, "EDV, area-length": 15.0},
    "esv": {"ESV, discs": 15.0, "ESV, area-length": 15.0},
    "ejection_fraction": {"EF, discs": 10.0, "EF, area-length": 10.0},
    "left_atrium_long_axis": {"LA long axis": 5.0},
    "mitral_annulus": {"mitral annulus, end-diastole": 10.0},
    "aortic_annulus": {"aortic annulus": 10.0},
    "la_ao_long_axis": {"LA:Ao long axis": 0.20},
    "epss": {"EPSS": 1.0},
    "mpa_ao": {"MPA:Ao": 0.10},
}
KEPT = {
    "lvidd": {"LVIDd": 3.0}, "fractional_shortening": {"FS": 5.0}, "ivsd": {"IVSd": 10.0}, "lvwd": {"LVWd": 10.0},
    "ivss in *_short_axis_*": {"IVSs": 10.0}, "lvids in *_short_axis_*": {"LVIDs": 3.0},
    "lvws in *_short_axis_*": {"LVWs": 10.0}, "left_atrium_long_axis": {"LA long axis": 5.0},
    "la_ao": {"LA:Ao, commissure-parallel": 0.10, "LA:Ao, single line": 0.10},
}  # fmt: skip
M_MODE = {
    "lvidd": {"LVIDd": 3.0}, "lvids": {"LVIDs": 3.0}, "ivsd": {"IVSd": 10.0}, "ivss": {"IVSs": 10.0},
    "lvwd": {"LVWd": 10.0}, "lvws": {"LVWs": 10.0}, "fractional_shortening": {"FS": 10.0},
}  # fmt: skip
SPECTRA = {
    "aortic_vmax": {"aortic peak velocity": 3.0}, "pulmonary_vmax": {"pulmonary peak velocity": 3.0},
    "aortic_vti": {"aortic velocity-time integral": 5.0},
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What a table says of a quantity on one ring."""

    rms: float
    inside_percent: float
    wrong_percent: float

    def holds(self, tolerated: float) -> bool:
        """Whether the rule lets it into the summary."""
        return self.rms <= tolerated and self.inside_percent >= INSIDE_PERCENT and self.wrong_percent <= WRONG_PERCENT


def table(page: str, name: str) -> dict[tuple[str, str], Told]:
    """Return what a measured table says, by quantity and ring; the columns are found by their heads."""
    text = (DOCS / page).read_text("utf-8").split(f"<!-- measured: {name}\n")[1].split("<!-- measured end")[0]
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in text.splitlines() if line.startswith("|")]
    heads = rows[0]
    inside = next(at for at, head in enumerate(heads) if head.startswith("inside"))
    told = {}
    for row in rows[2:]:
        cells = [row[at] for at in (heads.index("RMS"), inside, heads.index("confident and wrong"))]
        found = [re.search(r"[\d.]+", cell) for cell in cells]
        numbers = [float(each[0]) for each in found if each]
        if len(numbers) == len(cells):
            told[row[0], row[1]] = Told(rms=numbers[0], inside_percent=numbers[1], wrong_percent=numbers[2])
    return told


def borne_out(asked: dict[str, dict[str, float]], page: str, name: str) -> set[str]:
    """Return the entries all of whose rows hold on both rings; a row that is not in the table bears nothing out."""
    told = table(page, name)
    return {
        entry
        for entry, rows in asked.items()
        if all((row, ring) in told and told[row, ring].holds(most) for row, most in rows.items() for ring in RINGS)
    }


def listed(which: str, taken_from: TakenFrom | None) -> set[str]:
    """Return what the rows for strips, pictures or either list."""
    rows = (row for row in STANDINGS if row.taken_from is taken_from)
    return {entry for row in rows for entry in getattr(row.summary, which)}


@pytest.mark.parametrize(
    ("which", "taken_from", "asked", "page", "name"),
    [
        pytest.param("by_hand", TakenFrom.PICTURE, BY_HAND, "picture-values.md", "picture-values", id="marks"),
        pytest.param("kept", TakenFrom.PICTURE, KEPT, "picture-values.md", "found-values", id="kept marks"),
        pytest.param("engine", TakenFrom.STRIP, M_MODE, "accuracy.md", "m-mode", id="M-mode with an ECG"),
    ],
)
def test_what_the_summary_gives_is_what_the_tables_bear_out(
    which: str, taken_from: TakenFrom, asked: dict[str, dict[str, float]], page: str, name: str
) -> None:
    assert listed(which, taken_from) == borne_out(asked, page, name)


def test_spectra_that_the_summary_names_are_borne_out() -> None:
    """More may hold than is named: few animals speak for each."""
    named = listed("engine", None)

    assert named
    assert named <= borne_out(SPECTRA, "spectral-values.md", "spectral-values")


def test_what_was_timed_without_an_ecg_is_not_named() -> None:
    """Of the same strips LVIDs is off by more than the target without one."""
    (row,) = (row for row in STANDINGS if row.key == "m_mode_left_ventricle")

    assert row.summary.engine_when == "timed by R waves"
    assert "lvids" not in borne_out(M_MODE, "accuracy.md", "m-mode-no-ecg")


def test_everything_else_stays_on_the_sheet() -> None:
    for row in STANDINGS:
        allowed = ("by_hand", "kept") if row.taken_from is TakenFrom.PICTURE else ("engine",)
        assert not [
            which for which in ("by_hand", "kept", "engine") if which not in allowed and getattr(row.summary, which)
        ]


@pytest.mark.parametrize(
    ("told", "tolerated"),
    [(Told(rms=3.1, inside_percent=99, wrong_percent=0), 3.0), (Told(rms=1, inside_percent=89, wrong_percent=0), 3.0),
     (Told(rms=1, inside_percent=99, wrong_percent=2), 3.0)],
)  # fmt: skip
def test_a_figure_that_fails_keeps_a_number_out(told: Told, tolerated: float) -> None:
    assert not told.holds(tolerated)
    assert Told(rms=3.0, inside_percent=90, wrong_percent=1).holds(3.0)
