"""What drives the blood of one animal: pressures, leaking valves, narrow and open ones. Drawn once, constant after.

Pressures of a calm animal are textbook figures from memory and engineering judgement where nothing else is said; they
decide no test alone.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from fanlight.heart.animal import Animal
from fanlight.heart.kinds import HeartClass
from fanlight.study import Species

# Bands of the peak gradient that studies of these lesions call mild to severe: subaortic stenosis below 50, 50 to 80,
# 80 to 130 and above (EASON2021, 166 dogs, seen); pulmonic stenosis below 50, 50 to 79, 80 and above (BELANGER2018).
SUBAORTIC_MMHG = (25.0, 130.0)
PULMONIC_MMHG = (30.0, 120.0)
# Systolic pressure of the right ventricle when the pressure of the lungs is high: 51 to 75 mmHg is called moderate,
# more is called severe (WARE6, seen); up to 100 is engineering judgement.
HIGH_LUNG_MMHG = (51.0, 100.0)
_LEFT_MMHG = (105.0, 135.0)  # systolic, left ventricle
_RIGHT_MMHG = (18.0, 26.0)  # systolic, right ventricle
_LEFT_ATRIUM_MMHG, _RIGHT_ATRIUM_MMHG = (4.0, 9.0), (2.0, 5.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Leak:
    """A valve that lets blood back between its shut leaflets."""

    fraction: float  # of the ventricle's stroke that goes back
    lean: tuple[float, float]  # of the jet from the valve's axis: towards the parietal hinge, along the closing line
    is_trace: bool = False  # a short whiff behind the leaflets, as healthy valves have


@dataclass(frozen=True, slots=True, kw_only=True)
class Narrowing:
    """A narrow place on the way out of a ventricle."""

    gradient_mmhg: float  # at the peak of ejection
    lean: tuple[float, float]  # of the jet from the tract's axis, two directions across it


@dataclass(frozen=True, slots=True, kw_only=True)
class Openings:
    """Radius of the streams that leave open valves, over that of the ring as it is drawn."""

    mitral_tips: float = 1.0
    aortic: float = 0.96
    pulmonic: float = 0.96


# What rings are drawn and what strokes pass them come from tables of sizes, which know of no velocities. Set on ring A,
# so that mean peaks lie within what is published (engineering judgement): cats 0.77 to 1.40 m/s in the aorta, 0.65 to
# 1.21 in the pulmonary artery, E 0.43 to 0.95 (CATDOPPLER2012, 53 cats); pulmonary artery of dogs below 1.6
# (FRANCIS2011).
_OPENINGS = {
    Species.DOG: Openings(pulmonic=1.0),
    Species.CAT: Openings(mitral_tips=1.06, aortic=0.895, pulmonic=0.94),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Circulation:
    """Pressures, lesions and open valves of one animal."""

    left_mmhg: float  # systolic, left ventricle behind any narrow place: what the aorta sees
    right_mmhg: float  # systolic, pulmonary artery
    left_atrium_mmhg: float
    right_atrium_mmhg: float
    mitral_leak: Leak | None = None
    tricuspid_leak: Leak | None = None
    subaortic: Narrowing | None = None
    pulmonic: Narrowing | None = None
    openings: Openings = Openings()

    @property
    def mitral_drop_mmhg(self) -> float:
        """Return the highest pressure drop from left ventricle to atrium."""
        narrow = self.subaortic.gradient_mmhg if self.subaortic else 0.0
        return self.left_mmhg + narrow - self.left_atrium_mmhg

    @property
    def tricuspid_drop_mmhg(self) -> float:
        """Return the highest pressure drop from right ventricle to atrium."""
        narrow = self.pulmonic.gradient_mmhg if self.pulmonic else 0.0
        return self.right_mmhg + narrow - self.right_atrium_mmhg


def draw_circulation(animal: Animal, rng: np.random.Generator) -> Circulation:
    """Return a circulation that fits an animal's class of heart.

    Parameters
    ----------
    animal : Animal
        Whose heart.
    rng : numpy.random.Generator
        Draws pressures and how bad a lesion is.

    Notes
    -----
    - Mitral disease: a leak of 30 to 65 % of the stroke; one prolapsing leaflet throws the jet to the other side.
    - Dilated ventricle: a small central leak.
    - Right overload: half have high pressure in the lungs and a leaking tricuspid valve, half pulmonic stenosis.
    - Thick walls of a dog: subaortic stenosis. Of a cat: none; a dynamic obstruction is not modelled.
    - Healthy dogs: three in ten have a trace of tricuspid leak. Shares are engineering judgement.
    """
    base = Circulation(
        left_mmhg=float(rng.uniform(*_LEFT_MMHG)),
        right_mmhg=float(rng.uniform(*_RIGHT_MMHG)),
        left_atrium_mmhg=float(rng.uniform(*_LEFT_ATRIUM_MMHG)),
        right_atrium_mmhg=float(rng.uniform(*_RIGHT_ATRIUM_MMHG)),
        openings=_OPENINGS[animal.species],
    )
    return _with_lesions(base, animal, rng)


def _with_lesions(base: Circulation, animal: Animal, rng: np.random.Generator) -> Circulation:
    severity = float(rng.uniform())
    first, second = (float(v) for v in rng.uniform(-1.0, 1.0, 2))
    match animal.heart:
        case HeartClass.MITRAL_DISEASE:
            side = 1.0 if first > 0.0 else -1.0
            leak = Leak(fraction=0.3 + 0.35 * severity, lean=(side * (0.25 + 0.45 * abs(first)), 0.2 * second))
            return replace(base, mitral_leak=leak, left_atrium_mmhg=base.left_atrium_mmhg + 10.0 * severity)
        case HeartClass.LV_DILATED:
            leak = Leak(fraction=0.12 + 0.15 * severity, lean=(0.1 * first, 0.1 * second))
            return replace(base, mitral_leak=leak)
        case HeartClass.RIGHT_OVERLOAD:
            leak = Leak(fraction=0.1 + 0.2 * severity, lean=(0.2 * first, 0.15 * second))
            if rng.random() < 0.5:
                low, high = HIGH_LUNG_MMHG
                return replace(base, right_mmhg=low + (high - low) * severity, tricuspid_leak=leak)
            low, high = PULMONIC_MMHG
            narrow = Narrowing(gradient_mmhg=low + (high - low) * severity, lean=(0.1 * first, 0.1 * second))
            return replace(base, pulmonic=narrow, tricuspid_leak=replace(leak, fraction=0.06 + 0.1 * severity))
        case HeartClass.THICK_WALLS if animal.species is Species.DOG:
            low, high = SUBAORTIC_MMHG
            narrow = Narrowing(gradient_mmhg=low + (high - low) * severity, lean=(0.12 * first, 0.12 * second))
            return replace(base, subaortic=narrow)
        case _:
            if animal.species is Species.DOG and rng.random() < 0.3:
                return replace(base, tricuspid_leak=Leak(fraction=0.02, lean=(0.1 * first, 0.0), is_trace=True))
            return base
