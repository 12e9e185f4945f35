"""A desk over an empty store, and a browser that has entered it. Engine and readers start when they are needed."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from fanlight.desk import Desk
from fanlight.reference.load import load_house
from fanlight.store import Store, open_store
from fanlight.study import House
from tests.desk.browser import Browser


@pytest.fixture(scope="session")
def house() -> House:
    return load_house()


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(tmp_path / "store") as opened:
        yield opened


@pytest.fixture
def desk(store: Store, house: House) -> Iterator[Desk]:
    with Desk(store, house) as opened:
        yield opened


@pytest.fixture
def outside(desk: Desk) -> Iterator[Browser]:
    """A browser that has not entered."""
    browser = Browser(desk)
    yield browser
    browser.close()


@pytest.fixture
def browser(outside: Browser) -> Browser:
    assert outside.enter().status_code == 204
    return outside
