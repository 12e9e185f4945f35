"""The Doppler signal: what scatterers that pass through the beam add up to, sample by sample.

Each place of the beam is passed by one scatterer after the other. A scatterer has a random strength and phase, is heard
through a raised cosine as long as its transit takes, and turns its phase by 2·f·v/c a second: Doppler shift, transit
time broadening and the grain of the spectrum follow. Samples are taken at the pulses: fast flow wraps by itself.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from itertools import islice, pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fanlight.simulate.machine.probe import SPEED_MM_S
from fanlight.simulate.spectral.spectral_body import LOUD, TOWARDS, TRANSITS, UNSTEADY, Matter, Met, SpectralBody
from fanlight.simulate.spectral.spectral_courses import course, hold_back, summed
from fanlight.simulate.spectral.spectral_hold import AT_ONCE

Floats = NDArray[np.floating[Any]]

# Between moments at which the body is asked; in between, velocities change in a line. The peak of a wave that lasts
# 100 ms comes out at most 1.2 % too low: (step² / 8) · (pi / 100 ms)² (a half sine; identity).
STEP_MS = 10.0
PASSING_STEPS = 3  # parts of the step in which a leaflet passes the gate
# A leaflet is a mirror: on the line of a continuous wave a piece of it lights up or goes out within so many ms as the
# valve snaps; so short a change is broad-band (engineering judgement).
JUMP_MS = (0.15, 0.6)
SNAP_MM_S_MS = 12.0  # a valve that stops from 0.3 m/s in 25 ms (engineering judgement)
_KEPT = 32  # scatterers remembered for a place before they come again: far more than a window sees
_MEAN_POWER = 8 / 3  # 1 / mean of cos⁴ (identity)
# Phases and amplitudes are worked out at knots, and in between run on evenly (numerical: a test tells what it costs).
KNOTS_A_PASSAGE = 24  # while the shortest of a step lasts: a line is then off by 0.9 % of its height at most
GLIDE_OFF = 0.01  # of the amplitude of blood: how far all that comes or goes in a step may be off together
PHASE_OFF = 0.02  # rad: how far the phase of what speeds up most
# At least; and about so many at most in a gate, which fast flow passes in less than a millisecond, and along the line
# of a continuous wave, whose jets reach 6 m/s.
LEAST_KNOTS_HZ, GATED_KNOTS_HZ, LINE_KNOTS_HZ = 1500.0, 7000.0, 5500.0
_EDGE_SHARE = 0.04  # of the band, over which the filter before sampling falls (engineering judgement)
_LEAFLET = np.uint8(Matter.LEAFLET)  # arrays are compared with a member ten times as slowly
_FAINT = 1e-7  # amplitude below which a place is not heard (numerical)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sampling:
    """How the signal is sampled."""

    sample_hz: float
    frequency_mhz: float
    # what a filter before sampling lets through, Hz, towards the probe positive; None: a gate samples as it comes
    band_hz: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Rows:
    """Courses of one step; all arrays are (row,). A place where the matter changes has two: one fades, one appears."""

    place: NDArray[np.intp]
    first: Floats  # velocity at the beginning and the end, mm/s
    last: Floats
    rate_first: Floats
    rate_last: Floats
    loud_first: Floats
    loud_last: Floats
    unsteady: Floats
    # share of the step after which a leaflet's echo comes or goes quickly (nan: it glides), and how many ms that takes;
    # None: all glide
    jumping: tuple[Floats, Floats] | None

    def only(self, these: NDArray[np.bool_], *, jumps: bool) -> _Rows:
        """Return some of the courses, of which all jump or all glide."""
        parts = {item.name: getattr(self, item.name)[these] for item in fields(self) if item.name != "jumping"}
        jumping = (self.jumping[0][these], self.jumping[1][these]) if jumps and self.jumping is not None else None
        return _Rows(**parts, jumping=jumping)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Piece:
    """The samples of one step, counted from the first of the signal; the last is outside."""

    first: int
    last: int
    per_ms: float
    at_ms: float  # of the step
    step_ms: float

    def share(self, stride: int) -> NDArray[np.float32]:
        """Return how much of the step has passed at every n-th sample and one beyond the last."""
        knots = self.first + stride * np.arange(-(-(self.last - self.first) // stride) + 1)
        return ((knots / self.per_ms - self.at_ms) / self.step_ms).astype(np.float32)


class SignalSource:
    """Makes the signal step by step; remembers the phases of its scatterers."""

    def __init__(self, body: SpectralBody, sampling: Sampling, n_places: int, rng: np.random.Generator) -> None:
        self._body, self._sampling, self._rng = body, sampling, rng
        self._hz_per_mm_s = 2e6 * sampling.frequency_mhz / SPEED_MM_S
        self._turns = rng.random(n_places)
        self._passed = rng.random(n_places) * _KEPT
        scatterers = rng.standard_normal((2, n_places, _KEPT))
        # the raised cosine below is -(cos - 1), 2 at its highest
        self._strength = (np.hypot(*scatterers).ravel() / math.sqrt(2) * -0.5 * math.sqrt(_MEAN_POWER)).astype(
            np.float32
        )
        self._phase = (np.arctan2(*scatterers) / (2 * math.pi)).ravel().astype(np.float32)
        self._gust = rng.standard_normal(n_places * _KEPT).astype(np.float32)

    def signal(self, first_ms: float, last_ms: float) -> NDArray[np.complex64]:
        """Return the samples (sample,) from a time to another, complex, without noise."""
        parts, per_ms, at_ms, done = [], self._sampling.sample_hz / 1000, 0.0, 0
        n = max(1, math.floor((last_ms - first_ms) * per_ms))
        n_steps = max(1, math.ceil(n / per_ms / STEP_MS - 1e-9))
        (before,) = self._body.at_all([first_ms])
        for k in range(0, n_steps, AT_ONCE):
            for after, step_ms in self._next(before, first_ms + at_ms, min(AT_ONCE, n_steps - k)):
                end = max(math.ceil((at_ms + step_ms) * per_ms), done + 1)
                piece = _Piece(first=done, last=end, per_ms=per_ms, at_ms=at_ms, step_ms=step_ms)
                parts.append(self._piece(self._rows(before, after, step_ms), piece))
                before, at_ms, done = after, at_ms + step_ms, end
        return np.concatenate(parts)[:n]

    def _next(self, before: Met, time_ms: float, n: int) -> list[tuple[Met, float]]:
        """Return the next moments and how far apart they are: closer together where a leaflet passes the gate."""
        short_ms = STEP_MS / PASSING_STEPS
        afters = self._body.at_all([time_ms + (k + 1) * STEP_MS for k in range(n)])
        passed = [k for k, pair in enumerate(pairwise([before, *afters])) if _passes(*pair)]
        times_ms = [time_ms + k * STEP_MS + i * short_ms for k in passed for i in range(1, PASSING_STEPS)]
        between = iter(self._body.at_all(times_ms) if times_ms else [])
        out = []
        for k, after in enumerate(afters):
            if k in passed:
                out += [(met, short_ms) for met in (*islice(between, PASSING_STEPS - 1), after)]
            else:
                out.append((after, STEP_MS))
        return out

    def _rows(self, before: Met, after: Met, step_ms: float) -> _Rows:
        heard = np.maximum(before.amplitude, after.amplitude) > _FAINT
        alike = before.matter == after.matter
        same, changed = (alike & heard).nonzero()[0], (heard & ~alike).nonzero()[0]
        if not len(changed):
            return _of(same, before.courses.take(same, axis=1), after.courses.take(same, axis=1))
        # A leaflet comes into a gate as fast as its border passes beam and pulse: the shortest it can be heard for, the
        # click of a valve. Along a whole line it stays heard wherever it goes.
        comes = after.matter[changed] == _LEAFLET
        jumps = comes | (before.matter[changed] == _LEAFLET)
        if self._sampling.band_hz is None:
            jump_ms = 1000 / np.maximum(np.where(comes, after.edges_hz[changed], before.edges_hz[changed]), 1.0)
            jumps &= jump_ms < step_ms
        else:
            jump_ms = self._rng.uniform(*JUMP_MS, len(changed))
            jumps &= _snaps(before, after, step_ms)
        begins = self._rng.random(len(changed))

        place = np.concatenate([same, changed, changed])
        first, last = before.courses.take(place, axis=1), after.courses.take(place, axis=1)
        fades, appears = slice(len(same), -len(changed)), slice(-len(changed), None)
        last[:, fades], first[:, appears] = first[:, fades], last[:, appears]
        last[LOUD, fades], first[LOUD, appears] = 0.0, 0.0
        if not jumps.any():
            return _of(place, first, last)
        never, jump = np.full(len(same), np.nan), np.where(jumps, begins * np.maximum(1 - jump_ms / step_ms, 0), np.nan)
        jumping = np.concatenate([never, jump, jump]), np.concatenate([never, jump_ms, jump_ms])
        return _of(place, first, last, jumping)

    def _piece(self, rows: _Rows, piece: _Piece) -> NDArray[np.complex64]:
        """Return the samples of a step; what jumps is worked out at every sample."""
        if rows.jumping is None:
            return self._step(rows, piece, self._stride(rows, piece))
        jumps = ~np.isnan(rows.jumping[0])
        gliding, jumping = rows.only(~jumps, jumps=False), rows.only(jumps, jumps=True)
        return self._step(gliding, piece, self._stride(gliding, piece)) + self._step(jumping, piece, 1)

    def _stride(self, rows: _Rows, piece: _Piece) -> int:
        """Return how many samples lie between knots: what passes slowly, evenly and as loud as before needs few.

        Between knots a n-th of the step apart a line is off by an eighth of what bends the curve, over n squared.
        """
        passages_hz = max(rows.rate_first.max(initial=0.0), rows.rate_last.max(initial=0.0))
        risen, speeds_up = rows.loud_last - rows.loud_first, np.abs(rows.last - rows.first).max(initial=0.0)
        glide = 6.0 * math.sqrt(risen @ risen)  # a smooth step bends by six times its height at most; phases differ
        phase = 2 * math.pi * self._hz_per_mm_s * piece.step_ms / 1000 * speeds_up
        n = math.sqrt(max(glide / GLIDE_OFF, phase / PHASE_OFF) / 8)
        most_hz = GATED_KNOTS_HZ if self._sampling.band_hz is None else LINE_KNOTS_HZ
        knots_hz = max(KNOTS_A_PASSAGE * passages_hz, 1000 * n / piece.step_ms, LEAST_KNOTS_HZ)
        return max(1, int(1000 * piece.per_ms / min(knots_hz, most_hz)))

    def _step(self, rows: _Rows, piece: _Piece, stride: int) -> NDArray[np.complex64]:
        """Return the samples of some courses: phases and amplitudes are worked out at the knots."""
        share, step_s = piece.share(stride), piece.step_ms / 1000
        place, scale = rows.place, self._hz_per_mm_s * step_s
        first, last = rows.first * scale, rows.last * scale  # turns in the step at the speed of its beginning, its end
        mean = 0.5 * (rows.first + rows.last) * scale
        bent = 0.5 * share**2
        passed, turned = self._passed[place], self._turns[place]
        whole = np.floor(passed)
        count = course(passed - whole, rows.rate_first * step_s, rows.rate_last * step_s, share, bent)
        turns = course(turned, first, last, share, bent)
        passage = np.floor(count)
        entry = passage.astype(np.int32)
        entry += whole.astype(np.int32)[:, None]
        entry &= _KEPT - 1
        entry += (place * _KEPT).astype(np.int32)[:, None]
        entry = entry.astype(np.intp)  # what three look-ups would each make of it
        slope = course(first, (rows.last - rows.first) * scale, None, share, None)
        blown, gusty = np.zeros(len(place)), rows.unsteady > 0
        if gusty.any():
            gust = self._gust.take(entry, mode="clip")
            gust *= (rows.unsteady * scale).astype(np.float32)[:, None]
            hold_back(gust, mean, gusty)
            blown = gust[:, -1].astype(np.float64)
            slope += gust
            gust *= share
            turns += gust
        turns += self._phase.take(entry, mode="clip")
        count -= passage
        count *= np.float32(2 * math.pi)
        loud = np.cos(count, out=count)
        loud -= 1
        loud *= self._strength.take(entry, mode="clip")
        loud *= _loudness(rows, share, piece.step_ms)
        if self._sampling.band_hz is not None:
            self._cut(loud, slope, np.float32(step_s))
        # Phases and passages are handed on to the next step; of a place with two courses, the later one goes on.
        turned = turned + (mean + blown)
        self._passed[place] = passed + 0.5 * (rows.rate_first + rows.rate_last) * step_s
        self._turns[place] = turned - np.floor(turned)
        slope *= share[1] - share[0]
        return summed(loud, turns, slope, stride)[: piece.last - piece.first]

    def _cut(self, loud: NDArray[np.float32], slope: NDArray[np.float32], step_s: np.float32) -> None:
        """Take away what the filter before sampling does not let through, by the turns a step at each moment."""
        assert self._sampling.band_hz is not None
        low, high = self._sampling.band_hz
        edge = np.float32(_EDGE_SHARE * (high - low))
        inner = (low + edge) * step_s, (high - edge) * step_s
        if slope.min(initial=inner[0]) >= inner[0] and slope.max(initial=inner[1]) <= inner[1]:
            return  # ten times as fast as row by row; so too where the beam meets nothing
        near = np.flatnonzero((slope.min(axis=1) < inner[0]) | (slope.max(axis=1) > inner[1]))
        shift = slope[near] / step_s
        loud[near] *= np.clip(np.minimum(shift - np.float32(low), np.float32(high) - shift) / edge, 0, 1)


def _of(place: NDArray[np.intp], first: Floats, last: Floats, jumping: tuple[Floats, Floats] | None = None) -> _Rows:
    """Return courses from what `Met.courses` says of their places at both ends of a step."""
    return _Rows(
        place=place,
        first=first[TOWARDS],
        last=last[TOWARDS],
        rate_first=first[TRANSITS],
        rate_last=last[TRANSITS],
        loud_first=first[LOUD],
        loud_last=last[LOUD],
        unsteady=first[UNSTEADY],
        jumping=jumping,
    )


def _loudness(rows: _Rows, share: NDArray[np.float32], step_ms: float) -> NDArray[np.float32]:
    """Return the amplitude of each course, (row, sample): it glides without a kink, a leaflet's may jump."""
    # `np.clip` takes several times as long
    glide: NDArray[np.float32] = np.minimum(np.maximum(share, 0), 1)
    glide = glide * glide * (3 - 2 * glide)
    first = rows.loud_first.astype(np.float32)[:, None]
    rise = (rows.loud_last - rows.loud_first).astype(np.float32)[:, None]
    out = rise * glide
    out += first
    if rows.jumping is not None:
        jump, jump_ms = rows.jumping
        jumps = np.flatnonzero(~np.isnan(jump))
        along = np.clip((share - jump[jumps, None]) * (step_ms / jump_ms[jumps, None]), 0, 1)
        out[jumps] = first[jumps] + rise[jumps] * along * along * (3 - 2 * along)
    return out


def _passes(before: Met, after: Met) -> bool:
    """Whether a leaflet comes into the gate, leaves it, or slips through it between two moments."""
    if before.leaflet_in_gate or after.leaflet_in_gate:
        return before.leaflet_in_gate != after.leaflet_in_gate
    return before.leaflet_off_mm * after.leaflet_off_mm < 0  # nan: none is near


def _snaps(before: Met, after: Met, step_ms: float) -> bool:
    """Whether leaflets change their speed so abruptly as when a valve opens or shuts."""
    if math.isnan(before.leaflet_mm_s) or math.isnan(after.leaflet_mm_s):
        return False
    return abs(after.leaflet_mm_s - before.leaflet_mm_s) > SNAP_MM_S_MS * step_ms
