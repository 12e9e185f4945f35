"""Fixtures of the intake tests."""

import numpy as np
import pytest


@pytest.fixture
def rng() -> np.random.Generator:
    """A seeded generator."""
    return np.random.default_rng(2002)
