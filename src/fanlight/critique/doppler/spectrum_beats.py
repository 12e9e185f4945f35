"""Beat against beat of one strip: in which of them the signal stands as high and as bright as it usually does."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fanlight.critique.doppler.spectrum_frames import Envelope, SpectrumFrames

Floats = NDArray[np.float64]

# Engineering judgement for all. A beam that leaves the flow dims its signal before the height falls, and a last thin
# line may still stand as high as ever: with less than half of the usual height or light a beat is broken off.
_WHOLE_SHARE = 0.5
_HIGH_COLUMNS = 4  # so many of a beat reach its height: fewer are specks of noise
_CLICKED_SHARE = 0.08  # of a beat: a click may cover its peak then, and its height says nothing
_MOST_CLICKED_SHARE = 0.35  # of a beat: what is left then is too little to tell its light either
_FEWEST_BEAT_PX = 8  # narrower beats have no shape
_FROM_SHARE = 0.35  # of the height: below it walls are bright whether there is flow or not
_QUIET_PERCENTILE = 20.0  # of the columns: what they show is noise
_MOST_UNEQUAL_SHARE = 0.12  # of a beat: with more, stretches of one length do not hold one beat each


def whole_beats(frames: SpectrumFrames, envelope: Envelope, beat_px: float) -> NDArray[np.bool_]:
    """Return of each beat that can be told whether its signal is whole, against the usual one of this strip.

    Parameters
    ----------
    frames : SpectrumFrames
        The strip.
    envelope : Envelope
        Its signal.
    beat_px : float
        Width of a usual beat.
    """
    parts = [part for part in _stretches(frames, beat_px) if frames.clicks[part].mean() <= _MOST_CLICKED_SHARE]
    if not parts:
        return np.zeros(0, np.bool_)
    light = _column_light(frames, envelope)
    lights, heights = np.zeros(len(parts)), np.full(len(parts), np.nan)
    for k, part in enumerate(parts):
        free = ~frames.clicks[part]
        lights[k] = light[part][free].sum() / free.mean()
        if free.mean() >= 1.0 - _CLICKED_SHARE:
            heights[k] = np.sort(envelope.reach_px[part])[-_HIGH_COLUMNS]
    is_whole = lights >= _WHOLE_SHARE * np.percentile(lights, 75.0)
    known = np.isfinite(heights)
    if known.any():
        is_whole[known] &= heights[known] >= _WHOLE_SHARE * np.percentile(heights[known], 75.0)
    return np.asarray(is_whole)


def _stretches(frames: SpectrumFrames, beat_px: float) -> list[slice]:
    """Return stretches of the strip that hold a beat each.

    They are counted from the right end, wherever they begin: each as long as a beat holds one peak. Where beats are of
    several lengths, as in calm dogs, they run from R wave to R wave.
    """
    if beat_px < _FEWEST_BEAT_PX:
        return []
    waves, n = frames.r_columns, frames.clicks.size
    if not isinstance(waves, str):
        inside = [int(at) for at in waves.round() if 0 <= at <= n]
        widths = np.diff(inside)
        if len(widths) and np.ptp(widths) > _MOST_UNEQUAL_SHARE * beat_px:
            return [slice(a, b) for a, b in pairwise(inside) if b - a >= _FEWEST_BEAT_PX]
    stops = (n - round(k * beat_px) for k in range(int(n / beat_px)))
    return [slice(max(stop - round(beat_px), 0), stop) for stop in stops]


def _column_light(frames: SpectrumFrames, envelope: Envelope) -> Floats:
    """Return how bright the upper part of the signal's room is in each column, above columns without signal."""
    assert frames.axes is not None
    box = frames.axes.box
    strip = frames.grey[box.row0 : box.row1, box.col0 : box.col1].astype(np.float64)
    zero = int(np.clip(round(frames.axes.baseline_row_px - box.row0), 0, len(strip)))
    side = strip[:zero][::-1] if envelope.is_up else strip[zero:]
    light = side[int(_FROM_SHARE * envelope.top_px) : max(int(envelope.top_px), 1)].mean(axis=0)
    counted = light[~frames.clicks]
    quiet = float(np.percentile(counted, _QUIET_PERCENTILE)) if counted.size else 0.0
    return np.asarray(np.maximum(light - quiet, 0.0))
