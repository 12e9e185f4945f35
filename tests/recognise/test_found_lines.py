"""Calipers on masks: masks of known shape are measured to a part of their pixel, and each line names what it is.

Expected lengths are those of the shapes themselves; where the lines run is the published convention
(WHIPPET2023, table 1, and HANSSON2002 as FELINECARD describes it; keys in reference/tables/bibliography.toml).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from fanlight.recognise.found_lines import BASE_VIEWS, OUTFLOW_VIEWS, VENTRICLE_VIEWS, find_lines
from fanlight.recognise.picture_square import SIDE_PX, square_of
from fanlight.study import FoundLine, Sector, Structure

SIDE = SIDE_PX // 2  # of the masks
NAMES = [item.name.lower() for item in Structure]
VIEWS = [*VENTRICLE_VIEWS, *BASE_VIEWS, *OUTFLOW_VIEWS, "none"]
ENDS = ("commissure_right_noncoronary", "commissure_left_noncoronary", "commissure_right_left")
FACTS: dict[str, Any] = {"views": VIEWS, "structures": NAMES, "landmarks": ENDS}
# Already the largest in the square, so that a pixel of the screen is one of the square.
PICTURE = square_of(Sector(apex_row_px=0, apex_col_px=0, left_deg=-44, right_deg=44, near_px=0, far_px=156)).sector
CENTRE = np.array([90.0, 80.0])  # (row, col) in the square
MASK_PX = SIDE_PX / SIDE
WAYS = ("commissure-parallel", "single line")


def _ground() -> NDArray[np.int64]:
    return np.full((SIDE, SIDE), NAMES.index("other"))


def _radius(centre: NDArray[np.float64]) -> NDArray[np.float64]:
    row, col = np.mgrid[0:SIDE, 0:SIDE] * MASK_PX + (MASK_PX - 1) / 2
    return np.asarray(np.hypot(row - centre[0], col - centre[1]))


def _put(masks: NDArray[np.int64], where: NDArray[np.bool_], name: Structure) -> None:
    masks[where] = NAMES.index(name.name.lower())


def _ventricle(radius: float, wall: float) -> NDArray[np.int64]:
    """A round short axis: right ventricle above, septum above, free wall below."""
    masks, away = _ground(), _radius(CENTRE)
    above = (np.arange(SIDE) * MASK_PX < CENTRE[0])[:, None] & np.ones((1, SIDE), bool)
    _put(masks, (away < radius + wall + 14) & above, Structure.RV_CAVITY)
    _put(masks, (away < radius + wall) & above, Structure.SEPTUM)
    _put(masks, (away < radius + wall) & ~above, Structure.LV_FREE_WALL)
    _put(masks, away < radius, Structure.LV_CAVITY)
    return masks


def _base(root: float, atrium: float, vein: float = 0.0) -> NDArray[np.int64]:
    """A round root with a round atrium below it, and a tube that leaves the atrium downwards."""
    masks = _ground()
    centre = CENTRE - [20.0, 0.0]
    behind = centre + np.array([root + atrium + 3.0, 0.0])
    row, col = np.mgrid[0:SIDE, 0:SIDE] * MASK_PX + (MASK_PX - 1) / 2
    _put(masks, (abs(col - behind[1]) < vein) & (row > behind[0]) & (row < 146), Structure.LEFT_ATRIUM)
    _put(masks, _radius(behind) < atrium, Structure.LEFT_ATRIUM)
    _put(masks, _radius(centre) < root + 2.5, Structure.OTHER_WALL)
    _put(masks, _radius(centre) < root, Structure.AORTA)
    return masks


def _lines(
    masks: list[NDArray[np.int64]],
    view: str,
    landmarks: Any = None,
    phase: float = 0.0,
    facts: Mapping[str, Any] = MappingProxyType(FACTS),
) -> dict[tuple[str, str], FoundLine]:
    shares = np.stack([(one == np.arange(len(NAMES))[:, None, None]) for one in masks]).astype(np.float32)
    said = {
        "structures": shares,
        "view": np.array([0.9 if name == view else 0.1 / (len(VIEWS) - 1) for name in VIEWS], np.float32),
        "phase": np.linspace(0, 1, len(masks), endpoint=False).astype(np.float32) + phase,
        "landmarks": np.zeros((len(masks), len(ENDS), 4), np.float32) if landmarks is None else landmarks,
    }
    found = find_lines(said, facts, range(10, 10 + len(masks)), PICTURE)
    return {(item.what, item.said): item for item in found}


def test_a_still_is_measured_at_its_moment_only() -> None:
    """One frame is no beat: a ventricle in diastole tells nothing of systole, and none of it how it shortens."""
    found = _lines([_ventricle(26.0, 8.0)], VENTRICLE_VIEWS[1])

    assert {what for what, _ in found} == {"lvidd", "ivsd", "lvwd"}


def test_a_speck_in_the_cavity_ends_no_line() -> None:
    masks = _ventricle(26.0, 8.0)
    _put(masks, _radius(CENTRE) < 4, Structure.OTHER)
    found = _lines([masks], VENTRICLE_VIEWS[1])

    assert _length(found["lvidd", ""]) == pytest.approx(52.0, abs=MASK_PX / 2)
    assert _length(found["lvwd", ""]) == pytest.approx(8.0, abs=MASK_PX / 2)


def _long(radius: float, ring: float, half_length: float = 32.0) -> NDArray[np.int64]:
    """A long axis: a long ventricle at the left, a round atrium at the right of its ring, wall between their rest."""
    masks = _ground()
    row, col = np.mgrid[0:SIDE, 0:SIDE] * MASK_PX + (MASK_PX - 1) / 2
    middle = np.array([80.0, 95.0])
    ventricle = ((row - middle[0]) / 22) ** 2 + ((col - middle[1] + half_length) / half_length) ** 2
    _put(masks, ventricle < 1, Structure.LV_CAVITY)
    _put(masks, _radius(middle + np.array([0.0, radius])) < radius, Structure.LEFT_ATRIUM)
    _put(masks, (abs(col - middle[1]) < 5) & (abs(row - 80) >= ring), Structure.OTHER_WALL)
    _put(masks, (abs(col - middle[1]) < 5) & (abs(row - 80) < ring) & (col < middle[1]), Structure.LV_CAVITY)
    _put(masks, (abs(col - middle[1]) < 5) & (abs(row - 80) < ring) & (col >= middle[1]), Structure.LEFT_ATRIUM)
    return masks


def test_the_atrium_is_measured_half_way_between_ring_and_roof_in_a_long_axis() -> None:
    """WHIPPET2023, table 1: parallel to the ring; half way through a circle lies its diameter."""
    found = _lines([_long(18.0, 10.0), _long(18.0, 10.0)], OUTFLOW_VIEWS[0])

    assert set(found) == {("left_atrium_long_axis", "")}
    assert _length(found["left_atrium_long_axis", ""]) == pytest.approx(36.0, abs=1.5 * MASK_PX)


def test_the_atrium_is_measured_though_the_picture_cuts_the_ventricles_apex() -> None:
    """The line asks for ring and roof (WHIPPET2023, table 1); a dilated ventricle is seldom seen whole."""
    cut = _long(18.0, 10.0, half_length=60.0)
    assert (cut[:, 0] == NAMES.index("lv_cavity")).any(), "the ventricle reaches the edge of the square"
    found = _lines([cut, cut], OUTFLOW_VIEWS[0])

    assert _length(found["left_atrium_long_axis", ""]) == pytest.approx(36.0, abs=1.5 * MASK_PX)


def test_an_emptied_ventricle_that_reaches_farthest_into_its_outflow_tract_turns_no_line_about() -> None:
    """Its top, where the aorta begins, lies 9 px on the atrium's side of the ring; the cavity's middle does not."""
    masks = _long(18.0, 10.0, half_length=8.0)
    row, col = np.mgrid[0:SIDE, 0:SIDE] * MASK_PX + (MASK_PX - 1) / 2
    _put(masks, (row > 40) & (row < 92) & (col > 76) & (col < 91), Structure.LV_CAVITY)
    _put(masks, (row > 25) & (row < 41) & (col > 78) & (col < 104), Structure.LV_CAVITY)
    found = _lines([masks, masks], OUTFLOW_VIEWS[0])

    assert _length(found["left_atrium_long_axis", ""]) == pytest.approx(36.0, abs=1.5 * MASK_PX)


def test_an_atrium_whose_roof_the_picture_cuts_is_not_measured() -> None:
    """Where its roof lies, and with it the middle of its depth, is then not known."""
    cut = _long(42.0, 10.0)
    assert (cut[:, -1] == NAMES.index("left_atrium")).any(), "the atrium reaches the edge of the square"

    assert _lines([cut, cut], OUTFLOW_VIEWS[0]) == {}


def _length(item: FoundLine) -> float:
    return math.dist(*item.ends)


@pytest.mark.parametrize(("radius", "wall"), [(26.0, 8.0), (20.0, 12.0)])
def test_a_round_ventricle_is_measured_at_both_ends_of_the_beat(radius: float, wall: float) -> None:
    found = _lines([_ventricle(radius, wall), _ventricle(0.7 * radius, 1.3 * wall)], VENTRICLE_VIEWS[1])

    assert {what for what, _ in found} == {"lvidd", "ivsd", "lvwd", "lvids", "ivss", "lvws"}
    expected = {
        "lvidd": 2 * radius,
        "ivsd": wall,
        "lvwd": wall,
        "lvids": 1.4 * radius,
        "ivss": 1.3 * wall,
        "lvws": 1.3 * wall,
    }
    for what, length in expected.items():
        assert _length(found[what, ""]) == pytest.approx(length, abs=MASK_PX)
    assert (found["lvidd", ""].frame, found["lvids", ""].frame) == (10, 11)


def test_a_ventricle_that_is_not_round_has_a_wider_spread() -> None:
    """A septum pressed flat leaves a crescent: no one diameter stands for it."""
    flat = _ventricle(26.0, 8.0)
    above = (np.arange(SIDE) * MASK_PX < CENTRE[0] - 10)[:, None]
    _put(flat, above & (flat == NAMES.index("lv_cavity")), Structure.SEPTUM)
    pressed = _lines([flat], VENTRICLE_VIEWS[0])["lvidd", ""]
    round_ = _lines([_ventricle(26.0, 8.0)], VENTRICLE_VIEWS[0])["lvidd", ""]

    assert pressed.spread_px > 1.5 * round_.spread_px


def _commissures(centre: NDArray[np.float64], root: float) -> NDArray[np.float32]:
    """Ends on the wall, 120° apart (that of left and non-coronary cusp towards the atrium), each sure."""
    angles = np.radians([240.0, 0.0, 120.0])
    places = centre + root * np.stack([np.cos(angles), np.sin(angles)], axis=-1)
    marks = np.concatenate([places, np.ones((3, 1)), np.ones((3, 1))], axis=1)
    return marks[None].astype(np.float32)


@pytest.mark.parametrize("vein", [0.0, 4.0])
def test_atrium_and_aorta_are_measured_by_both_conventions_and_a_vein_is_no_atrium(vein: float) -> None:
    marks = _commissures(CENTRE - [20.0, 0.0], 14.0)
    found = _lines([_base(14.0, 18.0, vein)], BASE_VIEWS[0], marks, phase=0.6)

    assert set(found) == {(what, way) for what in ("aortic_root", "left_atrium") for way in WAYS}
    for way in WAYS:
        assert _length(found["aortic_root", way]) == pytest.approx(28.0, abs=MASK_PX)
        assert _length(found["left_atrium", way]) == pytest.approx(36.0, abs=1.5 * MASK_PX)


@pytest.mark.parametrize(("shares", "is_measured"), [
    ((0.2, 0.9, 0.9), True), ((0.9, 0.9, 0.2), True), ((0.05, 0.9, 0.9), False), ((0.4, 0.4, 0.9), False),
])  # fmt: skip
def test_two_sure_commissures_bear_a_third_that_lies_off_the_plane(
    shares: tuple[float, float, float], is_measured: bool
) -> None:
    """A root cut aslant shows the third beside the plane; both conventions ask for its direction in the picture."""
    marks = _commissures(CENTRE - [20.0, 0.0], 14.0)
    marks[0, :, 3] = shares
    found = _lines([_base(14.0, 18.0)], BASE_VIEWS[0], marks, phase=0.6)

    assert set(found) == {(what, way) for what in ("aortic_root", "left_atrium") for way in WAYS if is_measured}


def test_of_two_pieces_of_aorta_the_one_at_the_sinuses_is_the_root() -> None:
    """Far from the atrium a larger piece is the aorta's arch, or a mistake of the network."""
    masks, marks = _base(14.0, 18.0), _commissures(CENTRE - [20.0, 0.0], 14.0)
    _put(masks, _radius(np.array([118.0, 118.0])) < 22, Structure.AORTA)
    sinuses = np.array([[[*(CENTRE - [20.0, 0.0]), 1.0, 0.9]]], np.float32)
    facts = {**FACTS, "landmarks": (*ENDS, "aortic_sinus_centre")}
    found = _lines([masks], BASE_VIEWS[0], np.concatenate([marks, sinuses], axis=1), phase=0.6, facts=facts)

    for way in WAYS:
        assert _length(found["aortic_root", way]) == pytest.approx(28.0, abs=MASK_PX)


def test_without_commissures_no_convention_can_be_followed() -> None:
    assert _lines([_base(14.0, 18.0)], BASE_VIEWS[0], phase=0.6) == {}


@pytest.mark.parametrize("view", ["none", OUTFLOW_VIEWS[0]])
def test_a_view_that_does_not_carry_a_line_has_none(view: str) -> None:
    assert _lines([_ventricle(26.0, 8.0)], view) == {}


def test_a_ventricle_that_the_picture_cuts_has_no_wall_there() -> None:
    low = np.roll(_ventricle(26.0, 8.0), 20, axis=0)

    assert ("lvwd", "") not in _lines([low], VENTRICLE_VIEWS[0])
