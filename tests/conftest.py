"""For all tests: nothing may leave this machine, and two workers share two cores."""

import os
from collections import defaultdict
from typing import Any

from tests import no_network

# On import, not in a fixture: before any test module is read, and for the processes that tests start.
# A matrix library takes every core for itself, and its threads spin while another worker has them: tests of the
# simulator took three times the processor time so. Read when the library is loaded.
for _library in ("OMP", "OPENBLAS", "MKL"):
    os.environ.setdefault(f"{_library}_NUM_THREADS", "1")
no_network.install()
os.environ.update(no_network.environment_for_children(dict(os.environ)))

SLOWEST = 20  # files that a run tells of, so that it is known where its minutes go


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Tell which files took longest: the two workers share them file by file."""
    seconds: dict[str, float] = defaultdict(float)
    for reports in terminalreporter.stats.values():
        for each in reports:
            if hasattr(each, "duration"):
                seconds[each.nodeid.partition("::")[0]] += each.duration
    total = sum(seconds.values())
    if total < 60:
        return
    terminalreporter.section("files that took longest")
    terminalreporter.line(f"{total:6.0f} s, all {len(seconds)}")
    for name, taken in sorted(seconds.items(), key=lambda each: -each[1])[:SLOWEST]:
        terminalreporter.line(f"{taken:6.0f} s, {name}")
