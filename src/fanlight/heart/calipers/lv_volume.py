"""Volume of the left ventricle by the method of discs, in one plane."""

from __future__ import annotations

import numpy as np

from fanlight.heart.calipers.caliper import Caliper, line, no_value
from fanlight.heart.calipers.lv_length import LongAxis, find_long_axis
from fanlight.heart.calipers.region import chords_px
from fanlight.heart.label_map import LabelMap

N_DISCS = (
    20  # common practice in the method of discs; the worked half ellipsoid of the tests is right to 0.05 % with 20
)
CONVENTION = (
    f"{N_DISCS} round discs of equal height at right angles to the long axis, from the mitral ring to the apex, "
    "papillary muscles counted as cavity, one plane"
)


def measure_lv_volume(label_map: LabelMap, *, axis: LongAxis | str | None = None) -> Caliper:
    """Return the volume of the left ventricle by discs, mL.

    V = (pi / 4) (L / n) (d1² + … + dn²), the disc's diameter read at half its height.

    Parameters
    ----------
    label_map : LabelMap
        A four-chamber or two-chamber plane.
    axis : LongAxis or str, optional
        What `find_long_axis` gave, when it has been asked already.
    """
    axis = find_long_axis(label_map) if axis is None else axis
    if isinstance(axis, str):
        return no_value("lv_volume", CONVENTION, "mL", axis)
    way = np.array([-axis.to_apex[1], axis.to_apex[0]])
    height = axis.length_px / N_DISCS
    squares, lines = 0.0, []
    for disc in range(N_DISCS):
        level = axis.ring_px + (disc + 0.5) * height * axis.to_apex
        stretches = chords_px(axis.ventricle.cavity, level, way)
        if len(stretches):
            squares += float((stretches[:, 1] - stretches[:, 0]).sum()) ** 2
            lines.append(line(level + stretches[0, 0] * way, level + stretches[-1, 1] * way))
    volume_mm3 = np.pi / 4 * height * squares * label_map.mm_per_px**3
    return Caliper(
        name="lv_volume",
        convention=CONVENTION,
        value=float(volume_mm3) / 1000,
        unit="mL",
        lines=(line(axis.ring_px, axis.apex_px), *lines),
    )
