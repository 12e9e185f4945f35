"""From packets to velocity, power and variance: wall filter, lag-one autocorrelation, averaging over neighbours.

References
----------
.. [Kasai1985] C. Kasai, K. Namekawa, A. Koyano, R. Omoto, "Real-time two-dimensional blood flow imaging using an
   autocorrelation technique", IEEE Trans. Sonics Ultrason. 1985; 32: 458-464.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
Complexes = NDArray[np.complex64]

# Above the mean power of noise, at gain 0: with a packet of 10 and its neighbours averaged, noise passes in far less
# than one cell in a thousand (engineering judgement; a test counts).
THRESHOLD_DB = 4.0
# What the machine calls tissue: so much less than muscle at most, weakened by the wall filter by so much at least, and
# what is left slower than so many cut-offs. Blood is 31 dB under muscle, but deep in a heart up to 12 dB less dimmed,
# and clutter reaches it past the beam (engineering judgement, by eye on the model heart).
UNDER_MUSCLE_DB, TISSUE_LOSS_DB, _SLOW_CUT_OFFS = 21.0, 6.0, 1.5
_WEIGHTS_DB = (0.1, 20.0)  # of an estimate in persistence: noise hardly counts, nothing counts more than strong blood


@lru_cache(maxsize=32)
def wall_filter(ensemble: int, order: int) -> Floats:
    """Return the matrix (pulse, pulse) that takes the best polynomial of this order off a packet.

    It projects onto what is left of the space of packets, so filtering twice changes nothing.
    """
    powers = np.vander(np.linspace(-1, 1, ensemble), order + 1)
    basis, _ = np.linalg.qr(powers)
    return np.asarray(np.eye(ensemble) - basis @ basis.T, np.float32)


def filter_response_db(ensemble: int, order: int, share: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the power that passes the filter at velocities given as a share of the scale, dB; 0 passes whole."""
    wave = np.exp(1j * np.pi * np.arange(ensemble)[:, None] * share[None, :])
    passed = (np.abs(wall_filter(ensemble, order).astype(float) @ wave) ** 2).mean(axis=0)
    return np.asarray(10 * np.log10(np.maximum(passed, 1e-12)))


def cut_off_m_s(ensemble: int, order: int, scale_m_s: float) -> float:
    """Return the velocity at which half of the power passes the wall filter."""
    share = np.linspace(0.0, 1.0, 2001)
    passed = filter_response_db(ensemble, order, share) >= 10 * math.log10(0.5)
    return float(share[int(np.argmax(passed))]) * scale_m_s


def correlate(packet: Complexes, order: int, smoothing: int) -> tuple[Complexes, Floats, Floats]:
    """Return lag one and power of a packet (pulse, row, line) after the wall filter, and the power before it.

    Power after the filter is that of a pulse where nothing is taken off: white noise keeps its mean power [Kasai1985]_.

    Parameters
    ----------
    order : int
        Of the polynomial that is taken off.
    smoothing : int
        Neighbours to each side over which all are averaged.
    """
    n = packet.shape[0]
    flat = np.ascontiguousarray(packet).reshape(n, -1).view(np.float32)
    kept = wall_filter(n, order) @ flat
    moving = kept.view(np.complex64).reshape(packet.shape)
    lag = (np.conj(moving[:-1]) * moving[1:]).sum(axis=0) * np.float32(1 / (n - 1))
    whole = np.float32(n / (n - order - 1))  # dimensions of the packet over those that are left
    planes = np.empty((*lag.shape, 4), np.float32)
    planes[..., 0], planes[..., 1] = lag.real * whole, lag.imag * whole
    for plane, values, gain in ((2, kept, whole), (3, flat, np.float32(1.0))):
        planes[..., plane] = np.einsum("pk,pk->k", values, values).reshape(*lag.shape, 2).sum(axis=2) * (gain / n)
    if smoothing:
        size = 2 * smoothing + 1
        planes = cv2.blur(planes, (size, size), borderType=cv2.BORDER_REFLECT)
    out = np.empty(lag.shape, np.complex64)
    out.real, out.imag = planes[..., 0], planes[..., 1]
    return out, planes[..., 2], planes[..., 3]


def without_tissue(
    correlation: Complexes, power_db: Floats, whole_db: Floats, muscle_db: Floats, cut_off_share: float
) -> Floats:
    """Return the power with moving tissue taken out: to the floor of noise where the machine calls it tissue.

    Where the echo is nearly as strong as muscle, the wall filter took most of it away and what it left is slow, the
    rest is that of tissue. Noise over still tissue is not slow, so it stays: too much gain shows specks there.

    Parameters
    ----------
    whole_db : ndarray of shape (row, line)
        Power before the wall filter.
    muscle_db : ndarray of shape (row, 1)
        What the machine expects of heart muscle at each depth.
    cut_off_share : float
        Cut-off of the wall filter as a share of the scale.
    """
    slow = np.abs(np.angle(correlation)) < np.float32(math.pi * _SLOW_CUT_OFFS * cut_off_share)
    is_tissue = slow & (whole_db - power_db > TISSUE_LOSS_DB) & (whole_db > muscle_db - np.float32(UNDER_MUSCLE_DB))
    return np.asarray(np.where(is_tissue, np.minimum(power_db, 0.0), power_db), np.float32)


def normalised(lag: Complexes, power: Floats) -> Complexes:
    """Return lag one over the power that is not noise; never longer than 1.

    The power of noise is known to the machine (1 here) and does not count as scatter of the velocities; otherwise weak
    flow along walls would look disturbed.
    """
    length = np.abs(lag)
    share = lag / np.maximum(np.maximum(power - np.float32(1.0), length), np.float32(1e-12))
    return np.asarray(share, np.complex64)


def decibels(power: Floats) -> Floats:
    """Return power in dB over that of noise."""
    return np.asarray(10 * np.log10(np.maximum(power, np.float32(1e-12))), np.float32)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Estimate:
    """One picture's estimate."""

    correlation: Complexes  # (row, line), see `normalised`
    power_db: Floats  # (row, line)


def persisted(estimates: Sequence[Estimate], keep_fraction: float) -> list[Estimate]:
    """Return the estimates with a share of what was shown before.

    Directions are averaged on the circle, so that a wrapped velocity stays wrapped, weighted by power in dB: a leaflet
    that flashes, a thousand times as strong as blood, does not outlast its picture.
    """
    out = list(estimates[:1])
    weight = np.clip(out[0].power_db, *_WEIGHTS_DB)
    for now in estimates[1:]:
        before, mine = out[-1], np.clip(now.power_db, *_WEIGHTS_DB) * np.float32(1 - keep_fraction)
        kept = weight * np.float32(keep_fraction)
        weight = kept + mine
        power_db = keep_fraction * np.minimum(before.power_db, _WEIGHTS_DB[1]) + (1 - keep_fraction) * now.power_db
        out.append(
            Estimate(
                correlation=np.asarray((kept * before.correlation + mine * now.correlation) / weight, np.complex64),
                power_db=np.asarray(power_db, np.float32),
            )
        )
    return out
