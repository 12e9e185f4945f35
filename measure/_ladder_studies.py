"""Studies of one valve composed of kept clips, with rungs left out on purpose: what is true, and what the rules say."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from fanlight.critique.coverage import StoredClip, hold_against_plan
from fanlight.critique.ladder_rules import Said
from fanlight.reference.criteria import read_criteria
from fanlight.reference.ladder import read_ladder
from fanlight.reference.letter import read_letter_limits
from fanlight.reference.plans import read_plans
from fanlight.reference.views import read_views
from fanlight.study import (
    NOT_KNOWN,
    ClipVerdict,
    House,
    Mode,
    ModeReading,
    Purpose,
    Valve,
    ViewReading,
    ViewSource,
)
from fanlight.validity.clip_verdict import judge_clip
from measure._ladder_clips import KeptClip

RULES = ("L1", "L2", "L3", "L4", "L5", "L6", "L7")
PLAN = "cardiology"  # asks for continuous wave of every jet
# Where a valve is looked at from; the second view gives its second window.
VIEWS = {
    Valve.MITRAL: ("left_apical_four_chamber", "right_parasternal_long_axis_four_chamber"),
    Valve.AORTIC: ("left_apical_five_chamber", "left_apical_three_chamber"),
    Valve.TRICUSPID: ("left_apical_four_chamber_right_heart", "left_cranial_long_axis_right_inflow"),
    Valve.PULMONIC: ("right_parasternal_short_axis_pulmonary_artery", "left_cranial_long_axis_right_outflow"),
}
# Shares of studies with each step; engineering judgement: each rule is broken in some, and kept in some.
TWO_D, TWO_D_BAD, NO_SPECTRA, PULSED, MOVED, LINE, SECOND_LINE = 0.8, 0.15, 0.2, 0.85, 0.25, 0.55, 0.5
COLOUR_VIEWS, RUNS_OUT, TORN, NAME_LOST, REPORTED, NO_LEAK, NOT_MEASURED = (
    (0.25, 0.4, 0.35),
    0.35,
    0.15,
    0.2,
    0.5,
    0.4,
    0.4,
)
_SAID_NO_LEAK = ("No {valve} regurgitation.", "Chambers normal, no {valve} insufficiency.")
_SAID_NOT_MEASURED = ("The {valve} jet was not measurable.", "{valve} velocity could not be measured, panting.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """One clip of a study: of Doppler a kept one; of 2-D whether it can be looked at."""

    view: str
    kept: KeptClip | None = None
    is_good: bool = True
    is_named: bool = True  # else nobody said view and valve


@dataclass(frozen=True, slots=True, kw_only=True)
class Composed:
    """A study as it was put together."""

    seed: int
    valve: Valve
    slots: tuple[Slot, ...]
    is_reported: bool
    no_leak: str  # words, "" none
    not_measured: str

    def of(self, *modes: Mode) -> list[Slot]:
        """Return the Doppler clips of these modes."""
        return [slot for slot in self.slots if slot.kept is not None and slot.kept.mode in modes]


def compose(seed: int, clips: Iterable[KeptClip]) -> Composed:
    """Return a study of one valve; valves in turn."""
    rng = np.random.default_rng([seed, 409])
    valve = tuple(Valve)[seed % len(Valve)]
    pool = [clip for clip in clips if clip.valve is valve]
    slots = [*_doppler(pool, VIEWS[valve], rng)]
    for view in dict.fromkeys(slot.view for slot in slots):
        if rng.random() < TWO_D:
            slots.append(Slot(view=view, is_good=rng.random() >= TWO_D_BAD))
    if slots and rng.random() < NAME_LOST:
        lost = int(rng.integers(len(slots)))
        slots[lost] = replace(slots[lost], is_named=False)
    words = [
        texts[int(rng.integers(len(texts)))].format(valve=valve) if rng.random() < share else ""
        for texts, share in ((_SAID_NO_LEAK, NO_LEAK), (_SAID_NOT_MEASURED, NOT_MEASURED))
    ]
    return Composed(
        seed=seed, valve=valve, slots=tuple(slots), is_reported=rng.random() < REPORTED, no_leak=words[0],
        not_measured=words[1],
    )  # fmt: skip


def _doppler(pool: list[KeptClip], views: tuple[str, str], rng: np.random.Generator) -> Iterable[Slot]:
    def drawn(mode: Mode, view: str, *, runs_out: bool = False, is_torn: bool = False) -> list[Slot]:
        fitting = [c for c in pool if c.mode is mode and c.runs_out == runs_out and c.is_torn == is_torn]
        return [Slot(view=view, kept=fitting[int(rng.integers(len(fitting)))])] if fitting else []

    for view in views[: int(rng.choice(3, p=COLOUR_VIEWS))]:
        yield from drawn(Mode.COLOUR, view)
    if rng.random() < NO_SPECTRA:
        return
    if rng.random() < PULSED:
        runs_out = rng.random() < RUNS_OUT
        yield from drawn(Mode.PULSED_WAVE, views[0], runs_out=runs_out)
        if runs_out and rng.random() < MOVED:
            yield from drawn(Mode.PULSED_WAVE, views[0])
    if rng.random() < LINE:
        for view in views[: 2 if rng.random() < SECOND_LINE else 1]:
            runs_out, is_torn = rng.random() < RUNS_OUT, rng.random() < TORN
            yield from drawn(Mode.CONTINUOUS_WAVE, view, runs_out=runs_out, is_torn=is_torn and not runs_out)


def truth_of(study: Composed) -> dict[str, bool]:
    """Return of each rule whether the study breaks it, from what was put in."""
    colour, pulsed, line = (study.of(m) for m in (Mode.COLOUR, Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE))
    spectra = [*pulsed, *line]
    good_2d = {slot.view for slot in study.slots if slot.kept is None and slot.is_good}
    whole = {slot.view for slot in spectra if slot.kept is not None and slot.kept.is_whole}
    runs_out = [slot.kept is not None and slot.kept.runs_out for slot in pulsed]
    return {
        "L1": not {slot.view for slot in (*colour, *spectra)} <= good_2d,
        "L2": bool(spectra) and not colour,
        "L3": any(runs_out) and all(runs_out) and not line,
        "L4": any(slot.kept is not None and slot.kept.has_jet for slot in colour) and not line,
        "L5": study.is_reported and len(whole) < 2,
        "L6": bool(study.no_leak) and len({slot.view for slot in colour}) < 2,
        "L7": bool(study.not_measured) and not spectra,
    }


def tells_of(study: Composed) -> dict[str, list[str]]:
    """Return the clips on which the rules that read findings rest: pulsed strips that run out, colour with a jet."""
    kept = [slot.kept for slot in study.of(Mode.COLOUR, Mode.PULSED_WAVE) if slot.kept is not None]
    return {
        "L3": [clip.name for clip in kept if clip.mode is Mode.PULSED_WAVE and clip.runs_out],
        "L4": [clip.name for clip in kept if clip.has_jet],
    }


def raised_in(study: Composed, house: House) -> dict[str, str]:
    """Return of each rule what the engine says: "sure", "perhaps" or ""."""
    criteria, sure_from = read_criteria(house), read_letter_limits(house).sure_from
    stored = [_stored(number, slot, study.valve, criteria, sure_from) for number, slot in enumerate(study.slots, 1)]
    quantity = read_ladder(house)["L5"].quantities[study.valve][0]
    said = Said(
        reported=((quantity, f"{quantity} 3 m/s"),) if study.is_reported else (),
        reading=" ".join((study.no_leak, study.not_measured)),
    )
    cover = hold_against_plan(read_plans(house)[PLAN], "asked for", read_views(house), house, stored, said)
    found = [item for ladder in cover.ladders if ladder.valve is study.valve for item in ladder.findings]
    out = dict.fromkeys(RULES, "")
    for item in found:
        if out[item.rule] != "sure":
            out[item.rule] = "sure" if item.is_sure else "perhaps"
    return out


def _stored(number: int, slot: Slot, valve: Valve, criteria: Mapping[str, Any], sure_from: float) -> StoredClip:
    view = ViewReading(view=slot.view, source=ViewSource.MENTOR, valve=valve if slot.kept else None)
    if not slot.is_named:
        view = NOT_KNOWN
    key = f"clip{number:02d}"
    if slot.kept is None:
        verdict = ClipVerdict.DIAGNOSTIC if slot.is_good else ClipVerdict.NON_DIAGNOSTIC
        return StoredClip(key=key, view=view, mode=Mode.TWO_D, verdicts=((Purpose.LOOK, verdict),), number=number)
    kept = slot.kept
    findings = tuple(replace(item, clip=key) for item in kept.findings)
    mode = ModeReading(mode=kept.mode_read, probability=1.0, reasons=())
    return StoredClip(
        key=key, view=view, mode=kept.mode_read, number=number,
        verdicts=judge_clip(mode, findings, criteria, sure_from),
        findings=tuple(item for item in findings if item.confidence >= sure_from),
        hints=tuple(item for item in findings if item.confidence < sure_from), n_beats=kept.n_beats,
    )  # fmt: skip
