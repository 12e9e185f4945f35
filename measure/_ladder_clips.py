"""What was said of simulated Doppler clips, with what is true of each for the rules of the ladder."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from fanlight.critique.doppler.beats_on_strip import beats_on_strip
from fanlight.critique.doppler.confidence import CONFIDENCE, UNMEASURED
from fanlight.frames.doppler.spectrum import SpectralAxes, find_axes
from fanlight.heart.blood.circulation import Circulation, draw_circulation
from fanlight.simulate.clip.doppler_setting import has_jet
from fanlight.simulate.clip.ring import Ring
from fanlight.study import Criterion, Finding, Layout, Mode, Valve, Verdict
from fanlight.study.codec import from_plain
from measure._criterion_clips import draw_subject

MODES = (Mode.COLOUR, Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE)
_PLAIN = 3  # grade from which a fault is plain to an eye that knows
_RUNS_OUT = ("spectral_scale_low", "baseline_misplaced")
_TORN = ("spectral_gain_low",)
LEAST_BEATS = 3  # common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptClip:
    """One clip: what is true of it, and what was said of it."""

    name: str  # animal and file
    valve: Valve
    mode: Mode
    mode_read: Mode | None
    runs_out: bool  # of its scale
    is_torn: bool  # its envelope is
    has_jet: bool  # in colour: the valve leaks, or its tract is narrow
    true_beats: float  # that a strip holds
    findings: tuple[Finding, ...]
    n_beats: float | None  # as the engine counts them

    @property
    def is_whole(self) -> bool:
        """Whether a velocity can stand on it, from one window."""
        return not self.runs_out and not self.is_torn and self.true_beats >= LEAST_BEATS


@dataclass(frozen=True, slots=True, kw_only=True)
class _Animal:
    circulation: Circulation
    rr_ms: float


def _drawn(seed: int, ring: Ring) -> _Animal:
    """Return the blood and the beat of a subject, as its clips were made with."""
    animal = draw_subject(seed, ring).animal
    circulation = draw_circulation(animal, np.random.default_rng([seed, 19]))
    return _Animal(circulation=circulation, rr_ms=animal.rhythm.rr_ms)


def read_clips(answers: Path, looks: Path, ring: Ring, criteria: Mapping[str, Criterion]) -> tuple[KeptClip, ...]:
    """Return the clips of a ring whose truth for the ladder is plain: good ones, and those that run out or are torn.

    Parameters
    ----------
    answers, looks : Path
        Folders of `measure.doppler_criteria`, a file an animal: what was said, and what stands where on each screen.
    ring : Ring
    criteria : mapping of str to Criterion
        Of the House.

    Raises
    ------
    SystemExit
        If there are no answers on this ring, or no looks beside them.
    """
    files = sorted(answers.glob(f"{ring.value}-*.json"))
    missing = [file.name for file in files if not (looks / file.name).is_file()]
    if not files or missing:
        what = f"{looks} holds no {missing[0]}" if missing else f"{answers} holds no answers on ring {ring.value}"
        raise SystemExit(f"{what}: run python -m measure.doppler_criteria first")
    found: list[KeptClip] = []
    for file in files:
        layouts = json.loads((looks / file.name).read_text("utf-8"))
        animal = _drawn(int(file.stem.split("-")[1]), ring)
        for row in json.loads(file.read_text("utf-8")):
            layout = from_plain(layouts[row["truth"]["file"]]["layout"], Layout)
            found += _kept(row, layout, animal, criteria)
    return tuple(found)


def _kept(
    row: dict[str, Any], layout: Layout, animal: _Animal, criteria: Mapping[str, Criterion]
) -> Iterator[KeptClip]:
    truth = row["truth"]
    fault, mode = truth["fault"], Mode(truth["mode"])
    if mode not in MODES or (fault and (fault not in (*_RUNS_OUT, *_TORN) or truth["strength"] < _PLAIN)):
        return
    findings = tuple(_finding(answer, criteria) for answer in row["answers"])
    axes, valve = find_axes(layout), Valve(truth["valve"])
    strip_ms = axes.box.width_px * axes.ms_per_px if isinstance(axes, SpectralAxes) else 0.0
    yield KeptClip(
        name=f"{truth['seed']}/{truth['file']}", valve=valve, mode=mode,
        mode_read=Mode(row["mode_read"]) if row["mode_read"] else None,
        runs_out=fault in _RUNS_OUT or bool(truth["truly_wraps"]), is_torn=fault in _TORN,
        has_jet=mode is Mode.COLOUR and has_jet(animal.circulation, valve), true_beats=strip_ms / animal.rr_ms,
        findings=findings, n_beats=beats_on_strip(layout, findings),
    )  # fmt: skip


def _finding(answer: dict[str, Any], criteria: Mapping[str, Criterion]) -> Finding:
    """Return what was said, as sure as the engine calls it."""
    key, verdict = answer["criterion"], Verdict(answer["verdict"])
    confidence = 0.0 if verdict is Verdict.NOT_ASSESSABLE else CONFIDENCE.get(key, UNMEASURED)
    return Finding(
        criterion=key, clip="", value=answer["value"], unit=criteria[key].unit, band=criteria[key].band,
        verdict=verdict, confidence=confidence, reason=answer["reason"],
    )  # fmt: skip
