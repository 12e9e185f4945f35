"""How many beats a stored strip shows: its width over that of a beat."""

from __future__ import annotations

from collections.abc import Iterable

from fanlight.frames.doppler.spectrum import SpectralAxes, find_axes
from fanlight.study import Finding, Layout

_BEAT_WIDTH = "spectrum_sweep"


def beats_on_strip(layout: Layout, findings: Iterable[Finding]) -> float | None:
    """Return how many beats lie on a spectrum; None for other pictures, and where the width of a beat is not known.

    Parameters
    ----------
    layout : Layout
        Where the strip lies.
    findings : iterable of Finding
        On this clip; one of them holds the width of a beat, px.
    """
    axes = find_axes(layout)
    width_px = next((item.value for item in findings if item.criterion == _BEAT_WIDTH), None)
    if not isinstance(axes, SpectralAxes) or not width_px:
        return None
    return axes.box.width_px / width_px
