"""M-mode strips of simulated animals along the cursor of a view, and the line that the cursor is in the animal."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fanlight.simulate.clip.film import Film, shoot_times
from fanlight.simulate.clip.picture import scene_of
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.machine.beams import line_geometry
from fanlight.simulate.machine.m_mode import render_m_mode
from fanlight.simulate.steady.steady import steady_setting
from fanlight.study import Mode
from measure._criterion_clips import Subject, draw_subject
from measure._m_mode_strips import COLUMN_MS, DYNAMIC_RANGE_DB, GAIN_SD_DB, R_SD_MS

STRIP_MS = 2200.0  # two whole beats of a calm dog, whatever the moment at which it is frozen


@dataclass(frozen=True, kw_only=True, eq=False)
class CursorStrip:
    """A strip, and where and when each of its pixels lies.

    Attributes
    ----------
    start_mm : ndarray of shape (3,)
        Where the cursor leaves the probe, in the patient.
    along : ndarray of shape (3,)
        Its direction, of length 1.
    times_ms : tuple of float
        Of each column, as `film.state_at` takes it.
    true_r_times_ms, r_times_ms : tuple of float
        R waves from the middle of the first column, as they are and as read off a screen.
    """

    subject: Subject
    film: Film
    levels: NDArray[np.uint8]
    mm_per_row: float
    ms_per_col: float
    start_mm: NDArray[np.float64]
    along: NDArray[np.float64]
    times_ms: tuple[float, ...]
    true_r_times_ms: tuple[float, ...]
    r_times_ms: tuple[float, ...]


def draw_cursor_strip(seed: int, ring: Ring, view: str, stream: int, strip_ms: float = STRIP_MS) -> CursorStrip:
    """Return the strip of a subject: a steady hand's, with sweep, gain and dynamic range at random.

    Raises
    ------
    ValueError
        If the animal cannot be scanned in this view.
    """
    rng = np.random.default_rng([seed, stream])
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
        n_columns=round(strip_ms / column_ms), column_ms=column_ms, start_ms=-min(film.lead_ms, 1500.0),
        contact=setting.contact, table=subject.generator.table(),
    )  # fmt: skip
    levels = np.asarray(strip.levels)
    lines, angle = line_geometry(setting.probe, console), np.radians(setting.cursor_deg)
    from_apex = np.array([lines.apex_mm, lines.apex_mm + 1.0])
    own = np.stack([from_apex * np.sin(angle), 0 * from_apex, from_apex * np.cos(angle) - lines.apex_mm], -1)
    start, ahead = np.asarray(setting.pose.to_patient(own), np.float64)
    r_times = _r_times(film, strip.times_ms)
    return CursorStrip(
        subject=subject, film=film, levels=levels, mm_per_row=strip.depth_mm / len(levels), ms_per_col=column_ms,
        start_mm=start, along=ahead - start, times_ms=strip.times_ms, true_r_times_ms=r_times,
        r_times_ms=tuple(t + float(rng.normal(0, R_SD_MS)) for t in r_times),
    )  # fmt: skip


def _r_times(film: Film, times_ms: tuple[float, ...]) -> tuple[float, ...]:
    """Return when beats begin, from the middle of the first column, to a millisecond."""
    moments = np.arange(times_ms[0], times_ms[-1] + 0.5, 1.0)
    phase = np.array([film.state_at(float(t)).phase for t in moments])
    return tuple(float(moments[k + 1] - times_ms[0]) for k in np.flatnonzero(np.diff(phase) < -0.5))
