"""All that is known of the plane of one clip when its criteria are asked."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from fanlight.critique.picture_masks import LEAST_AREA, LEAST_FRAMES, LEAST_SURE, why_silent
from fanlight.plane.places import Grid, Moment, Place
from fanlight.reference.plane import PlaneSettings, PlaneTables, ViewPlane
from fanlight.study import HEART, ClipReading, DrawnMark, Landmark, Structure

HEART_AND_LEAFLETS = (*HEART, Structure.MITRAL_LEAFLET, Structure.TRICUSPID_LEAFLET)
SMALL = 0.002  # of the picture: below it a structure is a speck of the masks (engineering judgement, ring A)


@dataclass(frozen=True, slots=True, kw_only=True)
class Longest:
    """The longest that the ventricle is in a clip of the study."""

    length_mm: float
    spread_mm: float
    clip: int  # Clip.number
    n_clips: int  # whose length is known


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """One clip, with what was seen of its plane and what its view asks for."""

    reading: ClipReading
    grid: Grid
    moments: tuple[Moment, ...]
    drawn: tuple[DrawnMark, ...]
    asked: ViewPlane
    tables: PlaneTables
    titles: Mapping[str, str]  # of views
    windows: Mapping[str, str]  # by view
    longest: Mapping[str, Longest]  # by end of the beat

    @property
    def settings(self) -> PlaneSettings:
        """Numbers of the table."""
        return self.tables.settings

    def shown(self, moment: Moment, mark: Landmark) -> Place | None:
        """Return where a landmark lies, None unless it is likely to lie in the plane."""
        place = moment.places.get(mark)
        return place if place is not None and place.share >= self.settings.shown_from else None

    def likely(self, mark: Landmark) -> tuple[float, bool] | None:
        """Return how likely a landmark lies in the plane at some time, and whether a person says so; None: unknown."""
        places = [moment.places[mark] for moment in self.moments if mark in moment.places]
        if any(place.by_person for place in places):
            return 1.0, True
        if not any(moment.is_asked for moment in self.moments):
            return None
        return max((place.share for place in places), default=self.settings.not_found_share), False


@dataclass(frozen=True, slots=True, kw_only=True)
class Area:
    """How much of the picture a structure takes over the beat, and how surely."""

    share: float
    spread: float


def areas_of(sight: Sight) -> Mapping[Structure, Area] | str:
    """Return the share of every structure as kept of the network's masks; a text says why there is none.

    A structure that the network is not sure of is left out unless it is small: then it counts as its size.
    """
    if why := why_silent(sight.reading):
        return why
    picture = sight.reading.picture
    assert picture is not None  # else there is a reason
    found = {kind: Area(share=0.0, spread=sight.settings.share_error_least) for kind in Structure}
    for item in picture.structures:
        kind, share = Structure[item.structure], item.area_share * item.frames_share
        is_doubted = (
            item.sure_share < LEAST_SURE and item.area_share >= LEAST_AREA and item.frames_share >= LEAST_FRAMES
        )
        if is_doubted:
            del found[kind]
        else:
            found[kind] = Area(share=share, spread=sight.settings.share_error * share)
    return found


def part_of(
    areas: Mapping[Structure, Area], kind: Structure, among: tuple[Structure, ...], settings: PlaneSettings
) -> Area | str:
    """Return the share of one structure among several; a text says which was not surely seen."""
    if unsure := [each.value for each in (kind, *among) if each not in areas]:
        return f"the network did not surely see the {unsure[0]}"
    whole = sum(areas[each].share for each in among)
    if whole <= SMALL:
        return f"the network saw no {' and no '.join(each.value for each in among)}"
    share = areas[kind].share / whole
    error = settings.share_error * share * math.sqrt(max(1.0 - share, 0.0)) + settings.share_error_least
    return Area(share=share, spread=error)


def heart_share(areas: Mapping[Structure, Area], kind: Structure) -> float:
    """Return how much of the heart in the picture a structure is; 0 where nothing of a heart is seen."""
    whole = sum(areas[each].share for each in HEART_AND_LEAFLETS if each in areas)
    return areas[kind].share / whole if kind in areas and whole > SMALL else 0.0
