"""Left atrial diameter in the right parasternal long axis."""

from __future__ import annotations

from fanlight.heart.calipers.caliper import Caliper, length_mm, line, no_value
from fanlight.heart.calipers.left_ventricle import BEHIND_PX, CUT, labels_at, unit_between
from fanlight.heart.calipers.lv_length import LongAxis, find_long_axis
from fanlight.heart.calipers.region import chords_px, find_region
from fanlight.heart.label_map import LabelMap
from fanlight.heart.tissue import Tissue

CONVENTION = (
    "long axis, parallel to the mitral ring half way between ring and roof, inner edge to inner edge, without veins "
    "and auricle"
)


def measure_la_long_axis(label_map: LabelMap, *, axis: LongAxis | str | None = None) -> Caliper:
    """Return the diameter of the left atrium in a long axis, mm; at end-systole, the last frame with the valve shut.

    Parameters
    ----------
    label_map : LabelMap
        A long axis through ventricle and atrium.
    axis : LongAxis or str, optional
        What `find_long_axis` gave, when it has been asked already.

    Notes
    -----
    The published line lies midway between ring and pulmonary vein. A vein is not in every plane; the roof opposite the
    ring's middle, where the veins open, takes its place.

    References
    ----------
    .. [WHIPPET2023] key in reference/tables/bibliography.toml, table 1.
    """
    name = "left_atrium_long_axis"
    axis = find_long_axis(label_map) if axis is None else axis
    if isinstance(axis, str):
        return no_value(name, CONVENTION, "mm", axis)
    tissue = label_map.shown()
    atrium = find_region(tissue, {Tissue.LA_CAVITY})
    assert atrium is not None, "the ring was found on its border"
    up, way = -axis.to_ventricle, unit_between(*axis.hinges_px)
    # in front of a shut valve the first pixels above the ring may be leaflet: the stretch that reaches farthest counts
    above = [s for s in chords_px(atrium, axis.ring_px, up) if s[1] > BEHIND_PX]
    if not above:
        return no_value(name, CONVENTION, "mm", "no atrium lies behind the middle of the mitral ring")
    roof = max(float(s[1]) for s in above)
    if labels_at(tissue, axis.ring_px + (roof + BEHIND_PX) * up) == Tissue.OUTSIDE:
        return no_value(name, CONVENTION, "mm", CUT)
    level = axis.ring_px + roof / 2 * up
    here = [s for s in chords_px(atrium, level, way) if s[0] <= 0 <= s[1]]
    if not here:
        return no_value(name, CONVENTION, "mm", "no atrium lies half way between ring and roof")
    ends = [level + far * way for far in here[0]]
    if any(labels_at(tissue, e + s * BEHIND_PX * way) == Tissue.OUTSIDE for e, s in zip(ends, (-1, 1), strict=True)):
        return no_value(name, CONVENTION, "mm", CUT)
    found = line(ends[0], ends[1])
    return Caliper(
        name=name,
        convention=CONVENTION,
        value=length_mm(found, label_map.mm_per_px),
        unit="mm",
        lines=(found,),
    )
