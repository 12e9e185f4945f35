"""The strip of a spectrum: pulsed wave, continuous wave or tissue Doppler, from a scene and the motion in it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.cycle_state import CycleState
from fanlight.heart.pose import Pose
from fanlight.simulate.machine.beams import line_geometry
from fanlight.simulate.machine.console import Console
from fanlight.simulate.machine.contact import FULL_CONTACT, Contact
from fanlight.simulate.machine.probe import Probe
from fanlight.simulate.machine.receive import TGC_DB_CM_MHZ
from fanlight.simulate.machine.scene import Scene
from fanlight.simulate.machine.tissue_echo import EchoTable
from fanlight.simulate.spectral.spectral_beam import places_of
from fanlight.simulate.spectral.spectral_body import MotionAt, SpectralBody
from fanlight.simulate.spectral.spectral_setting import SpectralSetting, doppler_hz
from fanlight.simulate.spectral.spectral_signal import STEP_MS, Sampling, SignalSource
from fanlight.simulate.spectral.spectrum import (
    baseline_row,
    bins_for,
    filtered,
    grey_levels,
    leaked,
    noise_power,
    power_columns,
    row_velocities_cm_s,
    to_rows,
    window_ms,
)

LEAD_MS = 80.0  # of signal before the first column: the wall filter has settled by then (engineering judgement)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SpectralStrip:
    """A strip as the machine forms it."""

    levels: NDArray[np.uint8]  # (row, column); row 0 at the top
    density: NDArray[np.floating[Any]]  # (row, column) power per Hz before gain and grey; blood in the gate has power 1
    times_ms: tuple[float, ...]  # of each column
    ms_per_px: float
    cm_s_per_px: float  # as displayed: corrected for an angle where one is set
    baseline_px: int  # row of velocity 0
    setting: SpectralSetting

    @property
    def velocities_cm_s(self) -> NDArray[np.floating[Any]]:
        """Displayed velocity of each row, towards the probe positive."""
        rows = row_velocities_cm_s(self.setting, len(self.levels))
        return np.asarray(rows / math.cos(math.radians(self.setting.corrected_deg)))


def render_spectrum(
    scene: Scene,
    motion: MotionAt,
    pose: Pose | Callable[[float], Pose],
    probe: Probe,
    console: Console,
    setting: SpectralSetting,
    state_at: Callable[[float], CycleState],
    rng: np.random.Generator,
    *,
    rows: int,
    n_columns: int,
    column_ms: float,
    start_ms: float = 0.0,
    contact: Contact = FULL_CONTACT,
    table: EchoTable | None = None,
) -> SpectralStrip:
    """Return the strip of a spectrum.

    Parameters
    ----------
    scene, pose, probe, console, contact, table
        As for the picture; the console's depth is the length of the line that a continuous wave hears.
    motion : function of time in ms and x, y, z in mm
        Velocity of what lies at points of the patient frame; asked for some 100 ms before `start_ms` too.
    setting : SpectralSetting
        Gate, scale, filter and display.
    state_at : function of time in ms
        The heart at any moment.
    rows, n_columns : int
        Size of the strip, px.
    column_ms : float
        Time of one column; see `m_mode.ms_per_px`.
    start_ms : float
        Time at the left edge.

    Raises
    ------
    ValueError
        If the cursor lies outside the sector, the gate below the depth shown, or the strip has no rows or columns.
    """
    _check(probe, console, setting, rows, n_columns, column_ms)
    pose_at = pose if callable(pose) else (lambda _: pose)
    places = places_of(probe, console, setting, rng)
    one_of = setting.pulses_kept_one_of
    sample_hz = setting.sample_hz * one_of
    sampling = Sampling(
        sample_hz=sample_hz, frequency_mhz=setting.frequency_mhz,
        band_hz=None if setting.is_gated else _band_hz(setting),
    )  # fmt: skip
    half_ms = window_ms(setting) / 2
    first_ms = start_ms - half_ms - LEAD_MS
    last_ms = start_ms + n_columns * column_ms + half_ms + 1000 / setting.sample_hz
    span_ms = None if callable(pose) else (first_ms, last_ms + STEP_MS)  # of a probe that moves nothing is held
    body = SpectralBody(scene, motion, places, setting, state_at, pose_at, table, span_ms)
    signal = SignalSource(body, sampling, len(places.points_mm), rng).signal(first_ms, last_ms)
    lifted = max(1 - contact.lifted_fraction, 1e-3)  # elements that still hear, sending and listening
    signal = signal * np.float32(10 ** (-2 * contact.overall_loss_db / 20) * lifted**2)
    depth_gain_db = 2 * TGC_DB_CM_MHZ * setting.frequency_mhz * setting.gate_depth_mm / 10
    noise = rng.standard_normal((2, len(signal))).astype(np.float32)
    signal = signal + (noise[0] + 1j * noise[1]) * np.float32(math.sqrt(noise_power(setting, depth_gain_db) / 2))
    clean = leaked(filtered(signal, setting, sample_hz)[::one_of])

    times = start_ms + (np.arange(n_columns) + 0.5) * column_ms
    middles = np.rint((times - first_ms) / 1000 * setting.sample_hz).astype(np.intp)
    n_window = max(8, round(window_ms(setting) / 1000 * setting.sample_hz))
    density = power_columns(clean, setting.sample_hz, middles, n_window, bins_for(n_window, rows))
    density = to_rows(density, setting, setting.sample_hz, rows)
    return SpectralStrip(
        levels=grey_levels(density, setting),
        density=density,
        times_ms=tuple(float(t) for t in times),
        ms_per_px=column_ms,
        cm_s_per_px=2 * setting.scale_cm_s / rows / math.cos(math.radians(setting.corrected_deg)),
        baseline_px=baseline_row(setting, rows),
        setting=setting,
    )


def _band_hz(setting: SpectralSetting) -> tuple[float, float]:
    """Return the shifts, towards the probe positive, that the display has room for."""
    above = setting.baseline_fraction if not setting.is_inverted else 1 - setting.baseline_fraction
    span = 2 * setting.scale_cm_s
    return (
        doppler_hz((above - 1) * span, setting.frequency_mhz),
        doppler_hz(above * span, setting.frequency_mhz),
    )


def _check(
    probe: Probe, console: Console, setting: SpectralSetting, rows: int, n_columns: int, column_ms: float
) -> None:
    lines = line_geometry(probe, console)
    if not lines.left_deg <= setting.cursor_deg <= lines.right_deg:
        raise ValueError(
            f"the Doppler cursor must lie in the sector, {lines.left_deg:.0f} to {lines.right_deg:.0f} degrees, "
            f"got {setting.cursor_deg:.1f}; move it or widen the sector"
        )
    if setting.deepest_mm > console.depth_mm:
        raise ValueError(
            f"the gate ends at {setting.deepest_mm:.1f} mm, below the depth shown ({console.depth_mm:.1f} mm); "
            "move it up or show more depth"
        )
    if rows < 2 or n_columns < 1 or column_ms <= 0:
        raise ValueError(
            f"a spectrum needs two rows and columns that last, got {rows} rows and {n_columns} columns of "
            f"{column_ms} ms"
        )
