"""How long work tells a watchdog that it goes on."""

from __future__ import annotations

from collections.abc import Callable

# Called with a count (files, frames, megabytes) that only grows; at least every few megabytes of work.
SignOfLife = Callable[[int], None]


def say_nothing(_: int) -> None:
    """Nobody listens."""
