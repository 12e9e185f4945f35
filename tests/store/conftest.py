"""An empty store, one study in it, and a clock that ticks a second a look."""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path

import pytest

from fanlight.store import Store, add_study, open_store
from measure._store_samples import sample_id


@pytest.fixture
def clock() -> Callable[[], datetime]:
    ticks = count()
    return lambda: datetime(2026, 11, 25, 8, 0, tzinfo=UTC) + timedelta(seconds=next(ticks))


@pytest.fixture
def store(tmp_path: Path, clock: Callable[[], datetime]) -> Iterator[Store]:
    with open_store(tmp_path / "store", clock=clock) as opened:
        yield opened


@pytest.fixture
def study(store: Store) -> str:
    return add_study(store, sample_id("study"), title="Juniper, second look").id
