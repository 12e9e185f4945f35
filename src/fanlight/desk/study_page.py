"""Everything that the page of one study shows, as JSON holds it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from fanlight.critique.picture_masks import read_mask_tables, with_masks
from fanlight.desk.as_left import as_left, told_anew
from fanlight.desk.blind import hidden_of
from fanlight.desk.causes_first import plain_causes_first
from fanlight.desk.clip_view import without_proposals
from fanlight.desk.decided import for_screen
from fanlight.desk.desk import Desk
from fanlight.desk.engine import EngineState
from fanlight.desk.ladder_clips import asked_in, ladder_clips
from fanlight.desk.last_letter import asked_before
from fanlight.desk.page_words import words_part
from fanlight.desk.phrases import phrase_bank
from fanlight.desk.plain import plain_document, plain_entry, plain_fates, plain_state
from fanlight.desk.told_marks import strips_placed_since
from fanlight.reference.criteria import read_criteria
from fanlight.reference.desk import WindowWords, read_windows
from fanlight.reference.letter import read_letter_limits
from fanlight.reference.plans import choose_plan
from fanlight.reference.views import View, read_views
from fanlight.store import (
    Entry,
    clip_reading,
    documents_of,
    entries_of,
    fates_of,
    fold,
    latest_assembly,
    messages_of,
    next_redo,
    next_undo,
    read_study,
    thread_studies,
    unread_files,
)
from fanlight.study import ClipReading, House, Patient, Request, Rung, StudyReview
from fanlight.study.codec import to_plain
from fanlight.validity.clip_verdict import judge_clip


def study_page(desk: Desk, study: str) -> dict[str, Any]:
    """Return the study with its readings, what people said about it, and the words to show it with."""
    listen_from = desk.hub.last_id()  # before anything is read: what comes meanwhile is heard
    stored = read_study(desk.store, study)
    assembled = latest_assembly(desk.store, study)
    entries = entries_of(desk.store, study)
    draft = desk.draft(study)
    hidden = _hidden(desk, study, draft, entries)
    if draft is not None:
        desk.read_strips(study, strips_placed_since(draft, fold(entries)))
    return {
        "id": study,
        "title": stored.title,
        "made_at": stored.made_at.isoformat(),
        "parent": stored.parent,
        "thread": [
            {"id": item.id, "title": item.title, "made_at": item.made_at.isoformat()}
            for item in thread_studies(desk.store, study)
        ],
        "study": to_plain(assembled) if assembled is not None else None,
        "files": plain_fates(
            fates_of(desk.store, study),
            unread_files(desk.store, study),
            is_read=assembled is not None and desk.engine.state(study) == EngineState(state="idle"),
        ),
        "engine": plain_engine(desk, study),
        **_decided(desk, study, entries, draft, hidden),
        "readings": [_facts(item, item.clip.key in hidden) for item in draft.readings] if draft is not None else [],
        "entries": [plain_entry(entry) for entry in entries],
        "last_event": listen_from,
        "last_letter": to_plain(asked_before(desk, study)),
        "messages": [to_plain(item) for item in messages_of(desk.store, study)],
        "documents": [plain_document(item) for item in documents_of(desk.store, study)],
        "plan": plan_part(
            desk.house,
            assembled.patient if assembled is not None else Patient(),
            assembled.request if assembled is not None else Request(),
        ),
        "criteria": criteria_part(desk.house),
        "words": words_part(desk.house),
        "phrases": phrase_bank(desk.store, desk.house),
    }


def plain_engine(desk: Desk, study: str) -> dict[str, Any]:
    """Return how far the engine is: "receiving", "reading" or "idle", and why it gave up if it did."""
    state = desk.engine.state(study)
    return {"state": state.state, **(state.error.plain() if state.error else {"error": None})}


def decided_part(desk: Desk, study: str, entries: Sequence[Entry]) -> dict[str, Any]:
    """Return what changes with each act: state, path and corrections, and which act undo and redo mean next."""
    draft = desk.draft(study)
    return _decided(desk, study, entries, draft, _hidden(desk, study, draft, entries))


def _decided(
    desk: Desk, study: str, entries: Sequence[Entry], draft: StudyReview | None, hidden: frozenset[str]
) -> dict[str, Any]:
    house, review, anew = desk.house, None, {}
    state = fold(entries)
    if draft is not None:
        left = as_left(draft, state, house, hidden)
        state, review, anew = left.state, for_screen(left), told_anew(left)
    undo, redo = next_undo(entries), next_redo(entries)
    return {
        "last_entry": entries[-1].id if entries else "",
        "n_entries": len(entries),
        "next_undo": undo.id if undo else "",
        "next_redo": redo.id if redo else "",
        "state": plain_state(state),
        "blind": sorted(hidden),
        "causes_first": plain_causes_first(desk, study, draft, entries),
        "review": None if review is None else _bare(review, house),
        "told_anew": to_plain(anew),
    }


def _facts(item: ClipReading, is_hidden: bool) -> dict[str, Any]:
    """Return of a clip what path and list need; the whole is fetched clip by clip, see `reading_part`."""
    found = () if is_hidden else item.findings
    return {
        "clip": {"key": item.clip.key, "number": item.clip.number},
        "mode": to_plain(item.mode),
        "findings": [{"clip": f.clip, "criterion": f.criterion, "verdict": f.verdict.value} for f in found],
    }


def reading_part(desk: Desk, study: str, clip: str, entries: Sequence[Entry]) -> Any | None:
    """Return what the engine says of one clip, None when it is not there; proposals to be judged blind are left out.

    It is what the draft says, also while clips are still being read: part of it is told by holding the clips that are
    there against each other, and a mentor who kept a reading without that part would be asked again. A clip that was
    read after the last draft, of which the engine gave up, is told by itself.
    """
    draft = desk.own_draft(study)
    there = (item for item in draft.readings if item.clip.key == clip) if draft is not None else iter(())
    found = next(there, None) or _by_itself(desk, study, clip)
    return None if found is None else plain_reading(found, hidden_of(desk, study, (clip,), entries))


def _by_itself(desk: Desk, study: str, clip: str) -> ClipReading | None:
    stored = clip_reading(desk.store, study, clip)
    if stored is None or stored.reading is None:
        return None
    item = with_masks(stored.reading, desk.house.kept("masks", read_mask_tables))
    sure_from = read_letter_limits(desk.house).sure_from
    return replace(item, verdicts=judge_clip(item.mode, item.findings, read_criteria(desk.house), sure_from))


def plain_reading(item: ClipReading, hidden: frozenset[str]) -> Any:
    """Return a reading as a page gets it: without proposals where it is among the hidden ones."""
    shown = without_proposals(item) if item.clip.key in hidden else item
    return to_plain(replace(shown, seconds=()))


def _hidden(desk: Desk, study: str, draft: StudyReview | None, entries: Sequence[Entry]) -> frozenset[str]:
    clips = [item.clip.key for item in draft.readings] if draft is not None else []
    return hidden_of(desk, study, clips, entries)


def _bare(review: StudyReview, house: House) -> dict[str, Any]:
    """Return a review without what stands beside it on the page; of each clip, only what decisions change."""
    verdicts = {item.clip.key: to_plain(item.verdicts) for item in review.readings}
    views = {item.clip.key: to_plain(item.view) for item in review.readings}
    plain: dict[str, Any] = to_plain(replace(review, readings=()))
    del plain["study"], plain["readings"]
    rungs = {
        "ladder_clips": to_plain(ladder_clips(review, house)),
        "ladder_asked": to_plain(asked_in(review, house)),
    }
    return {**plain, "verdicts": verdicts, "views": views, **rungs}


def plan_part(house: House, patient: Patient, request: Request) -> dict[str, Any]:
    """Return the plan, each step with the letter that places a clip there and the lists of its view."""
    plan, because = choose_plan(house, patient, request)
    views, windows = read_views(house), read_windows(house)
    parts = {key: view_part(view, windows[view.window]) for key, view in views.items()}
    return {
        "key": plan.key,
        "title": plan.title,
        "chosen_because": because,
        "steps": [
            {
                "letter": step_letter(place),
                "view": step.view,
                "asked": [rung.value for rung in step.asked],
                "m_mode": step.m_mode,
                **parts[step.view],
            }
            for place, step in enumerate(plan.steps)
        ],
        "views": parts,
    }


def step_letter(place: int) -> str:
    """Return the letter of a step, "" from the 27th on: those take the pointer."""
    return chr(ord("a") + place) if place < 26 else ""


def view_part(view: View, window: WindowWords) -> dict[str, Any]:
    """Return what a page needs of a view."""
    return {
        "title": view.title,
        "short_title": window.short(view.title),
        "window": view.window,
        "must_show": list(view.must_show),
        "must_not_show": list(view.must_not_show),
        "valves": sorted({valve.value for valve, _ in view.serves}),
        "serves": {rung.value: [valve.value for valve in view.valves_at(rung)] for rung in Rung},
    }


def criteria_part(house: House) -> dict[str, Any]:
    """Return title, unit, band, basis and source of each criterion."""
    return {
        key: {
            "title": item.title,
            "family": item.family,
            "unit": item.unit,
            "band": to_plain(item.band),
            "basis": item.basis.value,
            "source": item.source,
            "weight": item.weight,
        }
        for key, item in read_criteria(house).items()
    }
