"""Calipers laid on the masks of the picture network, in the clip's own pixels: left ventricle, left atrium, aorta.

The calipers are those of `fanlight.heart.calipers`, by the published conventions named there; masks stand in for the
tissue of the animal. A mask names an auricle and the mouths of veins as atrium too: before the left
atrium is measured across the aorta, what is narrow is cut off its mask.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.heart.calipers import (
    Line,
    find_left_ventricle,
    measure_la_ao_by_commissure,
    measure_la_ao_by_line,
    measure_la_long_axis,
    measure_lv_short_axis,
)
from fanlight.heart.calipers.la_ao import BY_COMMISSURE, BY_LINE
from fanlight.heart.calipers.left_ventricle import CAVITY
from fanlight.heart.calipers.mitral_side import find_mitral_side
from fanlight.heart.calipers.region import mask_of
from fanlight.heart.label_map import LabelMap
from fanlight.heart.pose import look
from fanlight.heart.tissue import Tissue
from fanlight.recognise.picture_square import SIDE_PX, Square, inside, square_of
from fanlight.recognise.structure_summary import likeliest
from fanlight.study import FoundLine, Landmark, Point, Sector, Structure

# All engineering judgement, set on ring A.
FINE = 3  # times finer than the masks: borders are found between their pixels
VIEW_FROM = 0.5  # share of the views that a line belongs to, from which on it is laid
NEAR_PHASE = 0.12  # a frame this far from its moment, as a share of the beat, stands for another one
EARLY_PHASE = 0.57  # of the beat (0.5: the aortic valve has just shut): when the left atrium is measured
# Shares of a pixel add up to one but for rounding.
LEAST_EVEN = 0.99
# Of the atrium's own radius: what a disc of this size does not fit into is an auricle or the mouth of a vein.
NECK_SHARE = 0.5
# One standard deviation of each end, pixels of the square; a ventricle that is not round has no one diameter.
DIAMETER_PX, WALL_PX, THICK_WALL_PX = 0.5, 0.5, 0.7  # a wall is blurred while it thickens
ATRIUM_PX, LONG_ATRIUM_PX, ROOT_PX = 1.1, 0.7, 0.6
UNROUND_SHARE = 0.35  # of the difference from a circle's diameter, added to it

_SHORT = "right_parasternal_short_axis_"
VENTRICLE_VIEWS = (f"{_SHORT}papillary_muscles", f"{_SHORT}chordae")
BASE_VIEWS = (f"{_SHORT}aorta",)
OUTFLOW_VIEWS = ("right_parasternal_long_axis_outflow",)

Shares = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Laid:
    """One line on the map of one frame."""

    what: str
    place: int  # of the frame among those that the network was shown
    line: Line  # (row, col) on the map
    spread_px: float  # of the square
    said: str = ""


# The piece of tissue that stands for each structure; what is named by none is fat.
_TISSUE_OF = {
    Structure.LV_CAVITY: Tissue.LV_CAVITY, Structure.PAPILLARY: Tissue.PAPILLARY_CRANIAL,
    Structure.SEPTUM: Tissue.SEPTUM, Structure.LV_FREE_WALL: Tissue.LV_FREE_WALL,
    Structure.LEFT_ATRIUM: Tissue.LA_CAVITY, Structure.AORTA: Tissue.AORTA, Structure.RV_CAVITY: Tissue.RV_CAVITY,
    Structure.RV_WALL: Tissue.RV_WALL, Structure.RIGHT_ATRIUM: Tissue.RA_CAVITY,
    Structure.PULMONARY_ARTERY: Tissue.PULMONARY_TRUNK, Structure.MITRAL_LEAFLET: Tissue.MITRAL_SEPTAL_LEAFLET,
    Structure.TRICUSPID_LEAFLET: Tissue.TRICUSPID_LEAFLET, Structure.EFFUSION: Tissue.EFFUSION,
    Structure.HIDDEN: Tissue.LUNG, Structure.OTHER_WALL: Tissue.AORTIC_WALL, Structure.LIVER: Tissue.LIVER,
}  # fmt: skip
_WALLS = (("lvidd", "ivsd", "lvwd"), ("lvids", "ivss", "lvws"))  # at the end of diastole and of systole
_COMMISSURES = (
    Landmark.COMMISSURE_RIGHT_NONCORONARY, Landmark.COMMISSURE_LEFT_NONCORONARY, Landmark.COMMISSURE_RIGHT_LEFT,
)  # fmt: skip
# Probability from which on a landmark counts. Where two commissures do, so does the third from far less on: of a root
# that is cut aslant, as above a dilated ventricle, it lies off the plane, and its direction in it is the same.
_LANDMARK_FROM, _THIRD_FROM = 0.5, 0.1
_POSE = look(np.zeros(3), np.array([0.0, 0.0, 1.0]), np.array([1.0, 0.0, 0.0]))  # any: nothing here leaves the plane


def find_lines(
    said: Mapping[str, NDArray[np.float32]], facts: Mapping[str, Any], indices: Sequence[int], picture: Sector
) -> tuple[FoundLine, ...]:
    """Return the calipers of one clip at their moments of the beat; none where no view that carries them is likely.

    Parameters
    ----------
    said : mapping of str to ndarray
        What the network says of the clip (`PictureNetwork.ask`).
    facts : mapping
        What the network says of itself: names of views, structures and landmarks.
    indices : sequence of int
        Of the frames that it was shown, in the clip.
    picture : Sector
        Where the picture lies on the screen.
    """
    square, phase = square_of(picture), said["phase"]
    within, size = inside(square.sector), said["structures"].shape[-1] * FINE
    from_diastole = np.abs((phase + 0.5) % 1.0 - 0.5)
    diastole, systole = _nearest(from_diastole), _nearest(0.5 - from_diastole)

    def at(place: int) -> LabelMap:
        found = _places(facts["landmarks"], said["landmarks"][place])
        return mask_map(said["structures"][place], facts["structures"], within, found)

    laid: Iterable[_Laid] = ()
    if _share(VENTRICLE_VIEWS, said["view"], facts["views"]) >= VIEW_FROM:
        ends = ((place, keys) for place, keys in zip((diastole, systole), _WALLS, strict=True) if place is not None)
        laid = [item for place, keys in ends for item in _ventricle(at(place), place, keys)]
    elif _share(BASE_VIEWS, said["view"], facts["views"]) >= VIEW_FROM:
        early = _nearest(np.abs(phase - EARLY_PHASE))
        laid = [] if early is None else _base(at(early), early)
    elif _share(OUTFLOW_VIEWS, said["view"], facts["views"]) >= VIEW_FROM:
        laid = [] if systole is None else _long_atrium(at(systole), systole)
    return tuple(
        FoundLine(
            what=item.what, frame=indices[item.place], said=item.said, spread_px=item.spread_px * square.rows_per_px,
            ends=_on_screen(item.line, size, square, picture),
        )
        for item in laid
    )  # fmt: skip


def _places(names: Sequence[str], rows: NDArray[np.float32]) -> dict[Landmark, tuple[float, float]]:
    """Return where the landmarks lie that give a direction or tell a piece, (row, col) in the square."""
    told = {Landmark[name.upper()]: row for name, row in zip(names, rows, strict=True)}
    n_sure = sum(bool(told[each][3] >= _LANDMARK_FROM) for each in _COMMISSURES if each in told)
    third = _COMMISSURES if n_sure >= len(_COMMISSURES) - 1 else ()
    return {
        mark: (float(row), float(col))
        for mark, (row, col, _, share) in told.items()
        if share >= (_THIRD_FROM if mark in third else _LANDMARK_FROM)
    }


def _nearest(away: NDArray[np.float32]) -> int | None:
    """Return the frame nearest to a moment, None where none lies near: a still, or half a beat."""
    place = int(away.argmin())
    return place if away[place] <= NEAR_PHASE else None


def _share(views: Iterable[str], shares: NDArray[np.float32], names: Sequence[str]) -> float:
    return float(sum(share for name, share in zip(names, shares, strict=True) if name in views))


def _on_screen(a_line: Line, size: int, square: Square, picture: Sector) -> tuple[Point, Point]:
    first, second = square.to_screen(_to_square(np.array(a_line), size), picture)
    return (float(first[0]), float(first[1])), (float(second[0]), float(second[1]))


def _ventricle(view: LabelMap, place: int, keys: tuple[str, str, str]) -> list[_Laid]:
    """Return diameter, septum and free wall of a short axis."""
    view = _without_holes(view)
    ventricle = find_left_ventricle(view)
    diameter, septum, wall = measure_lv_short_axis(view, ventricle=ventricle)
    if ventricle is None or diameter.value is None:
        return []
    round_mm = 2 * math.sqrt(ventricle.cavity.area_px / math.pi) * view.mm_per_px
    unround = UNROUND_SHARE * abs(diameter.value - round_mm)
    wall_px = WALL_PX if keys == _WALLS[0] else THICK_WALL_PX
    spreads = (DIAMETER_PX + unround, wall_px, wall_px)
    return [
        _Laid(what=key, place=place, line=found.lines[0], spread_px=spread)
        for key, found, spread in zip(keys, (diameter, septum, wall), spreads, strict=True)
        if found.value is not None
    ]


def _without_holes(view: LabelMap) -> LabelMap:
    """Return a map whose left ventricle holds nothing but itself: a speck in its middle is a mistake of the network."""
    empty = np.pad((~mask_of(view.tissue, CAVITY)).astype(np.uint8), 1, constant_values=1)
    _, pieces = cv2.connectedComponents(empty, connectivity=4)
    holes = (pieces > 0) & (pieces != pieces[0, 0])
    holes = holes[1:-1, 1:-1]
    return replace(view, tissue=np.where(holes, np.uint8(Tissue.LV_CAVITY), view.tissue))


def _base(view: LabelMap, place: int) -> list[_Laid]:
    """Return aorta and left atrium by both published conventions, each pair apart."""
    trimmed = _without_mouths(view)
    found = []
    for way, measure in ((BY_COMMISSURE, measure_la_ao_by_commissure), (BY_LINE, measure_la_ao_by_line)):
        root, atrium, ratio = measure(trimmed)
        if ratio.value is not None:
            found += [
                _Laid(what="aortic_root", place=place, line=root.lines[0], spread_px=ROOT_PX, said=way),
                _Laid(what="left_atrium", place=place, line=atrium.lines[0], spread_px=ATRIUM_PX, said=way),
            ]
    return found


def _without_mouths(view: LabelMap) -> LabelMap:
    """Return a map on which what is too narrow to be the body of the left atrium is auricle."""
    atrium = (view.tissue == Tissue.LA_CAVITY).astype(np.uint8)
    reach = round(NECK_SHARE * math.sqrt(float(atrium.sum()) / math.pi))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    wide = cv2.copyMakeBorder(atrium, *(2 * reach + 1,) * 4, cv2.BORDER_CONSTANT, value=0)
    body = cv2.morphologyEx(wide, cv2.MORPH_OPEN, disc)[2 * reach + 1 :, 2 * reach + 1 :][: len(atrium), : len(atrium)]
    tissue = np.where((atrium > 0) & (body == 0), np.uint8(Tissue.LEFT_AURICLE), view.tissue)
    return replace(view, tissue=tissue)


def _long_atrium(view: LabelMap, place: int) -> list[_Laid]:
    """Return the diameter of the left atrium in a long axis; the ventricle's apex may lie outside of the picture."""
    found = measure_la_long_axis(view, axis=find_mitral_side(view))
    if found.value is None:
        return []
    return [_Laid(what="left_atrium_long_axis", place=place, line=found.lines[0], spread_px=LONG_ATRIUM_PX)]


def mask_map(
    shares: Shares,
    names: Sequence[str],
    inside: NDArray[np.bool_],
    landmarks_px: Mapping[Landmark, tuple[float, float]],
) -> LabelMap:
    """Return the masks of one frame as a label map, finer than they are. Its millimetre is a pixel of the square.

    Parameters
    ----------
    shares : ndarray of shape (structure, side, side)
        Share of each structure in each pixel of the mask.
    names : sequence of str
        Of the structures, as the network's file has them.
    inside : ndarray of shape (SIDE_PX, SIDE_PX)
        Where the picture lies in the square.
    landmarks_px : mapping of Landmark to (row, col)
        In pixels of the square.
    """
    size = shares.shape[-1] * FINE
    # The largest of so many shares is never below an even one, and between pixels no share is above the pixels'.
    likely = np.flatnonzero(shares.reshape(len(shares), -1).max(axis=1) >= LEAST_EVEN / len(shares))
    fine = np.stack([cv2.resize(shares[k], (size, size), interpolation=cv2.INTER_LINEAR) for k in likely])
    table = np.array([_TISSUE_OF.get(Structure[name.upper()], Tissue.FAT) for name in names], np.uint8)
    within = cv2.resize(inside.astype(np.uint8), (size, size), interpolation=cv2.INTER_NEAREST).astype(bool)
    best = likely[likeliest(fine[np.newaxis])[0][0]]
    found = LabelMap(
        tissue=table[best], mm_per_px=SIDE_PX / size, pose=_POSE, face_row_px=0.0, face_col_px=0.0,
        inside=within,
    )  # fmt: skip
    places = {mark: found.to_patient_mm(_to_map(np.array(at), size)) for mark, at in landmarks_px.items()}
    return replace(found, landmarks_mm=places)


def _to_map(at_px: NDArray[np.float64], size: int) -> NDArray[np.float64]:
    """Return a place of the square on a map of so many pixels."""
    return np.asarray((at_px + 0.5) * size / SIDE_PX - 0.5)


def _to_square(at_map: NDArray[np.float64], size: int) -> NDArray[np.float64]:
    return np.asarray((at_map + 0.5) * SIDE_PX / size - 0.5)
