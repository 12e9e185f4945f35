"""What the command says to a script when it ends."""

from __future__ import annotations

from enum import IntEnum


class ExitCode(IntEnum):
    """What the command says to a script."""

    DONE = 0
    FAULT = 1
    USAGE = 2
    SOME_REFUSED = 3
    NOTHING_READ = 4
    SETTINGS = 5
