"""The shipped tables."""

from __future__ import annotations

import pytest

from fanlight.reference.load import load_house
from fanlight.study import House


@pytest.fixture(scope="session")
def house() -> House:
    return load_house()
