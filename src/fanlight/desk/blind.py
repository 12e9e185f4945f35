"""Clips that the mentor judges before a proposal is shown: which they are, and of which that still holds."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence

from fanlight.desk.desk import Desk
from fanlight.reference.desk import read_desk_settings
from fanlight.store import Entry, judged_clips


def is_drawn(study: str, clip: str, share: float) -> bool:
    """Return whether a clip is among those that are judged before proposals are shown; the same at every look."""
    digest = hashlib.sha256(f"{study} {clip}".encode()).digest()
    return int.from_bytes(digest[:8]) < share * 2**64


def hidden_clips(study: str, clips: Iterable[str], log: Iterable[Entry], share: float) -> frozenset[str]:
    """Return the clips whose proposals the mentor must not see yet.

    What was judged once is not hidden again, whether the judgement was taken back or not: its proposals were seen.
    """
    judged = judged_clips(log)
    return frozenset(clip for clip in clips if clip not in judged and is_drawn(study, clip, share))


def hidden_of(desk: Desk, study: str, clips: Iterable[str], entries: Sequence[Entry]) -> frozenset[str]:
    """Return those of some clips whose proposals the mentor must not see yet, in this house."""
    return hidden_clips(study, clips, entries, read_desk_settings(desk.house).blind_share)
