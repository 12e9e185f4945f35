"""The same view in an earlier study of the same animal, to stand beside a clip."""

from __future__ import annotations

from typing import Any

from fanlight.desk.blind import hidden_of
from fanlight.desk.clip_view import shown_view
from fanlight.desk.desk import Desk
from fanlight.desk.study_page import plain_reading
from fanlight.store import StoredStudy, earlier_studies, entries_of, fold
from fanlight.study import ClipReading, ClipVerdict, Purpose
from fanlight.study.codec import to_plain

_LOOKED_AT = 8  # engineering judgement: studies of one animal that are searched, nearest first


def same_view_elsewhere(desk: Desk, study: str, view: str, mode: str) -> dict[str, Any] | None:
    """Return the clip that fits best beside one of this view and mode, with its study; None when there is none.

    The nearest study that holds the view counts. In it, a clip of the same mode goes before others, one with beats
    before one without, and one that is good to look at before the rest.
    """
    for other in earlier_studies(desk.store, study)[:_LOOKED_AT]:
        found = _best(desk, other, view, mode)
        if found is not None:
            return found
    return None


def _best(desk: Desk, other: StoredStudy, view: str, mode: str) -> dict[str, Any] | None:
    draft = desk.own_draft(other.id)
    if draft is None:
        return None
    log = entries_of(desk.store, other.id)
    state = fold(log)
    clips = [item.clip.key for item in draft.readings]
    hidden = hidden_of(desk, other.id, clips, log)
    there = [item for item in draft.readings if shown_view(item, state, is_hidden=item.clip.key in hidden).view == view]
    if not there:
        return None
    best = min(there, key=lambda item: _rank(item, mode))
    examined = draft.study.identity.examined_at
    return {
        "study": other.id,
        "title": draft.study.identity.animal_name or other.title,
        "made_at": (examined or other.made_at).isoformat(),
        "clip": to_plain(best.clip),
        "reading": plain_reading(best, hidden),
    }


def _rank(item: ClipReading, mode: str) -> tuple[bool, bool, bool, int]:
    is_diagnostic = (Purpose.LOOK, ClipVerdict.DIAGNOSTIC) in item.verdicts
    is_same_mode = item.mode.mode is not None and item.mode.mode.value == mode
    return (not is_same_mode, len(item.time.r_frames) < 2, not is_diagnostic, item.clip.number)
