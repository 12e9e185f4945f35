"""The corrections that decided findings ask for, in the mentor's order and words. Pure."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from fanlight.coach.priorities import find_priorities
from fanlight.reference.criteria import read_criteria
from fanlight.reference.letter import read_letter_limits
from fanlight.review.advise import moves_of
from fanlight.review.conclude import without_study_level
from fanlight.store import DocumentKind, StudyState
from fanlight.study import House, Priority, Side, StudyReview


def letter_points(review: StudyReview, state: StudyState, house: House) -> tuple[tuple[Priority, bool], ...]:
    """Return every correction that decided findings ask for, in the mentor's order and words, and whether it stands.

    The letter takes as many as the house allows, from the first on, and each one that the mentor asked for by name.
    Points of the plane say what the pose tells of the movement, as in the engine's own letter.

    Parameters
    ----------
    review : StudyReview
        Of `for_papers`: decided findings only.
    """
    criteria = read_criteria(house)
    limits = read_letter_limits(house)
    on_clips = without_study_level((item for reading in review.readings for item in reading.findings), criteria)
    breathing = review.study.request.breathing
    own = find_priorities([*on_clips, *review.study_findings], criteria, breathing, limits.sure_from)
    found = list(moves_of(review.stands, review.readings, house, breathing).in_points(own))
    order = {key: place for place, key in enumerate(state.correction_order)}
    found.sort(key=lambda item: order.get((item.criterion, Side(item.side)), len(order)))
    points = []
    room = limits.findings_max
    for item in found:
        said = state.corrections.get((item.criterion, Side(item.side)))
        stands = said.is_kept if said is not None else room > 0
        room -= stands
        points.append((_in_words(item, state), stands))
    return tuple(points)


def part_name(item: Priority, field: str) -> str:
    """Return the name under which a text of a correction is edited."""
    return f"{item.criterion}:{Side(item.side).value}:{field}"


def _in_words(item: Priority, state: StudyState) -> Priority:
    changed: dict[str, Any] = {}
    for field in ("means", "cause", "correction"):
        text = state.texts.get((DocumentKind.LETTER, part_name(item, field)))
        if text is not None and not (field == "correction" and item.withheld):
            changed[field] = text
    return replace(item, **changed)
