"""What findings from masks say and point at; what is kept are are shares of depth and width."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fanlight.study import Border, ColourOnMuscle, Cut, Evidence, Picture, Polyline

UNWEIGHED = "the masks of the picture network were not weighed for this clip"
_STEPS = 9  # points of an arc: no corner shows at this many (engineering judgement)


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What one criterion saw."""

    value: float
    note: str
    evidence: tuple[Evidence, ...]


def arc(picture: Picture, depth: float, from_beam: float = 0.0, to_beam: float = 1.0) -> Polyline:
    """Return a line across the beams at a share of the depth."""
    return Polyline(points=tuple(picture.point(depth, float(beam)) for beam in np.linspace(from_beam, to_beam, _STEPS)))


def border_shape(picture: Picture, cut: Cut) -> Polyline:
    """Return the part of the border on which the outline lies; lung is drawn as the area beside it."""
    match cut.border:
        case Border.LEFT | Border.RIGHT:
            beam = 0.0 if cut.border is Border.LEFT else 1.0
            return Polyline(points=(picture.point(cut.from_depth, beam), picture.point(cut.to_depth, beam)))
        case Border.NEAR | Border.FAR:
            return arc(picture, 0.0 if cut.border is Border.NEAR else 1.0, cut.from_beam, cut.to_beam)
        case Border.HIDDEN:
            return area_shape(picture, cut)


def area_shape(picture: Picture, place: Cut | ColourOnMuscle) -> Polyline:
    """Return the outline of an area between two depths and two beams."""
    top = arc(picture, place.from_depth, place.from_beam, place.to_beam)
    bottom = arc(picture, place.to_depth, place.from_beam, place.to_beam)
    return Polyline(points=(*top.points, *bottom.points[::-1]), closed=True)


def border_evidence(picture: Picture, cut: Cut, label: str) -> Evidence:
    """Return what is drawn for one border, on the frame where most of the outline lies on it."""
    return Evidence(shape=border_shape(picture, cut), label=label, frame=cut.frame)
