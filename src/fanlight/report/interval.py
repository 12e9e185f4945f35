"""A measured value against a reference row, drawn."""

from __future__ import annotations

from fanlight.report.document import Drawing
from fanlight.report.fan import DEEP, INK, OCHRE

_WIDTH, _HEIGHT = 120.0, 16.0


def draw_interval(
    value: float, lower: float | None, upper: float | None, *, solid: bool, words: str,
    repeat: tuple[float, float] | None = None,
) -> Drawing:  # fmt: skip
    """Return the value on a line with its limits: a filled bar for a reference interval, else an outline.

    Parameters
    ----------
    value, lower, upper : float
        In one unit; a missing limit runs to the edge.
    solid : bool
        True for a reference interval; other kinds of limit are drawn as an outline.
    words : str
        The same for those who cannot see it.
    repeat : (float, float), optional
        Over which values repeat scans scatter: a thin line with an end stroke on either side of the value.
    """
    limits = [limit for limit in (lower, upper) if limit is not None]
    shown: list[float] = [value, *limits, *(repeat or ())]
    low, high = min(shown), max(shown)
    reach = max(high - low, 0.35 * abs(limits[0] if limits else value), 1e-9)
    low, high = low - 0.2 * reach, high + 0.2 * reach

    def x(number: float) -> float:
        return 2 + (_WIDTH - 4) * (number - low) / (high - low)

    left = 2.0 if lower is None else x(lower)
    right = _WIDTH - 2 if upper is None else x(upper)
    box = f'<rect x="{left:.1f}" y="4.5" width="{max(right - left, 0.5):.1f}" height="7" '
    bar = box + (
        f'fill="{DEEP}" fill-opacity="0.3"/>'
        if solid
        else f'fill="none" stroke="{DEEP}" stroke-width="0.8" stroke-dasharray="2 1.6"/>'
    )
    inside = (lower is None or value >= lower) and (upper is None or value <= upper)
    hue = INK if inside else OCHRE
    whisker = ""
    if repeat is not None:
        left, right = x(repeat[0]), x(repeat[1])
        whisker = (
            f'<path d="M{left:.1f} 5.5V10.5M{left:.1f} 8H{right:.1f}M{right:.1f} 5.5V10.5" stroke="{hue}" '
            'stroke-width="1.4" fill="none"/>'
        )
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH:g} {_HEIGHT:g}" '
        f'width="{_WIDTH:g}" height="{_HEIGHT:g}">'
        f'<path d="M2 8H{_WIDTH - 2}" stroke="{INK}" stroke-width="0.8"/>{bar}{whisker}'
        f'<path d="M{x(value):.1f} 1.5V14.5" stroke="{hue}" stroke-width="2.4" stroke-linecap="round"/></svg>'
    )
    return Drawing(svg=svg, alt=words, height_mm=3.6)
