"""Where a hand lays the gate at an outlet: close to the valve, where cusps and walls are heard least."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import Animal
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.tissue import BLOOD
from fanlight.simulate.clip.body_scale import body_scale
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.machine.animal_scene import scene_of
from fanlight.simulate.spectral.spectral_beam import beam_axes, on_cursor_mm
from fanlight.simulate.steady.gate_length import gate_length_mm
from fanlight.study import Valve

Floats = NDArray[np.float64]

# The middle of the hand's search, radii of the ring beyond it. Aorta: just beyond the valve (Clinical Small Animal
# Internal Medicine, p. 153); open cusps reach 1.2 radii in. Pulmonary artery: at the hinges (right ventricular output
# of newborns, neonatalechoskills.com/funcrightventoutput.html) or just below, clear of the shut cusps; beyond the
# valve, where the same page 153 has it, the trunk of this heart runs 40 to 55 degrees off a beam from the right side.
OUTLET_GATE = {Valve.AORTIC: 1.6, Valve.PULMONIC: -0.4}
OUTLET_REACH = {Valve.AORTIC: 0.6, Valve.PULMONIC: 0.75}  # radii, about it in the picture (engineering judgement)
# In space no further from the middle of the ring than this, radii: no further aside than the stream is wide.
OUTLET_WITHIN = {Valve.AORTIC: 3.0, Valve.PULMONIC: 1.0}
MOMENTS = 24  # of a beat, at which such a gate is looked at
_BESIDE_MM = 0.8  # across the cursor both ways: half the width of a beam (engineering judgement)
_AT_ONCE = 8  # places, the fastest first (numerical)
# Of place and moments that tissue may take, the first that some place keeps: a hand wants none of it, and bears the
# clicks of opening and closing where a small heart leaves no such place (engineering judgement).
_TISSUE_SHARES = (0.0, 0.03, 0.06, 0.12)


def clearest(
    animal: Animal, states: list[CycleState], setting: ClipSetting, cursors_deg: Floats, depths_mm: Floats,
    signed: Floats,
) -> int:  # fmt: skip
    """Return the fastest of some places at which a gate holds blood over the beat, or all but blood.

    Parameters
    ----------
    animal, states, setting
        Whose heart, at `MOMENTS` moments of a beat, in which picture.
    cursors_deg, depths_mm, signed : ndarray of shape (n,)
        The places and how fast blood runs there along the beam in the direction that is looked for, cm/s.

    Raises
    ------
    ValueError
        If cusps or walls take more than a hand bears of every place.
    """
    order = np.argsort(-signed)[: np.count_nonzero(signed > 0)]
    shares = np.full(len(order), np.inf)
    for first in range(0, len(order), _AT_ONCE):
        some = slice(first, first + _AT_ONCE)
        shares[some] = tissue_share(animal, states, setting, cursors_deg[order[some]], depths_mm[order[some]])
        if (shares[some] <= _TISSUE_SHARES[0]).any():
            break
    for most in _TISSUE_SHARES:
        if (shares <= most).any():
            return int(order[np.argmax(shares <= most)])
    raise ValueError("no place at the valve stays clear of its cusps and walls")


def tissue_share(
    animal: Animal, states: list[CycleState], setting: ClipSetting, cursors_deg: Floats, depths_mm: Floats
) -> Floats:
    """Return which share of a gate at some places lies in tissue in the mean over some moments, shape (n,)."""
    aside = _BESIDE_MM * np.array([-1.0, -0.5, 0.0, 0.5, 1.0])
    length = gate_length_mm(body_scale(animal)) * np.array([-0.5, -0.25, 0.0, 0.25, 0.5])
    own = np.stack(np.meshgrid(aside, aside, length), axis=-1).reshape(-1, 3)
    gates = [
        on_cursor_mm(setting.probe, cursor, np.asarray(depth)) + own @ beam_axes(cursor)
        for cursor, depth in zip(cursors_deg.tolist(), depths_mm.tolist(), strict=True)
    ]
    points = setting.pose.to_patient(np.concatenate(gates)).astype(np.float32)
    x, y, z = (np.ascontiguousarray(v) for v in points.T)
    scene, share = scene_of(animal), np.zeros(len(gates))
    for state in states:
        tissue = np.asarray(scene.moving(state, x, y, z).tissue).reshape(len(gates), -1)
        share += (~np.isin(tissue, [int(t) for t in BLOOD])).mean(axis=1)
    return share / len(states)
