"""Where the pen (or the marker) of an ECG trace stands in each frame, and the trace as one long strip."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from fanlight.frames.ecg_line import NO_ROW

Rows = NDArray[np.int16]
_MOST_ENDS = 6  # of changes in one frame that may be the pen


class Drawing(StrEnum):
    """How a screen moves its trace on."""

    SWEEP = "a pen writes from left to right and begins again"
    MARKER = "the trace stands still and a marker runs along it"
    SCROLL = "the trace runs to the left"
    STILL = "the trace stands still and nothing marks the frame"


@dataclass(frozen=True, slots=True, kw_only=True)
class LongStrip:
    """The trace laid out in the order in which it was drawn, one value a pixel.

    `frame_of_px` is the (fractional) frame in which each pixel was drawn or passed by the marker; below 0
    before the clip. `support_fraction` is the share of frames in which the pen was where it should be.
    """

    drawing: Drawing
    top: NDArray[np.float64]
    bottom: NDArray[np.float64]
    frame_of_px: NDArray[np.float64]
    px_per_frame: float
    support_fraction: float


def lay_out(top: Rows, bottom: Rows, marks: NDArray[np.bool_]) -> LongStrip | None:
    """Return the trace as one strip, or None where it never shows.

    Parameters
    ----------
    top, bottom : ndarray of shape (frame, col)
        Rows of the line, `NO_ROW` where there is none.
    marks : ndarray of shape (frame, col)
        Columns in which anything beside the picture changed since the frame before (for markers drawn in
        another ink).
    """
    there = bottom > NO_ROW
    usual = np.flatnonzero(there.mean(axis=0) > 0)
    if len(usual) < 20:
        return None
    n = len(top)
    before, after = there[:-1], there[1:]
    jump = np.maximum(abs(np.diff(top, axis=0)), abs(np.diff(bottom, axis=0))) > 2  # softer edges move by a row or two
    drawn = np.zeros_like(there)
    drawn[1:] = (after & ~before) | (before & after & jump)
    if n >= 6:
        scroll = _scroll(top, bottom, there)
        if scroll is not None:
            return scroll
        pens = [_pen_track(events, int(usual[0]), int(usual[-1]) + 1) for events in (drawn, marks)]
        strips = [_strip_of_pen(top, bottom, there, pen) for pen in pens if pen is not None]
        if strips and strips[0].drawing is Drawing.MARKER:
            return strips[-1]  # the marker itself shows better than the ink that it hides
        if strips:
            return strips[0]
    rows_top, rows_bottom = _typical(top, there), _typical(bottom, there)
    return LongStrip(
        drawing=Drawing.STILL, top=rows_top, bottom=rows_bottom, frame_of_px=np.full(top.shape[1], np.nan),
        px_per_frame=0.0, support_fraction=0.0,
    )  # fmt: skip


def _typical(rows: Rows, there: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Middle value of each column over the frames that show it; NaN where fewer than half do."""
    some = slice(None, None, max(len(rows) // 60, 1))
    values = np.where(there[some], rows[some].astype(np.float64), np.nan)
    enough = there[some].mean(axis=0) >= 0.5
    out = np.full(rows.shape[1], np.nan)
    out[enough] = np.nanmedian(values[:, enough], axis=0)
    return out


def _scroll(top: Rows, bottom: Rows, there: NDArray[np.bool_]) -> LongStrip | None:
    """The strip of a trace that runs to the left at an even pace, or None if this one does not."""
    n, width = top.shape
    shown = np.flatnonzero(there.mean(axis=0) > 0.7)
    if len(shown) < 40:
        return None
    col0, col1 = int(shown[0]), int(shown[-1]) + 1
    middle = (top[:, col0:col1] + bottom[:, col0:col1]) / 2.0
    level = np.median(middle[there[:, col0:col1]])
    away = np.where(there[:, col0:col1], middle - level, 0.0)
    spectrum = np.fft.rfft(away, 2 * away.shape[1], axis=1)
    power = float((away**2).sum()) / n

    def shift(k: int, near: float | None) -> tuple[float, float, float]:
        product = (spectrum[:-k] * spectrum[k:].conj()).mean(axis=0)
        correlation = np.fft.irfft(product)[: away.shape[1] // 2]
        low, high = (0, len(correlation)) if near is None else (max(int(near) - 4, 0), int(near) + 6)
        at = low + int(correlation[low:high].argmax())
        if 0 < at < len(correlation) - 1:
            a, b, c = correlation[at - 1 : at + 2]
            curve = a - 2 * b + c
            return at + (0.5 * (a - c) / curve if curve < 0 else 0.0), float(b), float(correlation[0])
        return float(at), float(correlation[at]), float(correlation[0])

    lag, best, unmoved = shift(1, None)
    if lag < 0.4 or power <= 0 or best < 0.6 * power or unmoved > 0.9 * best:
        return None
    pace, k = lag, 2
    while k < n // 2 and k * pace < away.shape[1] / 3:
        lag, _, _ = shift(k, k * pace)
        pace = lag / k
        k *= 2
    last = (n - 1) * pace
    px = np.arange(col0 - col1 + 1, int(np.floor(last)) + 1)
    frame = np.clip(np.ceil(np.maximum(px + 3, 0) / pace).astype(int), 0, n - 1)
    cols = np.round(col1 - 1 - (frame * pace - px)).astype(int)
    seen = (cols >= 0) & (cols < width)
    cols = np.clip(cols, 0, width - 1)
    known = seen & there[frame, cols]
    return LongStrip(
        drawing=Drawing.SCROLL,
        top=np.where(known, top[frame, cols], np.nan),
        bottom=np.where(known, bottom[frame, cols], np.nan),
        frame_of_px=px / pace,
        px_per_frame=pace,
        support_fraction=min(best / power, 1.0),
    )


@dataclass(frozen=True, slots=True)
class _Pen:
    """Unrolled right edge of the pen in each frame, and what else is known of it."""

    position: NDArray[np.float64]
    period: float  # columns until it comes round
    support: float
    col0: int
    width: float  # columns that the pen or marker itself takes


def _pen_track(events: NDArray[np.bool_], col0: int, col1: int) -> _Pen | None:
    """Follow what runs to the right at an even pace through the changes; None without a pen."""
    n = len(events)
    width = col1 - col0
    events = events.copy()
    # a pen passes a column once in a while; a column that changes all the time only flickers
    events[:, events.sum(axis=0) > max(0.12 * n, 6.0)] = False
    counts = events[:, col0:col1].sum(axis=1)
    usable = (counts > 0) & (counts < 0.25 * width)  # a jump of the whole picture is no pen
    if usable.sum() < max(4, 0.3 * (n - 1)):
        return None
    ends: list[NDArray[np.int64]] = []
    for t in range(n):
        cols = np.flatnonzero(events[t, col0:col1]) if usable[t] else np.empty(0, np.int64)
        if len(cols) > 1:  # right end of each cluster
            cols = cols[np.append(np.diff(cols) > 3, True)]
        ends.append(cols[-_MOST_ENDS:])
    pace = _usual_pace(ends, width)
    if pace is None:
        return None
    frame = np.concatenate([np.full(len(c), t) for t, c in enumerate(ends)])
    col = np.concatenate(ends).astype(np.float64)
    weight = np.concatenate([np.full(len(c), 1.0 / max(len(c), 1)) for c in ends])
    best = (0.0, 0.0, pace, float(width))
    reach = max(4.0, 1.5 * pace)
    steps = int(min(max(n * 0.3 / 2, 8), 120))
    # where the pen does not come round within the clip all periods score alike, and the first, the width, holds
    periods = np.concatenate([[width], np.arange(width - 3.0, width * 1.08 + 4, 3.0)])
    bins_px = reach / 2
    speeds = np.linspace(pace - 0.3, pace + 0.3, 2 * steps + 1)
    speeds = speeds[speeds > 0.1]
    starts = col - speeds[:, None] * frame
    weights = np.broadcast_to(weight, starts.shape).ravel()
    for period in periods:
        n_bins = max(round(period / bins_px), 4)
        place = np.mod(starts, period) / period * n_bins
        bins = np.minimum(place.astype(int), n_bins - 1) + n_bins * np.arange(len(speeds))[:, None]
        score = np.bincount(bins.ravel(), weights, n_bins * len(speeds)).reshape(len(speeds), n_bins)
        pairs = score + np.roll(score, -1, axis=1)
        most = pairs.argmax(axis=1)
        for speed, at, pair in zip(speeds, most, pairs[np.arange(len(speeds)), most], strict=True):
            if pair > best[0] + 1e-9:
                best = (float(pair), (int(at) + 1) * period / n_bins, float(speed), float(period))
    _, start, speed, period = best
    expected = start + speed * np.arange(n)
    offset = np.full(n, np.nan)
    extents: list[float] = []
    for t, cols in enumerate(ends):
        if len(cols):
            away = np.mod(cols - expected[t] + period / 2, period) - period / 2
            near = away[abs(away) <= reach]
            if len(near):
                offset[t] = near.max()
                changed = np.flatnonzero(events[t, col0:col1])
                behind = np.mod(changed - expected[t] - near.max() + period / 2, period) - period / 2
                behind = behind[(behind <= 0) & (behind >= -(speed + 16))]
                extents.append(float(-behind.min()) + 1 if len(behind) else 1.0)
    seen = np.isfinite(offset)
    support = float(seen[1:].mean())
    if support < 0.5:
        return None
    t_all = np.arange(n)
    position = expected + np.interp(t_all, t_all[seen], offset[seen])
    position -= np.floor(position[0] / period) * period
    # what changes is where the marker was and where it is: its width and one step
    width_px = max(float(np.median(extents)) - speed, 1.0)
    return _Pen(np.maximum.accumulate(position), period, support, col0, width_px)


def _usual_pace(ends: list[NDArray[np.int64]], width: int) -> float | None:
    """Most frequent forward step between events of neighbouring frames, in pixels a frame."""
    table = np.full((len(ends), _MOST_ENDS), np.nan)
    for t, cols in enumerate(ends):
        table[t, : len(cols)] = cols
    steps: list[NDArray[np.float64]] = []
    for k in (1, 2, 3, 4, 6, 8):
        step = (table[k:, None, :] - table[:-k, :, None]) / k
        steps.append(step[(step > 0.1) & (step < width / 5)])
    values = np.concatenate(steps)
    if len(values) < 6:
        return None
    histogram, edges = np.histogram(values, bins=np.arange(0, width / 5 + 0.5, 0.25))
    smooth = np.convolve(histogram, np.ones(3), "same")
    at = int(smooth.argmax())
    near = values[(values > edges[max(at - 1, 0)]) & (values < edges[min(at + 2, len(edges) - 1)])]
    return float(np.median(near)) if len(near) else None


def _strip_of_pen(top: Rows, bottom: Rows, there: NDArray[np.bool_], pen: _Pen) -> LongStrip:
    """Read each column after the pen has passed it; before the clip, what the first frame still shows."""
    n, width = top.shape
    position, period, support, col0 = pen.position, pen.period, pen.support, pen.col0
    pace = float((position[-1] - position[0]) / max(n - 1, 1))
    aside = 6  # pixels: a marker may hide the trace beside it
    if _stands_still(top, there, position, period, col0):
        rows_top, rows_bottom = _typical(top, there), _typical(bottom, there)
        position = position - (pen.width - 1) / 2  # the middle of the marker tells the time
        px = np.arange(width) - col0
        inside = np.interp(px, position + 1e-6 * np.arange(n), np.arange(n))
        frame_of_px = np.where(px < position[0], (px - position[0]) / pace, inside)
        frame_of_px = np.where(px > position[-1], n - 1 + (px - position[-1]) / pace, frame_of_px)
        return LongStrip(
            drawing=Drawing.MARKER, top=rows_top, bottom=rows_bottom, frame_of_px=frame_of_px, px_per_frame=pace,
            support_fraction=support,
        )  # fmt: skip
    px = np.arange(int(np.ceil(position[0] - period)) + 1, int(np.floor(position[-1])) + 1)
    frame = np.clip(np.searchsorted(position, px + aside), 0, n - 1)
    frame = np.where(px <= position[0], 0, frame)
    cols = np.round(np.mod(px, period)).astype(int) + col0
    inside_screen = cols < width
    cols = np.clip(cols, 0, width - 1)
    known = inside_screen & there[frame, cols]
    drawn_at = np.interp(px, position + 1e-6 * np.arange(n), np.arange(n))
    return LongStrip(
        drawing=Drawing.SWEEP,
        top=np.where(known, top[frame, cols], np.nan),
        bottom=np.where(known, bottom[frame, cols], np.nan),
        frame_of_px=np.where(px < position[0], (px - position[0]) / pace, drawn_at),
        px_per_frame=pace,
        support_fraction=support,
    )


def _stands_still(top: Rows, there: NDArray[np.bool_], position: NDArray[np.float64], period: float, col0: int) -> bool:
    """Whether the trace is the same before and after the pen has passed (then it is only a marker)."""
    n, width = top.shape
    same = differ = 0
    for t in range(n):
        col = round(float(np.mod(position[t], period))) + col0
        away_early, away_late = position[t] - position[0], position[-1] - position[t]
        if not 0 <= col < width or away_early < 12 or away_late < 40:
            continue
        early = int(np.searchsorted(position, position[t] - 12))
        late = int(np.searchsorted(position, position[t] + 12))
        if late >= n:
            continue
        part = slice(max(col - 3, 0), col + 4)
        if there[early, part].all() and there[late, part].all():
            if abs(top[early, part].astype(int) - top[late, part]).max() <= 2:
                same += 1
            else:
                differ += 1
        elif there[early, part].any() != there[late, part].any():
            differ += 1
    return same > 3 * max(differ, 1)
