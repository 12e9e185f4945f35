"""M-mode: one line again and again, painted side by side over time."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from fanlight.heart.cycle_state import CycleState
from fanlight.heart.pose import Pose
from fanlight.simulate.machine.beams import LineGeometry, line_geometry
from fanlight.simulate.machine.console import Console
from fanlight.simulate.machine.contact import FULL_CONTACT, Contact
from fanlight.simulate.machine.image_former import AnatomyView, amplitudes, make_former
from fanlight.simulate.machine.probe import SPEED_MM_S, Probe
from fanlight.simulate.machine.receive import levels, quantise
from fanlight.simulate.machine.scene import Scene
from fanlight.simulate.machine.tissue_echo import EchoTable

Array = Any

_NEIGHBOURS = 8  # lines on either side of the cursor that its beam gathers from
_MOMENTS_AT_ONCE = 32  # blurred together


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MMode:
    """A strip as the machine forms it."""

    levels: Array  # uint8 (depth, column)
    times_ms: tuple[float, ...]  # of each column
    ms_per_px: float
    depth_mm: float
    cursor_deg: float  # from the central beam, positive towards the marker


def ms_per_px(sweep_mm_s: float, strip_px_per_mm: float) -> float:
    """Return the time of one column at a sweep speed, for a strip painted at this many pixels a millimetre of paper."""
    if sweep_mm_s <= 0 or strip_px_per_mm <= 0:
        raise ValueError(f"sweep speed and scale must lie above 0, got {sweep_mm_s} mm/s and {strip_px_per_mm} px/mm")
    return 1000.0 / (sweep_mm_s * strip_px_per_mm)


def render_m_mode(
    scene: Scene,
    pose: Pose | Callable[[float], Pose],
    probe: Probe,
    console: Console,
    cursor_deg: float,
    state_at: Callable[[float], CycleState],
    rng: np.random.Generator,
    *,
    n_columns: int,
    column_ms: float,
    start_ms: float = 0.0,
    pulses_a_column: int = 1,
    contact: Contact = FULL_CONTACT,
    table: EchoTable | None = None,
    xp: Any = np,
) -> MMode:
    """Return the strip of a cursor that lies `cursor_deg` from the central beam.

    Parameters
    ----------
    scene, pose, probe, console, contact, table, xp
        As for `b_mode.render`. With a generator of the same seed the speckle is that of the 2-D picture.
    cursor_deg : float
        Angle of the cursor, positive towards the marker; must lie in the sector.
    state_at : function of time in ms
        The heart at any moment.
    n_columns : int
        Width of the strip, px.
    column_ms : float
        Time of one column, ms; see `ms_per_px`.
    start_ms : float
        Time of the first column.
    pulses_a_column : int
        Averaged into a column, spread over its time, as far as there is time for them: steep slopes come out smoother,
        at the price of as many times the work.

    Raises
    ------
    ValueError
        If the cursor lies outside the sector, or the strip has no columns.
    """
    lines = line_geometry(probe, console)
    if not lines.left_deg <= cursor_deg <= lines.right_deg:
        raise ValueError(
            f"M-mode cursor must lie in the sector, {lines.left_deg:.0f} to {lines.right_deg:.0f} degrees, "
            f"got {cursor_deg:.1f}; move it or widen the sector"
        )
    if n_columns < 1 or column_ms <= 0:
        raise ValueError(f"an M-mode strip needs columns that last, got {n_columns} of {column_ms} ms")
    pose_at = pose if callable(pose) else (lambda _: pose)
    one_look = replace(console, n_looks=1)  # the beam stays where it is
    narrow = _about(lines, cursor_deg)
    former = make_former(xp, probe, one_look, narrow, pose_at(start_ms), contact, rng, table)
    view = AnatomyView(scene, former.grid, xp)
    pulse_ms = 1000 * 2 * console.depth_mm / SPEED_MM_S
    each = max(1, min(pulses_a_column, int(column_ms / pulse_ms)))
    moments = [start_ms + (i + (k + 0.5) / each) * column_ms for i in range(n_columns) for k in range(each)]
    columns: list[Array] = []
    for first in range(0, len(moments), _MOMENTS_AT_ONCE):
        batch = moments[first : first + _MOMENTS_AT_ONCE]
        seen = [view.seen(state_at(time_ms), pose_at(time_ms)) for time_ms in batch]
        columns.extend(levels(xp, former.receiver, a)[:, _NEIGHBOURS] for a in amplitudes(former, seen, rng))
    strip = xp.stack(columns, axis=1)
    if each > 1:
        strip = xp.mean(xp.reshape(strip, (strip.shape[0], n_columns, each)), axis=2)
    return MMode(
        levels=quantise(xp, strip),
        times_ms=tuple(start_ms + (i + 0.5) * column_ms for i in range(n_columns)),
        ms_per_px=column_ms,
        depth_mm=console.depth_mm,
        cursor_deg=cursor_deg,
    )


def _about(lines: LineGeometry, cursor_deg: float) -> LineGeometry:
    """Return the few lines about the cursor, as far apart as those of the picture."""
    step = math.degrees(lines.line_rad)
    half = (_NEIGHBOURS + 0.5) * step
    return replace(lines, left_deg=cursor_deg - half, right_deg=cursor_deg + half, n_lines=2 * _NEIGHBOURS + 1)
