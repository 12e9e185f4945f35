"""Which rungs of the Doppler ladder a plan's step asks for in one animal: always, or because of a jet or a wrap."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from fanlight.heart.blood.circulation import Circulation
from fanlight.reference.plans import Plan, Step
from fanlight.reference.views import View
from fanlight.simulate.clip.doppler_setting import has_jet
from fanlight.study import Mode, Rung, Valve

_MODES = {
    Rung.COLOUR: Mode.COLOUR,
    Rung.PULSED_WAVE: Mode.PULSED_WAVE,
    Rung.CONTINUOUS_WAVE: Mode.CONTINUOUS_WAVE,
}


class Why(StrEnum):
    """Why a rung belongs to a study."""

    ASKED = "the plan asks for it"
    JET = "colour shows a jet"
    WRAPS = "pulsed wave wraps"
    BESIDE = "stored beside the plan"


class Lost(StrEnum):
    """Why a rung is not stored."""

    HAND = "the hand left it out"
    NOT_MET = "the flow is not met in this picture"


@dataclass(frozen=True, slots=True, kw_only=True)
class WantedRung:
    """One rung that belongs to a study."""

    view: str
    mode: Mode
    valve: Valve
    why: Why


@dataclass(frozen=True, slots=True, kw_only=True)
class MissingRung:
    """One rung that belongs to a study and is not in it."""

    rung: WantedRung
    lost: Lost


def asked_rungs(step: Step, mode: Mode) -> Iterator[WantedRung]:
    """Yield what a step asks for in this mode whatever is found."""
    for rung, valves in step.doppler:
        if _MODES[rung] is mode:
            yield from (WantedRung(view=step.view, mode=mode, valve=valve, why=Why.ASKED) for valve in valves)


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """Pulsed and continuous wave of a valve, stored in one view though the plan does not ask for them."""

    view: str
    valve: Valve


class NoSpectraError(ValueError):
    """No view of the plan carries the spectra that were wished for."""

    def __init__(self, valve: Valve, plan: str, able: Sequence[Valve]) -> None:
        others = ", ".join(able) or "none"
        super().__init__(
            f"no view of the plan {plan!r} carries pulsed wave of the {valve} valve; valves that one carries: {others}"
        )


def spectra_beside(plan: Plan, views: Mapping[str, View], valves: Sequence[Valve]) -> tuple[Beside, ...]:
    """Return where the spectra of these valves are stored: in the first view of the plan that carries pulsed wave.

    Raises
    ------
    NoSpectraError
        If no view of the plan carries it.
    """
    able = {valve: step.view for step in reversed(plan.steps) for valve in views[step.view].valves_at(Rung.PULSED_WAVE)}
    for valve in valves:
        if valve not in able:
            raise NoSpectraError(valve, plan.key, [each for each in Valve if each in able])
    return tuple(Beside(view=able[valve], valve=valve) for valve in dict.fromkeys(valves))


def beside_rungs(step: Step, mode: Mode, beside: Sequence[Beside]) -> Iterator[WantedRung]:
    """Yield the spectra of this mode that are stored in a step's view though its plan does not ask for them."""
    rung = next(rung for rung, each in _MODES.items() if each is mode)
    if rung is Rung.COLOUR:
        return
    for each in beside:
        if each.view == step.view and each.valve not in step.valves_at(rung):
            yield WantedRung(view=step.view, mode=mode, valve=each.valve, why=Why.BESIDE)


def needed_rungs(step: Step, mode: Mode, circulation: Circulation, wrapped: Collection[Valve]) -> Iterator[WantedRung]:
    """Yield what a step asks for in this mode only because of what is found: a jet, or pulsed wave that wraps.

    The rules are those of the ladder: a jet wants continuous wave, and so does pulsed wave that reaches the end of its
    scale. A plan says at which valves of which view it wants them then.
    """
    for rung, valves in step.if_needed:
        if _MODES[rung] is not mode:
            continue
        for valve in valves:
            if has_jet(circulation, valve):
                yield WantedRung(view=step.view, mode=mode, valve=valve, why=Why.JET)
            elif mode is Mode.CONTINUOUS_WAVE and valve in wrapped:
                yield WantedRung(view=step.view, mode=mode, valve=valve, why=Why.WRAPS)
