"""Where a spectrum lies on a plain picture: drawn strips with a known box, of which a few points are marked."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from fanlight.frames.doppler.marked_strip import find_marked_strip
from fanlight.study import Box, Layout, MarkedAxis, StripAxis
from tests.measure.drawn_spectra import MARGIN_PX, MS_PER_PX, Drawing, draw, half_sines

ONSETS_MS = (150.0, 750.0, 1350.0)
WAVE = Drawing(waves=[half_sines(-120.0, 220.0, ONSETS_MS)])  # of a scale of 200 cm/s both ways
SIDE_PX = 60  # of the screen about the strip and its margin


def on_screen(drawing: Drawing, *, level: int = 0) -> tuple[NDArray[np.uint8], Box, float]:
    """Return a strip with ticks and words beside it on a larger screen, its box, and the row of its baseline."""
    grey, axes = draw(drawing)
    strip = grey[MARGIN_PX:-MARGIN_PX, MARGIN_PX:-MARGIN_PX]
    screen = np.full([side + 2 * (SIDE_PX + MARGIN_PX) for side in strip.shape], level, np.uint8)
    off = SIDE_PX + MARGIN_PX
    box = Box(row0=off, col0=off, row1=off + strip.shape[0], col1=off + strip.shape[1])
    screen[box.row0 : box.row1, box.col0 : box.col1] = strip
    zero = axes.baseline_row_px + SIDE_PX
    screen[round(zero), box.col0 : box.col1] = 200
    for row in range(box.row0, box.row1, 40):
        screen[row, box.col1 + 3 : box.col1 + 10] = 200
    cv2.putText(screen, "0.4 m/s  12 s", (box.col0 + 90, box.row0 - 25), cv2.FONT_HERSHEY_SIMPLEX, 0.5, 200)
    return screen, box, zero


def marks(box: Box, zero: float, cm_s_rows: tuple[float, float], cols: tuple[float, float]) -> tuple[MarkedAxis, ...]:
    below, beside = float(box.row1 + 5), float(box.col1 + 6)
    first, last = box.col0 + cols[0], box.col0 + cols[1]
    return (
        MarkedAxis(
            axis=StripAxis.TIME, start=(below, first), end=(below, last), amount=(cols[1] - cols[0]) * MS_PER_PX
        ),
        MarkedAxis(axis=StripAxis.VELOCITY, start=(zero + cm_s_rows[0], beside), end=(zero + cm_s_rows[1], beside),
                   amount=(cm_s_rows[1] - cm_s_rows[0]) * 400 / 300),
        MarkedAxis(axis=StripAxis.BASELINE, start=(zero, beside), end=(zero, beside), amount=0.0),
    )  # fmt: skip


def layout_of(screen: NDArray[np.uint8]) -> Layout:
    return Layout(
        rows=screen.shape[0], cols=screen.shape[1], picture=None, picture_confidence=0.0, picture_reason="",
        scale=None, scale_reason="",
    )  # fmt: skip


@pytest.mark.parametrize("level", [0, 20], ids=["black screen", "grey screen"])
@pytest.mark.parametrize("rows", [(0.0, 75.0), (-60.0, 0.0), (-150.0, 149.0)], ids=["below", "above", "all"])
def test_a_strip_with_noise_is_found_whole_whatever_the_marks_span(rows: tuple[float, float], level: int) -> None:
    screen, box, zero = on_screen(WAVE, level=level)

    found = find_marked_strip(screen, layout_of(screen), marks(box, zero, rows, (200.0, 440.0)))

    assert not isinstance(found, str)
    sides = np.array([[b.row0, b.col0, b.row1, b.col1] for b in (found.box, box)])
    assert np.abs(sides[0] - sides[1]).max() <= 2
    assert found.is_open == (False, False)


def test_flow_that_ends_by_itself_tells_no_rim() -> None:
    """Without noise the strip goes on beyond the tip of the wave: there it is open, and no wave ends at its rim."""
    screen, box, zero = on_screen(WAVE)
    screen[screen < 90] = 0
    flow = (screen[: box.row1, box.col0 : box.col1] > 0).any(axis=1)
    tip = int(np.flatnonzero(flow)[-1])

    found = find_marked_strip(screen, layout_of(screen), marks(box, zero, (0.0, 75.0), (200.0, 440.0)))

    assert not isinstance(found, str)
    assert found.box.row1 > tip + 20
    assert found.is_open[1]


def test_flow_that_is_cut_at_full_width_tells_the_rim() -> None:
    """Flow of 300 cm/s on a scale that ends at 200, on a black ground: the strip ends where it is cut."""
    screen, box, zero = on_screen(Drawing(waves=[half_sines(-300.0, 220.0, ONSETS_MS)], is_filled=True))
    screen[screen < 90] = 0

    found = find_marked_strip(screen, layout_of(screen), marks(box, zero, (0.0, 75.0), (200.0, 440.0)))

    assert not isinstance(found, str)
    assert abs(found.box.row1 - box.row1) <= 2
    assert not found.is_open[1]


def test_a_strip_that_ends_with_the_picture_is_open_there() -> None:
    screen, box, zero = on_screen(WAVE)
    cut = np.ascontiguousarray(screen[: box.row1 - 10])
    _, *others = marks(box, zero, (0.0, 75.0), (200.0, 440.0))
    time = MarkedAxis(axis=StripAxis.TIME, start=(zero, box.col0 + 9.0), end=(zero, box.col0 + 409.0), amount=1000.0)

    found = find_marked_strip(cut, layout_of(cut), (time, *others))

    assert not isinstance(found, str)
    assert (found.box.row1, found.is_open) == (len(cut), (False, True))


@pytest.mark.parametrize(
    ("kept", "far", "said"), [((0, 2), 0.0, "must both be marked"), ((0, 1, 2), 5000.0, "lies outside the picture")]
)
def test_marks_that_tell_no_place_are_named(kept: tuple[int, ...], far: float, said: str) -> None:
    screen, box, zero = on_screen(WAVE)
    listed = marks(box, zero, (0.0, 75.0 + far), (200.0, 440.0))

    found = find_marked_strip(screen, layout_of(screen), [listed[k] for k in kept])

    assert isinstance(found, str)
    assert said in found
