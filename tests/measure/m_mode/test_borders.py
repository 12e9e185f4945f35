"""Borders of drawn strips, whose depth is known in every column."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fanlight.measure.m_mode import Border, MModeStrip, find_borders
from fanlight.reference.m_mode import MModeSettings
from tests.measure.m_mode.drawn_strip import (
    MM_PER_ROW,
    MS_PER_COL,
    Ventricle,
    borders_mm,
    draw,
    strip_of,
    times_ms,
)

HEARTS = {
    "normal": Ventricle(),
    "dilated": Ventricle(cavity=36.0, septum=5.0, wall=5.0, shortening=0.12),
    "thick walls": Ventricle(cavity=13.0, septum=11.0, wall=11.0, shortening=0.5),
    "small right ventricle": Ventricle(right_cavity=2.5),
}
TYPICAL_MM = 0.15  # one pixel
WORST_MM = 0.8  # where a border moves fastest


@pytest.mark.parametrize("name", HEARTS)
def test_borders_lie_where_they_were_drawn(name: str, settings: MModeSettings) -> None:
    """To a pixel in half of the columns, and close by in 95 of 100."""
    heart = HEARTS[name]
    found = find_borders(strip_of(heart), settings)

    assert not isinstance(found, str)
    off_mm = np.abs(found.rows * MM_PER_ROW - borders_mm(heart, times_ms()))[Border.SEPTUM_START :]
    assert np.median(off_mm, axis=1).max() <= 2 * TYPICAL_MM
    assert np.median(off_mm[:3], axis=1).max() <= TYPICAL_MM
    assert np.percentile(off_mm, 95, axis=1).max() <= WORST_MM
    assert all(found.confidence(border) == 1 for border in Border)


@pytest.mark.parametrize("gain_db", [-15.0, -6.0, 6.0, 12.0])
def test_gain_does_not_move_them(gain_db: float, settings: MModeSettings) -> None:
    """From dark to nearly white: the cavity's borders stay within a pixel."""
    heart = Ventricle()
    found = find_borders(strip_of(heart, gain_db=gain_db), settings)

    assert not isinstance(found, str)
    off_mm = found.rows * MM_PER_ROW - borders_mm(heart, times_ms())
    assert np.abs(np.median(off_mm, axis=1))[[Border.SEPTUM_END, Border.ENDOCARDIUM]].max() <= TYPICAL_MM


def test_a_leaflet_in_the_cavity_is_not_the_wall(settings: MModeSettings) -> None:
    """A bright line across the cavity leaves its borders alone."""
    heart = Ventricle()
    strip = strip_of(heart)
    levels = strip.levels.copy()
    drawn = borders_mm(heart, times_ms()) / MM_PER_ROW
    middle = (0.6 * drawn[Border.SEPTUM_END] + 0.4 * drawn[Border.ENDOCARDIUM]).astype(int)
    for col, row in enumerate(middle):
        if (col // 40) % 2:
            levels[row : row + 5, col] = 190
    found = find_borders(replace(strip, levels=levels), settings)

    assert not isinstance(found, str)
    off_mm = np.abs(found.rows - drawn) * MM_PER_ROW
    assert np.percentile(off_mm[[Border.SEPTUM_END, Border.ENDOCARDIUM]], 99) <= WORST_MM


def test_fluid_about_the_heart_is_not_the_cavity(settings: MModeSettings) -> None:
    """A dark band between the free wall and the pericardium is told, and the wall ends before it."""
    drawn = borders_mm(Ventricle(), times_ms())
    levels = draw(drawn)
    for col, row in enumerate((drawn[Border.EPICARDIUM] / MM_PER_ROW).astype(int)):
        levels[row + 25 :, col] = levels[row : len(levels) - 25, col]  # the pericardium lies that much deeper
        levels[row : row + 25, col] = levels[row - 80 : row - 55, col] // 8
    strip = MModeStrip(levels=levels, mm_per_row=MM_PER_ROW, ms_per_col=MS_PER_COL)
    found = find_borders(strip, settings)

    assert not isinstance(found, str)
    assert found.has_fluid
    off_mm = np.median(np.abs(found.rows * MM_PER_ROW - drawn), axis=1)
    assert off_mm[[Border.SEPTUM_END, Border.ENDOCARDIUM, Border.EPICARDIUM]].max() <= 0.5


@pytest.mark.parametrize("name", HEARTS)
def test_an_upside_down_strip_is_refused(name: str, settings: MModeSettings) -> None:
    """It shows two cavities between walls as well, but the pericardium lies at the wrong end."""
    strip = strip_of(HEARTS[name])
    found = find_borders(replace(strip, levels=np.ascontiguousarray(strip.levels[::-1])), settings)

    assert isinstance(found, str)


def test_a_strip_without_a_pericardium_is_refused(settings: MModeSettings) -> None:
    """What lies below the free wall goes on as bright as the wall: nobody can say that it is the last one."""
    drawn = borders_mm(Ventricle(), times_ms())
    rng = np.random.default_rng(0)
    levels = strip_of(Ventricle()).levels.copy()
    wall = levels[: int(8 / MM_PER_ROW)]
    for col, row in enumerate((drawn[Border.EPICARDIUM] / MM_PER_ROW).astype(int)):
        levels[row:, col] = rng.choice(wall[:, col], len(levels) - row)
    found = find_borders(MModeStrip(levels=levels, mm_per_row=MM_PER_ROW, ms_per_col=MS_PER_COL), settings)

    assert isinstance(found, str)


@pytest.mark.parametrize(
    "levels",
    [
        np.zeros((400, 300), np.uint8),
        np.full((400, 300), 255, np.uint8),
        np.random.default_rng(0).integers(0, 256, (400, 300)).astype(np.uint8),
        np.repeat(np.linspace(200, 20, 400).astype(np.uint8)[:, None], 300, axis=1),
    ],
    ids=["black", "white", "noise", "fading grey"],
)
def test_what_holds_no_ventricle_is_refused(levels: np.ndarray, settings: MModeSettings) -> None:
    """No border is invented, and the reason is said."""
    found = find_borders(MModeStrip(levels=levels, mm_per_row=0.15, ms_per_col=4.0), settings)

    assert isinstance(found, str)
    assert found


def test_a_strip_of_few_pixels_is_refused(settings: MModeSettings) -> None:
    """With its size and the one that is needed."""
    found = find_borders(MModeStrip(levels=np.zeros((30, 300), np.uint8), mm_per_row=1.0, ms_per_col=4.0), settings)

    assert found == "the strip has 30 rows and 300 columns; at least 48 and 32 are needed"


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"levels": np.zeros((10, 10, 3), np.uint8)}, "must be grey levels"),
        ({"levels": np.zeros((10, 10))}, "must be grey levels .* got float64"),
        ({"mm_per_row": 0.0}, "mm_per_row must be above 0, got 0.0; calibrate"),
        ({"ms_per_col": float("nan")}, "ms_per_col must be above 0"),
        ({"r_times_ms": (100.0, 90.0)}, "R times must rise"),
    ],
)
def test_a_strip_that_cannot_be_is_refused(change: dict[str, object], message: str) -> None:
    """A caller's mistake is told at once."""
    given: dict[str, object] = {"levels": np.zeros((100, 100), np.uint8), "mm_per_row": 0.1, "ms_per_col": 4.0}
    with pytest.raises(ValueError, match=message):
        MModeStrip(**{**given, **change})  # type: ignore[arg-type]
