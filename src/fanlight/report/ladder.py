"""The ladder of a valve: four rungs between two rails, 2-D, colour, PW, CW from left to right.

Shape carries the meaning as in the fan: solid, hatched, dotted, hollow, or no rung.
"""

from __future__ import annotations

from dataclasses import replace

from fanlight.report.document import Drawing
from fanlight.report.fan import DEEP, INK, OCHRE, told_states
from fanlight.study import Coverage, Rung, RungState, ValveLadder

_TOP, _HIGH, _WIDE, _APART = 3.0, 10.0, 12.0, 15.0
LADDER_KEY = "At each valve, from left to right: 2-D, colour, PW, CW; drawn as in the fans."


def _rung(state: RungState, left: float) -> str:
    box = f'<rect x="{left}" y="{_TOP}" width="{_WIDE}" height="{_HIGH}"'
    middles = [left + x for x in (2.0, 6.0, 10.0)]
    match state:
        case RungState.DIAGNOSTIC:
            return f'{box} fill="{DEEP}"/>'
        case RungState.LIMITED:
            rays = "".join(f"M{x - 2} {_TOP + _HIGH}L{x + 2} {_TOP}" for x in middles)
            return (
                f'<path d="{rays}" stroke="{DEEP}" stroke-width="1.6" fill="none"/>'
                f'{box} fill="none" stroke="{DEEP}" stroke-width="0.9"/>'
            )
        case RungState.NON_DIAGNOSTIC:
            return "".join(f'<circle cx="{x}" cy="{_TOP + _HIGH / 2}" r="1.7" fill="{OCHRE}"/>' for x in middles)
        case RungState.MISSING:
            return f'{box} fill="none" stroke="{OCHRE}" stroke-width="1.2"/>'
        case RungState.NOT_ASKED:
            return ""


def draw_ladder(ladder: ValveLadder, height_mm: float = 3.6) -> Drawing:
    """Return the ladder of one valve, `height_mm` high on paper."""
    states = dict(ladder.states)
    rungs = "".join(
        _rung(states.get(rung, RungState.NOT_ASKED), 3.5 + _APART * place) for place, rung in enumerate(Rung)
    )
    said = "; ".join(f"{rung} {state}" for rung, state in states.items() if state is not RungState.NOT_ASKED)
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 64 16" width="64" height="16">'
        f'<path d="M0 1H64M0 15H64" stroke="{INK}" stroke-width="1" fill="none"/>{rungs}</svg>'
    )
    return Drawing(svg=svg, alt=f"{ladder.valve} valve: {said or 'nothing asked for'}", height_mm=height_mm)


def drawn_ladders(cover: Coverage) -> tuple[tuple[Drawing, str], ...]:
    """Return the ladders that can be told: all of them, or those with a clip while others may lie in unplaced ones."""
    told = [replace(item, states=told_states(item.states, cover)) for item in cover.ladders]
    return tuple(
        (draw_ladder(item), f"{item.valve} valve")
        for item in told
        if cover.can_judge_missing or any(state is not RungState.NOT_ASKED for _, state in item.states)
    )
