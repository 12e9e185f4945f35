"""How far hands go from the standard plane: the scatter of every hand, and the reach of a movement that is a fault.

Engineering judgement, after the hands that the simulator draws (simulate/visit/hand.py, simulate/faults/fault_pose.py):
scatter between a steady and an improving hand's, reach as of the faults of middle strength.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
_DEG = np.pi / 180.0
# In the order of `forward.ORDER`: spaces, units, then radians, units. A unit is about 30 mm at 10 kg.
SCATTER_SD = np.array([0.08, 0.05, 3.0 * _DEG, 2.0 * _DEG, 3.0 * _DEG, 0.03])
SLAB_SD = np.array([0.75, 0.38, 19.0 * _DEG, 11.0 * _DEG, 16.0 * _DEG, 0.05])
FAULTY = 0.12  # of the clips, how many show a fault of one kind of movement
MOST = 3  # movements that are faults at once
N_KINDS = 5  # of movements that are faults: pressing changes no plane


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Habits:
    """Every set of movements that may be faults together, how likely it is, and the variances that go with it."""

    log_prior: Floats  # (H,)
    variances: Floats  # (H, 6)
    is_fault: NDArray[np.bool_]  # (H, 6)


@lru_cache(maxsize=1)
def habits() -> Habits:
    """Return the sets of movements that may be faults: none, each alone, any two, any three."""
    sets = [chosen for size in range(MOST + 1) for chosen in combinations(range(N_KINDS), size)]
    is_fault = np.array([[kind in chosen for kind in range(len(SLAB_SD))] for chosen in sets])
    size = is_fault.sum(axis=1)
    return Habits(
        log_prior=size * np.log(FAULTY) + (N_KINDS - size) * np.log(1.0 - FAULTY),
        variances=np.where(is_fault, SLAB_SD**2, SCATTER_SD**2),
        is_fault=is_fault,
    )
