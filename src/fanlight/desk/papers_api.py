"""Addresses of letter and summary: preview, signature, and the frozen bytes."""

from __future__ import annotations

from http import HTTPStatus

from fastapi import APIRouter
from fastapi.responses import HTMLResponse, JSONResponse, Response

from fanlight.desk.body import Body, value_of
from fanlight.desk.desk import Desk
from fanlight.desk.errors import DeskError
from fanlight.desk.guard import PAPER_POLICY, PREVIEW_POLICY
from fanlight.desk.hub import ALL
from fanlight.desk.letters import Signing, changes, corrections, movement, preview, sign
from fanlight.desk.plain import plain_document
from fanlight.reference.causes import read_cause_limits
from fanlight.store import DocumentKind, read_document
from fanlight.store.actions import SetExercise

# A viewer of PDF draws by itself; no page of ours needs it to do anything else.
_PDF_POLICY = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'self'"


def add_routes(api: APIRouter, desk: Desk) -> None:
    """Add the addresses of papers."""

    @api.get("/studies/{study}/letter")
    def look(study: str, kind: str = "letter") -> HTMLResponse:
        page = preview(desk, study, value_of(kind, DocumentKind, "kind"))
        return HTMLResponse(page, headers={"content-security-policy": PREVIEW_POLICY})

    @api.get("/studies/{study}/corrections")
    def points(study: str) -> JSONResponse:
        return JSONResponse({"corrections": corrections(desk, study)})

    @api.get("/studies/{study}/changes")
    def most(study: str) -> JSONResponse:
        return JSONResponse({"changes": changes(desk, study), "most": read_cause_limits(desk.house).most})

    @api.get("/studies/{study}/changes/{cause}/pictures")
    def drawn(study: str, cause: str) -> JSONResponse:
        return JSONResponse(movement(desk, study, cause))

    @api.post("/studies/{study}/sign")
    def put_name(study: str, body: Body) -> JSONResponse:
        signing = Signing(
            id=body.id("id"),
            author=body.text("author", "", most=200).strip(),
            kind=value_of(body.text("kind"), DocumentKind, "kind"),
            exercise=body.value("exercise", SetExercise),
            supersedes=body.text("supersedes", ""),
        )
        document = sign(desk, study, signing)
        plain = plain_document(document)
        desk.hub.publish(study, "signed", plain)
        desk.hub.publish(ALL, "study", {"id": study})
        return JSONResponse({"document": plain})

    @api.get("/documents/{document}/{name}")
    def part(document: str, name: str) -> Response:
        found = next((item for item in read_document(desk.store, document).parts if item.name == name), None)
        if found is None:
            raise DeskError(HTTPStatus.NOT_FOUND, f"it has no part {name}", f"document {document}", "Load it anew.")
        is_page = found.media_type == "text/html"
        return Response(
            desk.store.originals.read(found.sha256),
            media_type=found.media_type,
            headers={
                "content-security-policy": PAPER_POLICY if is_page else _PDF_POLICY,
                "content-disposition": f'inline; filename="{found.name}"',
                "etag": f'"{found.sha256}"',
            },
        )
