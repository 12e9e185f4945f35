"""What the pose fit says of one drawn animal: scanned correctly, with one clear fault, with one habit in a window."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from fanlight.heart.animal import Animal
from fanlight.heart.fit.fit_pose import fit_pose
from fanlight.heart.fit.pose_values import ClipPose, Offset, WindowPose
from fanlight.heart.fit.seen import ClipSeen
from fanlight.heart.kinds import HeartClass
from fanlight.heart.movements import Movement
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.faults.faults import FAULTS
from fanlight.simulate.visit.hand import Scatter
from fanlight.simulate.visit.hand_level import HandLevel
from measure._pose_cases import Quality, added, animal_of, pose_after, scatter_of, scattered, seen_at

Record = dict[str, Any]
Amounts = dict[Movement, float]
RIGHT = (
    "right_parasternal_long_axis_four_chamber",
    "right_parasternal_short_axis_mitral_valve",
    "right_parasternal_short_axis_aorta",
)
SINGLE = (*RIGHT, "right_parasternal_long_axis_outflow", "left_apical_four_chamber", "left_apical_five_chamber")
APICAL = "left_apical_four_chamber"
# Pairs of opposite faults, in turn; the three strongest grades are clear faults (simulate/faults/fault_pose.py).
KINDS = {
    Movement.ROTATE: ("rotate_clockwise", "rotate_counterclockwise"),
    Movement.TILT: ("tilt_plus", "tilt_minus"),
    Movement.ROCK: ("rock_plus", "rock_minus"),
    Movement.SLIDE: ("slide_dorsal", "slide_ventral"),
    Movement.SPACE: ("space_cranial", "space_caudal"),
}
GRADES = (3, 4, 5)
NOISES = (0.02, 0.03)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Scan:
    """One animal under one hand."""

    animal: Animal
    rng: np.random.Generator
    quality: Quality

    def clip(self, view: str, amounts: Amounts, scatter: Scatter) -> tuple[ClipSeen, Amounts] | None:
        """Return landmarks and true amounts; None where no probe can stand so, or too few landmarks are seen."""
        true = added(amounts, scattered(scatter, self.animal.thorax.scale_ratio, self.rng))
        try:
            return seen_at(self.animal, view, pose_after(self.animal, view, true), self.rng, self.quality), true
        except ValueError:
            return None


def measure_subject(seed: int, ring: Ring) -> Record:
    """Return what the fit says of one animal, beside what is true."""
    animal = animal_of(seed, ring)
    rng = np.random.default_rng([seed, 37])
    scan = _Scan(animal=animal, rng=rng, quality=Quality(noise_fraction=float(rng.uniform(*NOISES))))
    steady, improving = (scatter_of(ring, level, seed) for level in (HandLevel.STEADY, HandLevel.IMPROVING))
    fault, habit = (_fault(kind, rng, animal) for kind in (_kind(seed), _kind(seed + 2)))
    other = _fault(_kind(seed + 3), rng, animal)
    views = (SINGLE[seed % len(SINGLE)], SINGLE[(seed + 2) % len(SINGLE)])
    return {
        "seed": seed,
        "heart": animal.heart.value,
        "is_normal": animal.heart is HeartClass.NORMAL,
        "lv_diameter_mm": animal.anatomy.sizes.lv_diameter_mm,
        "correct": [
            _window([scan.clip(view, {}, steady) for view in RIGHT]), _window([scan.clip(APICAL, {}, steady)]),
        ],
        "faults": [
            {"kind": next(iter(wrong)).value, **_window([scan.clip(view, wrong, improving)])}
            for view, wrong in zip(views, (fault, other), strict=True)
        ],
        "habit": {
            "kind": next(iter(habit)).value, **_window([scan.clip(view, habit, improving) for view in RIGHT], True),
        },
    }  # fmt: skip


def _kind(number: int) -> Movement:
    return tuple(KINDS)[number % len(KINDS)]


def _fault(kind: Movement, rng: np.random.Generator, animal: Animal) -> Amounts:
    """Return one clear fault of a kind, of either sense."""
    known = FAULTS[KINDS[kind][int(rng.integers(2))]]
    amount = float(known.steps[int(rng.choice(GRADES)) - 1])
    return {kind: amount * (animal.thorax.scale_ratio if known.grows_with_body else 1.0)}


def _window(scanned: Sequence[tuple[ClipSeen, Amounts] | None], alone: bool = False) -> Record:
    """Return what the joint fit of the clips of a window says; with `alone`, also what the first says by itself."""
    found = [one for one in scanned if one is not None]
    if not found:
        return {"clips": [], "not_fitted": len(scanned)}
    started = time.process_time()
    fit = fit_pose([clip for clip, _ in found])
    spent = time.process_time() - started
    return {
        "clips": [_clip(pose, true) for pose, (_, true) in zip(fit.clips, found, strict=True)],
        "not_fitted": len(scanned) - len(found),
        "place": _offsets(fit.place),
        "cpu_s": spent,
        "lv_mm": _lv(fit),
        "alone": _clip(fit_pose([found[0][0]]).clips[0], found[0][1]) if alone else None,
    }


def _lv(fit: WindowPose) -> list[float]:
    size = fit.heart.lv_diameter_mm
    return [size.mean, size.low, size.high]


def _clip(pose: ClipPose, true: Amounts) -> Record:
    return {
        "view": pose.view,
        "true": {kind.value: amount for kind, amount in true.items()},
        "offsets": _offsets(pose.offsets),
        "pairs": [
            [pair.first.value, pair.first_sense, pair.second.value, pair.second_sense] for pair in pose.pairs
        ],
        "misfit": pose.misfit_ratio,
    }  # fmt: skip


def _offsets(offsets: Sequence[Offset]) -> Record:
    return {
        one.movement.value: {
            "mean": one.amount.mean, "low": one.amount.low, "high": one.amount.high, "limit": one.limit,
            "plus": one.plus_probability, "minus": one.minus_probability,
        }
        for one in offsets
    }  # fmt: skip
