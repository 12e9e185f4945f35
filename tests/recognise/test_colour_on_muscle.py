"""Colour on muscle, against masks and paint drawn by hand whose share follows from geometry."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from fanlight.recognise.beat_frames import Painted
from fanlight.recognise.colour_on_muscle import FEWEST_FRAMES, colour_on_muscle
from fanlight.recognise.structure_summary import mask_grid
from fanlight.study import ColourOnMuscle, Sector, Structure

SIDE, FRAMES = 80, 6
FAN = Sector(apex_row_px=8.0, apex_col_px=79.5, left_deg=-45.0, right_deg=45.0, near_px=0.0, far_px=140.0)
GRID = mask_grid(FAN, SIDE)
NAMES = [item.name.lower() for item in Structure]
CAVITY = (0.5, 0.9, 0.2, 0.5)
WALL = (0.5, 0.9, 0.5, 0.8)  # beside it, as large

Wedge = tuple[float, float, float, float]  # from and to depth, from and to beam


def wedge(place: Wedge) -> NDArray[np.bool_]:
    near, far, left, right = place
    return np.asarray((GRID.depth >= near) & (GRID.depth < far) & (GRID.beam >= left) & (GRID.beam < right))


def shares(wall: Structure = Structure.SEPTUM, share: float = 0.9) -> NDArray[np.float32]:
    best = np.zeros((SIDE, SIDE), np.intp)
    best[wedge(CAVITY)] = list(Structure).index(Structure.LV_CAVITY)
    best[wedge(WALL)] = list(Structure).index(wall)
    out = np.full((FRAMES, len(NAMES), SIDE, SIDE), (1 - share) / (len(NAMES) - 1), np.float32)
    np.put_along_axis(out, np.broadcast_to(best, (FRAMES, 1, SIDE, SIDE)), np.float32(share), axis=1)
    return out


def paint(*frames: Wedge | None) -> Painted:
    drawn = np.stack([
        np.zeros((SIDE, SIDE), np.uint8) if place is None else 255 * wedge(place).astype(np.uint8) for place in frames
    ]).repeat(2, axis=1).repeat(2, axis=2)  # fmt: skip
    return Painted(frames=drawn, ever=drawn.max(axis=0))


def told(masks: NDArray[np.float32], painted: Painted) -> ColourOnMuscle:
    return colour_on_muscle(masks, NAMES, [10 + k for k in range(FRAMES)], FAN, painted)


@pytest.mark.parametrize(("to_beam", "share"), [(0.5, 0.0), (0.56, 0.2), (0.65, 0.5), (0.8, 1.0)])
def test_the_further_colour_runs_into_the_wall_the_larger_the_share(to_beam: float, share: float) -> None:
    """The box reaches across the whole wall, since one frame is painted there too; the median passes that one over."""
    found = told(shares(), paint((0.5, 0.9, 0.2, 0.8), *[(0.5, 0.9, 0.2, to_beam)] * 5))

    assert found.frames == FRAMES
    assert found.share == pytest.approx(share, abs=0.04)
    assert found.frame in range(11, 16) or share == 1.0
    if share:
        place = (found.from_depth, found.to_depth, found.from_beam, found.to_beam)
        assert place == pytest.approx((0.5, 0.9, 0.5, to_beam), abs=0.03)


def test_wall_beyond_the_reach_of_colour_does_not_count() -> None:
    """A box over the cavity and the first tenth of the wall, all painted: all of the wall in it is."""
    found = told(shares(), paint(*[(0.5, 0.9, 0.2, 0.57)] * FRAMES))

    assert found.share == pytest.approx(1.0, abs=0.1)


def test_a_flash_in_two_of_six_frames_does_not_count() -> None:
    whole, blood = (0.5, 0.9, 0.2, 0.8), (0.5, 0.9, 0.2, 0.5)

    assert told(shares(), paint(whole, whole, blood, blood, blood, blood)).share == 0.0


@pytest.mark.parametrize("wall", [Structure.LEFT_ATRIUM, Structure.OTHER_WALL, Structure.HIDDEN])
def test_only_muscle_is_asked(wall: Structure) -> None:
    """Blood is meant to be painted; walls of atria are too thin for the masks; lung is no heart."""
    assert told(shares(wall), paint(*[(0.5, 0.9, 0.2, 0.8)] * FRAMES)) == ColourOnMuscle(frames=0)


def test_where_the_network_is_not_sure_nothing_is_told() -> None:
    assert told(shares(share=0.4), paint(*[(0.5, 0.9, 0.2, 0.8)] * FRAMES)) == ColourOnMuscle(frames=0)


def test_a_clip_without_paint_tells_nothing() -> None:
    assert told(shares(), paint(*[None] * FRAMES)) == ColourOnMuscle(frames=0)


def test_too_few_frames_with_muscle_give_no_share() -> None:
    masks = shares()
    masks[FEWEST_FRAMES - 1 :] = shares(Structure.LEFT_ATRIUM)[FEWEST_FRAMES - 1 :]

    assert told(masks, paint(*[(0.5, 0.9, 0.2, 0.8)] * FRAMES)) == ColourOnMuscle(frames=FEWEST_FRAMES - 1)
