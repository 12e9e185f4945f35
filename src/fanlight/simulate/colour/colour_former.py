"""The Doppler half of the machine, put together for one clip: lines of the box, blur of the longer pulse, tables."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.pose import Pose
from fanlight.simulate.colour.colour_beams import ColourGeometry
from fanlight.simulate.colour.colour_setting import ColourSetting
from fanlight.simulate.machine.beam_grid import SIDE_SHARE, BeamGrid
from fanlight.simulate.machine.beams import LineGeometry, line_geometry
from fanlight.simulate.machine.console import Console
from fanlight.simulate.machine.contact import Contact
from fanlight.simulate.machine.echo_field import Medium
from fanlight.simulate.machine.image_former import make_former
from fanlight.simulate.machine.point_spread import SAMPLES_A_ZONE, PointSpread, point_spread, pulse_mm
from fanlight.simulate.machine.probe import Probe
from fanlight.simulate.machine.receive import depth_gain_db
from fanlight.simulate.machine.tissue_echo import EchoTable, echo_table

Floats = NDArray[np.float32]

# Samples a pulse length; at most so many a line, as many as the scene is asked for: both grids are then one.
_SAMPLES_A_PULSE, _MOST_SAMPLES, _LEAST_SAMPLES = 1.7, 160, 64
# Electronic noise under the echo of heart muscle at the face. Higher than in the grey picture: the receiver keeps room
# for strong tissue beside weak blood. Blood of a medium dog at 7 cm then stands some 15 dB above noise, which is what
# makes specks and holes lie within reach of the gain knob (engineering judgement).
NOISE_DB = -68.0
_WEAKEST_FOCUS_DB = -20.0  # below which a beam away from its focus is not made weaker, as in the grey picture
_MARGIN = SAMPLES_A_ZONE  # samples above the box that are formed too, so that the pulse gathers from there


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ColourFormer:
    """All fixed arrays of one clip; packets cover the rows from `first_row` to the end of the lines."""

    setting: ColourSetting
    geometry: ColourGeometry
    grid: BeamGrid
    medium: Medium  # whose blood is silent: what is left is clutter
    blood: Floats  # (256,) amplitude of blood by label
    loss_db_per_unit: float
    first_row: int
    box_row: int  # of the packets: where the box begins
    beam: NDArray[np.float32]  # (line + side line, 3) direction of each line in the probe's frame
    aside: NDArray[np.float32]  # (line + side line, 3) direction across it, in the image plane
    strength: Floats  # (row, line) amplitude over noise: focus and contact
    muscle_db: Floats  # (row, 1) what the machine expects of heart muscle, over noise
    blood_gain: Floats  # (row, line) so that lone scatterers keep their power through the blur
    noise_gain: Floats  # (row, 1)
    axial: Floats  # (row, row)
    lateral: Floats  # (zone, line, line)
    transit: tuple[Floats, Floats, Floats]  # (row, 1) m/s of spread for 1 mm/s along, across, through the slice


def doppler_console(probe: Probe, console: Console, setting: ColourSetting) -> tuple[Probe, Console, LineGeometry]:
    """Return the machine as Doppler uses it: another frequency, a longer pulse, the box's lines down to its far end."""
    sender = replace(probe, pulse_cycles=setting.pulse_cycles)
    box = setting.box
    base = replace(
        console, depth_mm=max(box.far_mm, 10.0), frequency_mhz=setting.frequency_mhz, is_harmonic=False, n_foci=1,
        n_looks=1, steer_deg=0.0, n_lines=setting.n_lines, focus_mm=max(min(console.focus_mm, box.far_mm), 2.0),
    )  # fmt: skip
    wished = box.far_mm / pulse_mm(sender, base) * _SAMPLES_A_PULSE
    n = math.ceil(min(max(wished, _LEAST_SAMPLES), _MOST_SAMPLES) / SAMPLES_A_ZONE) * SAMPLES_A_ZONE
    lines = LineGeometry(
        apex_mm=line_geometry(probe, console).apex_mm, depth_mm=box.far_mm, left_deg=box.left_deg,
        right_deg=box.right_deg, n_samples=n, n_lines=setting.n_lines,
    )  # fmt: skip
    return sender, replace(base, n_samples=n), lines


def make_colour_former(
    probe: Probe, console: Console, setting: ColourSetting, pose: Pose, contact: Contact,
    rng: np.random.Generator, table: EchoTable | None,
) -> ColourFormer:  # fmt: skip
    """Make what is fixed for a clip."""
    sender, sent, lines = doppler_console(probe, console, setting)
    whole = table or echo_table(np)
    former = make_former(np, sender, sent, lines, pose, contact, rng, replace(whole, fluid=np.zeros_like(whole.fluid)))
    spread = point_spread(sender, sent, lines)
    depth = (np.arange(lines.n_samples) + 0.5) * lines.sample_mm
    box_row = int(np.searchsorted(depth, setting.box.near_mm))
    first = max(box_row - _MARGIN, 0) // SAMPLES_A_ZONE * SAMPLES_A_ZONE
    angle = np.concatenate([_angles_rad(lines, lines.n_lines), _angles_rad(lines, former.grid.n_side_lines)])
    zero = np.zeros_like(angle)
    lateral = np.asarray(former.lateral)[first // SAMPLES_A_ZONE :]
    axial = spread.axial[first:, first:]
    gathered = np.repeat((lateral**2).sum(axis=1), SAMPLES_A_ZONE, axis=0)[: lines.n_samples - first]
    along = (axial**2).sum(axis=1)[:, None]
    focus = 10 ** (np.maximum(spread.focal_gain_db, _WEAKEST_FOCUS_DB)[first:, None] / 20)
    level = focus * np.asarray(former.receiver.line_gain) * 10 ** (-NOISE_DB / 20)
    return ColourFormer(
        setting=setting,
        geometry=ColourGeometry(
            apex_mm=lines.apex_mm, first_mm=float(depth[box_row]), step_mm=lines.sample_mm, left_deg=lines.left_deg,
            right_deg=lines.right_deg, n_samples=lines.n_samples - box_row, n_lines=lines.n_lines,
        ),
        grid=former.grid,
        medium=former.medium,
        blood=np.asarray(whole.fluid, np.float32),
        loss_db_per_unit=former.medium.loss_db_per_unit,
        first_row=first,
        box_row=box_row - first,
        beam=np.stack([np.sin(angle), zero, np.cos(angle)], axis=1).astype(np.float32),
        aside=np.stack([np.cos(angle), zero, -np.sin(angle)], axis=1).astype(np.float32),
        strength=level.astype(np.float32),
        muscle_db=(20 * np.log10(focus) - NOISE_DB - depth_gain_db(sent, depth)[first:, None]).astype(np.float32),
        blood_gain=(1 / np.sqrt(gathered * along)).astype(np.float32),
        noise_gain=(1 / np.sqrt(along)).astype(np.float32),
        axial=np.ascontiguousarray(axial),
        lateral=np.ascontiguousarray(lateral),
        transit=_transit(spread, sent, first),
    )  # fmt: skip


# A scatterer that crosses a Gaussian beam of -6 dB width w at v is heard for a while only: its power spectrum has the
# standard deviation √(ln 2) / π · v / w (identity: half-width of a Gaussian and of its transform).
_TRANSIT = math.sqrt(math.log(2)) / math.pi


def _transit(spread: PointSpread, sent: Console, first: int) -> tuple[Floats, Floats, Floats]:
    """Return the spread of velocities (m/s) that a scatterer at 1 mm/s shows because it soon leaves the cell."""
    half_wave_m = 1540.0 / (2 * sent.frequency_mhz * 1e6)
    widths = (spread.axial_mm, spread.lateral_mm, spread.slice_mm)
    along, across, through = (
        (_TRANSIT * half_wave_m / np.asarray(width)[first:, None]).astype(np.float32) for width in widths
    )
    return along, across, through


def _angles_rad(lines: LineGeometry, n: int) -> NDArray[np.float64]:
    """Return the angles of n lines that share the width."""
    return np.asarray(np.radians(lines.left_deg + (np.arange(n) + 0.5) / n * (lines.right_deg - lines.left_deg)))


def packet_rows(former: ColourFormer, sheet: Any) -> NDArray[Any]:
    """Return the rows of the packets of a sheet of all grid points: (row, line + side line), see `BeamGrid`."""
    return np.ascontiguousarray(np.asarray(sheet)[former.first_row :])


def planes_of(former: ColourFormer, sheet: NDArray[Any]) -> tuple[NDArray[Any], NDArray[Any], NDArray[Any]]:
    """Return the middle plane of a sheet of packet rows and, beside each of its cells, both side planes."""
    n = former.grid.n_lines
    cols = np.asarray(former.grid.side_col)
    sides = sheet[:, n:][:, cols]
    first, second = (np.repeat(sides[k::SIDE_SHARE], SIDE_SHARE, axis=0) for k in range(2))
    return sheet[:, :n], first, second
