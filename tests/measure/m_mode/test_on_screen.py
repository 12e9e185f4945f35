"""A strip on a screen: where it lies, what its pixels mean, and which R waves run in step with it."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from fanlight.measure.m_mode import measure_m_mode
from fanlight.measure.m_mode.on_screen import StripOnScreen, cut_strip, find_strip
from fanlight.reference.m_mode import MModeSettings
from fanlight.study import (
    Box,
    Layout,
    MarkedAxis,
    MarkedDistance,
    PhysicalUnit,
    Region,
    RegionReading,
    SpatialFormat,
    StripAxis,
)
from tests.measure.m_mode.drawn_strip import MM_PER_ROW, MS_PER_COL, Ventricle, strip_of

ROW0, COL0 = 40, 60
HEART = Ventricle()
LEVELS = strip_of(HEART).levels
BOX = Box(row0=ROW0, col0=COL0, row1=ROW0 + LEVELS.shape[0], col1=COL0 + LEVELS.shape[1])
SHAPE = (BOX.row1 + 120, BOX.col1 + 40)
ONE_COLUMN_MS = MS_PER_COL


def drawn_screen(base: int = BOX.row1 + 80) -> NDArray[np.uint8]:
    """A strip with a green trace below it, or in it: a spike at the start of each beat."""
    screen = np.zeros((*SHAPE, 3), np.uint8)
    screen[BOX.row0 : BOX.row1, BOX.col0 : BOX.col1] = LEVELS[..., None]
    points = []
    for col in range(LEVELS.shape[1]):
        away = min(abs(col - start / MS_PER_COL) for start in HEART.starts_ms)
        points.append((BOX.col0 + col, base - round(50 * max(0.0, 1 - away / 2))))
    cv2.polylines(screen, [np.array(points, np.int32).reshape(-1, 1, 2)], False, (40, 220, 60), 1, cv2.LINE_AA)
    return screen


def _layout(*, trusted: bool = True, delta_x: float | None = MS_PER_COL / 1000, reason: str = "") -> Layout:
    region = Region(
        spatial_format=SpatialFormat.M_MODE, data_type=1, box=BOX, unit_x=PhysicalUnit.SECONDS,
        unit_y=PhysicalUnit.CM, delta_x=delta_x, delta_y=MM_PER_ROW / 10,
    )  # fmt: skip
    return Layout(
        rows=SHAPE[0], cols=SHAPE[1], picture=None, picture_confidence=0.0, picture_reason="", scale=None,
        scale_reason="", regions=(RegionReading(region=region, trusted=trusted, reason=reason),),
    )  # fmt: skip


def test_the_region_of_the_file_gives_place_and_scale() -> None:
    """PS3.3 C.8.5.5: seconds across, centimetres down."""
    found = find_strip(_layout())

    assert isinstance(found, StripOnScreen)
    assert found.box == BOX
    assert found.mm_per_row == pytest.approx(MM_PER_ROW)
    assert found.ms_per_col == pytest.approx(MS_PER_COL)
    assert found.mm_share == found.ms_share == 0


def test_marks_of_a_person_go_before_the_file() -> None:
    """100 columns are said to be half a second, 100 rows two centimetres; each end errs by a pixel."""
    time = MarkedAxis(axis=StripAxis.TIME, start=(ROW0 + 5, COL0 + 10), end=(ROW0 + 5, COL0 + 110), amount=500.0)
    depth = MarkedDistance(start=(ROW0 + 10, COL0 + 5), end=(ROW0 + 110, COL0 + 5), distance_mm=20.0)
    found = find_strip(_layout(), depth, (time,))

    assert isinstance(found, StripOnScreen)
    assert found.ms_per_col == pytest.approx(5.0)
    assert found.mm_per_row == pytest.approx(0.2)
    assert found.mm_share == found.ms_share == pytest.approx(np.sqrt(2) / 100)


@pytest.mark.parametrize(
    ("layout", "reason"),
    [
        (_layout(trusted=False, reason="region 1 lies off the frame"), "region 1 lies off the frame; mark two points"),
        (_layout(delta_x=None), "the file gives no time scale for the M-mode; mark two points"),
    ],
    ids=["region not borne out", "no time"],
)
def test_what_is_not_known_is_told_with_a_remedy(layout: Layout, reason: str) -> None:
    """No scale is guessed."""
    found = find_strip(layout)

    assert isinstance(found, str)
    assert reason in found


def test_a_depth_alone_leaves_the_time_open() -> None:
    """Where the file has no time, one marked scale is half of what is needed."""
    depth = MarkedDistance(start=(ROW0 + 10, COL0 + 5), end=(ROW0 + 110, COL0 + 5), distance_mm=20.0)
    found = find_strip(_layout(delta_x=None), depth)

    assert found == "the time scale of the M-mode strip is not known; mark two points of it and the time between them"


def test_a_screen_is_measured_with_its_ecg(settings: MModeSettings) -> None:
    """From the pixels of the screen to the diameter, by the R waves of the trace beneath."""
    place = find_strip(_layout())
    assert isinstance(place, StripOnScreen)
    strip = cut_strip(drawn_screen(), place)

    assert not isinstance(strip, str)
    assert strip.r_times_ms == pytest.approx([s - MS_PER_COL / 2 for s in HEART.starts_ms], abs=2 * ONE_COLUMN_MS)
    lvidd = measure_m_mode(strip, settings).measurements[0]
    assert lvidd.value == pytest.approx(HEART.cavity, rel=0.03)


@pytest.mark.parametrize(
    ("base", "rows"), [(BOX.row1 - 5, LEVELS.shape[0] - 66), (BOX.row0 + 52, LEVELS.shape[0] - 63)], ids=["foot", "top"]
)
def test_an_ecg_in_the_strip_is_no_echo(base: int, rows: int) -> None:
    """Its rows are left out, and its R waves are read all the same."""
    place = find_strip(_layout())
    assert isinstance(place, StripOnScreen)
    strip = cut_strip(drawn_screen(base), place)

    assert not isinstance(strip, str)
    assert strip.levels.shape[0] == pytest.approx(rows, abs=6)
    assert strip.r_times_ms == pytest.approx([s - MS_PER_COL / 2 for s in HEART.starts_ms], abs=2 * ONE_COLUMN_MS)


def test_an_ecg_across_the_middle_of_the_strip_is_refused() -> None:
    """What lies beneath it is not seen; the remedy is named."""
    place = find_strip(_layout())
    assert isinstance(place, StripOnScreen)
    found = cut_strip(drawn_screen((BOX.row0 + BOX.row1) // 2), place)

    assert isinstance(found, str)
    assert "across the middle of the strip; store it with the ECG beside" in found


def test_the_gap_of_a_sweep_is_not_measured_across() -> None:
    """Of two sides the longer one is taken, with its own R waves."""
    screen = drawn_screen()
    screen[BOX.row0 : BOX.row1, BOX.col0 + 90 : BOX.col0 + 100] = 0
    place = find_strip(_layout())
    assert isinstance(place, StripOnScreen)
    strip = cut_strip(screen, place)

    assert not isinstance(strip, str)
    assert strip.levels.shape[1] == LEVELS.shape[1] - 100
    expected = [s - 100 * MS_PER_COL for s in HEART.starts_ms if s > 100 * MS_PER_COL]
    assert strip.r_times_ms == pytest.approx(expected, abs=2 * ONE_COLUMN_MS)


def test_an_empty_strip_is_told() -> None:
    """Black where the strip should be."""
    place = find_strip(_layout())
    assert isinstance(place, StripOnScreen)

    assert cut_strip(np.zeros(SHAPE, np.uint8), place) == "nothing is painted where the M-mode strip lies"


PLAIN = Layout(
    rows=SHAPE[0], cols=SHAPE[1], picture=None, picture_confidence=0.0, picture_reason="", scale=None, scale_reason="",
    regions=(),
)  # fmt: skip
DEPTH = MarkedDistance(start=(ROW0 + 10, COL0 + 5), end=(ROW0 + 110, COL0 + 5), distance_mm=20.0)
TIME = MarkedAxis(axis=StripAxis.TIME, start=(ROW0 + 5, COL0 + 10), end=(ROW0 + 5, COL0 + 110), amount=500.0)


def test_on_a_plain_picture_the_painted_block_is_the_strip() -> None:
    """The marks span 100 rows and columns of it; words beside it and a trace below it are not of it."""
    screen = drawn_screen()
    cv2.putText(screen, "depth", (2, ROW0 + 30), cv2.FONT_HERSHEY_SIMPLEX, 0.4, (220, 220, 220))
    found = find_strip(PLAIN, DEPTH, (TIME,), screen)

    assert isinstance(found, StripOnScreen)
    assert (found.box.row0, found.box.row1) == (BOX.row0, BOX.row1)
    assert (found.box.col0, found.box.col1) == pytest.approx((BOX.col0, BOX.col1), abs=2)
    assert (found.mm_per_row, found.ms_per_col) == pytest.approx((0.2, 5.0))
    assert found.mm_share == found.ms_share == pytest.approx(np.sqrt(2) / 100)
    assert found.note.startswith(f"the strip is what is painted: rows {BOX.row0} to {BOX.row1 - 1}, ")


@pytest.mark.parametrize(
    ("depth", "axes", "screen", "reason"),
    [
        (None, (TIME,), drawn_screen(), "the depth scale of the M-mode strip is not known; mark two points"),
        (DEPTH, (), drawn_screen(), "the time scale of the M-mode strip is not known; mark two points"),
        (DEPTH, (TIME,), np.zeros((*SHAPE, 3), np.uint8), "no strip is seen on the picture"),
    ],
    ids=["no depth", "no time", "black"],
)
def test_a_plain_picture_that_lacks_something_names_it(
    depth: MarkedDistance | None, axes: tuple[MarkedAxis, ...], screen: NDArray[np.uint8], reason: str
) -> None:
    """With the remedy where there is one."""
    found = find_strip(PLAIN, depth, axes, screen)

    assert isinstance(found, str)
    assert reason in found
