"""How practised a simulated hand is. Apart from the hand, so that the command line need not load the faults."""

from __future__ import annotations

from enum import StrEnum


class HandLevel(StrEnum):
    """How practised the hand is."""

    NOVICE = "novice"
    IMPROVING = "improving"
    STEADY = "steady"
