"""Arithmetic of the courses of scatterers: phases and amplitudes at knots, their fluctuation and their sum."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.floating[Any]]

FASTER_SHARE = 1.05  # of the fastest mean velocity, which the fluctuation of blood may reach (engineering judgement)


def hold_back(gust: NDArray[np.float32], mean: Floats, gusty: NDArray[np.bool_]) -> None:
    """Turn fluctuations round, in place, that would make blood faster than the fastest stream in the beam.

    Eddies live on the speed of the core and do not outrun it: the edge of a jet's spectrum is that of its core.
    """
    most = np.float32(FASTER_SHARE * np.abs(mean[gusty]).max())
    own = mean.astype(np.float32)
    forward = gust + own[:, None]
    forward *= np.sign(own)[:, None]
    # few; no mean with a gust is so fast itself, so they point its way, and rows without one have none to turn
    over = (forward > most).ravel().nonzero()[0]
    gust.put(over, -gust.take(over))


def summed(
    loud: NDArray[np.float32], turns: NDArray[np.float32], slope: NDArray[np.float32], n: int
) -> NDArray[np.complex64]:
    """Return the sum of all courses, n samples a knot: phases run on evenly from knot to knot, amplitudes in a line.

    The last knot only ends the stretch before it. It is worked out like the others and left out of the sum: on rows
    that stay whole in memory, steps take half the time.
    """
    unit = _unit(turns)
    start = unit * loud
    if n == 1:
        return np.asarray(start[:, :-1].sum(axis=0))
    rise = unit * _to_next(np.subtract, loud, np.float32(n))
    turn = _unit(_to_next(np.add, slope, np.float32(2 * n)))
    out, all_of_them = np.empty((n, start.shape[1] - 1), np.complex64), np.ones(len(start), np.complex64)
    for j in range(n):
        np.matmul(all_of_them, start[:, :-1], out=out[j])  # a sum, faster
        if j < n - 1:
            start += rise
            start *= turn
        if j < n - 2:
            rise *= turn
    return np.ascontiguousarray(out.T).ravel()


def _to_next(together: np.ufunc, values: NDArray[np.float32], over: np.float32) -> NDArray[np.float32]:
    """Return the difference or sum of each knot's next value and its own, over a number; at the last knot, anything."""
    out, flat = np.empty(values.size, np.float32), values.ravel()
    together(flat[1:], flat[:-1], out=out[:-1])
    out[-1:] = 0.0
    out /= over
    return out.reshape(values.shape)


def _unit(turns: NDArray[np.float32]) -> NDArray[np.complex64]:
    """Return exp(2·pi·i·turns)."""
    angle = np.floor(turns)
    np.subtract(turns, angle, out=angle)
    angle *= np.float32(2 * math.pi)
    out = np.empty(angle.shape, np.complex64)
    np.cos(angle, out=out.real)
    np.sin(angle, out=out.imag)
    return out


def course(
    start: Floats, first: Floats, last: Floats | None, share: NDArray[np.float32], bent: NDArray[np.float32] | None
) -> NDArray[np.float32]:
    """Return start + first·s + (last - first)·s²/2, or without the last term, (row, sample)."""
    out = first.astype(np.float32)[:, None] * share
    out += start.astype(np.float32)[:, None]
    if last is not None and bent is not None:
        out += (last - first).astype(np.float32)[:, None] * bent
    return out
