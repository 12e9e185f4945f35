"""Readings with the scale that a person set on the picture: what planes and probe tell keeps to it. Pure.

The engine weighs two marked points against the file and leaves a clip without a scale where they contradict each
other. Calipers go by the person (`measure.areas`); so does what is told of planes and of where the probe stood.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

from fanlight.measure.areas import AreaKind, area_at, areas_of
from fanlight.study import ClipReading, FileMarks, Scale, ScaleSource


def by_hand_scale(readings: Iterable[ClipReading], marks: Mapping[str, FileMarks]) -> Iterator[ClipReading]:
    """Yield readings with the scales that a person set, the very same where none was.

    Parameters
    ----------
    readings : iterable of ClipReading
    marks : mapping of str to FileMarks
        What a person drew, by the key of the clip. Two points count where they lie on the picture, or on no part of
        the screen that is scaled.
    """
    for item in readings:
        scale = _set_scale(item, marks.get(item.clip.key))
        yield item if scale is None else replace(item, layout=replace(item.layout, scale=scale, scale_reason=""))


def _set_scale(item: ClipReading, marks: FileMarks | None) -> Scale | None:
    if marks is None or marks.scale is None or item.layout.picture is None:
        return None
    ends = marks.scale.start, marks.scale.end
    area = area_at(ends, areas_of(item.layout, marks.scale, ()))
    if area.kind is not AreaKind.PICTURE or not area.holds(item.layout.picture.point(0.5, 0.5)):
        return None
    if not area.mm_per_row or not area.mm_per_col:
        return None
    return Scale(
        mm_per_row_px=area.mm_per_row, mm_per_col_px=area.mm_per_col, source=ScaleSource.MARKED,
        uncertainty_fraction=area.mm_share, witnesses=(),
    )  # fmt: skip
