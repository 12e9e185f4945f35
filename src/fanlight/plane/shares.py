"""What a long axis must show or must not cut: papillary muscle and aorta, by how much of the picture they take."""

from __future__ import annotations

from fanlight.plane.sight import Area, Sight, areas_of, part_of
from fanlight.plane.told import NETWORK, PERSON, Told
from fanlight.reference.plane import Aorta
from fanlight.study import Landmark, Structure

VENTRICLE = (Structure.LV_CAVITY, Structure.PAPILLARY)
WITH_AORTA = (Structure.AORTA, *VENTRICLE)
AORTIC = (
    Landmark.AORTIC_CENTRE, Landmark.AORTIC_SINUS_CENTRE, Landmark.AORTIC_SEPTAL_HINGE, Landmark.AORTIC_MITRAL_HINGE,
)  # fmt: skip


def papillary(sight: Sight) -> Told | str | None:
    """Return how much of the ventricle in the picture is papillary muscle; None: the view does not mind."""
    if not sight.asked.no_papillary:
        return None
    part = _part(sight, Structure.PAPILLARY, VENTRICLE)
    if isinstance(part, str):
        return part
    words = f"papillary muscle: {100 * part.share:.0f} % of the ventricle in the picture"
    return Told(value=part.share, spread=part.spread, words=words, by=NETWORK)


def aorta_shown(sight: Sight) -> Told | str | None:
    """Return how much aorta is shown against what nine of ten standard planes show; None: the view asks for none."""
    if sight.asked.aorta is not Aorta.SHOWN:
        return None
    part = _part(sight, Structure.AORTA, WITH_AORTA)
    if isinstance(part, str):
        return part
    usual = sight.tables.aortas[sight.asked.view]
    words = (
        f"aorta: {100 * part.share:.0f} % of aorta and left ventricle in the picture; "
        f"nine of ten standard planes show {100 * usual:.0f} % or more"
    )
    return Told(value=part.share / usual, spread=part.spread / usual, words=words, by=NETWORK)


def aorta_unwanted(sight: Sight) -> Told | str | None:
    """Return how much aorta a view shows that must show none; None: the view may."""
    if sight.asked.aorta is not Aorta.ABSENT:
        return None
    if marked := [mark for mark in AORTIC if (said := sight.likely(mark)) is not None and said[1]]:
        return Told(value=1.0, spread=0.0, words=f"{marked[0].value}: lies in the plane", by=PERSON)
    part = _part(sight, Structure.AORTA, WITH_AORTA)
    if isinstance(part, str):
        return part
    words = f"aorta: {100 * part.share:.0f} % of aorta and left ventricle in the picture"
    return Told(value=part.share, spread=part.spread, words=words, by=NETWORK)


def _part(sight: Sight, kind: Structure, among: tuple[Structure, ...]) -> Area | str:
    areas = areas_of(sight)
    return areas if isinstance(areas, str) else part_of(areas, kind, among, sight.settings)
