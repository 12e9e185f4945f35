"""What the plane criteria tell of clips as people left them: in the views they named, with their marks and ticks. Pure.

The engine's draft tells of the planes as files name the views. Where a mentor placed a clip elsewhere, marked a
landmark, set a scale or ticked what is shown, all clips are asked again, since views of one study are held against each
other. Marks that came with the study were heard when it was read, and are heard again beside the mentor's own. Nothing
is added to a draft of a version that did not ask for planes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from fanlight.plane.kept import set_by_hand
from fanlight.plane.planes import is_of_plane, read_plane_rules, with_planes
from fanlight.review.hand_scale import by_hand_scale
from fanlight.store import StudyState
from fanlight.study import ClipReading, FileMarks, Finding, House, StudyReview, ViewReading


def with_decided_planes(
    readings: tuple[ClipReading, ...],
    views: Mapping[str, ViewReading],
    draft: StudyReview,
    state: StudyState,
    marks: Mapping[str, FileMarks],
    lying: Mapping[str, FileMarks],
    house: House,
    hidden: frozenset[str],
) -> tuple[ClipReading, ...]:
    """Return readings whose planes are told for the views in which the clips lie now; the very same where none differs.

    Parameters
    ----------
    readings : tuple of ClipReading
        In the draft's order.
    views : mapping of str to ViewReading
        Where each clip lies, by its key.
    draft : StudyReview
        As the engine told it.
    state : StudyState
        What people said.
    marks, lying : mapping of str to FileMarks
        What was drawn and scaled on the desk, and what lies on each clip, by the key of the clip.
    house : House
        Its tables.
    hidden : frozenset of str
        Clips whose proposals must not be seen yet: what the network saw there says nothing of other clips.
    """
    if not any(is_of_plane(item) for reading in draft.readings for item in reading.findings):
        return readings
    ticks, is_marked = _ticks(state), any(item.drawn or item.scale for item in marks.values())
    if not (ticks or is_marked or any(views[item.clip.key].view != item.view.view for item in readings)):
        return readings
    placed = tuple(
        replace(item, view=views[item.clip.key], picture=None if item.clip.key in hidden else item.picture)
        for item in readings
    )
    lies = set_by_hand(lying)
    anew = with_planes(tuple(by_hand_scale(placed, lies)), house.kept("plane rules", read_plane_rules), lies, ticks)
    return tuple(_with(old, _planes(new)) for old, new in zip(readings, anew, strict=True))


def _planes(item: ClipReading) -> tuple[Finding, ...]:
    return tuple(found for found in item.findings if is_of_plane(found))


def _with(item: ClipReading, planes: tuple[Finding, ...]) -> ClipReading:
    """Return a reading with these findings on its plane, the same reading where they are those that it has."""
    if _planes(item) == planes:
        return item
    return replace(item, findings=(*(found for found in item.findings if not is_of_plane(found)), *planes))


def _ticks(state: StudyState) -> dict[str, dict[str, bool]]:
    found: dict[str, dict[str, bool]] = {}
    for (clip, _, item), is_shown in state.ticks.items():
        found.setdefault(clip, {})[item] = is_shown
    return found
