"""The aortic root: ring and widest part in a long axis, roundness in a short axis."""

from __future__ import annotations

import numpy as np

from fanlight.heart.calipers.caliper import Caliper, length_mm, line, no_value
from fanlight.heart.calipers.ellipse import CONVENTION as ROUND_CONVENTION
from fanlight.heart.calipers.ellipse import measure_roundness
from fanlight.heart.calipers.left_ventricle import BEHIND_PX, CUT, labels_at, unit_between
from fanlight.heart.calipers.orifice import AORTA, find_orifice
from fanlight.heart.calipers.region import Region, find_region, longest_chord
from fanlight.heart.label_map import LabelMap
from fanlight.heart.tissue import Tissue
from fanlight.study import Landmark

RING_CONVENTION = "long axis, hinge of the one cusp to the hinge of the other"
ROOT_CONVENTION = (
    "long axis, longest line parallel to the ring within one ring's width above it, inner edge to inner edge"
)
NO_AORTA = "the aorta is not in the picture"
NO_RING = "the aortic ring is not in the picture: ventricle and aorta do not meet"
_LEVELS = 41  # engineering judgement: 1/40 of the ring apart


def find_root(label_map: LabelMap) -> Region | None:
    """Return the lumen of the aortic root with its cusps: of several pieces of aorta the one at the sinuses."""
    place = label_map.landmarks_mm.get(Landmark.AORTIC_SINUS_CENTRE)
    near = None if place is None else label_map.from_patient_mm(place)[0]
    return find_region(label_map.shown(), AORTA, near_px=near)


def measure_aortic_ring(label_map: LabelMap) -> Caliper:
    """Return the diameter of the aortic ring in a long axis, mm; for a diameter the valve should be open.

    References
    ----------
    .. [WHIPPET2023] key in reference/tables/bibliography.toml, table 1: hinge points, systole.
    """
    hinges = find_orifice(label_map.shown(), {Tissue.LV_CAVITY}, AORTA)
    if hinges is None:
        reason = NO_RING if find_root(label_map) is not None else NO_AORTA
        return no_value("aortic_ring", RING_CONVENTION, "mm", reason)
    ends = line(*hinges)
    return Caliper(
        name="aortic_ring",
        convention=RING_CONVENTION,
        value=length_mm(ends, label_map.mm_per_px),
        unit="mm",
        lines=(ends,),
    )


def measure_aortic_root_long_axis(label_map: LabelMap) -> Caliper:
    """Return the width of the aortic root at its sinuses in a long axis, mm."""
    name = "aortic_root_long_axis"
    root = find_root(label_map)
    if root is None:
        return no_value(name, ROOT_CONVENTION, "mm", NO_AORTA)
    tissue = label_map.shown()
    hinges = find_orifice(tissue, {Tissue.LV_CAVITY}, AORTA)
    if hinges is None:
        return no_value(name, ROOT_CONVENTION, "mm", NO_RING)
    way = unit_between(*hinges)
    up = np.array([-way[1], way[0]])
    ring = (hinges[0] + hinges[1]) / 2
    if up @ (root.centre_px - ring) < 0:
        up = -up
    width = float(np.hypot(*(hinges[1] - hinges[0])))
    ends = longest_chord(root, ring + np.linspace(0, 1, _LEVELS)[:, None] * width * up, way)
    if ends is None:
        return no_value(name, ROOT_CONVENTION, "mm", NO_RING)
    if any(labels_at(tissue, end + BEHIND_PX * s * way) == 0 for end, s in zip(ends, (-1, 1), strict=True)):
        return no_value(name, ROOT_CONVENTION, "mm", CUT)
    found = line(*ends)
    return Caliper(
        name=name,
        convention=ROOT_CONVENTION,
        value=length_mm(found, label_map.mm_per_px),
        unit="mm",
        lines=(found,),
    )


def measure_root_roundness(label_map: LabelMap) -> Caliper:
    """Return how round the aortic root is in a short axis."""
    root = find_root(label_map)
    if root is None:
        return no_value("aortic_root_roundness", ROUND_CONVENTION, "1", NO_AORTA)
    return measure_roundness("aortic_root_roundness", root)
