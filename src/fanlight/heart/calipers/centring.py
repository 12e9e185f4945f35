"""How far a structure lies from the middle of the sector."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from fanlight.heart.calipers.caliper import Caliper, line, no_value
from fanlight.heart.calipers.region import find_region
from fanlight.heart.label_map import LabelMap
from fanlight.heart.tissue import Tissue

CONVENTION = "centre of the area, sideways from the central beam, over half the width of the sector at that depth"


def measure_centring(label_map: LabelMap, kinds: Iterable[Tissue]) -> Caliper:
    """Return how far off the central beam a structure lies: 0 in the middle, 1 at the right edge, -1 at the left.

    Parameters
    ----------
    label_map : LabelMap
        Any plane; without a sector's mask the map itself is the picture.
    kinds : iterable of Tissue
        What makes the structure.
    """
    region = find_region(label_map.shown(), kinds)
    if region is None:
        return no_value("centring", CONVENTION, "1", "the structure is not in the picture")
    row = min(max(round(float(region.centre_px[0])), 0), label_map.tissue.shape[0] - 1)
    shown = np.ones(label_map.tissue.shape[1], bool) if label_map.inside is None else label_map.inside[row]
    cols = np.flatnonzero(shown)
    if not cols.size:
        return no_value("centring", CONVENTION, "1", "the sector has no width at the depth of the structure")
    off = float(region.centre_px[1]) - label_map.face_col_px
    edge = cols[-1] + 0.5 if off >= 0 else cols[0] - 0.5
    half = abs(float(edge) - label_map.face_col_px)
    if half == 0:
        return no_value("centring", CONVENTION, "1", "the sector has no width at the depth of the structure")
    beam = np.array([region.centre_px[0], label_map.face_col_px])
    return Caliper(
        name="centring", convention=CONVENTION, value=off / half, unit="1", lines=(line(beam, region.centre_px),)
    )
