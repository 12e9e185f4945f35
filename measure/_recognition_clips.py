"""Clips on which the picture network is measured: a subject of a ring, its views by a steady hand, and planes off them.

Subjects and machines are those of the measurement of criteria, so that the figures stand beside each other. The first
frame is the end of diastole, when the trade measures the left ventricle.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from fanlight.heart.rhythm import beats
from fanlight.simulate.clip.clip_setting import ClipSetting, Recording
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.clip.shifted import Generator
from fanlight.simulate.steady.steady import steady_setting
from measure._criterion_clips import MOST_LINES, MOST_SAMPLES, draw_subject
from training.draw import Sample, draw
from training.label_sets import views
from training.randomise import (
    STEADY,
    PoseKind,
    Shot,
    Subject,
    draw_pose,
    name_at,
    scattered,
    subject_of,
)

N_DISPLACED, N_OFF = 6, 6  # of each subject, beside one clip of each view
FRAMES = 6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shown:
    """A clip and what it truly shows."""

    shot: Shot
    sample: Sample


def shots_of(seed: int, ring: Ring) -> list[Shot]:
    """Return all clips of a subject, before they are drawn."""
    drawn = draw_subject(seed, ring)
    subject = subject_of(seed, drawn.animal)
    rng = np.random.default_rng([seed, 131])
    keys = views()
    shots = [shot_of(subject, drawn.generator, view, PoseKind.STANDARD, drawn.start_ms, rng) for view in keys]
    for kind, n in ((PoseKind.DISPLACED, N_DISPLACED), (PoseKind.OFF, N_OFF)):
        shots += [shot_of(subject, drawn.generator, str(rng.choice(keys)), kind, drawn.start_ms, rng) for _ in range(n)]
    return shots


def show(shot: Shot) -> Shown:
    """Draw a clip."""
    rng = np.random.default_rng([shot.subject.seed, views().index(shot.view), list(PoseKind).index(shot.kind), 137])
    return Shown(shot=shot, sample=draw(shot, rng, n_frames=FRAMES))


def shot_of(
    subject: Subject, generator: Generator, view: str, kind: PoseKind, start_ms: float, rng: np.random.Generator
) -> Shot:
    animal = subject.animal
    standard = kind is PoseKind.STANDARD
    pose = scattered(subject, subject.standards[view], STEADY, rng) if standard else draw_pose(subject, view, kind, rng)
    setting = steady_setting(animal, view, probe=generator.probe, console=generator.console)
    rhythm = animal.rhythm
    run = beats(rhythm, start_ms + 2 * 60_000.0 / rhythm.rate_bpm + 1000.0)
    onset_ms = next(beat.onset_ms for beat in run if beat.onset_ms >= start_ms)
    return Shot(
        subject=subject, setting=_spread(replace(setting, pose=pose), rng), start_ms=onset_ms,
        table=generator.table(), kind=kind, view=view, named=name_at(subject, pose, onset_ms),
    )  # fmt: skip


def _spread(setting: ClipSetting, rng: np.random.Generator) -> ClipSetting:
    """Return the setting as steady hands differ: what no mentor would remark on (engineering judgement)."""
    console = setting.console
    depth = console.depth_mm * float(rng.uniform(0.98, 1.08))
    console = replace(
        console,
        depth_mm=depth,
        focus_mm=console.focus_mm * float(rng.uniform(0.9, 1.12)),
        width_deg=min(console.width_deg * float(rng.uniform(0.88, 1.02)), setting.probe.widest_deg),
        n_lines=min(console.n_lines, MOST_LINES),
        n_samples=min(console.n_samples, MOST_SAMPLES),
    )
    return replace(setting, console=console, recording=Recording(beats=1.0))
