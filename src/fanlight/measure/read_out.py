"""What a mark says: lengths and areas on pictures, times, velocities, slopes and gradients on strips. Pure.

`desk/static/read_out.js` says the same on the page; `tests/measure/read_out_cases.json` holds both together.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from fanlight.measure.areas import Area, AreaKind, area_at
from fanlight.measure.shapes import SQUARE, Pixel, angle_deg, area, distance, path_length
from fanlight.reference.formulas.flow import pressure_gradient_mmhg
from fanlight.study import Point


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadValue:
    """One number that a mark gives."""

    name: str  # "length", "time", "velocity", …
    value: float
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadOut:
    """All that a mark gives, the most looked for first."""

    area: AreaKind
    values: tuple[ReadValue, ...]


def read_out(kind: str, points: Sequence[Point], areas: Sequence[Area]) -> ReadOut:
    """Return what a mark says where it lies.

    Parameters
    ----------
    kind : str
        "point", "line", "angle" or "trace".
    points : sequence of (row, col)
        In pixels of the stored frame.
    areas : sequence of Area
        As `areas_of` gives them.

    Notes
    -----
    Velocities are those of the file: they hold where the beam ran along the flow; nothing is corrected for an angle.
    Towards the probe counts as positive: up, or down where the file says that the display is inverted. Gradients are
    4·v² of the velocity alone, the flow before the narrowing is taken as slow (QUINONES2002 through
    `reference.formulas.flow`); the mean gradient is the mean over time of 4·v², not 4·(mean v)². A rate is one beat
    between the two ends, if that is what was marked.
    Of tissue Doppler there are no gradients.
    A trace on a spectrum is a row of straight pieces; one that runs back along the baseline adds nothing on its way.
    """
    where = area_at(points, areas)
    if where.kind is AreaKind.SPECTRUM:
        values = _on_spectrum(kind, points, where)
        if where.is_tissue:
            values = [each for each in values if each[2] != _PRESSURE]
    elif where.kind is AreaKind.M_MODE:
        values = _on_m_mode(kind, points, where)
    else:
        values = _on_picture(kind, points, where)
    return ReadOut(
        area=where.kind,
        values=tuple(ReadValue(name=name, value=value, unit=unit) for name, value, unit in values),
    )


_Values = list[tuple[str, float, str]]
_PRESSURE = "mmHg"


def _on_picture(kind: str, points: Sequence[Point], where: Area) -> _Values:
    size, unit = SQUARE, "px"
    if where.mm_per_row is not None and where.mm_per_col is not None:
        size, unit = Pixel(down=where.mm_per_row, across=where.mm_per_col), "mm"
    if kind == "line":
        return [("length", distance(points[0], points[1], size), unit)]
    if kind == "angle":
        return [("angle", angle_deg(points, size), "°")]
    if kind == "trace":
        return [("length", path_length(points, size), unit), ("area", area(points, size), f"{unit}²")]
    return []


def _on_m_mode(kind: str, points: Sequence[Point], where: Area) -> _Values:
    values: _Values = []
    if kind not in ("line", "trace"):
        return values
    rows, cols = [p[0] for p in points], [p[1] for p in points]
    depth = None if where.mm_per_row is None else (max(rows) - min(rows)) * where.mm_per_row
    time = None if where.ms_per_col is None else (max(cols) - min(cols)) * where.ms_per_col
    if depth is not None:
        values.append(("depth", depth, "mm"))
    if time is not None:
        values.append(("time", time, "ms"))
    if kind == "line" and time:
        if where.mm_per_row is not None and depth is not None:
            # Towards the probe, up the screen, counts as positive.
            rises = (rows[0] - rows[1]) * (1 if cols[1] > cols[0] else -1)
            values.append(("slope", rises * where.mm_per_row / time * 1000.0, "mm/s"))
        values.append(("rate", 60_000.0 / time, "/min"))
    return values


def _on_spectrum(kind: str, points: Sequence[Point], where: Area) -> _Values:
    if kind == "trace":
        return _traced(points, where)
    values: _Values = []
    step, zero = where.cm_s_per_row, where.zero_row
    if kind in ("point", "line") and step is not None and zero is not None:
        fastest = max(((zero - p[0]) * step for p in points), key=abs)
        values += [("velocity", fastest, "cm/s"), ("gradient", _mmhg(fastest), _PRESSURE)]
    if kind == "line":
        (row0, col0), (row1, col1) = points if points[0][1] <= points[1][1] else (points[1], points[0])
        if step is not None:
            values.append(("change", (row0 - row1) * step, "cm/s"))
        if where.ms_per_col is not None:
            time = (col1 - col0) * where.ms_per_col
            values.append(("time", time, "ms"))
            if time > 0:
                if step is not None:
                    values.append(("slope", (row0 - row1) * step / time * 1000.0, "cm/s²"))
                values.append(("rate", 60_000.0 / time, "/min"))
    return values


def _traced(points: Sequence[Point], where: Area) -> _Values:
    step, zero = where.cm_s_per_row, where.zero_row
    cols = [p[1] for p in points]
    time = None if where.ms_per_col is None else (max(cols) - min(cols)) * where.ms_per_col
    values: _Values = []
    if step is not None and zero is not None:
        speeds = [(zero - p[0]) * step for p in points]
        fastest = max(speeds, key=abs)
        values += [("peak velocity", fastest, "cm/s"), ("peak gradient", _mmhg(fastest), _PRESSURE)]
        if where.ms_per_col is not None and time:
            pieces = [
                (u, v, (b - a) * where.ms_per_col / 1000.0)
                for (u, v), (a, b) in zip(itertools.pairwise(speeds), itertools.pairwise(cols), strict=True)
            ]
            travelled = sum((u + v) / 2 * seconds for u, v, seconds in pieces)
            # Of a straight piece, the integral of v² is (u² + uv + v²)/3 times its length.
            squares = sum((u * u + u * v + v * v) / 3 * seconds for u, v, seconds in pieces)
            values.append(("velocity-time integral", abs(travelled), "cm"))
            values.append(("mean velocity", math.copysign(travelled / (time / 1000.0), fastest), "cm/s"))
            values.append(("mean gradient", 4 * abs(squares) / 1e4 / (time / 1000.0), _PRESSURE))
    if time is not None:
        values.append(("time", time, "ms"))
    return values


def _mmhg(velocity_cm_s: float) -> float:
    return pressure_gradient_mmhg(velocity_cm_s / 100.0)
