"""For all tests: nothing may leave this machine, and two workers share two cores."""

import os
from itertools import zip_longest

import pytest

from tests import no_network

# On import, not in a fixture: before any test module is read, and for the processes that tests start.
# A matrix library takes every core for itself, and its threads spin while another worker has them: tests of the
# simulator took three times the processor time so. Read when the library is loaded.
for _library in ("OMP", "OPENBLAS", "MKL"):
    os.environ.setdefault(f"{_library}_NUM_THREADS", "1")
no_network.install()
os.environ.update(no_network.environment_for_children(dict(os.environ)))

BROWSER = "desk_browser"
# Rooms in which a file may take longest. They are begun first: what is left at the end is short, and no core stands
# idle while the other works at one long file.
LONG_FIRST = ("simulate", "measure", "critique", "review", "desk", "project", "cli", "heart")


def _room(item: pytest.Item) -> str:
    return item.nodeid.removeprefix("tests/").partition("/")[0]


def _rank(item: pytest.Item) -> int:
    return LONG_FIRST.index(_room(item)) if _room(item) in LONG_FIRST else len(LONG_FIRST)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the rooms whose files take longest, one of the browser's in turn with one of the others.

    A test in the browser waits more than it computes: beside one that computes it costs little.
    """
    files: dict[bool, dict[str, list[pytest.Item]]] = {True: {}, False: {}}
    for item in sorted(items, key=_rank):
        files[_room(item) == BROWSER].setdefault(str(item.path), []).append(item)
    none: list[pytest.Item] = []
    turns = zip_longest(files[True].values(), files[False].values(), fillvalue=none)
    items[:] = [item for turn in turns for file in turn for item in file]
