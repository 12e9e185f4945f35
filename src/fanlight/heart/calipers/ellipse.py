"""Axes of the ellipse with the same second moments as a region: how round a cut is, which way it is drawn out."""

from __future__ import annotations

import numpy as np

from fanlight.heart.calipers.caliper import Caliper, Line, line, no_value
from fanlight.heart.calipers.left_ventricle import NO_VENTRICLE, LeftVentricle, find_left_ventricle
from fanlight.heart.calipers.region import Region
from fanlight.heart.label_map import LabelMap

CONVENTION = "smaller over larger axis of the ellipse with the same second moments, inner edge"


def ellipse_axes(region: Region) -> tuple[Line, Line]:
    """Return the smaller and the larger axis of a region's ellipse.

    The second moment of an ellipse along its half axis a is a²/4.
    """
    sizes, ways = np.linalg.eigh(region.spread_px2)
    halves = [2 * np.sqrt(size) * ways[:, i] for i, size in enumerate(sizes)]
    smaller, larger = (line(region.centre_px - half, region.centre_px + half) for half in halves)
    return smaller, larger


def measure_roundness(name: str, region: Region) -> Caliper:
    """Return the smaller over the larger axis: 1 for a circle, cos of the tilt for a tube that is cut obliquely."""
    sizes = np.linalg.eigvalsh(region.spread_px2)
    return Caliper(
        name=name,
        convention=CONVENTION,
        value=float(np.sqrt(sizes[0] / sizes[1])),
        unit="1",
        lines=ellipse_axes(region),
    )


def measure_lv_roundness(label_map: LabelMap, *, ventricle: LeftVentricle | None = None) -> Caliper:
    """Return how round the left ventricle is in a short axis, papillary muscles bridged."""
    ventricle = ventricle or find_left_ventricle(label_map)
    if ventricle is None:
        return no_value("lv_roundness", CONVENTION, "1", NO_VENTRICLE)
    return measure_roundness("lv_roundness", ventricle.cavity)
