"""What the shapes on one 2-D clip measure: each value with its error and how it was taken, or why there is none."""

from __future__ import annotations

from fanlight.measure.picture.base import measure_base
from fanlight.measure.picture.case import PictureCase
from fanlight.measure.picture.derived import derive
from fanlight.measure.picture.lengths import measure_lengths
from fanlight.measure.picture.placed import Given, Grid
from fanlight.measure.picture.said import Writer
from fanlight.measure.picture.volumes import measure_volumes
from fanlight.reference.quantities import read_quantities
from fanlight.reference.views import read_views
from fanlight.study import ClipTime, House, Measurement, Patient, ViewReading

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
    case = PictureCase(given=given, grid=grid, view=known, time=time, patient=patient, write=write)
    lengths, means = measure_lengths(case)
    return (*measure_base(case), *lengths, *derive(means, case), *measure_volumes(case))


def _without_view(given: Given, write: Writer) -> tuple[Measurement, ...]:
    named = dict.fromkeys(item.what for item in (*given.lines, *given.traces))
    return tuple(write.none(key, _NO_VIEW, ()) for key in named)
