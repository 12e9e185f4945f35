"""M-mode strips through the mitral valve of simulated animals, with the tissue along the cursor as the truth."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import sample
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
from measure._m_mode_strips import COLUMN_MS, DYNAMIC_RANGE_DB, GAIN_SD_DB, R_SD_MS, STRIP_MS

VIEWS = ("right_parasternal_long_axis_outflow", "right_parasternal_short_axis_mitral_valve")
_ABOUT_E_MS = 50.0  # from the widest opening of the valve: the leaflet is nearest to the septum within it


@dataclass(frozen=True, kw_only=True, eq=False)
class ValveStrip:
    """A strip and what lies along its cursor.

    Attributes
    ----------
    true_mm : tuple of float
        Of each whole beat: from the left side of the septum to the septal leaflet where that is nearest to the probe
        about the widest early opening; NaN where the cursor meets no septum or no leaflet then.
    """

    levels: NDArray[np.uint8]
    mm_per_row: float
    ms_per_col: float
    r_times_ms: tuple[float, ...]  # as read off a screen
    true_mm: tuple[float, ...]
    heart: str
    species: str
    weight_kg: float


def draw_mitral_strip(seed: int, ring: Ring, view: str) -> ValveStrip:
    """Return the strip of a subject: a steady hand's, with sweep, gain and dynamic range at random.

    Raises
    ------
    ValueError
        If the animal cannot be scanned in this view.
    """
    rng = np.random.default_rng([seed, 29])
    subject = draw_subject(seed, ring)
    setting = steady_setting(
        subject.animal, view, mode=Mode.M_MODE, probe=subject.generator.probe, console=subject.generator.console
    )
    gain_db = setting.console.gain_db + float(rng.normal(0, GAIN_SD_DB))
    console = replace(setting.console, gain_db=gain_db, dynamic_range_db=float(rng.choice(DYNAMIC_RANGE_DB)))
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
    return ValveStrip(
        levels=levels, mm_per_row=strip.depth_mm / len(levels), ms_per_col=column_ms,
        r_times_ms=tuple(t + float(rng.normal(0, R_SD_MS)) for t in r_times),
        true_mm=_true_mm(subject, setting, film, strip.times_ms, r_times, len(levels)),
        heart=subject.animal.heart.value, species=subject.animal.species.value, weight_kg=subject.animal.weight_kg,
    )  # fmt: skip


def _r_times(film: Film, times_ms: tuple[float, ...]) -> tuple[float, ...]:
    """Return when beats begin, from the middle of the first column, to a millisecond."""
    moments = np.arange(times_ms[0], times_ms[-1] + 0.5, 1.0)
    phase = np.array([film.state_at(float(t)).phase for t in moments])
    return tuple(float(moments[k + 1] - times_ms[0]) for k in np.flatnonzero(np.diff(phase) < -0.5))


def _true_mm(
    subject: Subject,
    setting: ClipSetting,
    film: Film,
    times_ms: tuple[float, ...],
    r_times_ms: tuple[float, ...],
    n_rows: int,
) -> tuple[float, ...]:
    lines = line_geometry(setting.probe, setting.console)
    depth_mm = (np.arange(n_rows) + 0.5) * setting.console.depth_mm / n_rows
    from_apex, angle = depth_mm + lines.apex_mm, np.radians(setting.cursor_deg)
    along = [from_apex * np.sin(angle), 0 * from_apex, from_apex * np.cos(angle) - lines.apex_mm]
    world = setting.pose.to_patient(np.stack(along, -1))
    septum, leaflet = np.full(len(times_ms), np.nan), np.full(len(times_ms), np.nan)
    opening = np.array([film.state_at(time_ms).mitral_opening for time_ms in times_ms])
    for col, time_ms in enumerate(times_ms):
        tissue = np.asarray(sample(subject.animal, film.state_at(time_ms), *world.T).tissue)
        wall = np.flatnonzero(tissue == Tissue.SEPTUM)
        if not len(wall):
            continue
        septum[col] = wall[-1] + 1
        below = np.flatnonzero(tissue[wall[-1] + 1 :] == Tissue.MITRAL_SEPTAL_LEAFLET)
        leaflet[col] = wall[-1] + 1 + below[0] if len(below) else np.nan
    ms_per_col = times_ms[1] - times_ms[0]
    half, found = round(_ABOUT_E_MS / ms_per_col), []
    for start, end in pairwise(round(r / ms_per_col) for r in r_times_ms):
        widest = start + int(opening[start:end].argmax())
        about = slice(max(widest - half, 0), widest + half + 1)
        if np.isnan(leaflet[about]).all():
            found.append(float("nan"))
            continue
        nearest = about.start + int(np.nanargmin(leaflet[about]))
        found.append(float(leaflet[nearest] - septum[nearest]) * setting.console.depth_mm / n_rows)
    return tuple(found)
