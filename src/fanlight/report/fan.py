"""The fan: one sector, four arcs from the apex outward, one a rung (2-D, colour, PW, CW).

Shape carries the meaning: solid is diagnostic, hatched limited, dotted non-diagnostic, hollow asked for and missing,
no arc not asked for. Colour only repeats it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from fanlight.report.document import Drawing
from fanlight.study import Coverage, PlanStep, Rung, RungState

INK = "#1c2530"
DEEP = "#1d5f7a"  # first hue: what is there and good
OCHRE = "#a65a12"  # second hue: what is weak or missing

_APEX = (50.0, 6.0)
_HALF_ANGLE_DEG = 42.0
_INNER = (14.0, 34.0, 54.0, 74.0)
_THICK = 14.0


def _at(radius: float, angle_deg: float) -> tuple[float, float]:
    angle = math.radians(angle_deg)
    return _APEX[0] + radius * math.sin(angle), _APEX[1] + radius * math.cos(angle)


def _band(inner: float, outer: float) -> str:
    (x0, y0), (x1, y1) = _at(inner, -_HALF_ANGLE_DEG), _at(inner, _HALF_ANGLE_DEG)
    (x2, y2), (x3, y3) = _at(outer, _HALF_ANGLE_DEG), _at(outer, -_HALF_ANGLE_DEG)
    return (
        f"M{x0:.2f} {y0:.2f}A{inner} {inner} 0 0 0 {x1:.2f} {y1:.2f}"
        f"L{x2:.2f} {y2:.2f}A{outer} {outer} 0 0 1 {x3:.2f} {y3:.2f}Z"
    )


def _arc(state: RungState, inner: float) -> str:
    path = _band(inner, inner + _THICK)
    match state:
        case RungState.DIAGNOSTIC:
            return f'<path d="{path}" fill="{DEEP}"/>'
        case RungState.LIMITED:
            # Rays from the apex: the hatch is part of the fan and needs no pattern (readers of SVG differ in those).
            rays = []
            for step in range(-7, 8, 2):
                angle = _HALF_ANGLE_DEG * step / 8
                (x0, y0), (x1, y1) = _at(inner, angle), _at(inner + _THICK, angle)
                rays.append(f"M{x0:.2f} {y0:.2f}L{x1:.2f} {y1:.2f}")
            return (
                f'<path d="{"".join(rays)}" stroke="{DEEP}" stroke-width="3.2" fill="none"/>'
                f'<path d="{path}" fill="none" stroke="{DEEP}" stroke-width="1.4"/>'
            )
        case RungState.NON_DIAGNOSTIC:
            dots = []
            middle = inner + _THICK / 2
            n = max(3, round(2 * math.radians(_HALF_ANGLE_DEG) * middle / 9))
            for place in range(n):
                x, y = _at(middle, -_HALF_ANGLE_DEG * (1 - 1 / n) + 2 * _HALF_ANGLE_DEG * (1 - 1 / n) * place / (n - 1))
                dots.append(f'<circle cx="{x:.2f}" cy="{y:.2f}" r="2.7" fill="{OCHRE}"/>')
            return "".join(dots)
        case RungState.MISSING:
            return f'<path d="{path}" fill="none" stroke="{OCHRE}" stroke-width="2"/>'
        case RungState.NOT_ASKED:
            return ""


def draw_fan(states: Sequence[tuple[Rung, RungState]], title: str, height_mm: float = 11.0) -> Drawing:
    """Return the fan of one view or valve.

    Parameters
    ----------
    states : sequence of (Rung, RungState)
        Any order; rungs that are not named are not asked for.
    title : str
        What the fan stands for; begins its words for those who cannot see it.
    height_mm : float
        Height on paper.
    """
    by_rung = dict(states)
    arcs = "".join(
        _arc(by_rung.get(rung, RungState.NOT_ASKED), inner) for rung, inner in zip(Rung, _INNER, strict=True)
    )
    (x0, y0), (x1, y1) = _at(90.0, -_HALF_ANGLE_DEG), _at(90.0, _HALF_ANGLE_DEG)
    edges = f"M{x0:.2f} {y0:.2f}L{_APEX[0]} {_APEX[1]}L{x1:.2f} {y1:.2f}"
    words = "; ".join(f"{rung} {state}" for rung, state in by_rung.items() if state is not RungState.NOT_ASKED)
    alt = f"{title}: {words or 'nothing asked for'}"
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-14 0 128 100" width="128" height="100">'
        f'<path d="{edges}" fill="none" stroke="{INK}" stroke-width="1.6" stroke-linejoin="round"/>{arcs}</svg>'
    )
    return Drawing(svg=svg, alt=alt, height_mm=height_mm)


def draw_logo() -> Drawing:
    """Return the mark of the product: one whole fan."""
    return draw_fan([(rung, RungState.DIAGNOSTIC) for rung in Rung], "Fanlight", 9.0)


_THERE = "Arcs from the tip outward: 2-D, colour, PW, CW. Solid: diagnostic. Rays: limited. Dots: non-diagnostic. "
_WHOLE_KEY = f"{_THERE}Hollow: asked for and missing. No arc: not asked for."
_OPEN_KEY = f"{_THERE}No arc: nothing is known to be stored; it may lie among the clips whose view is not known."


def fan_key(cover: Coverage) -> str:
    """Return what the arcs mean: nothing is drawn as missing while a clip of unknown view could be it."""
    return _WHOLE_KEY if cover.can_judge_missing else _OPEN_KEY


def told_states(states: Sequence[tuple[Rung, RungState]], cover: Coverage) -> tuple[tuple[Rung, RungState], ...]:
    """Return the states that can be told: none is missing while a clip of unknown view could be it."""
    if cover.can_judge_missing:
        return tuple(states)
    return tuple((rung, RungState.NOT_ASKED if state is RungState.MISSING else state) for rung, state in states)


def drawn_fans(cover: Coverage, height_mm: float) -> tuple[tuple[Drawing, str], ...]:
    """Return the fans of the path: all of them, or of the steps with a clip while others may lie among the unknown."""

    def one(step: PlanStep) -> tuple[Drawing, str]:
        return draw_fan(told_states(step.states, cover), step.title, height_mm), step.title

    return tuple(one(step) for step in cover.steps if step.clips or cover.can_judge_missing)
