"""The list of studies: urgent ones first, each with a small picture of its path and what the last letter asked for."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fanlight.desk.decided_path import decided_paths
from fanlight.desk.desk import Desk
from fanlight.desk.errors import bad_request
from fanlight.desk.last_letter import AskedFor, asked_before_each, said_of_letter
from fanlight.store import (
    ListedStudy,
    Message,
    StoredStudy,
    StudyPage,
    closed_studies,
    open_requests,
    read_study,
    waiting_studies,
)
from fanlight.study import Coverage
from fanlight.study.codec import to_plain


def waiting_page(desk: Desk, after: str = "") -> dict[str, Any]:
    """Return a page of the studies that wait."""
    return _page(desk, _listed(waiting_studies, desk, after))


def closed_page(desk: Desk, after: str = "") -> dict[str, Any]:
    """Return a page of the studies that are closed."""
    return _page(desk, _listed(closed_studies, desk, after))


def _listed(lines: Callable[..., StudyPage], desk: Desk, after: str) -> StudyPage:
    try:
        return lines(desk.store, after=after)
    except ValueError as error:
        raise bad_request(str(error), "after", "Load the list of studies anew.") from error


def _page(desk: Desk, page: StudyPage) -> dict[str, Any]:
    ids = [item.id for item in page.studies]
    paths = decided_paths(desk, ids)
    parents = {item.parent: read_study(desk.store, item.parent) for item in page.studies if item.parent}
    asked = open_requests(desk.store, ids)
    letters = asked_before_each(desk, ids)
    return {
        "last_event": desk.hub.last_id(),
        "studies": [
            {
                **_line(desk, item, paths.get(item.id), letters.get(item.id)),
                "said_of_last_letter": said_of_letter(desk, item.id, letters.get(item.id)),
                "rescan_of": _parent(parents[item.parent]) if item.parent else None,
                "waits_for_rescan": [_request(message) for message in asked.get(item.id, ())],
            }
            for item in page.studies
        ],
        "n_all": page.n_all,
        "after": page.after,
    }


def _parent(study: StoredStudy) -> dict[str, str]:
    return {"id": study.id, "title": study.title, "made_at": study.made_at.isoformat()}


def _request(message: Message) -> dict[str, str]:
    return {"id": message.id, "at": message.at.isoformat(), "author": message.author, "words": message.words}


def _line(desk: Desk, item: ListedStudy, coverage: Coverage | None, asked: AskedFor | None) -> dict[str, Any]:
    return {
        "id": item.id,
        "title": item.title,
        "animal": item.identity.animal_name,
        "species": item.patient.species,
        "weight_kg": item.patient.weight_kg,
        "practice": item.identity.practice,
        "trainee": item.trainee,
        "examined_at": item.identity.examined_at.isoformat() if item.identity.examined_at else "",
        "received_at": item.made_at.isoformat(),
        "urgent": {"by": item.urgent_said_by, "words": item.urgent_reason} if item.urgent_said_by else None,
        "state": _state(desk, item),
        "n_files": item.n_files,
        "n_refused": item.n_refused,
        "n_clips": item.n_clips,
        "n_read": item.n_read,
        "path": [] if coverage is None else [_step(place, step) for place, step in enumerate(coverage.steps)],
        "n_unplaced": 0 if coverage is None else len(coverage.unplaced),
        "last_letter": to_plain(asked) if asked is not None else None,
    }


def _step(place: int, step: Any) -> dict[str, Any]:
    plain = to_plain(step)
    return {
        "step": place,
        "view": plain["view"],
        "title": plain["title"],
        "states": plain["states"],
        "m_mode": plain["m_mode"],
        "n_clips": len(plain["clips"]),
    }


def _state(desk: Desk, item: ListedStudy) -> str:
    now = desk.engine.state(item.id)
    if now.error is not None:
        return "failed"
    if now.state != "idle":
        return now.state
    if not item.has_draft or item.is_unread:
        return "receiving"
    return "ready"
