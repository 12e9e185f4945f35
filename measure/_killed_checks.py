"""What must be true of a store whose service was killed: all that was answered is there, whole, once, and no more."""

from __future__ import annotations

from collections.abc import Iterable

from fanlight.desk.advice_record import NAME as RECORD
from fanlight.store import (
    Store,
    clip_readings,
    documents_of,
    entries_of,
    files_of,
    fold,
    latest_assembly,
    verify_store,
)
from measure._killed_page import Memory, Request


class LostError(AssertionError):
    """Something that was answered is missing, or something is there that nobody sent."""


def check_store(store: Store, memory: Memory) -> None:
    """Raise `LostError` when a request that was answered left nothing, or one that was sent left something twice."""
    verification = verify_store(store)
    need(verification.is_whole, f"damaged: {verification.damage}")
    need(not list((store.folder / "originals" / "incoming").iterdir()), "a half-written original was not swept")
    studies = {request.study for request, _ in memory.kept} | ({memory.pending.study} if memory.pending else set())
    for study in studies:
        _check_study(store, study, [each for each in memory.kept if each[0].study == study], memory.sent)


def _check_study(store: Store, study: str, kept: list[tuple[Request, str]], sent: set[str]) -> None:
    files = [item.sha256 for item in files_of(store, study)]
    entries = entries_of(store, study)
    papers = documents_of(store, study)
    fold(entries)  # the log can be read from its start
    there = {"file": files, "paper": [item.sha256 for item in papers],
             "act": [item.id for item in entries], "taking back": [item.id for item in entries]}  # fmt: skip
    for request, proof in kept:
        need(there[request.kind].count(proof) == 1, f"{request.kind} {request.id} of study {study}")
    made_by_a_page = [item.id for item in entries if item.action not in ("sign", "set exercise")]
    _only_sent(made_by_a_page, sent, "entry")
    _only_sent((item.id for item in papers), sent, "paper")
    if any(request.kind == "file" for request, _ in kept):
        _only_sent(files, sent, "file")
    signed = sum(item.action == "sign" for item in entries)
    need(signed == len(papers), f"{signed} signatures for {len(papers)} papers in study {study}")
    for paper in papers:
        names = {part.name for part in paper.parts} - {RECORD}  # only a letter to a named trainee has a record
        need(names == {f"{paper.kind.value}.html", f"{paper.kind.value}.pdf"}, f"paper {paper.id} has parts {names}")


def _only_sent(there: Iterable[str], sent: set[str], what: str) -> None:
    keys = list(there)
    need(len(set(keys)) == len(keys), f"an {what} is there twice")
    need(set(keys) <= sent, f"an {what} that nobody sent: {sorted(set(keys) - sent)[:3]}")


def read_numbers(store: Store, study: str) -> set[int]:
    """Return the numbers of the clips whose reading is kept."""
    assembled = latest_assembly(store, study)
    if assembled is None:
        return set()
    kept = clip_readings(store, study)
    return {clip.number for clip in assembled.clips if clip.key in kept and kept[clip.key].reading is not None}


def need(is_true: bool, words: str) -> None:
    """Raise `LostError` with these words unless it is so."""
    if not is_true:
        raise LostError(words)
