"""Left atrium to aorta in the right parasternal short axis, by two published conventions that must not be mixed.

Commissure-parallel [HANSSON2002, as FELINECARD describes it]
    Aorta: inner edges, along the commissure of right and non-coronary cusp. Atrium: along the commissure of left and
    non-coronary cusp, from the atrium's inner edge beside the aorta to its far inner edge.
Single line [WHIPPET2023, table 1]
    Aorta: inner edges, from the middle of the right cusp to where left and non-coronary cusp meet. Atrium: the same
    line continued, from the outer side of the aortic wall to the far inner edge of the atrium.

A commissure has the direction from the centre of the root to its end on the wall. The ends are landmarks, projected
into the picture; all borders are read from the labels. Mouths of pulmonary veins and the auricle are not atrium here,
so a line that runs into one stops where the wall would be.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.calipers.aortic_root import NO_AORTA, find_root
from fanlight.heart.calipers.caliper import Caliper, Line, length_mm, line, no_value, ratio
from fanlight.heart.calipers.left_ventricle import BEHIND_PX, CUT, labels_at, unit_between
from fanlight.heart.calipers.region import Region, chords_px, find_region
from fanlight.heart.label_map import LabelMap
from fanlight.heart.tissue import Tissue
from fanlight.study import Landmark

AORTA_BY_COMMISSURE = "short axis, inner edges, along the commissure of right and non-coronary cusp"
ATRIUM_BY_COMMISSURE = "short axis, inner edges, along the commissure of left and non-coronary cusp"
AORTA_BY_LINE = "short axis, inner edges, from the middle of the right cusp to where left and non-coronary cusp meet"
ATRIUM_BY_LINE = "short axis, on the line of the aorta, from the aortic wall to the far inner edge of the atrium"
BY_COMMISSURE = "commissure-parallel"
BY_LINE = "single line"
NO_ATRIUM = "the left atrium is not in the picture"
MISSES = "the line does not meet the left atrium"
_ENDS = (
    Landmark.COMMISSURE_RIGHT_NONCORONARY,
    Landmark.COMMISSURE_LEFT_NONCORONARY,
    Landmark.COMMISSURE_RIGHT_LEFT,
)
_SIDEWAYS = {
    int(Tissue.PULMONARY_VEIN): "the far end lies across the mouth of a pulmonary vein",
    int(Tissue.LEFT_AURICLE): "the far end lies across the mouth of the left auricle",
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Base:
    """Root and atrium in the picture, and where the commissures end."""

    root: Region
    atrium: Region | None
    right_non_px: NDArray[np.float64]
    left_non_px: NDArray[np.float64]
    right_left_px: NDArray[np.float64]


def _find_base(label_map: LabelMap) -> _Base | str:
    root = find_root(label_map)
    if root is None:
        return NO_AORTA
    missing = [end.value for end in _ENDS if end not in label_map.landmarks_mm]
    if missing:
        return f"the place of the {missing[0]} is not known"
    ends = [label_map.from_patient_mm(label_map.landmarks_mm[end])[0] for end in _ENDS]
    if min(float(np.hypot(*(end - root.centre_px))) for end in ends) < 1:
        return "the root is not cut across: a commissure falls on its centre"
    return _Base(
        root=root,
        atrium=find_region(label_map.shown(), {Tissue.LA_CAVITY}),
        right_non_px=ends[0],
        left_non_px=ends[1],
        right_left_px=ends[2],
    )


def _through_root(
    name: str, said: str, base: _Base, label_map: LabelMap, start_px: NDArray[np.float64], way: NDArray[np.float64]
) -> Caliper:
    """Return the stretch of the root's lumen around a point of the line."""
    stretches = [s for s in chords_px(base.root, start_px, way) if s[0] <= 0 <= s[1]]
    if not stretches:
        return no_value(name, said, "mm", "the line does not run through the lumen of the aortic root")
    ends = [start_px + far * way for far in stretches[0]]
    behind = [labels_at(label_map.shown(), end + s * BEHIND_PX * way) for end, s in zip(ends, (-1, 1), strict=True)]
    if Tissue.OUTSIDE in behind:
        return no_value(name, said, "mm", CUT)
    return _caliper(name, said, line(ends[0], ends[1]), label_map)


def _caliper(name: str, said: str, a_line: Line, label_map: LabelMap, remark: str = "") -> Caliper:
    return Caliper(
        name=name,
        convention=said,
        value=length_mm(a_line, label_map.mm_per_px),
        unit="mm",
        lines=(a_line,),
        remark=remark,
    )


def _into_atrium(
    name: str,
    said: str,
    base: _Base,
    label_map: LabelMap,
    start_px: NDArray[np.float64],
    way: NDArray[np.float64],
    *,
    from_aortic_wall: bool,
) -> Caliper:
    """Return the stretch of atrium on the ray from a point in the root along `way`."""
    if base.atrium is None:
        return no_value(name, said, "mm", NO_ATRIUM)
    tissue = label_map.shown()
    stretches = [s for s in chords_px(base.atrium, start_px, way) if s[1] > 0]
    if not stretches:
        return no_value(name, said, "mm", MISSES)
    near, far = (float(end) for end in stretches[0])
    if from_aortic_wall:
        steps = np.arange(0.0, near, 0.25)  # a quarter of a pixel: finer than the labels
        on_wall = np.flatnonzero(labels_at(tissue, start_px + steps[:, None] * way) == Tissue.AORTIC_WALL)
        near = float(steps[on_wall[-1]]) if on_wall.size else near
    ends = line(start_px + near * way, start_px + far * way)
    beyond = int(labels_at(tissue, start_px + (far + BEHIND_PX) * way))
    if beyond == Tissue.OUTSIDE:
        return no_value(name, said, "mm", CUT)
    return _caliper(name, said, ends, label_map, _SIDEWAYS.get(beyond, ""))


def measure_la_ao_by_commissure(label_map: LabelMap) -> tuple[Caliper, Caliper, Caliper]:
    """Return aorta (mm), left atrium (mm) and their ratio, each along a commissure.

    Parameters
    ----------
    label_map : LabelMap
        Short axis at the aortic cusps with the landmarks of the commissures; first frame after the valve has shut.

    Returns
    -------
    tuple of Caliper
        "aortic_root", "left_atrium", "la_ao".

    References
    ----------
    .. [HANSSON2002] [FELINECARD] keys in reference/tables/bibliography.toml, p. 133 of the latter.
    """
    said = (AORTA_BY_COMMISSURE, ATRIUM_BY_COMMISSURE)
    base = _find_base(label_map)
    if isinstance(base, str):
        aorta, atrium = _neither(said, base)
    else:
        centre = base.root.centre_px
        along, towards = unit_between(centre, base.right_non_px), unit_between(centre, base.left_non_px)
        aorta = _through_root("aortic_root", said[0], base, label_map, centre, along)
        atrium = _into_atrium("left_atrium", said[1], base, label_map, centre, towards, from_aortic_wall=False)
    return aorta, atrium, ratio("la_ao", atrium, aorta, BY_COMMISSURE)


def measure_la_ao_by_line(label_map: LabelMap) -> tuple[Caliper, Caliper, Caliper]:
    """Return aorta (mm), left atrium (mm) and their ratio on a single line.

    Parameters
    ----------
    label_map : LabelMap
        Short axis at the aortic cusps with the landmarks of the commissures; early diastole.

    Returns
    -------
    tuple of Caliper
        "aortic_root", "left_atrium", "la_ao".

    Notes
    -----
    The middle of the right cusp is taken half way, by angle at the root's centre, between the two ends of its wall.

    References
    ----------
    .. [WHIPPET2023] key in reference/tables/bibliography.toml, table 1.
    """
    said = (AORTA_BY_LINE, ATRIUM_BY_LINE)
    base = _find_base(label_map)
    if isinstance(base, str):
        aorta, atrium = _neither(said, base)
        return aorta, atrium, ratio("la_ao", atrium, aorta, BY_LINE)
    centre = base.root.centre_px
    to_ends = unit_between(centre, base.right_non_px) + unit_between(centre, base.right_left_px)
    if float(np.hypot(*to_ends)) < 1e-6:  # numerical: the two ends face each other, and half way has no side
        to_ends = unit_between(base.left_non_px, centre)
    to_cusp = to_ends / np.hypot(*to_ends)
    on_wall = [s[1] for s in chords_px(base.root, centre, to_cusp) if s[0] <= 0 <= s[1]]
    cusp = centre + (on_wall[0] if on_wall else 0.0) * to_cusp
    way = unit_between(cusp, base.left_non_px)
    start = cusp + float((centre - cusp) @ way) * way  # the line's nearest point to the centre, which lies in the lumen
    aorta = _through_root("aortic_root", said[0], base, label_map, start, way)
    atrium = _into_atrium("left_atrium", said[1], base, label_map, start, way, from_aortic_wall=True)
    return aorta, atrium, ratio("la_ao", atrium, aorta, BY_LINE)


def _neither(said: tuple[str, str], reason: str) -> tuple[Caliper, Caliper]:
    return no_value("aortic_root", said[0], "mm", reason), no_value("left_atrium", said[1], "mm", reason)
