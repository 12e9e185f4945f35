"""What the engine is told of what was said on the desk: modes, scales of pictures, of strips all that was said. Pure.

View and valve of a picture are laid over its reading (`decided.py`); nothing in its pixels is read otherwise for them.
A strip is measured as the flow or the part of the heart that its view and valve name, so it is read again.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from fanlight.critique.doppler.guide import FLOW_AXIS
from fanlight.desk.clip_view import shown_view
from fanlight.desk.marks_file import marks_of
from fanlight.store import Entry, StudyState, fold
from fanlight.store.actions import TakeClipOut
from fanlight.study import Clip, FileMarks, MarkedDistance, SpatialFormat, StudyReview

_STRIPS = (SpatialFormat.M_MODE, SpatialFormat.SPECTRAL)
# Acts that may change what is told, of any clip and of strips alone.
_OF_PICTURES = ("undo", "set scale", "set strip scale", "name mode")
_MAKE_STRIPS = ("set strip scale", "name mode")
_OF_STRIPS = ("place clip", "take clip out", "judge blind", "draw mark", "move mark", "remove mark")


def told_marks(log: Sequence[Entry], clips: Iterable[Clip]) -> tuple[FileMarks, ...]:
    """Return what the engine is told of each clip; clips of which it need not know anything are left out.

    A strip of which something was said and taken back is told of with nothing in it: so its kept reading, which may
    rest on what was said, is not taken for one without.
    """
    state, listed = fold(log), tuple(clips)
    said = marks_of(state, listed)
    strips = _strips(log, listed)
    touched = {entry.clip for entry in log}
    found = []
    for clip in listed:
        marks = said.get(clip.key, FileMarks(name=clip.name))
        if clip.key in strips and clip.key in touched:
            found.append(_of_strip(clip, marks))
        elif marks.scale is not None and not _lies_on(clip, marks.scale, _STRIPS):
            found.append(FileMarks(name=clip.name, scale=marks.scale))
    return tuple(found)


def is_told_otherwise(before: Sequence[Entry], after: Sequence[Entry], clips: Iterable[Clip], act: Entry) -> bool:
    """Return whether an act changes what the engine is told.

    Parameters
    ----------
    before, after : sequence of Entry
        The log without the act, and with it.
    """
    listed = tuple(clip for clip in clips if clip.key == act.clip)
    if act.action not in (*_OF_PICTURES, *_OF_STRIPS):
        return False
    if act.action not in _OF_PICTURES and not _strips(after, listed):
        return False  # most acts: of a picture the engine is told its scale alone
    return told_marks(before, listed) != told_marks(after, listed)


def strips_placed_since(draft: StudyReview, state: StudyState) -> frozenset[tuple[str, str, str]]:
    """Return clip, view and valve of strips that lie elsewhere now, or are of another mode, than they were measured."""
    found = set()
    for item in draft.readings:
        if isinstance(state.placements.get(item.clip.key), TakeClipOut):
            continue
        now, named = shown_view(item, state, is_hidden=False), state.modes.get(item.clip.key)
        is_named_since = named is not None and named.mode is not item.mode.mode
        if is_named_since or (item.measured and item.measured_as != (now.view, now.valve)):
            found.add((item.clip.key, now.view, str(now.valve or "")))
    return frozenset(found)


def _strips(log: Sequence[Entry], clips: Iterable[Clip]) -> frozenset[str]:
    """Return the clips that are strips as the file says, or of which a hand named the mode or scaled a strip."""
    scaled = {entry.clip for entry in log if entry.action in _MAKE_STRIPS}
    return frozenset(
        clip.key
        for clip in clips
        if clip.key in scaled or any(region.spatial_format in _STRIPS for region in clip.regions)
    )


def _of_strip(clip: Clip, marks: FileMarks) -> FileMarks:
    """Return the marks without what no strip is read by: drawings, but those that a spectrum's aim is judged by."""
    drawn = tuple(mark for mark in marks.drawn if mark.landmark or FLOW_AXIS in mark.label.casefold())
    # A spectrum has no depth: one that was set on it would count for the picture beside it.
    is_off = marks.scale is not None and _lies_on(clip, marks.scale, (SpatialFormat.SPECTRAL,))
    return replace(marks, drawn=drawn, scale=None if is_off else marks.scale)


def _lies_on(clip: Clip, depth: MarkedDistance, formats: Sequence[SpatialFormat]) -> bool:
    """Return whether a depth was marked on a strip: it tells nothing of the picture beside it."""
    return any(
        region.box.row0 <= end[0] < region.box.row1 and region.box.col0 <= end[1] < region.box.col1
        for region in clip.regions
        if region.spatial_format in formats
        for end in (depth.start, depth.end)
    )
