"""Values of the store in the form in which a page reads them."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

from fanlight.store import Call, Document, Entry, Fate, FileFate, StudyState, plain_action
from fanlight.store.actions import Action
from fanlight.study.codec import to_plain


def _said(action: Action) -> dict[str, Any]:
    name, fields = plain_action(action)
    return {"action": name, **fields}


def _call(call: Call) -> dict[str, Any]:
    return {
        "call": call.opened.call,
        "finding": call.opened.finding,
        "made": [_said(item) for item in call.made],
        "acknowledged": _said(call.acknowledged) if call.acknowledged else None,
        "is_open": call.is_open,
    }


def plain_state(state: StudyState) -> dict[str, Any]:
    """Return what holds now. Every member carries `action`, the name under which it was said, and its fields."""
    return {
        "placements": {clip: _said(item) for clip, item in state.placements.items()},
        "modes": {clip: _said(item) for clip, item in state.modes.items()},
        "blind": {clip: _said(item) for clip, item in state.blind.items()},
        "decisions": [_said(item) for item in state.decisions.values()],
        "added": [_said(item) for item in state.added.values()],
        "ticks": [
            {"clip": clip, "requirement": requirement.value, "item": item, "is_shown": is_shown}
            for (clip, requirement, item), is_shown in state.ticks.items()
        ],
        "structures": {structure.value: _said(item) for structure, item in state.structures.items()},
        "marks": [_said(item) for item in state.marks.values()],
        "scales": {clip: _said(item) for clip, item in state.scales.items()},
        "strip_scales": [_said(item) for item in state.strip_scales.values()],
        "texts": [
            {"document": document.value, "part": part, "text": text} for (document, part), text in state.texts.items()
        ],
        "corrections": [_said(item) for item in state.corrections.values()],
        "correction_order": [[criterion, side.value] for criterion, side in state.correction_order],
        "changes": [_said(item) for item in state.changes.values()],
        "exercise": _said(state.exercise) if state.exercise else None,
        "advice": [_said(item) for item in state.advice.values()],
        "closing": _said(state.closing) if state.closing else None,
        "named": to_plain(state.named),
        "urgency": _said(state.urgency) if state.urgency else None,
        "calls": [_call(item) for item in state.calls.values()],
        "signed": {kind.value: _said(item) for kind, item in state.signed.items()},
    }


def plain_entry(entry: Entry) -> dict[str, Any]:
    """Return one line of the log, without its payload: the state says what holds."""
    return {
        "id": entry.id,
        "clip": entry.clip,
        "at": entry.at.isoformat(),
        "author": entry.author,
        "action": entry.action,
        "undoes": entry.undoes,
    }


def plain_document(document: Document) -> dict[str, Any]:
    """Return a signed paper; `parts` are fetched by their hash."""
    return dict(to_plain(document))


def plain_fates(fates: Sequence[FileFate], unread: Collection[str], *, is_read: bool) -> list[dict[str, Any]]:
    """Return what became of each file. Once a study is read, none but the `unread` is left as merely received.

    A zip was unpacked, a sheet read, and what nobody sent on purpose (a directory of the medium, a hidden file) was
    passed over.
    """
    names = [fate.name for fate in fates]
    return [
        to_plain(fate)
        | {
            "fate": _settled(fate.name, names)
            if is_read and fate.fate is Fate.RECEIVED and fate.name not in unread
            else fate.fate
        }
        for fate in fates
    ]


def _settled(name: str, names: Sequence[str]) -> str:
    if any(other.startswith(f"{name}/") for other in names):
        return "unpacked"
    return "sheet" if name.lower().endswith(".toml") else "passed over"
