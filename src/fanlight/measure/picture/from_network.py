"""What the landmarks that the picture network found give to measure by: valve rings, the length of the ventricle, and
what calipers on its masks are laid across."""

from __future__ import annotations

from fanlight.measure.areas import area_at, areas_of
from fanlight.measure.picture.from_marks import grid_of
from fanlight.measure.picture.placed import Given, Grid, Placed
from fanlight.study import ENGINE, FileMarks, Layout, PictureReading

_HOW = "found by the network"


def given_by_network(
    picture: PictureReading | None, layout: Layout, marks: FileMarks | None, probability_from: float
) -> tuple[Given, Grid] | None:
    """Return calipers, and landmarks sure enough to be proposed, with their stated spread; None where there are none.

    Parameters
    ----------
    picture : PictureReading or None
    layout : Layout
    marks : FileMarks or None
        A scale that a person marked counts before the file's.
    probability_from : float
        House limit from which on a landmark is proposed.
    """
    if picture is None:
        return None
    placed = tuple(
        Placed(what=found.landmark, frame=found.frame, points=(found.point,), sd_px=(found.spread_px,))
        for found in picture.landmarks
        if found.probability >= probability_from
    )
    lines = tuple(
        Placed(what=found.what, frame=found.frame, points=found.ends, sd_px=(found.spread_px,) * 2, said=found.said)
        for found in picture.lines
    )
    if not placed and not lines:
        return None
    areas = areas_of(layout, None if marks is None else marks.scale, ())
    where = area_at([item.points[0] for item in (*placed, *lines)], areas)
    return Given(given_by=ENGINE, how=_HOW, is_found=True, landmarks=placed, lines=lines), grid_of(where, layout)
