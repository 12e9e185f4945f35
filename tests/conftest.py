"""For all tests: nothing may leave this machine, and two workers share two cores."""

import os

import pytest
from xdist.remote import Producer
from xdist.scheduler import LoadFileScheduling

from tests import no_network

# On import, not in a fixture: before any test module is read, and for the processes that tests start.
# A matrix library takes every core for itself, and its threads spin while another worker has them: tests of the
# simulator took three times the processor time so. Read when the library is loaded.
for _library in ("OMP", "OPENBLAS", "MKL"):
    os.environ.setdefault(f"{_library}_NUM_THREADS", "1")
no_network.install()
os.environ.update(no_network.environment_for_children(dict(os.environ)))

BROWSER = "tests/desk_browser/"
# Rooms in which a file may take longest. They are begun first: what is left at the end is short, and no core stands
# idle while the other works at one long file.
LONG_FIRST = ("desk_browser", "simulate", "measure", "critique", "review", "desk", "project", "cli", "heart")


def _rank(item: pytest.Item) -> int:
    room = item.nodeid.removeprefix("tests/").partition("/")[0]
    return LONG_FIRST.index(room) if room in LONG_FIRST else len(LONG_FIRST)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the rooms whose files take longest; within a room the order stays."""
    items.sort(key=_rank)


class _ByFile(LoadFileScheduling):  # type: ignore[misc]  # the package tells no types
    """A file at a time, and all browser tests on one worker: one service, and one reading of the simulated study."""

    def _split_scope(self, nodeid: str) -> str:
        return BROWSER if nodeid.startswith(BROWSER) else super()._split_scope(nodeid)


@pytest.hookimpl(optionalhook=True)  # where xdist is switched off nobody asks
def pytest_xdist_make_scheduler(config: pytest.Config, log: Producer) -> LoadFileScheduling:
    """Hand out files as `_ByFile` does, whatever `--dist` says."""
    return _ByFile(config, log)
