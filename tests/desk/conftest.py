"""A desk over an empty store, and a browser that has entered it. Engine and readers start when they are needed."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from fanlight.desk import Desk
from fanlight.store import Store, open_store
from fanlight.study import House
from tests.desk.browser import Browser
from tests.desk.drafts import house_rows


@pytest.fixture(scope="session")
def house() -> House:
    return house_rows()


@pytest.fixture(scope="session")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store's folder with its tables made, to be copied: making them takes longer than most tests."""
    folder = tmp_path_factory.mktemp("empty") / "store"
    open_store(folder).close()
    return folder


@pytest.fixture
def store(tmp_path: Path, empty: Path) -> Iterator[Store]:
    shutil.copytree(empty, tmp_path / "store")
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
