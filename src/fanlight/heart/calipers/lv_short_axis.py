"""Left ventricular diameter, septum and free wall in the right parasternal short axis.

The line goes through the centre of the cavity at right angles to the septum, as the M-mode cursor and the 2-D caliper
do at the level of the chordae [WHIPPET2023, table 1]. Leading edge to leading edge: in a label map every border has
one place, so the leading edges of the septum's right side, of its left side and of the free wall's inner side are the
borders between lumen and muscle, and the free wall ends where its muscle ends, without the pericardium. Papillary
muscles are bridged (see left_ventricle).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.calipers.caliper import Caliper, length_mm, line, no_value
from fanlight.heart.calipers.left_ventricle import (
    BEHIND_PX,
    CAVITY,
    CUT,
    NO_SEPTUM,
    NO_VENTRICLE,
    RIGHT_LUMEN,
    LeftVentricle,
    across,
    find_left_ventricle,
    labels_at,
    septal_chord,
    unit_between,
)
from fanlight.heart.calipers.region import find_region, leave_px
from fanlight.heart.label_map import LabelMap
from fanlight.heart.tissue import Tissue

DIAMETER_CONVENTION = (
    "short axis, through the centre of the cavity at right angles to the septum, inner edge to inner edge, "
    "papillary muscles bridged"
)
SEPTUM_CONVENTION = "short axis, on the line of the diameter, right side of the septum to its left side"
FREE_WALL_CONVENTION = "short axis, on the line of the diameter, inner to outer edge of the muscle, without pericardium"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cursor:
    """The line on which the ventricle is measured, and where it meets the borders of muscle and lumen, (row, col)."""

    septum_right_px: NDArray[np.float64]
    septum_left_px: NDArray[np.float64]
    wall_inner_px: NDArray[np.float64]
    wall_outer_px: NDArray[np.float64]
    behind: tuple[int, int, int, int]  # tissue just behind each, seen from the cavity
    crosses_papillary: bool


def find_cursor(label_map: LabelMap, ventricle: LeftVentricle | None) -> Cursor | str:
    """Return the cursor line of a short axis, or why there is none."""
    if ventricle is None:
        return NO_VENTRICLE
    chord = septal_chord(ventricle)
    if chord is None:
        return NO_SEPTUM
    tissue, centre = label_map.shown(), ventricle.centre_px
    middle = (chord[0] + chord[1]) / 2
    to_septum = across(unit_between(*chord), middle - centre)
    directions = np.stack([to_septum, -to_septum])
    inner = leave_px(ventricle.cavity, centre, directions)
    muscle = find_region(tissue, CAVITY | {Tissue.SEPTUM, Tissue.LV_FREE_WALL}, near_px=centre)
    assert muscle is not None
    outer = leave_px(muscle, centre, directions)
    points = [centre + far * way for far, way in zip((*inner, *outer), (*directions, *directions), strict=True)]
    behind = labels_at(tissue, np.stack([p + BEHIND_PX * w for p, w in zip(points, [*directions] * 2, strict=True)]))
    on_line = labels_at(tissue, centre + np.linspace(-inner[1], inner[0], 200)[:, None] * to_septum)
    return Cursor(
        septum_left_px=points[0],
        wall_inner_px=points[1],
        septum_right_px=points[2],
        wall_outer_px=points[3],
        behind=(int(behind[2]), int(behind[0]), int(behind[1]), int(behind[3])),
        crosses_papillary=bool(np.isin(on_line, [Tissue.PAPILLARY_CRANIAL, Tissue.PAPILLARY_CAUDAL]).any()),
    )


def measure_lv_short_axis(
    label_map: LabelMap, *, ventricle: LeftVentricle | None = None
) -> tuple[Caliper, Caliper, Caliper]:
    """Return diameter of the cavity, thickness of the septum and thickness of the free wall, in mm.

    Parameters
    ----------
    label_map : LabelMap
        A short axis of the left ventricle.
    ventricle : LeftVentricle, optional
        Its left ventricle, when it has been looked for already.

    Returns
    -------
    tuple of Caliper
        "lv_internal_diameter", "septum" and "free_wall". None of them for where the ventricle or its septum is missing;
        a wall has no value where no lumen of the right ventricle lies next to the septum, or the picture cuts it.

    References
    ----------
    .. [WHIPPET2023] key in reference/tables/bibliography.toml, table 1: level of the chordae, leading edges.
    """
    names = (
        ("lv_internal_diameter", DIAMETER_CONVENTION),
        ("septum", SEPTUM_CONVENTION),
        ("free_wall", FREE_WALL_CONVENTION),
    )
    cursor = find_cursor(label_map, ventricle or find_left_ventricle(label_map))
    if isinstance(cursor, str):
        first, second, third = (no_value(name, convention, "mm", cursor) for name, convention in names)
        return first, second, third
    right, left, inner, outer = cursor.behind
    remark = "the line crosses a papillary muscle, which is bridged" if cursor.crosses_papillary else ""
    cut = int(Tissue.OUTSIDE)
    why_not = (
        CUT if cut in (left, inner) else NO_SEPTUM if left != Tissue.SEPTUM else "",
        CUT if right == cut
        else NO_SEPTUM if left != Tissue.SEPTUM
        else "no lumen of the right ventricle lies next to the septum on this line"
        if right not in RIGHT_LUMEN
        else "",
        CUT if cut in (inner, outer) else "no free wall lies on this line" if inner != Tissue.LV_FREE_WALL else "",
    )  # fmt: skip
    ends = (
        line(cursor.septum_left_px, cursor.wall_inner_px),
        line(cursor.septum_right_px, cursor.septum_left_px),
        line(cursor.wall_inner_px, cursor.wall_outer_px),
    )
    first, second, third = (
        no_value(name, convention, "mm", reason)
        if reason
        else Caliper(
            name=name,
            convention=convention,
            value=length_mm(a_line, label_map.mm_per_px),
            unit="mm",
            lines=(a_line,),
            remark=remark if name != "septum" else "",
        )
        for (name, convention), reason, a_line in zip(names, why_not, ends, strict=True)
    )
    return first, second, third
