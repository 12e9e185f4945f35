"""Which passages a letter plays besides those of its points: what is right, and what the mentor saw."""

from __future__ import annotations

from fanlight.reference.letter import ExcerptLimits
from fanlight.report.document import Block, Excerpts
from fanlight.report.mentor import MentorWords
from fanlight.report.passage import Passage, passage_of
from fanlight.study import ClipReading, ClipVerdict, Purpose, Strength, StudyReview, Verdict


def praised_block(review: StudyReview, limits: ExcerptLimits | None) -> list[Block]:
    """Return passages that show what is right: as few clips as show all of it, those good to look at first."""
    if limits is None:
        return []
    weak = {key for item in review.priorities for key in item.clips}
    moving = {item.clip.key: item for item in review.readings if item.clip.n_frames > 1}
    left = [item for item in review.strengths if moving.keys() & set(item.clips)]
    found: list[Passage] = []
    while left:
        candidates = dict.fromkeys(key for item in left for key in item.clips if key in moving)
        best = min(candidates, key=lambda key: _order(moving[key], weak, sum(key in item.clips for item in left)))
        shown = [item for item in left if best in item.clips]
        left = [item for item in left if best not in item.clips]
        if (passage := _of_strengths(moving[best], shown, limits)) is not None:
            found.append(passage)
    return [Excerpts(items=tuple(found))] if found else []


def _order(reading: ClipReading, weak: set[str], n_shown: int) -> tuple[bool, bool, int, int]:
    is_weak = reading.verdict(Purpose.LOOK) is not ClipVerdict.DIAGNOSTIC
    return is_weak, reading.clip.key in weak, -n_shown, reading.clip.number


def _of_strengths(reading: ClipReading, items: list[Strength], limits: ExcerptLimits) -> Passage | None:
    shown = {item.criterion for item in items}
    met = [finding for finding in reading.findings if finding.criterion in shown and finding.verdict is Verdict.MET]
    evidence = tuple(piece for finding in met for piece in finding.evidence)
    return passage_of(reading, reading.key_frame, evidence, "A good example", limits, is_praise=True)


def mentor_block(review: StudyReview, mentor: MentorWords, limits: ExcerptLimits | None) -> list[Block]:
    """Return the passages that the mentor's own findings rest on."""
    if limits is None:
        return []
    there = {item.clip.key: item for item in review.readings}
    found: list[Passage] = []
    for item in mentor.cited:
        if item.clip in there:
            frames = [piece.frame for piece in item.evidence if piece.frame is not None]
            frame = frames[0] if frames else there[item.clip].key_frame
            passage = passage_of(there[item.clip], frame, item.evidence, item.title, limits)
            if passage is not None:
                found.append(passage)
    return [Excerpts(items=tuple(found))] if found else []
