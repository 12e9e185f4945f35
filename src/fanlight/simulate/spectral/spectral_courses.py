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
    there = gust + own[:, None]
    over = np.flatnonzero(np.abs(there, out=there) > most)  # few
    some = gust.ravel()[over]
    forward = np.sign(some) == np.sign(own[over // gust.shape[1]])
    np.put(gust, over, np.where(forward, -some, some))


def summed(
    loud: NDArray[np.float32], turns: NDArray[np.float32], slope: NDArray[np.float32], n: int
) -> NDArray[np.complex64]:
    """Return the sum of all courses, n samples a knot: phases run on evenly from knot to knot, amplitudes in a line."""
    cosine, sine = _unit(turns[:, :-1])
    start = _complex(cosine, sine, loud[:, :-1])
    if n == 1:
        return np.asarray(start.sum(axis=0))
    rise = _complex(cosine, sine, (loud[:, 1:] - loud[:, :-1]) / np.float32(n))
    turn = _complex(*_unit((slope[:, :-1] + slope[:, 1:]) / np.float32(2 * n)))
    out, all_of_them = np.empty((n, start.shape[1]), np.complex64), np.ones(len(start), np.complex64)
    for j in range(n):
        np.matmul(all_of_them, start, out=out[j])  # a sum, faster
        if j < n - 1:
            start += rise
            start *= turn
        if j < n - 2:
            rise *= turn
    return np.ascontiguousarray(out.T).ravel()


def _unit(turns: NDArray[np.float32]) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return the real and the imaginary part of exp(2·pi·i·turns)."""
    angle = turns - np.floor(turns)
    angle *= np.float32(2 * math.pi)
    return np.cos(angle), np.sin(angle, out=angle)


def _complex(
    real: NDArray[np.float32], imaginary: NDArray[np.float32], times: NDArray[np.float32] | None = None
) -> NDArray[np.complex64]:
    """Return numbers of two parts, times real ones: part by part, half as long as a product of complex ones."""
    out = np.empty(real.shape, np.complex64)
    if times is None:
        out.real, out.imag = real, imaginary
    else:
        np.multiply(real, times, out=out.real)
        np.multiply(imaginary, times, out=out.imag)
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
