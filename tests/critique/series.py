"""Graded series: the same phantom painted worse and worse, shown to one family."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np

from fanlight.critique.accumulator import Family
from fanlight.study import Finding
from tests.critique.speckle_phantom import Phantom, Setting, judge, make

PLAIN = Setting(n_frames=16)


def finding(family: Family, criterion: str, seed: int = 0, **change: Any) -> Finding:
    """Return one finding on the plain phantom with something changed."""
    return judge(_painted(replace(PLAIN, **change), seed), family)[criterion]


@lru_cache(maxsize=24)
def _painted(setting: Setting, seed: int) -> Phantom:
    """The same phantom is asked for by many tests; painting it takes longest. Its frames are only read."""
    return make(setting, np.random.default_rng(seed))


def values(family: Family, criterion: str, knob: str, steps: Iterable[Any], **change: Any) -> list[float]:
    """Return the values along a series in which one knob is turned."""
    found = []
    for step in steps:
        value = finding(family, criterion, **{knob: step}, **change).value
        assert value is not None, f"{criterion} cannot be assessed at {knob} = {step}"
        found.append(value)
    return found


def rises(series: list[float]) -> bool:
    """Whether each value is larger than the one before."""
    return all(b > a for a, b in itertools.pairwise(series))
