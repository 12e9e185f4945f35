"""What the shapes on one 2-D clip measure: each value with its error and how it was taken, or why there is none."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

from fanlight.measure.picture.base import measure_base
from fanlight.measure.picture.case import PictureCase
from fanlight.measure.picture.derived import derive
from fanlight.measure.picture.lengths import measure_lengths
from fanlight.measure.picture.placed import Given, Grid, Placed
from fanlight.measure.picture.said import Writer
from fanlight.measure.picture.ventricle import ring_middle
from fanlight.measure.picture.volumes import measure_volumes
from fanlight.measure.shapes import SQUARE, area, distance
from fanlight.reference.quantities import read_quantities
from fanlight.reference.views import read_views
from fanlight.study import ClipTime, House, Landmark, Measurement, Patient, ViewReading

_NO_EXTENT = "it has no extent on the picture; set it again"
_NO_VIEW = "which view it is, is not known; name the view"


def measure_picture(
    given: Given, grid: Grid, view: ViewReading, time: ClipTime, patient: Patient, house: House
) -> tuple[Measurement, ...]:
    """Return what one giver's shapes on one clip measure.

    Parameters
    ----------
    given : Given
        Landmarks, lines and traces, all of one giver: numbers of two are never mixed.
    grid : Grid
        Size of a pixel. Without millimetres ratios are given all the same, lengths say what they lack.
    view : ViewReading
        A quantity is measured in the views that carry it only.
    time : ClipTime
        Beats, as far as they were found: a mark that names one end of the beat and lies nearer to the other gives no
        number.
    patient : Patient
        Species and weight, for volumes by body surface.
    house : House
        Tables "quantities" and "views".

    Notes
    -----
    A value is the mean over the frames of the clip on which it was set. Its uncertainty is one standard deviation by
    the law of propagation (JCGM 100:2008, GUM, 5.1.2), of inputs that err independently: each point in each direction,
    half a pixel on top of it, the scale's share, and the beats. What an oblique plane does is not in it; by how much at
    most is said beside a length.
    """
    quantities = read_quantities(house)
    write = Writer(given=given, grid=grid, quantities=quantities)
    known = read_views(house).get(view.view)
    if known is None:
        return () if given.is_found else _without_view(given, write)
    flat = [item for item in (*given.lines, *given.traces) if not _has_extent(item)]
    case = PictureCase(given=_without_flat(given), grid=grid, view=known, time=time, patient=patient, write=write)
    lengths, means = measure_lengths(case)
    nothing = (write.none(item.what, _NO_EXTENT, (item.frame,)) for item in flat)
    return (*measure_base(case), *lengths, *derive(means, case), *measure_volumes(case), *nothing)


def _has_extent(item: Placed) -> bool:
    """Whether a line or a trace spans a pixel at least: one that was set by a slip of the hand divides by nothing."""
    if len(item.points) == 2:
        return distance(*item.points, SQUARE) >= 1
    return area(item.points, SQUARE) >= 1


def _without_flat(given: Given) -> Given:
    """Return what has extent; points that lie on one another, or an apex on the middle of its ring, have none."""
    lines = tuple(item for item in given.lines if _has_extent(item))
    traces = tuple(item for item in given.traces if _has_extent(item))
    kept: list[Placed] = []
    for item in given.landmarks:
        others = [other.points[0] for other in kept if other.frame == item.frame and other.what != item.what]
        if item.what == Landmark.LV_APEX.name:
            ends = [(shape.points[0], shape.points[-1]) for shape in (*lines, *traces) if shape.frame == item.frame]
            ends += list(combinations(others, 2))
            others += [ring_middle(*both) for both in ends]
        if all(distance(item.points[0], other, SQUARE) >= 1 for other in others):
            kept.append(item)
    return replace(given, landmarks=tuple(kept), lines=lines, traces=traces)


def _without_view(given: Given, write: Writer) -> tuple[Measurement, ...]:
    named = dict.fromkeys(item.what for item in (*given.lines, *given.traces))
    return tuple(write.none(key, _NO_VIEW, ()) for key in named)
