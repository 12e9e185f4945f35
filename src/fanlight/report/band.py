"""A value drawn in its band: never a bare number."""

from __future__ import annotations

from fanlight.report.document import Drawing
from fanlight.report.fan import DEEP, INK, OCHRE
from fanlight.study import Band, Verdict

_WIDTH, _HEIGHT = 120.0, 16.0


def _axis(value: float, band: Band) -> tuple[float, float]:
    """The stretch of numbers shown: all limits and the value, with a margin."""
    limits = [v for v in (band.border_low, band.met_low, band.met_high, band.border_high) if v is not None]
    low, high = min([value, *limits]), max([value, *limits])
    if len(limits) == 1 or band.met_low is None or band.met_high is None:
        # One-sided: show as much on the good side as lies between nought and the limit.
        reach = max(high - low, abs(limits[0] if limits else value) * 0.6, 1e-9)
    else:
        reach = max(high - low, 1e-9)
    return low - 0.15 * reach, high + 0.15 * reach


def draw_band(value: float, band: Band, verdict: Verdict, words: str, uncertainty: float | None = None) -> Drawing:
    """Return a small drawing: the target as a bar, its border zone as rays, the value as an upright mark.

    Parameters
    ----------
    value : float
        In the unit of the band.
    band : Band
        Target; sides without a limit run to the edge.
    verdict : Verdict
        Chooses the hue of the mark (which only repeats where it stands).
    words : str
        The same for those who cannot see it.
    uncertainty : float, optional
        One standard deviation, drawn as a whisker.
    """
    low, high = _axis(value, band)

    def x(number: float) -> float:
        return 2 + (_WIDTH - 4) * min(max((number - low) / (high - low), 0.0), 1.0)

    met = (
        x(band.met_low) if band.met_low is not None else 2.0,
        x(band.met_high) if band.met_high is not None else _WIDTH - 2,
    )
    parts = [
        f'<path d="M2 8H{_WIDTH - 2}" stroke="{INK}" stroke-width="0.8"/>',
        f'<rect x="{met[0]:.1f}" y="4.5" width="{max(met[1] - met[0], 0.5):.1f}" height="7" '
        f'fill="{DEEP}" fill-opacity="0.3"/>',
    ]
    for start, end in ((band.border_low, band.met_low), (band.met_high, band.border_high)):
        if start is not None and end is not None and end > start:
            left, right = x(start), x(end)
            step = max((right - left) / 6, 1.5)
            rays = "".join(f"M{left + step * k:.1f} 4.5V11.5" for k in range(int((right - left) / step) + 1))
            parts.append(f'<path d="{rays}" stroke="{DEEP}" stroke-opacity="0.5" stroke-width="0.7"/>')
    hue = OCHRE if verdict is Verdict.MISSED else INK
    if uncertainty:
        parts.append(
            f'<path d="M{x(value - uncertainty):.1f} 8H{x(value + uncertainty):.1f}" stroke="{hue}" stroke-width="2"/>'
        )
    parts.append(f'<path d="M{x(value):.1f} 1.5V14.5" stroke="{hue}" stroke-width="2.4" stroke-linecap="round"/>')
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH:g} {_HEIGHT:g}" '
        f'width="{_WIDTH:g}" height="{_HEIGHT:g}">'
        f"{''.join(parts)}</svg>"
    )
    return Drawing(svg=svg, alt=words, height_mm=3.6)
