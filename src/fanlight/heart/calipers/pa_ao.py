"""Pulmonary trunk to aorta in the short axis at the division of the trunk."""

from __future__ import annotations

from fanlight.heart.calipers.aortic_root import NO_AORTA, find_root
from fanlight.heart.calipers.caliper import Caliper, length_mm, line, no_value, ratio
from fanlight.heart.calipers.ellipse import ellipse_axes
from fanlight.heart.calipers.left_ventricle import BEHIND_PX, CUT, across, labels_at, unit_between
from fanlight.heart.calipers.region import chords_px, find_region
from fanlight.heart.label_map import LabelMap
from fanlight.heart.tissue import Tissue
from fanlight.study import Landmark

TRUNK_CONVENTION = "half way from the pulmonic valve to the division, at right angles to the trunk, inner edges"
AORTA_CONVENTION = "smaller axis of the aortic section in the same picture, inner edges"


def measure_pa_ao(label_map: LabelMap) -> tuple[Caliper, Caliper, Caliper]:
    """Return the pulmonary trunk (mm), the aorta beside it (mm) and their ratio.

    Parameters
    ----------
    label_map : LabelMap
        Short axis along the trunk, with the landmarks of pulmonic valve and division.

    Returns
    -------
    tuple of Caliper
        "pulmonary_trunk", "aorta_beside_trunk", "pa_ao".

    Notes
    -----
    The aorta is often cut obliquely in this plane: the smaller axis of a tube's section is its diameter at any angle.
    """
    root = find_root(label_map)
    if root is None:
        aorta = no_value("aorta_beside_trunk", AORTA_CONVENTION, "mm", NO_AORTA)
    else:
        smaller, _ = ellipse_axes(root)
        aorta = Caliper(
            name="aorta_beside_trunk",
            convention=AORTA_CONVENTION,
            value=length_mm(smaller, label_map.mm_per_px),
            unit="mm",
            lines=(smaller,),
        )
    trunk = _measure_trunk(label_map)
    return trunk, aorta, ratio("pa_ao", trunk, aorta)


def _measure_trunk(label_map: LabelMap) -> Caliper:
    name = "pulmonary_trunk"
    ends = [label_map.landmarks_mm.get(m) for m in (Landmark.PULMONIC_CENTRE, Landmark.PULMONARY_BIFURCATION)]
    if ends[0] is None or ends[1] is None:
        return no_value(name, TRUNK_CONVENTION, "mm", "the places of pulmonic valve and division are not known")
    valve, division = (label_map.from_patient_mm(end)[0] for end in ends if end is not None)
    middle = (valve + division) / 2
    tissue = label_map.shown()
    trunk = find_region(tissue, {Tissue.PULMONARY_TRUNK, Tissue.PULMONIC_CUSP}, near_px=middle)
    if trunk is None:
        return no_value(name, TRUNK_CONVENTION, "mm", "the pulmonary trunk is not in the picture")
    along = unit_between(valve, division)
    way = across(along, along)
    stretches = [s for s in chords_px(trunk, middle, way) if s[0] <= 0 <= s[1]]
    if not stretches:
        return no_value(name, TRUNK_CONVENTION, "mm", "the plane leaves the trunk half way to its division")
    first, second = (middle + far * way for far in stretches[0])
    if any(labels_at(tissue, e + s * BEHIND_PX * way) == Tissue.OUTSIDE for e, s in ((first, -1), (second, 1))):
        return no_value(name, TRUNK_CONVENTION, "mm", CUT)
    found = line(first, second)
    return Caliper(
        name=name,
        convention=TRUNK_CONVENTION,
        value=length_mm(found, label_map.mm_per_px),
        unit="mm",
        lines=(found,),
    )
