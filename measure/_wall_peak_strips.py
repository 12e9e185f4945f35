"""M-mode strips of the ventricle with the cursor laid right and laid wrong, and when both walls are truly inmost."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from fanlight.heart.animal import sample
from fanlight.heart.tissue import Tissue
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.clip.film import Film, shoot_times
from fanlight.simulate.clip.picture import scene_of
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.machine.beams import line_geometry
from fanlight.simulate.machine.m_mode import render_m_mode
from fanlight.simulate.steady.steady import steady_setting
from fanlight.study import (
    Box,
    DrawnMark,
    Layout,
    MarkKind,
    Mode,
    PhysicalUnit,
    Point,
    Region,
    RegionReading,
    SpatialFormat,
)
from measure._criterion_clips import Subject, draw_subject
from measure._m_mode_strips import COLUMN_MS, DYNAMIC_RANGE_DB, GAIN_SD_DB, R_SD_MS, STRIP_MS

CHORDS, MUSCLES = "right_parasternal_short_axis_chordae", "right_parasternal_short_axis_papillary_muscles"
# Where the cursor lies: the view, and by how much its beam is turned in the plane, to one side or the other.
PLACES = {
    "through the middle, at the chords": (CHORDS, 0.0),
    "turned by 4°": (CHORDS, 4.0),
    "at the papillary muscles": (MUSCLES, 0.0),
}
_STREAM = 41
_STEP_MM, _STEP_MS = 0.1, 5.0  # along the cursor, and over time
_EVEN_MS = 8.0
_WITHIN_SHARES = (0.15, 0.85)  # of a beat, as they are looked for
GUIDE_MM_PER_PX = 0.3  # of a guide picture beside a strip: some 300 rows for 90 mm
_HALF_LINE_MM = 7.5  # of the line that a person lays along the septum
_HAND_PX = 1.0  # of each of its ends


@dataclass(frozen=True, kw_only=True, eq=False)
class PeakStrip:
    """A strip, the guide with its lines, and the truth.

    Attributes
    ----------
    layout, septum : Layout, tuple of DrawnMark
        The guide as a file states it, and the line along the septum as a hand lays it; none where the plane shows no
        septum beside the cursor.
    true_percent : float
        By how much of the beat the free wall along the cursor is inmost after the septum, mean of the beats; NaN where
        the cursor misses one.
    """

    levels: NDArray[np.uint8]
    mm_per_row: float
    ms_per_col: float
    r_times_ms: tuple[float, ...]
    layout: Layout
    septum: tuple[DrawnMark, ...]
    true_percent: float


def draw_peak_strips(seed: int, ring: Ring) -> Iterator[tuple[str, Subject, PeakStrip | str]]:
    """Yield the strip of each place of one subject, or why it cannot be scanned there."""
    subject = draw_subject(seed, ring)
    for number, (name, (view, turn_deg)) in enumerate(PLACES.items()):
        rng = np.random.default_rng([seed, _STREAM, number])
        try:
            setting = _setting(subject, view, turn_deg * float(rng.choice([-1.0, 1.0])), rng)
        except ValueError as err:
            yield name, subject, str(err)
            continue
        yield name, subject, _drawn(subject, setting, rng)


def _setting(subject: Subject, view: str, turn_deg: float, rng: np.random.Generator) -> ClipSetting:
    generator = subject.generator
    setting = steady_setting(
        subject.animal, view, mode=Mode.M_MODE, probe=generator.probe, console=generator.console
    )  # fmt: skip
    gain_db = setting.console.gain_db + float(rng.normal(0, GAIN_SD_DB))
    console = replace(setting.console, gain_db=gain_db, dynamic_range_db=float(rng.choice(DYNAMIC_RANGE_DB)))
    return replace(setting, console=console, cursor_deg=setting.cursor_deg + turn_deg)


def _drawn(subject: Subject, setting: ClipSetting, rng: np.random.Generator) -> PeakStrip:
    column_ms = max(COLUMN_MS)  # the slowest sweep tells times worst
    film = shoot_times(subject.animal, setting, start_ms=subject.start_ms)
    start_ms = -min(film.lead_ms, 1500.0)
    strip = render_m_mode(
        scene_of(subject.animal, setting), setting.pose, setting.probe, setting.console, setting.cursor_deg,
        film.state_at, rng, n_columns=round(STRIP_MS / column_ms), column_ms=column_ms, start_ms=start_ms,
        contact=setting.contact, table=subject.generator.table(),
    )  # fmt: skip
    r_times = _r_times(film, strip.times_ms)
    return PeakStrip(
        levels=np.asarray(strip.levels), mm_per_row=strip.depth_mm / len(strip.levels), ms_per_col=column_ms,
        r_times_ms=tuple(t + float(rng.normal(0, R_SD_MS)) for t in r_times), layout=_layout(setting),
        septum=_septum_line(subject, setting, film, strip.times_ms[0] + r_times[0], rng),
        true_percent=_true_percent(subject, setting, film, strip.times_ms[0], r_times),
    )  # fmt: skip


def _r_times(film: Film, times_ms: tuple[float, ...]) -> tuple[float, ...]:
    """Return when beats begin, from the middle of the first column, to a millisecond."""
    moments = np.arange(times_ms[0], times_ms[-1] + 0.5, 1.0)
    phase = np.array([film.state_at(float(t)).phase for t in moments])
    return tuple(float(moments[k + 1] - times_ms[0]) for k in np.flatnonzero(np.diff(phase) < -0.5))


def _tissue(subject: Subject, setting: ClipSetting, film: Film, moment_ms: float, angle_deg: float) -> NDArray[np.int_]:
    """Return what lies along a beam of the plane, in steps from the probe on."""
    lines, angle = line_geometry(setting.probe, setting.console), np.radians(angle_deg)
    from_apex = np.arange(0.0, setting.console.depth_mm, _STEP_MM) + lines.apex_mm
    own = [from_apex * np.sin(angle), 0 * from_apex, from_apex * np.cos(angle) - lines.apex_mm]
    points = setting.pose.to_patient(np.stack(own, -1))
    return np.asarray(sample(subject.animal, film.state_at(moment_ms), *points.T).tissue)


def _borders_mm(tissue: NDArray[np.int_]) -> tuple[float, float]:
    """Return where the septum ends and the free wall begins; NaN where there is no such wall or no ventricle."""
    septum, wall = (np.flatnonzero(tissue == kind) for kind in (Tissue.SEPTUM, Tissue.LV_FREE_WALL))
    if not len(septum) or not len(wall) or not (tissue == Tissue.LV_CAVITY).any():
        return float("nan"), float("nan")
    behind = wall[wall > septum[-1]]
    return (septum[-1] + 1) * _STEP_MM, behind[0] * _STEP_MM if len(behind) else float("nan")


def _true_percent(
    subject: Subject, setting: ClipSetting, film: Film, first_ms: float, r_times_ms: tuple[float, ...]
) -> float:
    found: list[float] = []
    for start, end in pairwise(r_times_ms):
        moments = np.arange(start, end, _STEP_MS)
        borders = [
            _borders_mm(_tissue(subject, setting, film, first_ms + float(at), setting.cursor_deg)) for at in moments
        ]
        septum, wall = np.transpose(borders)
        if not np.isfinite([septum, wall]).all():
            return float("nan")
        low, high = (round(share * len(moments)) for share in _WITHIN_SHARES)
        inwards = (gaussian_filter1d(each, _EVEN_MS / _STEP_MS, mode="nearest") for each in (septum, -wall))
        peaks = [low + int(each[low : high + 1].argmax()) for each in inwards]
        found.append(100.0 * (peaks[1] - peaks[0]) * _STEP_MS / (end - start))
    return float(np.mean(found)) if found else float("nan")


def _pixel(setting: ClipSetting, lateral_mm: float, depth_mm: float) -> Point:
    half_cols = setting.console.depth_mm / GUIDE_MM_PER_PX
    return depth_mm / GUIDE_MM_PER_PX, half_cols + lateral_mm / GUIDE_MM_PER_PX


def _on_beam(setting: ClipSetting, angle_deg: float, depth_mm: float) -> Point:
    """Return the pixel of the guide at a depth along a beam."""
    apex_mm = line_geometry(setting.probe, setting.console).apex_mm
    angle = np.radians(angle_deg)
    radius = depth_mm + apex_mm
    return _pixel(setting, float(radius * np.sin(angle)), float(radius * np.cos(angle)) - apex_mm)


def _layout(setting: ClipSetting) -> Layout:
    """Return the guide with its scale and its cursor, as a file states them in whole pixels."""
    depth_mm = setting.console.depth_mm
    rows, cols = (round(size) for size in (depth_mm / GUIDE_MM_PER_PX, 2 * depth_mm / GUIDE_MM_PER_PX))
    (top, left), (bottom, right) = (_on_beam(setting, setting.cursor_deg, share * depth_mm) for share in (0.0, 0.95))
    guide = Region(
        spatial_format=SpatialFormat.TWO_D, data_type=1, box=Box(row0=0, col0=0, row1=rows, col1=cols),
        unit_x=PhysicalUnit.CM, unit_y=PhysicalUnit.CM, delta_x=GUIDE_MM_PER_PX / 10, delta_y=GUIDE_MM_PER_PX / 10,
        reference_row_px=0.0, reference_col_px=0.0, m_line_px=(round(top), round(left), round(bottom), round(right)),
    )  # fmt: skip
    return Layout(
        rows=rows, cols=cols, picture=None, picture_confidence=0.0, picture_reason="", scale=None, scale_reason="",
        regions=(RegionReading(region=guide, trusted=True, reason=""),),
    )  # fmt: skip


def _septum_line(
    subject: Subject, setting: ClipSetting, film: Film, moment_ms: float, rng: np.random.Generator
) -> tuple[DrawnMark, ...]:
    """Return the line of a hand along the left side of the septum, through where the cursor crosses it."""
    at, _ = _borders_mm(_tissue(subject, setting, film, moment_ms, setting.cursor_deg))
    if not np.isfinite(at):
        return ()
    radius_mm = at + line_geometry(setting.probe, setting.console).apex_mm
    aside_deg = float(np.degrees(np.arctan(_HALF_LINE_MM / radius_mm)))
    ends: list[Point] = []
    for angle_deg in (setting.cursor_deg - aside_deg, setting.cursor_deg + aside_deg):
        depth_mm, _ = _borders_mm(_tissue(subject, setting, film, moment_ms, angle_deg))
        if not np.isfinite(depth_mm):
            return ()
        row, col = _on_beam(setting, angle_deg, depth_mm)
        ends.append((row + float(rng.normal(0, _HAND_PX)), col + float(rng.normal(0, _HAND_PX))))
    return (DrawnMark(kind=MarkKind.LINE, frame=0, points=tuple(ends), landmark="", label="septum line"),)
