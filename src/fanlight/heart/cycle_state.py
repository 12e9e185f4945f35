"""How far the heart is in its beat and the animal in its breath, at one moment."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class CycleState:
    """The few numbers that move the heart. Shares are of the animal's own full excursion.

    A share of contraction may pass 1 a little (the beat after an early one) or stay below it (an early beat).
    """

    time_ms: float  # from the start of the recording
    beat: int  # number of the beat, from 0
    phase: float  # 0 at the onset of the QRS complex (end-diastole), 1 at the next
    contraction: float  # left ventricle: 0 end-diastole, 1 end-systole
    right_contraction: float  # right ventricle
    base_descent: float  # of the atrioventricular plane towards the apex: 0 end-diastole, 1 end-systole
    atrial_filling: float  # 0 smallest (after the atria contract), 1 largest (end of ventricular systole)
    mitral_opening: float  # 0 shut, 1 wide open
    tricuspid_opening: float
    aortic_opening: float
    pulmonic_opening: float
    breath: float  # 0 end of expiration, 1 end of a full breath in
