"""Animals on the table for the measurement of the Doppler criteria: rungs without fault, and the same with one.

A subject is that of the 2-D criteria: an animal with a machine. It is scanned at true standard poses; colour, pulsed
wave, continuous wave and tissue Doppler are set as a steady hand sets them, spread a little. Then one Doppler fault is
put on and nothing else is changed. What is drawn hangs on the seed alone, never on what the criteria are asked.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from fanlight.heart.blood.circulation import Circulation, draw_circulation
from fanlight.simulate.clip.clip_setting import ClipSetting, Recording
from fanlight.simulate.clip.doppler_setting import DopplerClip, DopplerSetting, Sought, sought_at, wraps
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.colour.colour_map import COLOUR_MAPS
from fanlight.simulate.colour.colour_setting import ColourSetting, most_scale_m_s
from fanlight.simulate.faults.doppler_faults import DOPPLER_FAULTS, apply_doppler
from fanlight.simulate.faults.fault import Fault
from fanlight.simulate.spectral.spectral_setting import SpectralSetting, highest_scale_cm_s
from fanlight.simulate.steady.doppler_aim import FlowPeak, ModelFlow, model_flow
from fanlight.simulate.steady.steady_doppler import steady_doppler
from fanlight.study import Mode, Valve
from measure._criterion_clips import MOST_COVERED, Subject, covered_fraction, draw_subject, good_setting

BEATS = 1.25  # of a colour clip: a whole beat wherever it begins
LEAST_LEAK_CM_S = 100.0  # slower than this no hand takes a leak for met (as the simulator's examinations)
APICAL, RIGHT, FIVE = "left_apical_four_chamber", "left_apical_four_chamber_right_heart", "left_apical_five_chamber"
LONG, ARTERY = "right_parasternal_long_axis_four_chamber", "right_parasternal_short_axis_pulmonary_artery"
INFLOW = "left_cranial_long_axis_right_inflow"
# Where plans ask for each rung: in turn over the seeds, so that all come equally often.
PLACES: dict[Mode, tuple[tuple[str, Valve], ...]] = {
    Mode.COLOUR: (
        (APICAL, Valve.MITRAL), (RIGHT, Valve.TRICUSPID), (FIVE, Valve.AORTIC), (ARTERY, Valve.PULMONIC),
        (LONG, Valve.MITRAL), (INFLOW, Valve.TRICUSPID),
    ),
    Mode.PULSED_WAVE: (
        (APICAL, Valve.MITRAL), (FIVE, Valve.AORTIC), (ARTERY, Valve.PULMONIC), (INFLOW, Valve.TRICUSPID),
    ),
    Mode.CONTINUOUS_WAVE: (
        (FIVE, Valve.AORTIC), (APICAL, Valve.MITRAL), (ARTERY, Valve.PULMONIC), (RIGHT, Valve.TRICUSPID),
    ),
    Mode.TISSUE_DOPPLER: ((APICAL, Valve.MITRAL), (RIGHT, Valve.TRICUSPID)),
}  # fmt: skip
BELOW_ONE_OF = 4  # subjects: on one of so many each fault is made at a grade below 3 as well
LONG_ONE_OF = 2  # subjects: a slow sweep takes several strips' time to make
CLAIMED, BELOW = (3, 4, 5), (1, 2)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bench:
    """A subject with its blood, ready to be asked where it flows."""

    subject: Subject
    circulation: Circulation
    flow: ModelFlow

    @property
    def seed(self) -> int:
        """Of the subject."""
        return self.subject.seed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rung:
    """A rung at one valve as a steady hand has it: what its good and its faulty clips share."""

    bench: Bench
    index: int  # among the rungs of the subject
    view: str
    steady: DopplerClip
    peak: FlowPeak | None  # of the flow that is looked for; None for colour and walls

    @property
    def truly_wraps(self) -> bool:
        """Whether what is looked for runs out of the highest scale that its depth allows: no fault of the hand."""
        doppler = self.steady.doppler
        return self.peak is not None and wraps(doppler.spectral, self.peak.along_cm_s)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wanted:
    """One clip to make."""

    rung: Rung
    clip: DopplerClip
    fault: Fault | None

    @property
    def name(self) -> str:
        """Of its file, without ending."""
        fault = "good" if self.fault is None else f"{self.fault.key}-{self.fault.strength}"
        return f"{self.rung.index}-{fault}"


def draw_bench(seed: int, ring: Ring) -> Bench:
    """Return the subject of a seed with its blood."""
    subject = draw_subject(seed, ring)
    circulation = draw_circulation(subject.animal, np.random.default_rng([seed, 19]))
    return Bench(subject=subject, circulation=circulation, flow=model_flow(subject.animal, circulation))


def modes_of(seed: int) -> tuple[Mode, ...]:
    """Return the modes of a subject: colour, pulsed wave, and continuous wave and tissue Doppler in turn."""
    third = Mode.TISSUE_DOPPLER if seed % 3 == 2 else Mode.CONTINUOUS_WAVE
    return Mode.COLOUR, Mode.PULSED_WAVE, third


def rungs_of(bench: Bench) -> list[Rung]:
    """Return the rungs of a subject, in each of its modes the first that is met."""
    found: list[Rung] = []
    for mode in modes_of(bench.seed):
        places = PLACES[mode]
        start = bench.seed + bench.seed // len(places)
        for k in range(len(places)):
            view, valve = places[(start + k) % len(places)]
            rung = steady_rung(bench, len(found), view, valve, mode)
            if rung is not None:
                found.append(rung)
                break
    return found


def steady_rung(
    bench: Bench, index: int, view: str, valve: Valve, mode: Mode, *, looks_for_jet: bool = False
) -> Rung | None:
    """Return a rung as a steady hand has it; None where lung or ribs cover the view, or its flow is not met.

    A hand that looks for a jet tilts the picture to it in colour as well, as for the spectrum of continuous wave.
    """
    subject = bench.subject
    setting = good_setting(subject, view)
    setting = replace(setting, recording=Recording(is_still=mode is not Mode.COLOUR, beats=BEATS))
    if covered_fraction(subject.animal, setting, 0.0) > MOST_COVERED:
        return None
    sought = sought_at(bench.circulation, valve, mode)
    try:
        if mode is Mode.COLOUR and looks_for_jet:
            setting, _ = _aimed(bench, setting, valve, Mode.CONTINUOUS_WAVE, sought)
        setting, peak = _aimed(bench, setting, valve, mode, sought)
        doppler = steady_doppler(bench.flow, setting, valve, mode, sought)
    except ValueError:
        return None  # not in this picture
    rng = np.random.default_rng([bench.seed, index, 23])
    clip = DopplerClip(clip=setting, doppler=_spread(doppler, rng, bench.seed))
    return Rung(bench=bench, index=index, view=view, steady=clip, peak=peak)


def _aimed(
    bench: Bench, setting: ClipSetting, valve: Valve, mode: Mode, sought: Sought
) -> tuple[ClipSetting, FlowPeak | None]:
    if mode in (Mode.COLOUR, Mode.TISSUE_DOPPLER):
        return setting, None  # a wall needs no search
    setting = bench.flow.tilted(setting, valve, sought, mode)
    peak = bench.flow.fastest(setting, valve, sought, mode)
    if sought is Sought.LEAK and abs(peak.along_cm_s) < LEAST_LEAK_CM_S:
        raise ValueError(f"the leak of the {valve} valve runs beside this picture")
    return setting, peak


def _spread(doppler: DopplerSetting, rng: np.random.Generator, seed: int) -> DopplerSetting:
    """Return the setting as steady hands differ. Engineering judgement for all: what no mentor would remark on."""
    machine = doppler.machine
    if isinstance(machine, ColourSetting):
        most = most_scale_m_s(machine.box.far_mm, machine.frequency_mhz)
        spread: ColourSetting | SpectralSetting = replace(
            machine,
            gain_db=machine.gain_db + float(np.clip(rng.normal(-0.5, 0.7), -2.0, 1.0)),
            scale_m_s=min(machine.scale_m_s * float(rng.uniform(0.93, 1.07)), most),
            map_key=sorted(COLOUR_MAPS)[seed % len(COLOUR_MAPS)],
        )
    else:
        scale = machine.scale_cm_s * float(rng.uniform(0.95, 1.12))
        if machine.is_gated:
            scale = min(scale, highest_scale_cm_s(machine.gate_depth_mm, machine.gate_mm, machine.frequency_mhz))
        spread = replace(machine, gain_db=machine.gain_db + float(rng.normal(0, 1.5)), scale_cm_s=scale)
    return replace(doppler, machine=spread)


def wanted_of(rungs: list[Rung]) -> Iterator[Wanted]:
    """Yield every clip of a subject: its rungs without fault, then each fault on one rung that it fits."""
    for rung in rungs:
        yield Wanted(rung=rung, clip=rung.steady, fault=None)
    for at, key in enumerate(DOPPLER_FAULTS):
        yield from _faulty(rungs, key, at)


def grades_of(key: str, seed: int, at: int) -> tuple[int, ...]:
    """Return the grades at which a subject has a fault: one of 3 to 5, now and then one below as well."""
    turn = seed // 7 + seed + at  # all come equally often in each class of heart and at each fault
    claimed = CLAIMED[turn % len(CLAIMED)]
    if key == "spectral_sweep_slow":
        return (claimed,) if seed % LONG_ONE_OF == 0 else ()
    if len(set(DOPPLER_FAULTS[key].steps)) == 1 or turn % BELOW_ONE_OF:
        return (claimed,)
    return claimed, BELOW[turn // BELOW_ONE_OF % len(BELOW)]


def _faulty(rungs: list[Rung], key: str, at: int) -> Iterator[Wanted]:
    if not rungs:
        return
    bench = rungs[0].bench
    fitting = [rung for rung in rungs if DOPPLER_FAULTS[key].fits(rung.steady)]
    for grade in grades_of(key, bench.seed, at):
        rng = np.random.default_rng([bench.seed, at, 29])
        fault = DOPPLER_FAULTS[key].make(grade, bench.subject.animal, rng)
        for k in range(len(fitting)):
            rung = fitting[(bench.seed + at + k) % len(fitting)]
            try:
                clip = apply_doppler(fault, rung.steady, bench.flow)
            except ValueError:
                continue  # no skin, no other flow or no room in this picture
            yield Wanted(rung=rung, clip=clip, fault=fault)
            break
