"""Landmarks of a simulated picture, drawn on a clip as a mentor marks them or named as the network names them."""

from __future__ import annotations

from fanlight.heart.fit.seen import ClipSeen, Moment
from fanlight.study import DrawnMark, FileMarks, FoundLandmark, MarkKind, PictureReading
from tests.plane.clips import FAN, PX_PER_MM

FRAMES = {Moment.END_DIASTOLE: 0, Moment.END_SYSTOLE: 6}  # of tests.plane.clips.BEAT


def pose_marks(seen: ClipSeen, most: int = 40, *, is_mirrored: bool = False, name: str = "x.dcm") -> FileMarks:
    """Return what a person draws who names at most so many landmarks of a clip."""
    named = list(dict.fromkeys(one.landmark for one in seen.seen))[:most]
    side = -1.0 if is_mirrored else 1.0
    drawn = tuple(
        DrawnMark(
            kind=MarkKind.POINT, frame=FRAMES[one.moment], landmark=one.landmark.name,
            points=((one.down_mm * PX_PER_MM, FAN.apex_col_px + side * one.right_mm * PX_PER_MM),),
        )
        for one in seen.seen
        if one.landmark in named
    )  # fmt: skip
    return FileMarks(name=name, drawn=drawn)


def as_network(seen: ClipSeen) -> PictureReading:
    """Return the landmarks of a clip as the network would name them."""
    found = tuple(
        FoundLandmark(
            landmark=one.landmark.name, frame=FRAMES[one.moment], spread_px=one.sd_mm * PX_PER_MM, probability=0.95,
            point=(one.down_mm * PX_PER_MM, FAN.apex_col_px + one.right_mm * PX_PER_MM),
        )
        for one in seen.seen
    )  # fmt: skip
    return PictureReading(frames=(0, 6), landmarks=found, network="x")
