"""A line drawing as data: strokes that have a part to play, and words. Paper and screen give each part its own look."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from html import escape

from fanlight.report.fan import DEEP, INK, OCHRE


class Part(StrEnum):
    """What a stroke draws. Weight, dash and fill tell parts apart where there is no colour."""

    BODY = "body"
    RIB = "rib"
    CARTILAGE = "cartilage"
    STERNUM = "sternum"
    LIMB = "limb"
    GHOST = "ghost"  # where the probe is asked to go
    GHOST_OVER = "ghost-over"  # the same, drawn over the probe that turns on its place
    CABLE = "cable"
    PROBE = "probe"  # where it stood
    MARKER = "marker"
    ARROW = "arrow"
    HEAD = "head"  # of the arrow


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """One path in the units of the sketch (SVG path data)."""

    part: Part
    path: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """A word on the sketch."""

    x: float
    y: float
    text: str
    anchor: str = "middle"  # "start", "middle", "end"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sketch:
    """A whole drawing; `title` and `words` say the same to those who cannot see it."""

    width: float
    height: float
    strokes: tuple[Stroke, ...]
    labels: tuple[Word, ...]
    title: str
    words: str


_SOFT = "#79838d"
WORD_SIZE = 12.0
# Probe and ghost are white inside, so that ribs do not run through them.
_PAPER: Mapping[Part, str] = {
    Part.BODY: f'fill="none" stroke="{INK}" stroke-width="1.6"',
    Part.RIB: f'fill="none" stroke="{_SOFT}" stroke-width="1.7"',
    Part.CARTILAGE: f'fill="none" stroke="{_SOFT}" stroke-width="1.3" stroke-dasharray="1 3.2"',
    Part.STERNUM: f'fill="none" stroke="{_SOFT}" stroke-width="4"',
    Part.LIMB: f'fill="none" stroke="{INK}" stroke-width="1.1"',
    Part.GHOST: f'fill="#ffffff" fill-opacity="0.75" stroke="{DEEP}" stroke-width="1.7" stroke-dasharray="5 3.4"',
    Part.GHOST_OVER: f'fill="none" stroke="{DEEP}" stroke-width="2" stroke-dasharray="5 3.4"',
    Part.CABLE: f'fill="none" stroke="{INK}" stroke-width="2.6"',
    Part.PROBE: f'fill="#ffffff" stroke="{INK}" stroke-width="2"',
    Part.MARKER: f'fill="{INK}" stroke="#ffffff" stroke-width="1.2"',
    Part.ARROW: f'fill="none" stroke="{OCHRE}" stroke-width="4"',
    Part.HEAD: f'fill="{OCHRE}" stroke="none"',
}


def svg_of(sketch: Sketch) -> str:
    """Return the sketch as an SVG image for paper: ink on white, legible without colour."""
    strokes = "".join(
        f'<path {_PAPER[item.part]} stroke-linejoin="round" stroke-linecap="round" d="{item.path}"/>'
        for item in sketch.strokes
    )
    labels = "".join(
        f'<text x="{item.x:.1f}" y="{item.y:.1f}" text-anchor="{item.anchor}">{escape(item.text)}</text>'
        for item in sketch.labels
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {sketch.width:g} {sketch.height:g}" '
        f'width="{sketch.width:g}" height="{sketch.height:g}" role="img">'
        f"<title>{escape(sketch.title)}</title><desc>{escape(sketch.words)}</desc>"
        f'<rect width="{sketch.width:g}" height="{sketch.height:g}" fill="#ffffff"/>{strokes}'
        f'<g font-family="Libertinus Serif, Georgia, serif" font-size="{WORD_SIZE:g}" fill="{INK}" stroke="#ffffff" '
        f'stroke-width="3" stroke-linejoin="round" paint-order="stroke">{labels}</g></svg>'
    )
