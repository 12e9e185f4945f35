"""The equations of one window: what landmarks, heart, standard planes and the hand say of one set of numbers.

Numbers, in this order: K of the heart; six for each view of the window, by which its standard plane differs from the
usual one; six for each clip, the movement of the hand.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.fit.family import Family
from fanlight.heart.fit.forward import expected_places, units_mm
from fanlight.heart.fit.habits import SLAB_SD
from fanlight.heart.fit.seen import ClipSeen, Moment
from fanlight.heart.fit.visible import found, in_plane, in_sector
from fanlight.heart.standard_poses import STANDARD_VIEWS
from fanlight.study import Landmark, Species

Floats = NDArray[np.float64]
N_PLANE = N_MOVE = 6
# Hearts of one breed differ from any family of shapes: by this share of the unit a landmark may lie elsewhere, which
# both moments share. Engineering judgement, set on ring A.
MISFIT_UNITS = 0.05
# Tail of the landmarks' errors: 5 degrees of freedom bear a wrong one among a dozen. Engineering judgement.
TAIL = 5.0
# Chests and axes scatter the standard planes more than the animals learned from. Engineering judgement, ring A.
PLANE_WIDER = 1.2
LEAST_WEIGHT_SD = 0.12  # of the logarithm of the unit at a known weight: fat and lean animals (engineering judgement)
STEP = 1e-4  # of differences: far below any number that matters, far above rounding


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Clip:
    view: str
    depth_mm: float
    half_width_deg: float
    moment: NDArray[np.int64]  # (N,) of all landmarks said: 0 end-diastole, 1 end-systole
    mark: NDArray[np.int64]  # (N,) number of the landmark
    is_seen: NDArray[np.bool_]  # (N,)
    place_mm: Floats  # (S, 2) right and down of those seen
    sd_mm: Floats  # (S,)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Local:
    """The equations at one set of numbers: minus the logarithm of the posterior, its slope and expected curvature."""

    cost: float
    slope: Floats  # (P,)
    curvature: Floats  # (P, P)


class Problem:
    """One window: its clips, and what is known beforehand."""

    def __init__(
        self, family: Family, clips: Sequence[ClipSeen], species: Species | None = None, weight_kg: float | None = None
    ) -> None:
        self.family = family
        self.views = tuple(dict.fromkeys(clip.view for clip in clips))
        self.clips = tuple(clips)
        self._clips = [_arranged(clip) for clip in clips]
        self.n_clips = len(clips)
        self.n = family.n_heart + N_PLANE * len(self.views) + N_MOVE * len(clips)
        self.prior = self._prior()
        self._weight: tuple[float, float] | None = None
        if species is not None and weight_kg is not None:
            a, b, sd = family.weight[species.value]
            self._weight = (float(a + b * math.log(weight_kg)), max(float(sd), LEAST_WEIGHT_SD))
        self._misfit_mm = MISFIT_UNITS * float(units_mm(family, self.start()[None, : family.n_heart])[0])

    def heart_part(self) -> slice:
        """Return where the numbers of the heart stand."""
        return slice(0, self.family.n_heart)

    def plane_part(self, view: str) -> slice:
        """Return where the numbers of the standard plane of a view stand."""
        at = self.family.n_heart + N_PLANE * self.views.index(view)
        return slice(at, at + N_PLANE)

    def move_part(self, clip: int) -> slice:
        """Return where the numbers of the movement in a clip stand."""
        at = self.family.n_heart + N_PLANE * len(self.views) + N_MOVE * clip
        return slice(at, at + N_MOVE)

    def _prior(self) -> Floats:
        """Return the inverse covariance (P, P) of the numbers beforehand."""
        out = np.eye(self.n)
        chosen = [STANDARD_VIEWS.index(view) for view in self.views]
        size = N_PLANE * len(chosen)
        scatter = PLANE_WIDER**2 * self.family.plane_scatter[np.ix_(chosen, range(6), chosen, range(6))]
        at = slice(self.family.n_heart, self.family.n_heart + size)
        # 1e-6: a plane that never differs is held within a thousandth, and no number divides by 0.
        out[at, at] = np.linalg.inv(scatter.reshape(size, size) + 1e-6 * np.eye(size))
        for clip in range(len(self._clips)):
            part = self.move_part(clip)
            out[part, part] = np.diag(1.0 / SLAB_SD**2)
        return out

    def start(self) -> Floats:
        """Return the usual heart in its standard planes, of the size that the pictures ask for."""
        out = np.zeros(self.n)
        k = self.family.n_heart
        over, under = 0.0, 0.0
        for clip in self._clips:
            expected = expected_places(self.family, clip.view, out[None, :k], np.zeros((1, 6)), np.zeros((1, 6)))[0]
            usual = expected[clip.moment[clip.is_seen], clip.mark[clip.is_seen]][:, [0, 2]]
            over, under = over + float(np.sum(usual * clip.place_mm)), under + float(np.sum(usual**2))
        # Of the numbers of the heart the first alone carries its size.
        first = self.family.log_unit_slope[0]
        size = math.log(max(over / under, 1.0))
        out[0] = float(np.clip((size - self.family.log_unit_mean) / first, -2.5, 2.5))
        return out

    def cost(self, numbers: Floats) -> float:
        """Return minus the logarithm of the posterior, but for a constant."""
        total = 0.5 * float(numbers @ self.prior @ numbers) + self._weight_terms(numbers)[0]
        for index, clip in enumerate(self._clips):
            place, p = self._predict(clip, numbers[None], index)
            total += self._place_cost(clip, place[0]) + _seen_cost(clip, p[0])
        return total

    def local(self, numbers: Floats) -> Local:
        """Return cost, slope and expected curvature at these numbers."""
        cost, slope, curvature = 0.5 * float(numbers @ self.prior @ numbers), self.prior @ numbers, self.prior.copy()
        more, at, bend = self._weight_terms(numbers)
        cost += more
        slope[self.heart_part()] += at
        curvature[self.heart_part(), self.heart_part()] += bend
        for index, clip in enumerate(self._clips):
            which = np.r_[self.heart_part(), self.plane_part(clip.view), self.move_part(index)]
            rows = np.repeat(numbers[None], len(which) + 1, axis=0)
            rows[np.arange(len(which)) + 1, which] += STEP
            place, p = self._predict(clip, rows, index)
            here = (place[0] - clip.place_mm) / self._sd_mm(clip)[:, None]
            steep = (place[1:] - place[0]) / STEP / self._sd_mm(clip)[:, None]
            weight = (TAIL + 2.0) / (TAIL + np.sum(here**2, axis=-1))
            weighted = (steep * np.sqrt(weight)[:, None]).reshape(len(which), -1)
            d_slope = weighted @ (here * np.sqrt(weight)[:, None]).ravel()
            d_curvature = weighted @ weighted.T
            rise = (p[1:] - p[0]) / STEP
            spread = p[0] * (1.0 - p[0])
            d_slope -= rise @ ((clip.is_seen - p[0]) / spread)
            shaped = rise / np.sqrt(spread)
            slope[which] += d_slope
            curvature[np.ix_(which, which)] += d_curvature + shaped @ shaped.T
            cost += self._place_cost(clip, place[0]) + _seen_cost(clip, p[0])
        return Local(cost=cost, slope=slope, curvature=curvature)

    def misfit(self, numbers: Floats, index: int) -> float:
        """Return the root mean square of what is left of a clip's places over what was expected of it."""
        clip = self._clips[index]
        place = self._predict(clip, numbers[None], index)[0][0]
        return float(np.sqrt(np.mean((place - clip.place_mm) ** 2 / self._sd_mm(clip)[:, None] ** 2)))

    def _predict(self, clip: _Clip, rows: Floats, index: int) -> tuple[Floats, Floats]:
        """Return places (B, S, 2) in mm of the landmarks seen, and how likely (B, N) each said one is found."""
        heart = rows[:, self.heart_part()]
        units = units_mm(self.family, heart)[:, None]
        at = expected_places(
            self.family, clip.view, heart, rows[:, self.plane_part(clip.view)], rows[:, self.move_part(index)]
        )[:, clip.moment, clip.mark]
        right, down = at[:, :, 0] * units, at[:, :, 2] * units
        # What was seen lies in the sector: how near its border says nothing.
        sector = np.where(clip.is_seen, 1.0, in_sector(right, down, clip.depth_mm, clip.half_width_deg))
        return np.stack([right, down], axis=-1)[:, clip.is_seen], found(in_plane(at[:, :, 1]), sector)

    def _sd_mm(self, clip: _Clip) -> Floats:
        return np.hypot(clip.sd_mm, self._misfit_mm)

    def _place_cost(self, clip: _Clip, place: Floats) -> float:
        off = np.sum((place - clip.place_mm) ** 2, axis=-1) / self._sd_mm(clip) ** 2
        return float(0.5 * (TAIL + 2.0) * np.sum(np.log1p(off / TAIL)))

    def _weight_terms(self, numbers: Floats) -> tuple[float, Floats, Floats]:
        """Return cost, slope and curvature of what the animal's weight says of the heart's size."""
        slope = self.family.log_unit_slope
        if self._weight is None:
            return 0.0, np.zeros_like(slope), np.zeros((len(slope), len(slope)))
        usual, sd = self._weight
        off = (self.family.log_unit_mean + float(numbers[self.heart_part()] @ slope) - usual) / sd
        return 0.5 * off**2, off / sd * slope, np.outer(slope, slope) / sd**2


def _seen_cost(clip: _Clip, p: Floats) -> float:
    return -float(np.sum(np.log(np.where(clip.is_seen, p, 1.0 - p))))


def _arranged(clip: ClipSeen) -> _Clip:
    marks, moments = list(Landmark), list(Moment)
    said = [(one.landmark, one.moment) for one in clip.seen] + list(clip.missed)
    return _Clip(
        view=clip.view,
        depth_mm=clip.depth_mm,
        half_width_deg=clip.half_width_deg,
        moment=np.array([moments.index(moment) for _, moment in said]),
        mark=np.array([marks.index(mark) for mark, _ in said]),
        is_seen=np.arange(len(said)) < len(clip.seen),
        place_mm=np.array([(one.right_mm, one.down_mm) for one in clip.seen]),
        sd_mm=np.array([one.sd_mm for one in clip.seen]),
    )
