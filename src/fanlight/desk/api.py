"""Addresses of the service and what each does; the work is done elsewhere."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import JSONResponse, StreamingResponse

from fanlight.desk import marks_api, papers_api, study_api
from fanlight.desk.body import Body
from fanlight.desk.desk import Desk
from fanlight.desk.hub import ALL
from fanlight.desk.intake import take_in
from fanlight.desk.waiting_page import closed_page, waiting_page
from fanlight.store import add_study, new_id

_STREAM = "text/event-stream"


def routes(desk: Desk) -> APIRouter:
    """Return everything below /api."""
    api = APIRouter(prefix="/api")

    @api.get("/waiting")
    def waiting(after: str = "") -> JSONResponse:
        return JSONResponse(waiting_page(desk, after))

    @api.get("/closed")
    def closed(after: str = "") -> JSONResponse:
        return JSONResponse(closed_page(desk, after))

    @api.get("/events")
    async def all_events(request: Request, after: str = "") -> StreamingResponse:
        return _events(desk, ALL, request, after)

    @api.post("/studies")
    def new_study(body: Body) -> JSONResponse:
        study = add_study(
            desk.store, body.id("id") if body.text("id", "") else new_id(), title=body.text("title", most=300),
            parent=body.text("parent", ""),
        )  # fmt: skip
        desk.hub.publish(ALL, "study", {"id": study.id})
        return JSONResponse({"id": study.id})

    @api.put("/studies/{study}/files")
    async def put_file(request: Request, study: str, name: Annotated[str, Query(max_length=1000)]) -> JSONResponse:
        stated = request.headers.get("content-length")
        file = await take_in(
            desk.store, study, name, request.stream(), int(stated) if stated else None, desk.options.limits
        )
        desk.hub.publish(study, "file", {"name": file.name, "fate": "received", "refusals": []})
        desk.engine.file_came(study)
        return JSONResponse({"file": file.id, "name": file.name, "sha256": file.sha256, "fate": "received"})

    @api.get("/studies/{study}/events")
    async def events(request: Request, study: str, after: str = "") -> StreamingResponse:
        return _events(desk, study, request, after)

    @api.get("/studies/{study}/clips/{clip}/frames")
    def frames(study: str, clip: str, first: int = 0, count: int = 24) -> StreamingResponse:
        row = desk.frames.row(study, clip, first, count)
        return StreamingResponse(
            row.packets, media_type="application/octet-stream", headers={"x-frame-count": str(row.n_frames)}
        )

    study_api.add_routes(api, desk)
    papers_api.add_routes(api, desk)
    marks_api.add_routes(api, desk)
    return api


def _events(desk: Desk, study: str, request: Request, after: str) -> StreamingResponse:
    # A page that comes back says so in this header (HTML standard, 9.2.4); at first it asks with `after`.
    lines = desk.hub.listen(study, request.headers.get("last-event-id") or after)
    return StreamingResponse(lines, media_type=_STREAM, headers={"x-accel-buffering": "no"})
