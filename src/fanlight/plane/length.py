"""Whether the ventricle is shown in its whole length: its apex in the plane, its length against the longest stored.

The length of a ventricle that is cut beside its apex is shorter: views of one study are held against each other at the
same end of the beat, never against what is usual, since disease makes a ventricle short and wide as well.
"""

from __future__ import annotations

import math

from fanlight.plane.places import ANY, Moment, Place
from fanlight.plane.sight import Longest, Sight
from fanlight.plane.told import NETWORK, PERSON, Told, drawn, who
from fanlight.study import Border, Landmark, Structure

SIDES = (Border.LEFT, Border.RIGHT, Border.NEAR)  # where an apex may lie; the base lies deeper
LEAST_CUT = 0.02  # of the ventricle's outline: less is the raggedness of masks (as in the measurement of cut chambers)
APEX, BASE = Landmark.LV_APEX, Landmark.MITRAL_CENTRE


def apex_shown(sight: Sight) -> Told | str | None:
    """Return how likely the ventricle's apex lies in the plane."""
    if not sight.asked.apex:
        return None
    said = sight.likely(APEX)
    if said is None:
        return f"it takes the {APEX.value}; mark it where the plane shows it"
    share, by_person = said
    if by_person:
        return f"a person marked the {APEX.value}; whether that is the true one its length must tell"
    if share < sight.settings.shown_from and (side := _ventricle_cut(sight)):
        return f"the ventricle runs out of the picture at its {side}: whether the plane holds the apex is not seen"
    seen = [(moment, moment.places[APEX]) for moment in sight.moments if APEX in moment.places]
    return Told(
        value=share, spread=0.0, by=NETWORK, words=f"{APEX.value}: {100 * share:.0f} % likely in the plane",
        evidence=tuple(drawn(APEX.value, moment.frame, place) for moment, place in seen[:1]),
    )  # fmt: skip


def _ventricle_cut(sight: Sight) -> str:
    """Return the border of the picture that cuts the ventricle off towards its apex, "" where none does."""
    picture = sight.reading.picture
    for item in picture.structures if picture is not None else ():
        if item.structure == Structure.LV_CAVITY.name:
            at = [cut.border for cut in item.cuts if cut.border in SIDES and cut.share >= LEAST_CUT]
            return at[0].value if at else ""
    return ""


def lengths_of(sight: Sight) -> tuple[tuple[Moment, Place, Place], ...]:
    """Return apex and mitral annulus in every frame that shows both, well inside the picture."""
    found = []
    for moment in sight.moments:
        ends = sight.shown(moment, APEX), sight.shown(moment, BASE)
        if ends[0] is None or ends[1] is None:
            continue
        if min(sight.grid.from_rim(place) for place in ends if place is not None) >= sight.settings.rim_share:
            found.append((moment, ends[0], ends[1]))
    return tuple(found)


def length_mm(sight: Sight, apex: Place, base: Place) -> tuple[float, float] | None:
    """Return length and error in mm, None without a scale."""
    scale = sight.reading.layout.scale
    if scale is None:
        return None
    across = (base.across - apex.across) * scale.mm_per_row_px
    down = (base.down - apex.down) * scale.mm_per_row_px
    length = math.hypot(across, down)
    of_points = math.hypot(apex.spread, base.spread) * scale.mm_per_row_px
    return length, math.hypot(of_points, scale.uncertainty_fraction * length)


def longest_in(sights: tuple[Sight, ...]) -> dict[str, Longest]:
    """Return the longest ventricle of the study at each end of the beat; frames between the ends are left out."""
    found: dict[str, dict[int, tuple[float, float]]] = {}
    for sight in sights:
        for moment, apex, base in lengths_of(sight):
            measured = length_mm(sight, apex, base)
            if moment.end != ANY and measured is not None:
                of_clip = found.setdefault(moment.end, {})
                number = sight.reading.clip.number
                of_clip[number] = max(of_clip.get(number, measured), measured)
    return {end: _longest(of_clip) for end, of_clip in found.items()}


def _longest(of_clip: dict[int, tuple[float, float]]) -> Longest:
    clip = max(of_clip, key=lambda number: of_clip[number][0])
    length, spread = of_clip[clip]
    return Longest(length_mm=length, spread_mm=spread, clip=clip, n_clips=len(of_clip))


def foreshortened(sight: Sight) -> Told | str | None:
    """Return the ventricle's length as a share of the longest in the study."""
    if not sight.asked.apex:
        return None
    known = [item for item in lengths_of(sight) if item[0].end != ANY]
    if not known:
        return (
            f"it takes the {APEX.value} and the {BASE.value} at the end of diastole or of systole, "
            "well inside the picture; mark them there"
        )
    if sight.reading.layout.scale is None:
        return "no length is known: the clip has no scale; mark two points of the scale"
    told = [item for item in (_of(sight, *each) for each in known) if item is not None]
    if not told:
        return "no other clip of the study shows the ventricle's length at the same end of the beat"
    return min(told, key=lambda item: (item.by != PERSON, item.spread))


def _of(sight: Sight, moment: Moment, apex: Place, base: Place) -> Told | None:
    longest, measured = sight.longest.get(moment.end), length_mm(sight, apex, base)
    if longest is None or measured is None or longest.n_clips < 2:
        return None
    length, error = measured
    share = length / longest.length_mm
    spread = share * math.hypot(error / length, longest.spread_mm / longest.length_mm)
    beside = f"in clip {longest.clip} {longest.length_mm:.0f} mm"
    if longest.clip == sight.reading.clip.number:
        beside = f"the longest of {longest.n_clips} clips"
    words = f"left ventricle {length:.0f} mm long, {beside}"
    return Told(
        value=share, spread=spread, words=words, by=who(apex, base),
        evidence=(drawn("length of the left ventricle", moment.frame, apex, base),),
    )  # fmt: skip
