"""How the valve parts the colour box of clips as people left them: by their marks, in the views they named. Pure.

The engine's draft tells it by marks that were sent, else by its own landmarks. Where a mentor marked something on the
clip, or placed it at another view or valve, it is told anew, as a review with what lies on the clip now would tell it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from fanlight.critique.doppler.colour_split import KEY, UNMARKED
from fanlight.plane.kept import set_by_hand
from fanlight.reference.criteria import read_criteria
from fanlight.review.box_split import SplitRules, with_box_split
from fanlight.study import (
    ClipReading,
    DrawnMark,
    FileMarks,
    Finding,
    House,
    Polyline,
    Side,
    Verdict,
    ViewReading,
)


def with_decided_split(
    readings: tuple[ClipReading, ...],
    views: Mapping[str, ViewReading],
    marks: Mapping[str, FileMarks],
    lying: Mapping[str, FileMarks],
    house: House,
) -> tuple[ClipReading, ...]:
    """Return readings whose colour boxes are parted by what holds now; the very same where none differs.

    Parameters
    ----------
    readings : tuple of ClipReading
        The engine's, in the draft's order, each in the view of the draft.
    views : mapping of str to ViewReading
        Where each clip lies, by its key.
    marks, lying : mapping of str to FileMarks
        What was drawn on the desk, and what lies on each clip, by its key. Proposals that were kept unmoved are no
        marks here, as in a review.
    house : House
        Its tables.
    """
    hands, lies = set_by_hand(marks), set_by_hand(lying)
    touched = {
        item.clip.key
        for item in readings
        if any(_can_be_told(found) for found in item.findings)
        and (_lies_elsewhere(item, views[item.clip.key]) or _drawn(hands, item))
    }
    if not touched:
        return readings
    rules = SplitRules.of(house, read_criteria(house)[KEY])
    return tuple(
        _anew(item, views[item.clip.key], _drawn(lies, item), rules) if item.clip.key in touched else item
        for item in readings
    )


def _anew(item: ClipReading, view: ViewReading, drawn: tuple[DrawnMark, ...], rules: SplitRules) -> ClipReading:
    untold = replace(item, view=view, findings=tuple(_untold(found) for found in item.findings))
    findings = with_box_split(untold, drawn, rules).findings
    return item if findings == item.findings else replace(item, findings=findings)


def _drawn(marks: Mapping[str, FileMarks], item: ClipReading) -> tuple[DrawnMark, ...]:
    return marks[item.clip.key].drawn if item.clip.key in marks else ()


def _lies_elsewhere(item: ClipReading, now: ViewReading) -> bool:
    return (now.view, now.valve) != (item.view.view, item.view.valve)


def _can_be_told(found: Finding) -> bool:
    """Whether a finding may be told by marks: of a clip whose box has a drawn outline."""
    return found.criterion == KEY and bool(found.evidence) and isinstance(found.evidence[0].shape, Polyline)


def _untold(found: Finding) -> Finding:
    """Return a finding as before any mark was heard: what was told by others that lie here no more must not stay."""
    if not _can_be_told(found):
        return found
    return replace(
        found, value=None, verdict=Verdict.NOT_ASSESSABLE, side=Side.INSIDE, confidence=0.0, uncertainty=None,
        frames=(), evidence=found.evidence[:1], reason=UNMARKED,
    )  # fmt: skip
