"""M-mode strips of simulated animals, with the tissue along the cursor as the truth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import Animal
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.held_motion import rest_places, slice_shapes
from fanlight.heart.layout import layout
from fanlight.heart.moving_body import Moment
from fanlight.heart.thorax import heart_shift_mm
from fanlight.heart.tissue import Tissue
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.clip.film import Film, shoot_times
from fanlight.simulate.clip.picture import scene_of
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.machine.beams import line_geometry
from fanlight.simulate.machine.m_mode import render_m_mode
from fanlight.simulate.steady.steady import steady_setting
from fanlight.study import Mode
from measure._criterion_clips import Subject, draw_subject

VIEWS = ("right_parasternal_short_axis_chordae", "right_parasternal_short_axis_papillary_muscles")
STRIP_MS = 1900.0
COLUMN_MS = (2.5, 4.0, 6.0)  # sweeps from fast to slow
GAIN_SD_DB = 4.0  # what a mentor would remark on is 8
DYNAMIC_RANGE_DB = (50.0, 60.0, 70.0)
R_SD_MS = 3.0  # of an R wave that was read off a screen: a pixel
SYSTOLE_SHARES = (0.15, 0.7)  # of a beat: between these the true cavity is smallest
_AT_ONCE = 64  # moments side by side (numerical)
SOLID = (Tissue.SEPTUM, Tissue.LV_FREE_WALL)


@dataclass(frozen=True, kw_only=True, eq=False)
class DrawnStrip:
    """A strip and what lies along its cursor.

    Attributes
    ----------
    true_rows : ndarray of shape (4, column)
        Where septum begins and ends, free wall begins and ends; NaN where the cursor misses one.
    """

    levels: NDArray[np.uint8]
    mm_per_row: float
    ms_per_col: float
    true_r_times_ms: tuple[float, ...]
    r_times_ms: tuple[float, ...]  # as read off a screen
    true_rows: NDArray[np.float64]
    heart: str
    species: str
    weight_kg: float
    gain_db: float


def draw_strip(seed: int, ring: Ring) -> DrawnStrip:
    """Return the strip of a subject: a steady hand's, with sweep, gain and dynamic range at random."""
    rng = np.random.default_rng([seed, 23])
    subject = draw_subject(seed, ring)
    setting = _setting(subject)
    gain_db = float(rng.normal(0, GAIN_SD_DB))
    console = replace(
        setting.console,
        gain_db=setting.console.gain_db + gain_db,
        dynamic_range_db=float(rng.choice(DYNAMIC_RANGE_DB)),
    )
    setting = replace(setting, console=console)
    column_ms = float(rng.choice(COLUMN_MS))
    film = shoot_times(subject.animal, setting, start_ms=subject.start_ms)
    strip = render_m_mode(
        scene_of(subject.animal, setting), setting.pose, setting.probe, console, setting.cursor_deg, film.state_at, rng,
        n_columns=round(STRIP_MS / column_ms), column_ms=column_ms, start_ms=-min(film.lead_ms, 1500.0),
        contact=setting.contact, table=subject.generator.table(),
    )  # fmt: skip
    levels = np.asarray(strip.levels)
    r_times = _r_times(film, strip.times_ms)
    return DrawnStrip(
        levels=levels, mm_per_row=strip.depth_mm / len(levels), ms_per_col=column_ms, true_r_times_ms=r_times,
        r_times_ms=tuple(t + float(rng.normal(0, R_SD_MS)) for t in r_times),
        true_rows=_true_rows(subject, setting, film, strip.times_ms, len(levels)),
        heart=subject.animal.heart.value, species=subject.animal.species.value, weight_kg=subject.animal.weight_kg,
        gain_db=gain_db,
    )  # fmt: skip


def _setting(subject: Subject) -> ClipSetting:
    """Return the setting at the chords, or at the papillary muscles where the animal's chest hides the chords."""
    fault: ValueError | None = None
    for view in VIEWS:
        try:
            return steady_setting(
                subject.animal, view, mode=Mode.M_MODE, probe=subject.generator.probe, console=subject.generator.console
            )
        except ValueError as err:
            fault = err
    raise ValueError(f"seed {subject.seed}: no M-mode line through both ventricles: {fault}")


def _r_times(film: Film, times_ms: tuple[float, ...]) -> tuple[float, ...]:
    """Return when beats begin, from the middle of the first column, to a millisecond."""
    moments = np.arange(times_ms[0], times_ms[-1] + 0.5, 1.0)
    phase = np.array([film.state_at(float(t)).phase for t in moments])
    return tuple(float(moments[k + 1] - times_ms[0]) for k in np.flatnonzero(np.diff(phase) < -0.5))


def _true_rows(
    subject: Subject, setting: ClipSetting, film: Film, times_ms: tuple[float, ...], n_rows: int
) -> NDArray[np.float64]:
    lines = line_geometry(setting.probe, setting.console)
    depth_mm = (np.arange(n_rows) + 0.5) * setting.console.depth_mm / n_rows
    from_apex, angle = depth_mm + lines.apex_mm, np.radians(setting.cursor_deg)
    along = [from_apex * np.sin(angle), 0 * from_apex, from_apex * np.cos(angle) - lines.apex_mm]
    world = setting.pose.to_patient(np.stack(along, -1))
    out = np.full((4, len(times_ms)), np.nan)
    for col, tissue in enumerate(tissue_along(subject.animal, [film.state_at(t) for t in times_ms], world)):
        for k, kind in enumerate(SOLID):
            found = np.flatnonzero(tissue == kind)
            if len(found) and (tissue == Tissue.LV_CAVITY).any():
                out[2 * k : 2 * k + 2, col] = found[0], found[-1] + 1
    return out


def tissue_along(animal: Animal, states: Sequence[CycleState], points: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Return the tissue (state, point) at points of shape (point, 3) of the patient frame, mm; 0 beside the heart.

    All moments are sliced side by side, which is as `sample` slices each but for the rounding of a place on a border.
    """
    parts = [_slices(animal, states[k : k + _AT_ONCE], points) for k in range(0, len(states), _AT_ONCE)]
    return np.concatenate(parts) if parts else np.empty((0, len(points)), np.uint8)


def _slices(animal: Animal, states: Sequence[CycleState], points: NDArray[np.float64]) -> NDArray[np.uint8]:
    moments = []
    for state in states:
        x, y, z = (float(each) for each in heart_shift_mm(animal.thorax, state.breath))
        moments.append(
            Moment(
                anatomy=animal.anatomy, at_ms=state.time_ms, step_s=0.0, state=state, later=state,
                shift_mm=(x, y, z), breath_mm_s=(0.0, 0.0, 0.0),
            )
        )  # fmt: skip
    hearts = [layout(animal.anatomy, state) for state in states]
    _, rests = rest_places(moments, (points[:, 0], points[:, 1], points[:, 2]))
    return np.asarray(slice_shapes(hearts, range(len(states)), rests)[0], np.uint8)


def true_distances(strip: DrawnStrip) -> list[dict[str, float]]:
    """Return the six distances of each whole beat, mm: end-diastole at R, end-systole where the cavity is smallest."""
    start, end, endocardium, epicardium = strip.true_rows * strip.mm_per_row
    spans = {"lvid": endocardium - end, "ivs": end - start, "lvw": epicardium - endocardium}
    beats: list[dict[str, float]] = []
    for first, last in pairwise(r / strip.ms_per_col for r in strip.true_r_times_ms):
        low, high = (round(first + share * (last - first)) for share in SYSTOLE_SHARES)
        cavity = spans["lvid"][low : high + 1]
        if not np.isfinite(cavity).any():
            beats.append({})
            continue
        moments = {"d": round(first), "s": low + int(np.nanargmin(cavity))}
        beats.append({name + at: float(span[col]) for name, span in spans.items() for at, col in moments.items()})
    return beats
