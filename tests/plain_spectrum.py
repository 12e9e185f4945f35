"""A simulated spectrum as a plain picture: cut out of its screen with its scales and no word; and its truth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fanlight.measure.doppler.case import Signal
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.clip.spectral_clip import motion_before
from fanlight.simulate.screen.ecg_trace import r_wave_times_ms
from fanlight.study import Mode, SpatialFormat, Valve
from measure._doppler_bench import FIVE, draw_bench, steady_rung
from measure._doppler_clips import Camera
from measure._spectral_expected import Asked, expected_values
from measure._spectral_truth import true_flow

SEED = 8  # of ring A: a steady hand meets its aortic outflow
VIEW, VALVE = FIVE, Valve.AORTIC
ABOVE_PX, BELOW_PX, LEFT_PX, RIGHT_PX = 8, 12, 6, 50  # about the strip: its ticks and the digits of its scale
DOWN_PX, ACROSS_PX = 80, 320  # between the marks of an axis


@dataclass(frozen=True, kw_only=True, eq=False)
class PlainSpectrum:
    """The picture, where points of its scales lie on it, and what is true."""

    pixels: NDArray[np.uint8]  # (row, col, 3)
    rows: tuple[float, float]  # of two points of the velocity scale; at the first the velocity is 0
    cm_s: float  # between them
    cols: tuple[float, float]  # of two points of the time scale
    ms: float  # between them
    peak_m_s: float  # of the blood along the beam, by the model


def draw_plain_spectrum() -> PlainSpectrum:
    """Return aortic outflow of an invented animal, as somebody cuts it out of a screen."""
    bench = draw_bench(SEED, Ring.A)
    rung = steady_rung(bench, 0, VIEW, VALVE, Mode.PULSED_WAVE)
    assert rung is not None
    screen, film = Camera(bench, rung).spectrum(rung.steady)
    region = next(item for item in screen.regions if item.spatial_format == SpatialFormat.SPECTRAL)
    box = region.box
    assert region.delta_x
    assert region.delta_y
    assert region.reference_row_px is not None
    step_ms, step_cm_s = 1000 * region.delta_x, abs(region.delta_y)
    span_ms = box.width_px * step_ms
    flow = true_flow(rung.steady, motion_before(bench.subject.animal, bench.circulation, film, span_ms), span_ms)
    beats = tuple(t - film.start_ms for t in r_wave_times_ms(bench.subject.animal.rhythm, film.beats))
    truth = expected_values(
        Asked(flow=flow, r_times_ms=beats, valve=VALVE, signal=Signal.FORWARD, mode=Mode.PULSED_WAVE)
    )
    top, left = box.row0 - ABOVE_PX, box.col0 - LEFT_PX
    zero, first = box.row0 + region.reference_row_px - top, float(LEFT_PX + 60)
    return PlainSpectrum(
        pixels=np.ascontiguousarray(screen.frames[-1][top : box.row1 + BELOW_PX, left : box.col1 + RIGHT_PX]),
        rows=(zero, zero + DOWN_PX), cm_s=DOWN_PX * step_cm_s, cols=(first, first + ACROSS_PX),
        ms=ACROSS_PX * step_ms, peak_m_s=truth["aortic_vmax"],
    )  # fmt: skip


def axes_of(drawn: PlainSpectrum) -> tuple[dict[str, Any], ...]:
    """Return the marked axes, each as the desk says it: its name, two points (row, col) and what lies between them."""
    (zero, down), (first, last), beside = drawn.rows, drawn.cols, float(drawn.pixels.shape[1] - RIGHT_PX + 4)
    foot = float(drawn.pixels.shape[0] - BELOW_PX // 2)
    return (
        {"axis": "time", "start": [foot, first], "end": [foot, last], "amount": drawn.ms},
        {"axis": "velocity", "start": [zero, beside], "end": [down, beside], "amount": drawn.cm_s},
        {"axis": "baseline", "start": [zero, beside], "end": [zero, beside], "amount": 0.0},
    )


def marks_of(drawn: PlainSpectrum, name: str, *, mode: str) -> str:
    """Return a marks file that names the mode, if any, view and valve, and scales every axis by two points."""
    named = f'mode = "{mode}"\n' if mode else ""
    tables = [f'[[file]]\nname = "{name}"\n{named}view = "{VIEW}"\nvalve = "{VALVE}"\n']
    for axis in axes_of(drawn):
        ends = [axis["start"]] if axis["axis"] == "baseline" else [axis["start"], axis["end"]]
        points = ", ".join(f"{{row = {row}, col = {col}}}" for row, col in ends)
        amount = "" if axis["axis"] == "baseline" else f"amount = {axis['amount']}\n"
        tables.append(f'[[strip_scale]]\nfile = "{name}"\naxis = "{axis["axis"]}"\npoints = [{points}]\n{amount}')
    return "\n".join(tables)
