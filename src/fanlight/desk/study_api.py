"""Addresses of one study: what it holds, and what a person does with it."""

from __future__ import annotations

from collections.abc import Sequence
from http import HTTPStatus
from typing import Any

from fastapi import APIRouter
from fastapi.responses import JSONResponse, Response

from fanlight.desk.as_left import as_left, told_anew
from fanlight.desk.blind import hidden_of
from fanlight.desk.body import Body, Fields, value_of
from fanlight.desk.causes_first import checked
from fanlight.desk.changes import no_room
from fanlight.desk.desk import Desk
from fanlight.desk.earlier import same_view_elsewhere
from fanlight.desk.errors import DeskError, bad_request
from fanlight.desk.hub import ALL
from fanlight.desk.intake import keep_text
from fanlight.desk.letters import decided_in
from fanlight.desk.plain import plain_entry
from fanlight.desk.study_files import DESK_SHEET
from fanlight.desk.study_page import decided_part, plain_engine, reading_part, study_page
from fanlight.desk.told_marks import is_told_otherwise
from fanlight.intake import RequestSheet, write_sheet
from fanlight.store import (
    Call,
    ChangeWord,
    Entry,
    MessageKind,
    add_entry,
    add_message,
    entries_of,
    fold,
    latest_assembly,
    parse_action,
    read_study,
    thread_studies,
    undo_entry,
)
from fanlight.store.actions import AcceptFinding, AcceptFindings, JudgeBlind, JudgeChange, OverruleFinding, SetClosed
from fanlight.study import Clip, Identity, Patient, Request
from fanlight.study.codec import to_plain

# Acts that a line of the list shows.
_LISTED = (
    "flag urgency", "undo", "open call", "record call", "acknowledge call", "set closed", "place clip",
    "take clip out", "judge blind", "overrule finding", "accept findings", "uncover study",
)  # fmt: skip


def add_routes(api: APIRouter, desk: Desk) -> None:
    """Add the addresses of a study."""

    @api.get("/studies/{study}")
    def one_study(study: str) -> JSONResponse:
        return JSONResponse(study_page(desk, study))

    @api.get("/studies/{study}/state")
    def state(study: str) -> JSONResponse:
        read_study(desk.store, study)
        return JSONResponse(decided_part(desk, study, entries_of(desk.store, study)))

    @api.get("/studies/{study}/clips/{clip}")
    def reading(study: str, clip: str) -> JSONResponse:
        found = reading_part(desk, study, clip, entries_of(desk.store, study))
        if found is None:
            raise DeskError(
                HTTPStatus.NOT_FOUND, f"clip {clip} was not read yet", f"study {study}", "Wait until it was read."
            )
        return JSONResponse(found)

    @api.get("/studies/{study}/earlier")
    def earlier(study: str, view: str, mode: str = "") -> JSONResponse:
        return JSONResponse({"found": same_view_elsewhere(desk, study, view, mode)})

    @api.post("/studies/{study}/complete", status_code=HTTPStatus.ACCEPTED)
    def complete(study: str) -> JSONResponse:
        read_study(desk.store, study)
        desk.engine.all_sent(study)
        return JSONResponse(plain_engine(desk, study), HTTPStatus.ACCEPTED)

    @api.post("/studies/{study}/entries")
    def act(study: str, body: Body) -> JSONResponse:
        action = parse_action(body.text("action"), {**body.fields("payload"), **_clip(body)})
        log = entries_of(desk.store, study)
        before = fold(log)
        action = checked(desk, study, action, body.id("id"), log)
        if isinstance(action, AcceptFinding | AcceptFindings | OverruleFinding):
            _check_shown(desk, study, action, log)
        if isinstance(action, JudgeBlind):
            _check_blind(desk, study, action, log, body.id("id"))
        if isinstance(action, SetClosed) and action.is_closed and before.open_calls:
            raise _call_waits(study, before.open_calls[0])
        if isinstance(action, JudgeChange) and not any(item.id == body.id("id") for item in log):
            _check_room(desk, study, action, log)
        entry = add_entry(desk.store, study, action, author=_author(body), entry=body.id("id"))
        return JSONResponse(_after(desk, study, entry, log))

    @api.post("/studies/{study}/undo")
    def undo(study: str, body: Body) -> JSONResponse:
        log = entries_of(desk.store, study)
        entry = undo_entry(desk.store, study, body.id("entry"), author=_author(body), entry=body.id("id"))
        return JSONResponse(_after(desk, study, entry, log))

    @api.post("/studies/{study}/sheet")
    def sheet(study: str, body: Body) -> Response:
        said = body.fields("request")
        filled = RequestSheet(
            request=value_of(said, Request, "request"),
            patient=value_of(body.fields("animal"), Patient, "animal"),
            identity=value_of(body.fields("identity"), Identity, "identity"),
            stated=frozenset(said),
        )
        keep_text(desk.store, study, DESK_SHEET, write_sheet(filled))
        desk.engine.all_sent(study)
        return Response(status_code=HTTPStatus.NO_CONTENT)

    @api.post("/studies/{study}/messages")
    def say(study: str, body: Body) -> JSONResponse:
        message = add_message(
            desk.store, study, value_of(body.text("kind"), MessageKind, "kind"), body.text("words", most=20_000),
            author=_author(body), message=body.id("id"), answers=body.text("answers", ""),
        )  # fmt: skip
        for other in thread_studies(desk.store, study):
            desk.hub.publish(other.id, "message", to_plain(message))
        desk.hub.publish(ALL, "study", {"id": study})
        return JSONResponse(to_plain(message))


def _clip(body: Fields) -> dict[str, Any]:
    """Return the clip that stands beside the payload; a payload may also name its own."""
    clip = body.text("clip", "")
    return {"clip": clip} if clip else {}


def _author(body: Fields) -> str:
    author = body.text("author", "", most=200).strip()
    if not author:
        raise bad_request("a name is missing", "author", "Enter your name first; it stands beside everything you do.")
    return author


def _check_shown(
    desk: Desk, study: str, action: AcceptFinding | AcceptFindings | OverruleFinding, log: Sequence[Entry]
) -> None:
    """Raise when a finding is decided that is not shown yet, or that the engine did not make."""
    if action.clip and hidden_of(desk, study, (action.clip,), log):
        raise DeskError(
            HTTPStatus.CONFLICT,
            "what is proposed for this clip stays hidden until it was judged",
            f"clip {action.clip}",
            "Judge the clip first; then its proposals are shown.",
        )
    draft = desk.own_draft(study)
    there = {item.criterion for item in draft.study_findings} if draft and not action.clip else set()
    if draft and action.clip:
        there = {f.criterion for item in draft.readings if item.clip.key == action.clip for f in item.findings}
        anew = told_anew(as_left(draft, fold(log), desk.house))
        there |= {f.criterion for f in anew.get(action.clip, ())}
    asked = set(action.criteria) if isinstance(action, AcceptFindings) else {action.criterion}
    if missing := asked - there:
        raise DeskError(
            HTTPStatus.CONFLICT,
            f"the engine has no finding {', '.join(sorted(missing))} there",
            f"clip {action.clip}" if action.clip else f"study {study}",
            "Load the study anew; it was read again meanwhile.",
        )


def _check_blind(desk: Desk, study: str, action: JudgeBlind, log: Sequence[Entry], entry: str) -> None:
    """Raise when a clip is judged whose proposals were shown already; the same act again is none."""
    if not hidden_of(desk, study, (action.clip,), log) and not any(item.id == entry for item in log):
        raise DeskError(
            HTTPStatus.CONFLICT,
            "the proposals of this clip were shown already: no judgement of it is blind",
            f"clip {action.clip}",
            "Place the clip, and keep or overrule what is proposed.",
        )


def _check_room(desk: Desk, study: str, action: JudgeChange, log: Sequence[Entry]) -> None:
    """Raise when a change is kept and the letter opens with as many as it takes already."""
    draft = desk.own_draft(study)
    if action.word is not ChangeWord.KEPT or draft is None:
        return
    kept = no_room(decided_in(desk, study, draft, log), fold(log), desk.house, action.cause)
    if kept:
        raise DeskError(
            HTTPStatus.CONFLICT,
            f"the letter opens with {len(kept)} changes at most, and so many are kept: {'; '.join(kept)}",
            f"change {action.cause}",
            "Throw one of them out, or take its keep back, then keep this one.",
        )


def _call_waits(study: str, call: Call) -> DeskError:
    what = f"an urgent finding waits for its call: {call.opened.finding}"
    return DeskError(HTTPStatus.CONFLICT, what, f"study {study}", "Call, and write down what was said; then close it.")


def _after(desk: Desk, study: str, entry: Entry, before: Sequence[Entry]) -> dict[str, Any]:
    """Tell the other pages, have clips read again of which the engine must know more, and return what holds now."""
    entries = entries_of(desk.store, study)
    if is_told_otherwise(before, entries, _clips(desk, study), entry):
        desk.engine.all_sent(study)
    desk.hub.publish(study, "entry", plain_entry(entry))
    if entry.action in _LISTED:
        desk.hub.publish(ALL, "study", {"id": study})
    return {"entry": plain_entry(entry), **decided_part(desk, study, entries)}


def _clips(desk: Desk, study: str) -> tuple[Clip, ...]:
    draft = desk.draft_at_hand(study)
    there = draft.study if draft is not None else latest_assembly(desk.store, study)
    return there.clips if there is not None else ()
