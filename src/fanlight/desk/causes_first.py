"""Studies that stay covered until the mentor has said which causes she sees: which they are, and what is said of them.

While a study is covered nothing that the engine proposes is shown of any of its clips, and nothing that could only be
said of a proposal is taken. Which studies are covered is drawn: causes that a mentor looked for because she chose the
study would come out too likely.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from http import HTTPStatus
from typing import Any

from fanlight.coach.causes.animal import known_of
from fanlight.desk.blind import is_covered
from fanlight.desk.clip_view import shown_view
from fanlight.desk.desk import Desk
from fanlight.desk.errors import DeskError
from fanlight.reference.cause_priors import fact_behind
from fanlight.reference.causes import CauseRow, read_causes
from fanlight.store import (
    Entry,
    digest_of,
    ends_cover,
    fold,
    latest_review,
    read_action,
    said_first,
)
from fanlight.store.actions import Action, SayCauses, TakeClipOut, UncoverStudy
from fanlight.study import CauseLevel, Mode, StudyReview

_ORDER = (CauseLevel.CONSOLE, CauseLevel.HAND, CauseLevel.RECORD, CauseLevel.ANIMAL)


def plain_causes_first(desk: Desk, study: str, draft: StudyReview | None, entries: Sequence[Entry]) -> dict[str, Any]:
    """Return what a page needs: whether the study is covered, what was said first, and which causes may be named."""
    covered, first = is_covered(desk, study, entries), said_first(entries)
    rows = read_causes(desk.house)
    may_show = _may_show(draft, entries, rows) if covered and draft is not None else ()
    return {
        "is_covered": covered,
        "said": None
        if first is None
        else {
            "author": first.entry.author,
            "at": first.entry.at.isoformat(),
            "through": [_named(cause, rows) for cause in first.said.through],
            "some": [_named(cause, rows) for cause in first.said.some],
        },
        "asked": [
            {**_named(key, rows), "when": rows[key].when, "level": rows[key].level.value}
            for level in _ORDER
            for key in may_show
            if rows[key].level is level
        ],
    }


def _named(cause: str, rows: dict[str, CauseRow]) -> dict[str, str]:
    return {"cause": cause, "title": rows[cause].title if cause in rows else cause}


def _may_show(draft: StudyReview, entries: Sequence[Entry], rows: dict[str, CauseRow]) -> tuple[str, ...]:
    """Return the causes that can act in one of the clips, by its mode and where person or file named it its view."""
    clips = tuple(_clips(draft, entries))
    return tuple(
        key
        for key, row in rows.items()
        if any(row.acts_in(mode, view) if view else mode in row.modes for mode, view in clips)
    )


def _clips(draft: StudyReview, entries: Sequence[Entry]) -> Iterator[tuple[Mode, str]]:
    """Yield mode and view of each clip that was not taken out; what was recognised is a proposal, and names no view."""
    state = fold(entries)
    for item in draft.readings:
        named = state.modes.get(item.clip.key)
        mode = named.mode if named is not None else item.mode.mode
        if mode is not None and not isinstance(state.placements.get(item.clip.key), TakeClipOut):
            yield mode, shown_view(item, state, is_hidden=True).view


def checked(desk: Desk, study: str, action: Action, entry: str, log: Sequence[Entry]) -> Action:
    """Return what is to be written, with what only the service knows; the same request again gives the same.

    Raises
    ------
    DeskError
        When causes are said of a study that is not covered or not read, or something is done that only a proposal can
        lead to while none was shown.
    """
    there = next((item for item in log if item.id == entry), None)
    before = read_action(there) if there is not None and not there.undoes else None
    if isinstance(action, SayCauses):
        if isinstance(before, SayCauses):
            return replace(action, asked=before.asked, not_shown=before.not_shown)
        return _completed(desk, study, action, log)
    if ends_cover(action) and there is None and is_covered(desk, study, log) != isinstance(action, UncoverStudy):
        raise _not_now(study, action)
    return action


def _completed(desk: Desk, study: str, action: SayCauses, log: Sequence[Entry]) -> SayCauses:
    if not is_covered(desk, study, log):
        raise DeskError(
            HTTPStatus.CONFLICT,
            "this study is not covered: what is said of its causes now was not said before proposals were shown",
            f"study {study}",
            "Keep or throw out the changes that are proposed.",
        )
    draft = latest_review(desk.store, study) if desk.engine.state(study).state == "idle" else None
    if draft is None:
        raise DeskError(
            HTTPStatus.CONFLICT, "its clips are still being read", f"study {study}", "Wait until all clips were read."
        )
    rows = read_causes(desk.house)
    if unknown := sorted({*action.through, *action.some} - set(rows)):
        raise DeskError(
            HTTPStatus.BAD_REQUEST, f"there is no cause {unknown[0]!r}", f"study {study}", "Choose causes of the list."
        )
    known = known_of(draft.study.patient, draft.study.request, desk.house)
    could = {*_may_show(draft, log, rows), *action.through, *action.some}
    asked = ((key, fact_behind(row, known)) for key, row in rows.items() if key in could)
    return replace(
        action, asked=tuple((key, fact.value if fact else "") for key, fact in asked), not_shown=digest_of(draft)
    )


def _not_now(study: str, action: Action) -> DeskError:
    if isinstance(action, UncoverStudy):
        return DeskError(
            HTTPStatus.CONFLICT, "this study is not covered", f"study {study}", "Load it anew: its proposals are shown."
        )
    return DeskError(
        HTTPStatus.CONFLICT,
        "what is proposed for this study stays covered until its causes were said",
        f"study {study}",
        "Say which causes you see, then show the proposals.",
    )
