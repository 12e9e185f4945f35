"""What a person marked by hand, as measurements: each value with the error of a hand that points. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence

from fanlight.measure.areas import Area, AreaKind, areas_of
from fanlight.measure.read_out import ReadValue, read_out
from fanlight.study import Clip, DrawnMark, FileMarks, Layout, Measurement, Point

METHOD = "marked by hand/1"
GIVEN_BY = "marked by hand"
_HAND_PX = 1.0  # how well a point is placed, one standard deviation in each direction (engineering judgement)
_STEP_PX = 0.25  # for derivatives: small against a hand's error
_PIXELS = ("px", "px²")
_NO_ROW = "no reference row is tied to a mark"
_NO_SCALE = "nothing is calibrated where it lies; mark two points of the scale"


def measure_marks(marks: FileMarks, layout: Layout, clip: Clip) -> tuple[Measurement, ...]:
    """Return what the named marks of one file measure.

    Parameters
    ----------
    marks : FileMarks
        Marks without landmark or label measure nothing here: nobody said what they are.
    layout : Layout
        What the engine found on the screen of the clip; a scale marked by hand went into it.
    clip : Clip
        Whose frames were marked.

    Notes
    -----
    The uncertainty is one standard deviation: each point a pixel off in each direction, carried on by the
    derivatives, and what is known of the scale. Marks where nothing is calibrated have no value and say so. What the
    heart's slice or the beam's direction add is not in it.
    """
    areas = areas_of(layout, marks.scale, marks.axes)
    found: list[Measurement] = []
    for mark in marks.drawn:
        if mark.title:
            found += _measured(mark, areas, layout, clip)
    return tuple(found)


def _measured(mark: DrawnMark, areas: Sequence[Area], layout: Layout, clip: Clip) -> list[Measurement]:
    if fault := _fault(mark, clip):
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
                uncertainty=_uncertainty(mark, areas, place, value, said.area, layout) if is_known else None,
                clip=clip.name,
                frames=(mark.frame,),
                method=METHOD,
                given_by=GIVEN_BY,
                reason=_NO_ROW if is_known else _NO_SCALE,
            )
        )
    return found


def _fault(mark: DrawnMark, clip: Clip) -> str:
    """Return why a mark does not fit its clip, "" when it does."""
    if mark.frame >= clip.n_frames:
        return f"it is marked on frame {mark.frame + 1}, and the clip has {clip.n_frames}; correct the mark"
    for row, col in mark.points:
        if not (0 <= row <= clip.rows - 1 and 0 <= col <= clip.cols - 1):
            size = f"{clip.rows} rows and {clip.cols} columns"
            return f"its point ({row:g}, {col:g}) lies outside the picture of {size}; correct the mark"
    return ""


def _uncertainty(
    mark: DrawnMark, areas: Sequence[Area], place: int, value: ReadValue, area: AreaKind, layout: Layout
) -> float:
    """Return one standard deviation of one of a mark's values."""

    def moved(k: int, down: float, across: float) -> float:
        row, col = mark.points[k]
        points: tuple[Point, ...] = (*mark.points[:k], (row + down, col + across), *mark.points[k + 1 :])
        said = read_out(mark.kind.value, points, areas)
        # A point at the rim may step out of its area: then it tells nothing of the slope.
        return said.values[place].value if said.area is area and place < len(said.values) else value.value

    total = 0.0
    for k in range(len(mark.points)):
        by_row = (moved(k, _STEP_PX, 0) - moved(k, -_STEP_PX, 0)) / (2 * _STEP_PX)
        by_col = (moved(k, 0, _STEP_PX) - moved(k, 0, -_STEP_PX)) / (2 * _STEP_PX)
        total += (by_row**2 + by_col**2) * _HAND_PX**2
    power = {"mm": 1, "mm²": 2, "mm/s": 1}.get(value.unit, 0)
    share = layout.scale.uncertainty_fraction if layout.scale is not None and area is AreaKind.PICTURE else 0.0
    return math.hypot(math.sqrt(total), power * share * value.value)
