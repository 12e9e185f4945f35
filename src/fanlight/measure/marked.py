"""What a person marked by hand, as measurements: each value with the error of a hand that points. Pure."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from fanlight.measure.areas import HAND_PX, Area, area_at, areas_of
from fanlight.measure.read_out import ReadValue, read_out
from fanlight.study import Clip, DrawnMark, FileMarks, Kept, Layout, Measurement, Mode, Point

METHOD = "marked by hand/1"
GIVEN_BY = "marked by hand"
_STEP_PX = 0.25  # for derivatives: small against a hand's error
_STEP = 1e-3  # the same of a scale, as a share of it
_PIXELS = ("px", "px²")
_NO_ROW = "no reference row is tied to a mark"
# What a velocity by Doppler and what follows from it always carry (`reference.formulas.flow`).
_LOWER_BOUND = "a lower bound, since no angle is corrected"
_FORMULA = "4·v² (simplified Bernoulli, QUINONES2002)"
NO_SCALE = "nothing is calibrated where it lies; mark two points of the scale"


def measure_marks(marks: FileMarks, layout: Layout, clip: Clip, mode: Mode | None = None) -> tuple[Measurement, ...]:
    """Return what the named marks of one file measure.

    Parameters
    ----------
    marks : FileMarks
        Marks without landmark or label measure nothing here: nobody said what they are.
    layout : Layout
        What the engine found on the screen of the clip; a scale marked by hand went into it.
    clip : Clip
        Whose frames were marked.
    mode : Mode or None
        Of the clip: tissue Doppler has velocities and no gradients.

    Notes
    -----
    The uncertainty is one standard deviation, by the law of propagation for inputs that err independently (JCGM
    100:2008, GUM, 5.1.2 equation 10): u²(y) = Σ (∂y/∂x)² u²(x). The inputs are the coordinates of each point, and of
    each point by which a hand set the scale or the baseline, one pixel each; of a mark that was kept as
    proposed its own spread where that is larger; a scale of an amount over L pixels so has
    the relative error √2/L, in mm, ms and cm/s alike. A scale that was read has the error that the engine gives it;
    steps that the file states of a strip count as exact. Marks where nothing is calibrated have no value and say so.
    What the heart's slice or the beam's direction add is not in it.
    """
    is_tissue = mode is Mode.TISSUE_DOPPLER
    areas = tuple(replace(area, is_tissue=is_tissue) for area in areas_of(layout, marks.scale, marks.axes))
    found: list[Measurement] = []
    for mark in marks.drawn:
        if mark.title:
            found += _measured(mark, areas, clip)
    return tuple(found)


def _measured(mark: DrawnMark, areas: Sequence[Area], clip: Clip) -> list[Measurement]:
    if fault := fault_of(mark, clip):
        return [
            Measurement(
                name="", label=mark.title, value=None, unit="", clip=clip.name, frames=(mark.frame,), method=METHOD,
                given_by=GIVEN_BY, reason=fault,
            )
        ]  # fmt: skip
    said = read_out(mark.kind.value, mark.points, areas)
    found = []
    for place, value in enumerate(said.values):
        if value.name == "rate":
            continue  # a beat only if one was meant; the mark does not say
        is_known = value.unit not in _PIXELS
        found.append(
            Measurement(
                name="",
                label=f"{mark.title}: {value.name}",
                value=value.value if is_known else None,
                unit=value.unit if is_known else "",
                uncertainty=uncertainty_of(mark, area_at(mark.points, areas), place, value) if is_known else None,
                clip=clip.name,
                frames=(mark.frame,),
                method=METHOD,
                given_by=GIVEN_BY,
                kept=Kept.NO if mark.proposed_spread_px is None else Kept.WHOLLY,
                reason=_reason(value) if is_known else NO_SCALE,
            )
        )
    return found


def _reason(value: ReadValue) -> str:
    """Return why no reference speaks of a value, and what holds for it."""
    if value.name in ("velocity", "peak velocity", "mean velocity", "velocity-time integral", "change"):
        return f"{_NO_ROW}; {_LOWER_BOUND}"
    if value.unit == "mmHg":
        return f"{_NO_ROW}; {_FORMULA}, {_LOWER_BOUND}"
    return _NO_ROW


def fault_of(mark: DrawnMark, clip: Clip) -> str:
    """Return why a mark does not fit its clip, "" when it does."""
    if mark.frame >= clip.n_frames:
        return f"it is marked on frame {mark.frame + 1}, and the clip has {clip.n_frames}; correct the mark"
    for row, col in mark.points:
        if not (0 <= row <= clip.rows - 1 and 0 <= col <= clip.cols - 1):
            size = f"{clip.rows} rows and {clip.cols} columns"
            return f"its point ({row:g}, {col:g}) lies outside the picture of {size}; correct the mark"
    return ""


def placement_px(mark: DrawnMark) -> float:
    """Return how well each point of a mark is placed: one standard deviation in each direction, pixels."""
    return max(HAND_PX, mark.proposed_spread_px or 0.0)


def uncertainty_of(mark: DrawnMark, where: Area, place: int, value: ReadValue) -> float:
    """Return one standard deviation of one of a mark's values, in its unit."""

    def said(points: Sequence[Point], area: Area) -> float:
        # A point at the rim still belongs to its area when it is moved.
        values = read_out(mark.kind.value, points, (replace(area, box=None),)).values
        return values[place].value if place < len(values) and values[place].name == value.name else value.value

    def moved(k: int, down: float, across: float) -> float:
        row, col = mark.points[k]
        return said((*mark.points[:k], (row + down, col + across), *mark.points[k + 1 :]), where)

    variance = 0.0
    for k in range(len(mark.points)):
        by_row = _slope(lambda step, k=k: moved(k, step, 0), _STEP_PX)  # type: ignore[misc]
        by_col = _slope(lambda step, k=k: moved(k, 0, step), _STEP_PX)  # type: ignore[misc]
        variance += (by_row**2 + by_col**2) * placement_px(mark) ** 2
    for error, step, at in _calibrations(where):
        variance += (_slope(lambda off, at=at: said(mark.points, at(off)), step) * error) ** 2  # type: ignore[misc]
    return math.sqrt(variance)


def _slope(of: Callable[[float], float], step: float) -> float:
    return (of(step) - of(-step)) / (2 * step)


def _calibrations(where: Area) -> list[tuple[float, float, Callable[[float], Area]]]:
    """Return what an area is calibrated by: its error, a step for the derivative, the area that far off."""

    def times(share: float, name: str, *names: str) -> tuple[float, float, Callable[[float], Area]]:
        known = {key: each for key in (name, *names) if (each := getattr(where, key)) is not None}
        return share, _STEP, lambda off: replace(where, **{key: each * (1 + off) for key, each in known.items()})

    def baseline(off: float) -> Area:
        return where if where.zero_row is None else replace(where, zero_row=where.zero_row + off)

    return [
        times(where.mm_share, "mm_per_row", "mm_per_col"),
        times(where.ms_share, "ms_per_col"),
        times(where.cm_s_share, "cm_s_per_row"),
        (where.zero_row_px, _STEP_PX, baseline),
    ]
