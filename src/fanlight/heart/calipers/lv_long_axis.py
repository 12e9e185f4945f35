"""Left ventricular diameter, septum and free wall in a long axis, and the ventricle's length over its diameter."""

from __future__ import annotations

import numpy as np

from fanlight.heart.calipers.caliper import Caliper, length_mm, line, no_value, ratio
from fanlight.heart.calipers.left_ventricle import BEHIND_PX, CAVITY, CUT, RIGHT_LUMEN, labels_at
from fanlight.heart.calipers.lv_length import LongAxis, find_long_axis
from fanlight.heart.calipers.region import chords_px, find_region, longest_chord
from fanlight.heart.label_map import LabelMap
from fanlight.heart.tissue import Tissue

DIAMETER_CONVENTION = (
    "long axis, longest line at right angles to the ventricle's long axis within its middle half, inner edge to inner "
    "edge, papillary muscles bridged"
)
SEPTUM_CONVENTION = "long axis, on the line of the diameter, right side of the septum to its left side"
FREE_WALL_CONVENTION = "long axis, on the line of the diameter, inner to outer edge of the muscle, without pericardium"
_LEVELS = 41  # engineering judgement: 1/80 of the length apart; near its largest a diameter hardly changes


def measure_lv_long_axis(
    label_map: LabelMap, *, axis: LongAxis | str | None = None
) -> tuple[Caliper, Caliper, Caliper]:
    """Return diameter of the cavity, thickness of the septum and of the free wall in a long axis, mm.

    Parameters
    ----------
    label_map : LabelMap
        A long axis or apical plane.
    axis : LongAxis or str, optional
        What `find_long_axis` gave, when it has been asked already.

    Returns
    -------
    tuple of Caliper
        "lv_internal_diameter", "septum" and "free_wall"; the walls on the line of the diameter.

    Notes
    -----
    The middle half keeps the outflow tract out, which opens beside the mitral ring. At right angles to the long axis at
    the widest place: common practice, no source. Walls are thicker here than in the short axis in published cats; so a
    number is kept with its plane.
    """
    axis = find_long_axis(label_map) if axis is None else axis
    names = (
        ("lv_internal_diameter", DIAMETER_CONVENTION),
        ("septum", SEPTUM_CONVENTION),
        ("free_wall", FREE_WALL_CONVENTION),
    )

    def none(reason: str) -> tuple[Caliper, Caliper, Caliper]:
        first, second, third = (no_value(name, convention, "mm", reason) for name, convention in names)
        return first, second, third

    if isinstance(axis, str):
        return none(axis)
    way = np.array([-axis.to_apex[1], axis.to_apex[0]])
    levels = axis.ring_px + np.linspace(0.25, 0.75, _LEVELS)[:, None] * axis.length_px * axis.to_apex
    ends = longest_chord(axis.ventricle.cavity, levels, way)
    assert ends is not None, "the long axis runs through the cavity"
    tissue = label_map.shown()
    behind = [int(labels_at(tissue, end + BEHIND_PX * sign * way)) for end, sign in zip(ends, (-1, 1), strict=True)]
    if behind[1] == Tissue.SEPTUM:
        ends, behind, way = (ends[1], ends[0]), [behind[1], behind[0]], -way
    septal, parietal = ends
    # `way` runs from the septal to the parietal end
    muscle = find_region(tissue, CAVITY | {Tissue.SEPTUM, Tissue.LV_FREE_WALL}, near_px=axis.ventricle.centre_px)
    assert muscle is not None
    stretches = [s for s in chords_px(muscle, septal, way) if s[0] <= 0 < s[1]]
    outer = stretches[0] if stretches else np.array([0.0, float(np.hypot(*(parietal - septal)))])
    right, outside = septal + outer[0] * way, septal + outer[1] * way
    beyond = [int(labels_at(tissue, p + BEHIND_PX * s * way)) for p, s in ((right, -1), (outside, 1))]
    cut = int(Tissue.OUTSIDE)
    reasons = (
        CUT if cut in behind else "",
        CUT if cut in (behind[0], beyond[0])
        else "no septum lies on this line" if behind[0] != Tissue.SEPTUM
        else "no lumen of the right ventricle lies next to the septum on this line" if beyond[0] not in RIGHT_LUMEN
        else "",
        CUT if cut in (behind[1], beyond[1])
        else "no free wall lies on this line" if behind[1] != Tissue.LV_FREE_WALL
        else "",
    )  # fmt: skip
    lines = (line(septal, parietal), line(right, septal), line(parietal, outside))
    first, second, third = (
        no_value(name, convention, "mm", reason)
        if reason
        else Caliper(
            name=name,
            convention=convention,
            value=length_mm(a_line, label_map.mm_per_px),
            unit="mm",
            lines=(a_line,),
        )
        for (name, convention), reason, a_line in zip(names, reasons, lines, strict=True)
    )
    return first, second, third


def measure_sphericity(length: Caliper, diameter: Caliper) -> Caliper:
    """Return the left ventricle's length over its diameter, both at end-diastole.

    References
    ----------
    .. [HOLLER2014] key in reference/tables/bibliography.toml: length over diameter, 1.65 parted dilated hearts of
       Dobermans from others.
    """
    return ratio("sphericity_index", length, diameter)
