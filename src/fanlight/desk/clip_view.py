"""Where a clip lies as people left it, and a reading without what is proposed of it. Pure."""

from __future__ import annotations

from dataclasses import replace

from fanlight.store import StudyState
from fanlight.store.actions import JudgeBlind, PlaceClip, TakeClipOut
from fanlight.study import ClipReading, Valve, ViewReading, ViewSource

_TAKEN_OUT = ViewReading(view="", source=ViewSource.MENTOR, probability=1.0, reason="taken out by the mentor")
_NOT_DECIDED = ViewReading(
    view="", source=ViewSource.NOT_KNOWN, probability=0.0, reason="recognised, and not confirmed by the mentor"
)
_HIDDEN = ViewReading(
    view="", source=ViewSource.NOT_KNOWN, probability=0.0, reason="to be judged before a proposal is shown"
)


def without_proposals(item: ClipReading) -> ClipReading:
    """Return a reading that says nothing the mentor could be led by: what it is made of, and no more."""
    return replace(item, findings=(), verdicts=(), view=_unproposed(item), picture=None, measured=())


def _unproposed(item: ClipReading) -> ViewReading:
    """Return the view without what was recognised: neither a proposal, nor why there is none, nor a doubt in words."""
    view = item.view
    if view.source is ViewSource.RECOGNISED:
        return _HIDDEN
    if item.picture is None:
        return view
    # The pixels were asked: the reason may tell what they say.
    return replace(_HIDDEN, valve=view.valve) if view.source is ViewSource.NOT_KNOWN else replace(view, reason="")


def shown_view(item: ClipReading, state: StudyState, *, is_hidden: bool, keeps_proposals: bool = True) -> ViewReading:
    """Return where a clip lies as the screen shows it; a paper keeps no proposals."""
    view = view_said(item, state.placements.get(item.clip.key), state.blind.get(item.clip.key))
    if view is not item.view:
        return view
    if is_hidden:
        return _unproposed(item)
    if view.source is ViewSource.RECOGNISED and not keeps_proposals:
        return _NOT_DECIDED
    return view


def view_said(item: ClipReading, said: PlaceClip | TakeClipOut | None, blind: JudgeBlind | None) -> ViewReading:
    """Return where a clip lies by what people said of it; the reading's own where they said nothing."""
    if isinstance(said, TakeClipOut):
        return _TAKEN_OUT
    if isinstance(said, PlaceClip):
        return ViewReading(view=said.view, source=ViewSource.MENTOR, valve=said.valve or _valve_read(item, said.view))
    if blind is not None and blind.view:
        # The mentor named a view. A valve stands if the files name it; one that was recognised is a proposal.
        valve = None if item.view.source is ViewSource.RECOGNISED else item.view.valve
        return ViewReading(view=blind.view, source=ViewSource.MENTOR, valve=valve)
    return item.view


def _valve_read(item: ClipReading, view: str) -> Valve | None:
    """Return as which valve's a strip was measured in this view: the file may name one where the mentor did not."""
    return item.measured_as[1] if item.measured and item.measured_as[0] == view else None
