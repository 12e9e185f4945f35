"""What to scan again while the animal is still on the table: no numbers, no grade."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from fanlight.coach.priorities import is_withheld, withheld_words
from fanlight.study import Breathing, CauseLevel, Criterion, Mode, StudyReview, Verdict

STOP = (
    "Stop: the request sheet says that the animal is distressed. The scan can wait; "
    "call the attending veterinarian and follow local rules."
)
LABOURED = (
    "The request sheet says that breathing is laboured: rest comes first. "
    "Scan again only if the attending veterinarian agrees."
)
CAUTION = (
    "Stop whenever the animal is distressed. This list supports, and does not replace, the licensed veterinarian "
    "in charge; local rules come first."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rescue:
    """One change at the console, the hand or the export."""

    cause: str  # key in the table of causes
    title: str
    level: CauseLevel
    when: str  # what the picture shows
    correction: str  # "" when it was withheld
    right_when: str
    clip_numbers: tuple[int, ...]  # of the retake's clips those that it would mend
    withheld: str = ""  # why nothing is advised
    either: str = ""  # another change that may be the right one, and what tells
    to_try: str = ""  # that it is likely, not sure, and a setting to be tried

    @property
    def words(self) -> str:
        """What to do, when, and when it is right."""
        if self.withheld:
            return f"When {self.when}. {self.withheld}"
        said = f"When {self.when}: {self.correction}. Right when {self.right_when}."
        said = f"{self.to_try} {said}" if self.to_try else said
        return f"{said} {self.either}" if self.either else said


@dataclass(frozen=True, slots=True, kw_only=True)
class Retake:
    """One thing to scan again, and in which clips it shows."""

    words: str
    clip_numbers: tuple[int, ...]  # as counted on screen, from 1; empty: something is missing
    weight: float
    criterion: str = ""  # that was missed in these clips; "" when something is missing
    change: Rescue | None = None  # the one that would rescue it
    no_change: str = ""  # why none is named


@dataclass(frozen=True, slots=True, kw_only=True)
class RetakeList:
    """What the practice is told before the animal leaves the table."""

    first_line: str  # "" or the line that comes before everything else
    retakes: tuple[Retake, ...]
    not_said: tuple[str, ...]  # what could not be judged, so that silence is not taken for praise
    caution: str = CAUTION


def list_retakes(review: StudyReview, criteria: Mapping[str, Criterion], most: int, sure_from: float) -> RetakeList:
    """Return at most `most` retakes, the weightiest first.

    Parameters
    ----------
    review : StudyReview
        The engine's draft.
    criteria : mapping of str to Criterion
        By key; only criteria whose row has a `retake` text can ask for one.
    most : int
        Length limit.
    sure_from : float
        Smallest confidence of a finding that counts, 0 to 1.
    """
    breathing = review.study.request.breathing
    if breathing is Breathing.DISTRESSED:
        return RetakeList(first_line=STOP, retakes=(), not_said=())
    numbers = {item.clip.key: item.clip.number for item in review.readings}
    clips: dict[str, list[int]] = defaultdict(list)
    for reading in review.readings:
        for item in reading.findings:
            criterion = criteria[item.criterion]
            asks = bool(criterion.retake) and not criterion.study_level  # the latter are said once, below
            enough = item.verdict is Verdict.MISSED or (
                criterion.retake_when_borderline and item.verdict is Verdict.BORDERLINE
            )
            if asks and enough and item.confidence >= sure_from:
                clips[item.criterion].append(numbers[item.clip])
    for item in review.study_findings:
        if item.verdict is Verdict.MISSED and criteria[item.criterion].retake:
            clips.setdefault(item.criterion, [])
    retakes = [
        Retake(
            words=_words(criteria[key], breathing),
            clip_numbers=tuple(sorted(found)),
            weight=criteria[key].weight,
            criterion=key if found else "",
        )
        for key, found in clips.items()
    ]
    retakes += _air(review) + _missing(review)
    retakes.sort(key=lambda item: (-item.weight, item.words))
    return RetakeList(
        first_line=LABOURED if breathing is Breathing.LABOURED else "",
        retakes=tuple(retakes[:most]),
        not_said=_not_said(review),
    )


def _words(criterion: Criterion, breathing: Breathing) -> str:
    """Return what to scan again; where doing so is handling that is withheld, what was seen and why no more is said."""
    held = is_withheld(breathing, touches=criterion.retake_touches, moves=criterion.retake_moves)
    return _seen(criterion.retake, breathing) if held else criterion.retake


def _seen(words: str, breathing: Breathing) -> str:
    """Return the part of a retake's words that says what was seen: all before the colon."""
    return f"{words.partition(':')[0].rstrip('.')}. {withheld_words(breathing)}"


def _air(review: StudyReview) -> list[Retake]:
    numbers = tuple(item.clip.number for item in review.readings if item.mode.mode is Mode.NO_CONTACT)
    words = "The probe was not on the animal: store the picture again with gel and full contact."
    if is_withheld(review.study.request.breathing, touches=True, moves=False):
        words = _seen(words, review.study.request.breathing)
    return [Retake(words=words, clip_numbers=numbers, weight=10.0)] if numbers else []


def _missing(review: StudyReview) -> list[Retake]:
    """Views and Doppler steps that the plan asks for; only where no unplaced clip could be the missing one."""
    if not review.coverage.can_judge_missing:
        return []
    found = []
    seen = ", as far as the pictures were recognised" if review.recognised else ""
    for step in review.coverage.steps:
        if step.missing:
            what = step.title if not step.clips else f"{step.title}: {', '.join(step.missing)}"
            found.append(Retake(words=f"Not stored yet{seen}: {what}.", clip_numbers=(), weight=6.0))
    return found


def _not_said(review: StudyReview) -> tuple[str, ...]:
    notes = []
    if review.coverage.unplaced:
        n = len(review.coverage.unplaced)
        noun = "clip names" if n == 1 else "clips name"
        notes.append(f"{n} {noun} no view, so missing views are not listed.")
    if review.recognised:
        notes.append("Views were recognised from the pictures: see for yourself that each is there before you end.")
    unsure = [item.clip.number for item in review.readings if item.mode.mode is None]
    if unsure:
        notes.append(f"Not judged, because the mode is not sure: clip {', '.join(map(str, unsure))}.")
    if review.refused:
        n = len({item.name for item in review.refused})
        notes.append(f"{n} file{'' if n == 1 else 's'} could not be used, or only in part.")
    return tuple(notes)
