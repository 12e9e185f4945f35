"""What M-mode strips show and what is true of them, as one hash a thing: see `scripts.carry_over`.

    python measure/_same_strips.py     prints a JSON object, name: SHA-256

Of each ring an animal that is measured nowhere: a strip through the ventricle, two through the mitral leaflets and one
through aorta and atrium.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fanlight.simulate.clip.ring import Ring
from measure._hash_of import hash_of
from measure._m_mode_strips import draw_strip, true_distances
from measure._root_strips import draw_root_strip, true_beats
from measure._valve_strips import VIEWS, draw_mitral_strip

SEEDS = {Ring.A: 9003, Ring.B: 14_904, Ring.C: 19_905}


def hashes() -> dict[str, str]:
    """Return the hash of everything, by name."""
    return {
        f"ring {ring.value} {seed}: {what}": hash_of(parts)
        for ring, seed in SEEDS.items() for what, parts in _of_animal(seed, ring)
    }  # fmt: skip


def _of_animal(seed: int, ring: Ring) -> Iterator[tuple[str, list[Any]]]:
    """Yield each thing: a strip that cannot be drawn fails here, since it would prove nothing."""
    ventricle = draw_strip(seed, ring)
    yield "ventricle, picture", [ventricle.levels, ventricle.r_times_ms]
    yield "ventricle, truth", [_told(seed, ventricle.true_rows), true_distances(ventricle)]
    for view in VIEWS:
        valve = draw_mitral_strip(seed, ring, view)
        yield f"{view}, picture", [valve.levels, valve.r_times_ms]
        yield f"{view}, truth", [_told(seed, np.array(valve.true_mm))]
    root = draw_root_strip(seed, ring)
    yield "root, picture", [root.levels, root.r_times_ms]
    beats = list(true_beats(root))
    yield "root, truth", [_told(seed, np.array([[beat.aorta_mm, beat.atrium_mm] for beat in beats])), beats]


def _told(seed: int, truth: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return a truth that holds a number; one without would be equal whatever the code does."""
    if not np.isfinite(truth).any():
        raise RuntimeError(f"animal {seed}: nothing is true of its strip; choose another in SEEDS")
    return truth


if __name__ == "__main__":
    print(json.dumps(hashes(), indent=0))
