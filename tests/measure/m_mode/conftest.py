"""The shipped settings of M-mode strips."""

from __future__ import annotations

import pytest

from fanlight.reference.load import load_house
from fanlight.reference.m_mode import MModeSettings, read_m_mode_settings


@pytest.fixture(scope="session")
def settings() -> MModeSettings:
    return read_m_mode_settings(load_house())
