"""What held of a clip when one of its findings was decided: another view, valve or landmark makes it another one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fanlight.store.actions import DrawMark, JudgeBlind, PlaceClip, TakeClipOut


@dataclass(frozen=True, slots=True, kw_only=True)
class DecidedIn:
    """Where people had said that a clip lies, and the landmarks that they had set on it, when a decision was made."""

    placed: PlaceClip | TakeClipOut | None = None
    blind: JudgeBlind | None = None
    landmarks: tuple[DrawMark, ...] = ()


def landmarks_set(marks: Mapping[str, DrawMark], clip: str) -> tuple[DrawMark, ...]:
    """Return the landmarks that a person set on a clip or moved, in the order drawn; none kept as it was proposed."""
    on_clip = (item for item in marks.values() if item.clip == clip and item.landmark)
    return tuple(item for item in on_clip if item.proposed_spread_px is None)
