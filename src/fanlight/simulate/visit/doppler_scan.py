"""The Doppler part of an examination: after the picture of a view come its rungs, valve by valve."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fanlight.heart.animal import Animal
from fanlight.heart.blood.circulation import Circulation
from fanlight.reference.plans import Step
from fanlight.simulate.clip.clip_setting import ClipSetting, Recording
from fanlight.simulate.clip.doppler_setting import DopplerClip, DopplerSetting, Sought, sought_at, wraps
from fanlight.simulate.steady.doppler_aim import FlowPeak, ModelFlow
from fanlight.simulate.steady.steady_doppler import steady_doppler
from fanlight.simulate.visit.doppler_hand import DopplerHand, with_doppler_faults
from fanlight.simulate.visit.doppler_rungs import (
    Beside,
    Lost,
    MissingRung,
    WantedRung,
    asked_rungs,
    beside_rungs,
    needed_rungs,
)
from fanlight.simulate.visit.hand import Hand
from fanlight.simulate.visit.shot import DopplerShot, MadeFaults, ScatterStep, Shot, scattered, start_ms, with_faults
from fanlight.study import Mode, Valve

_LADDER = (Mode.COLOUR, Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE)  # in this order at each valve of a view
BETWEEN_S = (8.0, 40.0)  # from rung to rung: the probe stays where it is (engineering judgement)
# Slower than this no hand takes a leak for met: its jet runs beside the picture (engineering judgement).
_LEAK_MET_CM_S = 100.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DopplerVisit:
    """What all rungs of one examination have in common."""

    animal: Animal
    circulation: Circulation
    flow: ModelFlow
    hand: Hand
    doppler_hand: DopplerHand
    beside: tuple[Beside, ...] = ()  # spectra that are stored though no step asks for them


@dataclass(frozen=True, slots=True, kw_only=True)
class _Aimed:
    """A rung on the picture as the hand has it."""

    clip: ClipSetting
    scatter: tuple[ScatterStep, ...]
    faults: MadeFaults
    doppler: DopplerSetting
    peak: FlowPeak | None


def with_rungs(
    visit: DopplerVisit, steps: Sequence[Step], shots: Sequence[Shot], rng: np.random.Generator
) -> tuple[tuple[Shot, ...], tuple[MissingRung, ...]]:
    """Return the shots of an examination with the rungs of each view behind its last picture, and what is left out.

    Parameters
    ----------
    visit, rng
        As for `rungs_in_view`.
    steps : sequence of Step
        Of the plan.
    shots : sequence of Shot
        Pictures and M-modes; they keep all but their numbers and times.
    """
    last = {shot.setting.view: shot.number for shot in shots if not shot.is_sweep}
    by_view = {step.view: step for step in steps}
    woven: list[Shot] = []
    missing: list[MissingRung] = []
    delay_s = 0.0
    for shot in shots:
        woven.append(replace(shot, number=len(woven) + 1, since_start_s=shot.since_start_s + delay_s))
        step = by_view.get(shot.setting.view)
        if step is None or last.get(step.view) != shot.number:
            continue
        first = next(s for s in shots if s.setting.view == step.view and not s.is_sweep and s.mode is Mode.TWO_D)
        for found in rungs_in_view(visit, step, first.standard, rng):
            if isinstance(found, MissingRung):
                missing.append(found)
                continue
            delay_s += float(rng.uniform(*BETWEEN_S))
            woven.append(replace(found, number=len(woven) + 1, since_start_s=shot.since_start_s + delay_s))
    return tuple(woven), tuple(missing)


def rungs_in_view(
    visit: DopplerVisit, step: Step, standard: ClipSetting, rng: np.random.Generator
) -> Iterator[Shot | MissingRung]:
    """Yield the shots of a view's rungs in the order of the ladder, and the rungs that are left out.

    Their numbers and times are 0: the examination sets them.

    Parameters
    ----------
    visit : DopplerVisit
        Animal, flow and hand.
    step : Step
        The plan's step of this view.
    standard : ClipSetting
        The view's 2-D clip as a steady hand sets it.
    rng : Generator
        Draws scatter, faults and gaps; a stream of its own, so that the 2-D clips of a seed stay the same.
    """
    wrapped: set[Valve] = set()
    for mode in _LADDER:
        beside = tuple(beside_rungs(step, mode, visit.beside))
        needed = [
            rung
            for rung in needed_rungs(step, mode, visit.circulation, wrapped)
            if rung.valve not in {each.valve for each in beside}
        ]
        for rung in (*asked_rungs(step, mode), *beside, *needed):
            is_left_out = rng.random() < visit.doppler_hand.missing_fraction
            aimed = _aimed(visit, rung, standard, rng)
            if aimed is None:
                yield MissingRung(rung=rung, lost=Lost.NOT_MET)
                continue
            if aimed.peak is not None and wraps(aimed.doppler.spectral, aimed.peak.along_cm_s):
                wrapped.add(rung.valve)
            yield MissingRung(rung=rung, lost=Lost.HAND) if is_left_out else _shot(visit, rung, standard, aimed, rng)


def _aimed(visit: DopplerVisit, rung: WantedRung, standard: ClipSetting, rng: np.random.Generator) -> _Aimed | None:
    """Aim at the valve on the picture as this hand has it; where it is not met there, on a better one.

    A hand that does not see the valve goes back towards the standard before it switches Doppler on.
    """
    plain = replace(standard, recording=Recording(is_still=rung.mode is not Mode.COLOUR))
    loose, scatter = scattered(visit.animal, plain, visit.hand, rng)
    faulty, faults = with_faults(visit.animal, loose, visit.hand, rng)
    sought = sought_at(visit.circulation, rung.valve, rung.mode)
    for setting, steps, made in ((faulty, scatter, faults), (loose, scatter, ()), (plain, (), ())):
        try:
            return _aim(visit, rung, sought, setting, steps, made)
        except ValueError:
            continue  # not in this picture
    return None


def _aim(
    visit: DopplerVisit, rung: WantedRung, sought: Sought, setting: ClipSetting, scatter: tuple[ScatterStep, ...],
    faults: MadeFaults,
) -> _Aimed:  # fmt: skip
    """Return the steady Doppler setting on one picture; ValueError where the flow is not met."""
    peak = None
    if rung.mode is not Mode.COLOUR:
        setting = visit.flow.tilted(setting, rung.valve, sought, rung.mode)
        peak = visit.flow.fastest(setting, rung.valve, sought, rung.mode)
        if sought is Sought.LEAK and abs(peak.along_cm_s) < _LEAK_MET_CM_S:
            raise ValueError(f"the leak of the {rung.valve} valve runs beside this picture")
    doppler = steady_doppler(visit.flow, setting, rung.valve, rung.mode, sought)
    return _Aimed(clip=setting, scatter=scatter, faults=faults, doppler=doppler, peak=peak)


def _shot(
    visit: DopplerVisit, rung: WantedRung, standard: ClipSetting, aimed: _Aimed, rng: np.random.Generator
) -> Shot:
    made, faults = with_doppler_faults(
        DopplerClip(clip=aimed.clip, doppler=aimed.doppler), visit.flow, visit.doppler_hand, rng
    )
    heard = visit.flow.heard(made.clip, made.doppler.spectral) if made.doppler.is_spectral else None
    waits = rng.random() < visit.hand.waits_fraction
    return Shot(
        number=0,
        standard=replace(standard, recording=Recording(is_still=made.doppler.is_spectral)),
        setting=made.clip,
        scatter=aimed.scatter,
        faults=(*aimed.faults, *faults),
        start_ms=start_ms(visit.animal, made.clip, rng, waits=waits),
        since_start_s=0.0,
        doppler=DopplerShot(
            standard=aimed.doppler, setting=made.doppler, why=rung.why, peak=aimed.peak, heard=heard
        ),
    )  # fmt: skip
