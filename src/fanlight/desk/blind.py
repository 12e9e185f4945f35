"""Clips and studies that the mentor judges before a proposal is shown: which they are, and where that still holds."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from fanlight.reference.desk import read_desk_settings
from fanlight.store import Entry, is_seen, judged_clips, read_study

if TYPE_CHECKING:
    from fanlight.desk.desk import Desk


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


def is_drawn_whole(desk: Desk, study: str) -> bool:
    """Return whether a study is among those that stay covered until its causes were said; the same at every look."""
    settings = read_desk_settings(desk.house)
    if settings.causes_first_since is None or not is_drawn(study, "", settings.causes_first_share):
        return False
    made_at = read_study(desk.store, study).made_at  # in UTC; the setting is a day of those who sit at this desk
    return made_at.astimezone().date() >= settings.causes_first_since


def is_covered(desk: Desk, study: str, entries: Sequence[Entry]) -> bool:
    """Return whether nothing that is proposed for a study may be shown yet."""
    return is_drawn_whole(desk, study) and not is_seen(entries)


def hidden_of(desk: Desk, study: str, clips: Iterable[str], entries: Sequence[Entry]) -> frozenset[str]:
    """Return those of some clips whose proposals the mentor must not see yet, in this house; all of a covered study."""
    if is_covered(desk, study, entries):
        return frozenset(clips)
    return hidden_clips(study, clips, entries, read_desk_settings(desk.house).blind_share)
