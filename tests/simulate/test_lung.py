"""What lung gives back depends on where it lies: under the wall, or far behind the heart."""

from dataclasses import replace

import numpy as np

from fanlight.heart.tissue import Tissue
from fanlight.simulate.machine.console import default_console
from fanlight.simulate.machine.probe import PROBES
from fanlight.study import Species
from tests.simulate.phantoms import amplitude, painted, slab

PROBE = PROBES["phased medium"]
CONSOLE = replace(default_console(PROBE, Species.DOG, 12.0, 140.0), n_samples=320, n_lines=48)


def level_db(seen, from_mm, to_mm):
    part = slice(int(from_mm / CONSOLE.sample_mm), int(to_mm / CONSOLE.sample_mm))
    return 10 * np.log10((seen[:, part, 18:30] ** 2).mean())


def behind_pleura_db(at_mm):
    """Haze behind a pleura against the tissue before it, dB."""
    seen = amplitude(painted(np, [(Tissue.LUNG, slab(at_mm, 400))], Tissue.SEPTUM), PROBE, CONSOLE, 2)
    return level_db(seen, at_mm + 3, at_mm + 9) - level_db(seen, at_mm - 9, at_mm - 3)


def test_lung_behind_the_heart_is_darker_than_lung_under_the_wall():
    """Common practice, no source: a veil hides the heart, but behind the heart it fades into black."""
    assert behind_pleura_db(60.0) < behind_pleura_db(14.0) - 3


def test_the_heart_is_not_seen_twice():
    """Far pleura bends round the heart: its repeat at twice the depth is far below the tissue before it."""
    seen = amplitude(painted(np, [(Tissue.LUNG, slab(60, 400))], Tissue.SEPTUM), PROBE, CONSOLE, 2)

    assert level_db(seen, 59.5, 60.8) > level_db(seen, 52, 58) + 15
    assert level_db(seen, 119, 121) < level_db(seen, 52, 58) - 15
