"""From marks and landmarks of one clip to what the pose fit is given, or the reason why it is given nothing."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from fanlight.heart.fit.seen import ClipSeen, Moment, SeenLandmark
from fanlight.heart.standard_poses import STANDARD_VIEWS
from fanlight.plane.places import ANY, END_DIASTOLE, Grid, Place, moments_of
from fanlight.plane.places import Moment as SeenMoment
from fanlight.plane.planes import ASKED_MODES
from fanlight.reference.movements import MovementLimits
from fanlight.reference.plane import PlaneSettings
from fanlight.study import (
    ClipReading,
    DrawnMark,
    FileMarks,
    Landmark,
    LandmarksBy,
    MarkKind,
    Mode,
    Sector,
    StandLeftOut,
    ViewSource,
)

Key = tuple[Landmark, Moment]
_Places = Mapping[Key, list[Place]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Gathered:
    """One clip, ready for the fit."""

    clip: str  # Clip.key
    seen: ClipSeen
    given_by: LandmarksBy


def gather(
    reading: ClipReading, marks: FileMarks | None, settings: PlaneSettings, limits: MovementLimits
) -> Gathered | StandLeftOut | None:
    """Return what one clip gives to the fit; None where it has no landmark, or nobody asked for its pose.

    Parameters
    ----------
    reading : ClipReading
        Of a placed clip.
    marks : FileMarks, optional
        A person's. Where these are enough by themselves the network's landmarks are left aside; else both are taken,
        a person's first.
    settings : PlaneSettings
        How sure a person's point is, and how near the end of a beat a frame must be.
    limits : MovementLimits
        Of the House.

    Notes
    -----
    What a person did not mark says nothing. What the network does not name on a frame at which it looked counts as
    looked for in vain; what it half sees says nothing.
    """
    if reading.mode.mode not in ASKED_MODES:
        return None
    drawn = tuple(item for item in marks.drawn if _is_named_point(item)) if marks is not None else ()
    why = _unfit(reading)
    if why:
        return StandLeftOut(clip=reading.clip.key, reason=why) if drawn else None
    grid, sector = Grid.of(reading.layout), reading.layout.picture
    assert grid is not None  # else it is unfit
    assert isinstance(sector, Sector)
    moments = moments_of(reading, drawn, grid, settings)
    by_person = _seen_places(moments, settings, only_person=True)
    if _count(by_person) >= limits.landmarks_from:
        return _gathered(reading, sector, by_person, (), LandmarksBy.PERSON)
    # The network was measured on plain 2-D pictures.
    if limits.asks_network and reading.mode.mode is Mode.TWO_D:
        both = _seen_places(moments, settings, only_person=False)
        if _count(both) >= limits.network_landmarks_from:
            return _gathered(reading, sector, both, _missed(moments), LandmarksBy.NETWORK)
    return _too_few(reading, _count(by_person), moments, limits) if drawn else None


def _is_named_point(mark: DrawnMark) -> bool:
    return bool(mark.landmark) and mark.kind is MarkKind.POINT


def _unfit(reading: ClipReading) -> str:
    """Return why no pose can be told of a clip, whatever is marked on it; "" where one can."""
    if not reading.view.view:
        return "its view is not known: name it"
    if reading.view.source is ViewSource.RECOGNISED:
        return "its view was only recognised from the picture: name it"
    if reading.view.view not in STANDARD_VIEWS:
        return "no standard plane is known of its view"
    if not isinstance(reading.layout.picture, Sector):
        return "no sector was found on the screen"
    if reading.layout.scale is None:
        return f"it has no scale: {reading.layout.scale_reason}"
    return ""


def _end(moment: SeenMoment) -> Moment:
    return Moment.END_DIASTOLE if moment.end == END_DIASTOLE else Moment.END_SYSTOLE


def _seen_places(moments: tuple[SeenMoment, ...], settings: PlaneSettings, *, only_person: bool) -> _Places:
    """Return the places of each landmark at each end of the beat; on one landmark a person counts alone."""
    found: dict[Key, list[Place]] = defaultdict(list)
    for moment in moments:
        for mark, place in moment.places.items():
            if moment.end != ANY and (place.by_person or not only_person) and place.share >= settings.shown_from:
                found[mark, _end(moment)].append(place)
    return {
        key: own if (own := [place for place in places if place.by_person]) else places for key, places in found.items()
    }


def _count(places: _Places) -> int:
    return len({mark for mark, _ in places})


def _missed(moments: tuple[SeenMoment, ...]) -> tuple[Key, ...]:
    """Return the landmarks that the network did not name at all on the frames at which it looked."""
    asked: dict[Moment, set[Landmark]] = {}
    for moment in moments:
        if moment.is_asked and moment.end != ANY:
            asked.setdefault(_end(moment), set())
    for moment in moments:
        if moment.end != ANY and _end(moment) in asked:
            asked[_end(moment)] |= set(moment.places)
    return tuple((mark, end) for end, named in asked.items() for mark in Landmark if mark not in named)


def _gathered(
    reading: ClipReading, sector: Sector, places: _Places, missed: tuple[Key, ...], by: LandmarksBy
) -> Gathered:
    assert reading.layout.scale is not None  # else it is unfit
    mm = reading.layout.scale.mm_per_row_px
    seen = tuple(_seen(key, each, mm, sector.near_px) for key, each in places.items())
    clip = ClipSeen(
        view=reading.view.view, depth_mm=sector.depth_px * mm, half_width_deg=_half_width_deg(sector), seen=seen,
        missed=missed,
    )  # fmt: skip
    return Gathered(clip=reading.clip.key, seen=clip, given_by=by)


def _too_few(reading: ClipReading, n: int, moments: tuple[SeenMoment, ...], limits: MovementLimits) -> StandLeftOut:
    n_between = sum(place.by_person for moment in moments if moment.end == ANY for place in moment.places.values())
    between = f"; {n_between} more lie on frames that are no end of a beat" if n_between else ""
    why = (
        f"{n} different landmarks at the ends of the beat, at least {limits.landmarks_from} are needed{between}: mark "
        "more"
    )
    return StandLeftOut(clip=reading.clip.key, reason=why)


def _half_width_deg(sector: Sector) -> float:
    """Return half of the width as seen from the middle of the face: a curved face has its apex behind it."""
    half = math.radians(sector.width_deg / 2)
    beside, below = sector.far_px * math.sin(half), sector.far_px * math.cos(half) - sector.near_px
    return min(math.degrees(math.atan2(beside, below)), 90.0)


def _seen(key: Key, places: list[Place], mm_per_px: float, near_px: float) -> SeenLandmark:
    """Return a landmark with the mean of its places: several beats show one heart, and their errors hang together."""
    n = len(places)
    return SeenLandmark(
        landmark=key[0], moment=key[1],
        right_mm=mm_per_px * sum(each.across for each in places) / n,
        down_mm=mm_per_px * (sum(each.down for each in places) / n - near_px),
        sd_mm=mm_per_px * sum(each.spread for each in places) / n,
    )  # fmt: skip
