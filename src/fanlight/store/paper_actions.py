"""What a person decides about urgency, stages, letter, summary, exercise and calls."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from fanlight.store.action_checks import needs
from fanlight.store.action_words import AdviceWord, ChangeWord, DocumentKind, Party
from fanlight.study import HeartFailure, Named, Side


@dataclass(frozen=True, slots=True, kw_only=True)
class FlagUrgency:
    """The study is urgent, or is so no longer: said by the practice or the mentor."""

    is_urgent: bool
    said_by: Party
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class NameFacts:
    """What stages and scores wait for, as the mentor names it: all of it each time; what is left empty is not said."""

    lesions: tuple[str, ...] = ()  # keys of the table of diseases
    failure: HeartFailure | None = None
    treatment: str = ""  # in words; "none" when there is none
    signs: tuple[str, ...] = ()  # keys of the table of signs: seen
    signs_absent: tuple[str, ...] = ()  # looked for, and not there

    def __post_init__(self) -> None:
        if both := sorted(set(self.signs) & set(self.signs_absent)):
            raise ValueError(f"each sign is either in signs or in signs_absent, got {both[0]} in both")

    def named_by(self, author: str) -> Named:
        """Return it with the name of who said it."""
        return Named(
            by=author, lesions=self.lesions, failure=self.failure, treatment=self.treatment.strip(), signs=self.signs,
            signs_absent=self.signs_absent,
        )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class EditText:
    """A part of the letter or summary in the mentor's words. None: back to the draft's words."""

    document: DocumentKind
    part: str  # name of the part in the document
    text: str | None

    def __post_init__(self) -> None:
        needs(self, part=self.part)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChooseCorrection:
    """A proposed correction goes into the letter, or does not."""

    criterion: str
    side: Side
    is_kept: bool
    reason: str = ""

    def __post_init__(self) -> None:
        needs(self, criterion=self.criterion)


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderCorrections:
    """The corrections stand in this order; those not named follow in the draft's order."""

    order: tuple[tuple[str, Side], ...]  # criterion and side

    def __post_init__(self) -> None:
        if len(set(self.order)) != len(self.order):
            raise ValueError("order must name each correction once")


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgeChange:
    """A change that would resolve many findings opens the letter, or does not."""

    cause: str  # key of what it is about; the word stands whatever is decided on the findings later
    word: ChangeWord

    def __post_init__(self) -> None:
        needs(self, cause=self.cause)


@dataclass(frozen=True, slots=True, kw_only=True)
class SetExercise:
    """What the trainee practises next."""

    view: str
    look_for: str
    repetitions: int
    due: date | None = None

    def __post_init__(self) -> None:
        needs(self, view=self.view, look_for=self.look_for)
        if self.repetitions < 1:
            raise ValueError(f"repetitions must be 1 or more, got {self.repetitions}")


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgeAdvice:
    """What became of a correction or of the exercise of an earlier letter, as this study shows it."""

    letter: str  # id of the signed letter
    about: str  # "exercise", or criterion and side of a correction: "depth_use:high"
    word: AdviceWord

    def __post_init__(self) -> None:
        needs(self, letter=self.letter, about=self.about)


@dataclass(frozen=True, slots=True, kw_only=True)
class SetClosed:
    """The study waits no longer, or waits again, whatever is signed; a later signature settles it anew."""

    is_closed: bool
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenCall:
    """An urgent finding: somebody must be called, and the study stays open until it is acknowledged."""

    call: str  # id made by the page
    finding: str  # in words

    def __post_init__(self) -> None:
        needs(self, call=self.call, finding=self.finding)


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordCall:
    """Who was called, when, and what was said."""

    call: str
    whom: str
    called_at: datetime  # with its zone
    said: str

    def __post_init__(self) -> None:
        needs(self, call=self.call, whom=self.whom, said=self.said)
        if self.called_at.tzinfo is None:
            raise ValueError("called_at must carry its time zone")


@dataclass(frozen=True, slots=True, kw_only=True)
class AcknowledgeCall:
    """The person called has said that it is understood."""

    call: str
    by_whom: str
    words: str = ""

    def __post_init__(self) -> None:
        needs(self, call=self.call, by_whom=self.by_whom)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sign:
    """A document was signed and frozen. Written by `sign_document` only."""

    document: DocumentKind
    document_id: str
    version: int
    sha256: str
