"""Addresses of marks: followed through the beat, all of a study as a file, and the engine's own lines on a strip."""

from __future__ import annotations

from collections.abc import Sequence
from http import HTTPStatus

from fastapi import APIRouter
from fastapi.responses import JSONResponse, PlainTextResponse

from fanlight.desk.blind import hidden_of
from fanlight.desk.body import Body, value_of
from fanlight.desk.desk import Desk
from fanlight.desk.errors import DeskError
from fanlight.desk.marks_file import marks_file
from fanlight.desk.tracks import Marked
from fanlight.store import Entry, clip_reading, entries_of, fold, latest_assembly, read_study, study_state
from fanlight.store.action_words import MarkKind
from fanlight.study import ClipReading, Point
from fanlight.study.codec import to_plain


def add_routes(api: APIRouter, desk: Desk) -> None:
    """Add the addresses of marks."""

    @api.post("/studies/{study}/clips/{clip}/track")
    def track(study: str, clip: str, body: Body) -> JSONResponse:
        kind = value_of(body.text("kind"), MarkKind, "kind")
        points = body.value("points", tuple[Point, ...]) or ()
        frame = body.value("frame", int)
        reading = _reading(desk, study, clip)
        marked = marked_on(entries_of(desk.store, study), clip)
        found = desk.tracks.follow(study, reading, marked, kind, -1 if frame is None else frame, points)
        return JSONResponse(to_plain(found))

    @api.get("/studies/{study}/clips/{clip}/lines")
    def lines(study: str, clip: str) -> JSONResponse:
        log = entries_of(desk.store, study)
        is_hidden = clip in hidden_of(desk, study, (clip,), log)
        found = desk.strip_lines.lines(study, _reading(desk, study, clip), log, is_hidden=is_hidden)
        return JSONResponse(to_plain(found))

    @api.get("/studies/{study}/marks/sent")
    def sent(study: str) -> JSONResponse:
        read_study(desk.store, study)
        found = desk.files.sent_marks(study)
        return JSONResponse({key: to_plain(marks) for key, marks in found.items()})

    @api.get("/studies/{study}/marks")
    def marks(study: str) -> PlainTextResponse:
        read_study(desk.store, study)
        assembled = latest_assembly(desk.store, study)
        text = marks_file(study_state(desk.store, study), assembled.clips if assembled is not None else ())
        return PlainTextResponse(text, headers={"content-disposition": 'attachment; filename="marks.toml"'})


def marked_on(entries: Sequence[Entry], clip: str) -> Marked:
    """Return how a clip was scaled by hand, from all that was done on its study.

    A reading may be older than the act that took a scale back. Where one was ever set at the desk, marked points count
    as the log has them; where none was, those of the reading came in a file of the study and hold.
    """
    state = fold(entries)
    scale = state.scales.get(clip)
    return Marked(
        depth=None if scale is None else scale.distance,
        axes=tuple(item.marked for (of, _), item in state.strip_scales.items() if of == clip),
        holds_read=not any(entry.clip == clip and entry.action == "set scale" for entry in entries),
    )


def _reading(desk: Desk, study: str, clip: str) -> ClipReading:
    stored = clip_reading(desk.store, study, clip)
    if stored is None or stored.reading is None:
        raise DeskError(
            HTTPStatus.NOT_FOUND, f"clip {clip} was not read yet", f"study {study}", "Wait until it was read."
        )
    return stored.reading
