"""Whole studies composed of kept answers: habits, slips, what the animal brings, and nothing at all."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from fanlight.reference.causes import AnimalFact, CauseRow, Weight, Weights, criterion_of
from fanlight.simulate.faults.doppler_faults import DOPPLER_FAULTS
from fanlight.simulate.faults.faults import FAULTS
from fanlight.study import CauseLevel, Criterion, Mode, Verdict
from measure._finding_pools import KeptClip, Pool, Said

HELD, SLIP = 0.8, 0.06  # as in the studies through the pixels
VIEWS = 3
CLIPS_A_VIEW = (Mode.TWO_D, Mode.TWO_D, Mode.COLOUR, Mode.PULSED_WAVE)
ONCE = (Mode.CONTINUOUS_WAVE,)
# Of eight studies: two with nothing at all, one whose clips may slip, one habit, two habits, both again beside an
# animal that brings a cause of its own, and the animal alone.
KINDS = ("right", "right", "slips", "one", "two", "two", "animal", "animal and one")
_STATED = 2 / 3  # of the animal's own causes, how many the request sheet tells
_UNSAID = {"breathing_hard": AnimalFact.BREATHING_NORMAL, "chest_thick": AnimalFact.BODY_CONDITION_USUAL}
_TELLS = {
    "breathing_hard": AnimalFact.BREATHING_LABOURED, "lung_over_heart": AnimalFact.CHEST_DEEP,
    "chest_thick": AnimalFact.BODY_CONDITION_HIGH, "heart_large": AnimalFact.HEART_DISEASE_NAMED,
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Makings:
    """What studies of a ring are composed of."""

    pool: Pool
    rows: Mapping[str, CauseRow]
    weights: Weights
    criteria: Mapping[str, Criterion]


def compose(seed: int, makings: Makings) -> dict[str, Any]:
    """Return one study as a record: what is true of it, what the sheet tells, and what was said of its clips."""
    rng = np.random.default_rng([seed, 401])
    kind = KINDS[seed % len(KINDS)]
    n_habits = {"one": 1, "animal and one": 1, "two": 2}.get(kind, 0)
    habits = _habits(n_habits, makings, rng)
    animals = [key for key, row in makings.rows.items() if row.level is CauseLevel.ANIMAL]
    brings = str(rng.choice(animals)) if kind.startswith("animal") else ""
    is_stated = bool(brings) and rng.random() < _STATED
    grade = str(rng.choice(("plain", "strong")))
    # of the studies in which all is right every other heart is healthy
    wanted_heart = {0: True, 1: False}.get(seed % len(KINDS))
    clean = [
        clip for clip in makings.pool.of(Mode.TWO_D, "")
        if wanted_heart is None or (clip.heart == "normal") == wanted_heart
    ]  # fmt: skip
    animal = clean[int(rng.integers(len(clean)))]
    slots = [(view, mode) for view in range(VIEWS) for mode in CLIPS_A_VIEW] + [(0, mode) for mode in ONCE]
    clips = []
    for number, (view, mode) in enumerate(slots, start=1):
        wanted = [key for key in habits if rng.random() < HELD]
        if kind != "right" and rng.random() < SLIP:
            wanted.append(str(rng.choice(sorted(makings.pool.causes()))))
        acting = [key for key in dict.fromkeys(wanted) if makings.pool.of(mode, key)]
        findings = _said(acting, mode, _clean_in(view, mode, animal, makings.pool), makings, rng)
        if brings and rng.random() < HELD and mode in makings.rows[brings].modes:
            findings = _with_animal(findings, makings.weights.by_cause[brings][grade], rng)
            acting.append(brings)
        valve = {} if mode is Mode.TWO_D else {"valve": "mitral"}
        clips.append(
            {"key": f"clip{number:02d}", "view": f"view {view}", "mode": mode.value, "acting": acting,
             "findings": [list(item) for item in findings.values()], **valve}
        )  # fmt: skip
    return {
        "seed": seed, "kind": kind, "heart": animal.heart, "habits": habits, "brings": brings, "is_stated": is_stated,
        "known": sorted(_known(brings, is_stated)), "clips": clips,
    }  # fmt: skip


def _known(brings: str, is_stated: bool) -> Iterable[str]:
    """Return what the sheet tells: that all is usual, but for what the animal brings, which it tells or leaves out."""
    usual = {AnimalFact.BREATHING_NORMAL, AnimalFact.BODY_CONDITION_USUAL}
    if brings in _UNSAID:
        usual.remove(_UNSAID[brings])
    return {*usual, *({_TELLS[brings]} if is_stated else ())}


def _habits(n: int, makings: Makings, rng: np.random.Generator) -> list[str]:
    """Return n causes at different knobs, of those that the ring has clips of."""
    found: list[str] = []
    for key in map(str, rng.permutation(sorted(makings.pool.causes()))):
        taken = {knob for other in found for knob in _knobs(makings.rows[other])}
        if len(found) < n and not taken & _knobs(makings.rows[key]):
            found.append(key)
    return found


def _knobs(row: CauseRow) -> set[str]:
    return {(FAULTS[name] if name in FAULTS else DOPPLER_FAULTS[name]).knob for name in row.drawn_as}


def _clean_in(view: int, mode: Mode, animal: KeptClip, pool: Pool) -> tuple[KeptClip, ...]:
    """Return the good clips of a mode that a view is drawn from: of the animal's own view, if it has so many."""
    clips = pool.of(mode, "")
    views = sorted({clip.view for clip in clips if clip.seed == animal.seed})
    if view < len(views):
        return tuple(clip for clip in clips if clip.seed == animal.seed and clip.view == views[view])
    return clips


def _said(
    acting: list[str], mode: Mode, clean: tuple[KeptClip, ...], makings: Makings, rng: np.random.Generator
) -> dict[str, Said]:
    """Return what was said of a clip with these causes, or of one of the good clips."""
    found: dict[str, Said] = {}
    for clips in [makings.pool.of(mode, key) for key in acting] or [clean]:
        for said in clips[int(rng.integers(len(clips)))].findings if clips else ():
            before = found.get(said[0])
            if before is None or _rank(said) > _rank(before):  # what one cause raises no other takes back
                found[said[0]] = said
    return found


def _rank(said: Said) -> int:
    order = (Verdict.NOT_ASSESSABLE, Verdict.MET, Verdict.BORDERLINE, Verdict.MISSED)
    return order.index(Verdict(said[1]))


def _with_animal(
    findings: dict[str, Said], weights: Mapping[tuple[str, Any], Weight], rng: np.random.Generator
) -> dict[str, Said]:
    """Return the findings with those that the animal raises, as often as was judged; no clip of it was made."""
    out = dict(findings)
    placed = {criterion_of(name) for name in findings if name != criterion_of(name)}
    for (criterion, side), weight in weights.items():
        if criterion in placed:  # its places are drawn one by one
            continue
        said = findings.get(criterion)
        drawn = rng.random()
        if said is not None and said[1] == Verdict.MET and drawn < weight.raised:
            verdict = Verdict.MISSED if drawn < weight.missed else Verdict.BORDERLINE
            out[criterion] = (criterion, verdict.value, side.value, said[3])
    for name in placed:  # it is raised as far as its worst place
        worst = max((said for key, said in out.items() if key != name and criterion_of(key) == name), key=_rank)
        if _rank(worst) > _rank(out[name]):
            out[name] = (name, *worst[1:])
    return out
