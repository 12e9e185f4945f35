"""From marks and landmarks of one clip to what the pose fit is given, or the reason why it is given nothing."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from fanlight.heart.fit.seen import ClipSeen, Moment, SeenLandmark
from fanlight.heart.standard_poses import STANDARD_VIEWS
from fanlight.plane.places import ANY, END_DIASTOLE, Grid, Place, moments_of
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
    Sector,
    StandLeftOut,
    ViewSource,
)

Key = tuple[Landmark, Moment]


@dataclass(frozen=True, slots=True, kw_only=True)
class Gathered:
    """One clip, ready for the fit."""

    clip: str  # Clip.key
    seen: ClipSeen
    given_by: LandmarksBy


def gather(
    reading: ClipReading, marks: FileMarks | None, settings: PlaneSettings, limits: MovementLimits
) -> Gathered | StandLeftOut | None:
    """Return what one clip gives to the fit; None where it has no landmark or can have none.

    Parameters
    ----------
    reading : ClipReading
        Of a placed clip.
    marks : FileMarks, optional
        A person's: where these name a landmark, the network's are left aside.
    settings : PlaneSettings
        How sure a person's point is, and how near the end of a beat a frame must be.
    limits : MovementLimits
        Of the House.

    Notes
    -----
    A person's landmark that is not marked says nothing; so does one that the network does not name, since what it
    overlooks hangs on the picture.
    """
    drawn = tuple(item for item in marks.drawn if _is_named_point(item)) if marks is not None else ()
    found = reading.picture.landmarks if reading.picture is not None else ()
    if reading.mode.mode not in ASKED_MODES or not (drawn or (limits.asks_network and found)):
        return None
    if why := _unfit(reading):
        return StandLeftOut(clip=reading.clip.key, reason=why) if drawn else None
    grid, scale, sector = Grid.of(reading.layout), reading.layout.scale, reading.layout.picture
    assert grid is not None  # else it is unfit
    assert scale is not None
    assert isinstance(sector, Sector)
    by = LandmarksBy.PERSON if drawn else LandmarksBy.NETWORK
    least = limits.landmarks_from if drawn else limits.network_landmarks_from
    places, n_between = _places(reading, drawn, grid, settings)
    n = len({mark for mark, _ in places})
    if n < least:
        between = f"; {n_between} more lie on frames that are no end of a beat" if n_between else ""
        why = f"{n} different landmarks at the ends of the beat, at least {least} are needed{between}: mark more"
        return StandLeftOut(clip=reading.clip.key, reason=why) if drawn else None
    mm = scale.mm_per_row_px
    seen = tuple(_seen(key, each, mm, sector.near_px) for key, each in places.items())
    clip = ClipSeen(
        view=reading.view.view, depth_mm=sector.depth_px * mm, half_width_deg=_half_width_deg(sector), seen=seen
    )
    return Gathered(clip=reading.clip.key, seen=clip, given_by=by)


def _half_width_deg(sector: Sector) -> float:
    """Return half of the width as seen from the middle of the face: a curved face has its apex behind it."""
    half = math.radians(sector.width_deg / 2)
    beside, below = sector.far_px * math.sin(half), sector.far_px * math.cos(half) - sector.near_px
    return min(math.degrees(math.atan2(beside, below)), 90.0)


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


def _places(
    reading: ClipReading, drawn: Iterable[DrawnMark], grid: Grid, settings: PlaneSettings
) -> tuple[dict[Key, list[Place]], int]:
    """Return the places of each landmark at each end of the beat, and how many lie at neither."""
    drawn = tuple(drawn)
    by_person = bool(drawn)
    found: dict[Key, list[Place]] = defaultdict(list)
    n_between = 0
    for moment in moments_of(reading, drawn, grid, settings):
        for mark, place in moment.places.items():
            if place.by_person is not by_person or place.share < settings.shown_from:
                continue
            if moment.end == ANY:
                n_between += 1
                continue
            end = Moment.END_DIASTOLE if moment.end == END_DIASTOLE else Moment.END_SYSTOLE
            found[mark, end].append(place)
    return found, n_between


def _seen(key: Key, places: list[Place], mm_per_px: float, near_px: float) -> SeenLandmark:
    """Return a landmark with the mean of its places: several beats show one heart, and their errors hang together."""
    n = len(places)
    return SeenLandmark(
        landmark=key[0], moment=key[1],
        right_mm=mm_per_px * sum(each.across for each in places) / n,
        down_mm=mm_per_px * (sum(each.down for each in places) / n - near_px),
        sd_mm=mm_per_px * sum(each.spread for each in places) / n,
    )  # fmt: skip
