"""What holds now: the log of a study folded into one value. Pure: entries in, state out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from types import MappingProxyType
from typing import Any

from fanlight.store.action_words import AdviceWord, ChangeWord, DocumentKind, JudgedStructure, Judgement, Requirement
from fanlight.store.actions import (
    AcceptFinding,
    AcceptFindings,
    AcknowledgeCall,
    Action,
    AddFinding,
    ChooseCorrection,
    DrawMark,
    EditText,
    FlagUrgency,
    JudgeAdvice,
    JudgeBlind,
    JudgeChange,
    JudgeStructure,
    MoveMark,
    NameFacts,
    NameMode,
    OpenCall,
    OrderCorrections,
    OverruleFinding,
    PlaceClip,
    RecordCall,
    RemoveMark,
    SayCauses,
    SetClosed,
    SetExercise,
    SetScale,
    SetStripScale,
    Sign,
    TakeBackFinding,
    TakeClipOut,
    TickItem,
    UncoverStudy,
)
from fanlight.store.decided_in import DecidedIn, landmarks_set
from fanlight.store.entry import Entry, read_action
from fanlight.study import Named, Side, StripAxis
from fanlight.study.marks import fits


@dataclass(frozen=True, slots=True, kw_only=True)
class Call:
    """One urgent finding and what was done about it."""

    opened: OpenCall
    made: tuple[RecordCall, ...] = ()
    acknowledged: AcknowledgeCall | None = None

    @property
    def is_open(self) -> bool:
        """Whether somebody must still be reached, or has not yet said that it is understood."""
        return not self.made or self.acknowledged is None


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyState:
    """Everything that people have said about a study and not taken back.

    A clip or finding that is in no mapping is as the engine proposes it; a structure is not assessed.
    """

    placements: Mapping[str, PlaceClip | TakeClipOut]  # by clip
    modes: Mapping[str, NameMode]  # by clip
    blind: Mapping[str, JudgeBlind]  # by clip
    decisions: Mapping[tuple[str, str], AcceptFinding | OverruleFinding]  # by clip and criterion
    decided_in: Mapping[tuple[str, str], DecidedIn]  # as `decisions`: what held of the clip by then
    added: Mapping[str, AddFinding]  # by id, in the order added
    ticks: Mapping[tuple[str, Requirement, str], bool]  # by clip, list and item: is it shown
    structures: Mapping[JudgedStructure, JudgeStructure]
    marks: Mapping[str, DrawMark]  # by id, as they lie now
    scales: Mapping[str, SetScale]  # by clip
    strip_scales: Mapping[tuple[str, StripAxis], SetStripScale]  # by clip and axis
    texts: Mapping[tuple[DocumentKind, str], str]  # by document and part
    corrections: Mapping[tuple[str, Side], ChooseCorrection]  # by criterion and side
    correction_order: tuple[tuple[str, Side], ...]
    changes: Mapping[str, JudgeChange]  # by cause
    exercise: SetExercise | None
    advice: Mapping[tuple[str, str], JudgeAdvice]  # by letter and what it is about
    named: Named | None  # lesion, failure, treatment and signs; None: nobody said anything on the desk
    urgency: FlagUrgency | None  # None: nobody said anything beyond the request sheet
    closing: SetClosed | None  # None: signatures and calls alone say whether it waits
    calls: Mapping[str, Call]  # by id
    signed: Mapping[DocumentKind, Sign]  # newest version of each

    @property
    def open_calls(self) -> tuple[Call, ...]:
        """Calls that keep the study from closing."""
        return tuple(call for call in self.calls.values() if call.is_open)


@dataclass(slots=True)
class _Draft:
    """The state while it is put together."""

    placements: dict[str, PlaceClip | TakeClipOut] = field(default_factory=dict)
    modes: dict[str, NameMode] = field(default_factory=dict)
    blind: dict[str, JudgeBlind] = field(default_factory=dict)
    decisions: dict[tuple[str, str], AcceptFinding | OverruleFinding] = field(default_factory=dict)
    decided_in: dict[tuple[str, str], DecidedIn] = field(default_factory=dict)
    added: dict[str, AddFinding] = field(default_factory=dict)
    ticks: dict[tuple[str, Requirement, str], bool] = field(default_factory=dict)
    structures: dict[JudgedStructure, JudgeStructure] = field(default_factory=dict)
    marks: dict[str, DrawMark] = field(default_factory=dict)
    scales: dict[str, SetScale] = field(default_factory=dict)
    strip_scales: dict[tuple[str, StripAxis], SetStripScale] = field(default_factory=dict)
    texts: dict[tuple[DocumentKind, str], str] = field(default_factory=dict)
    corrections: dict[tuple[str, Side], ChooseCorrection] = field(default_factory=dict)
    correction_order: tuple[tuple[str, Side], ...] = ()
    changes: dict[str, JudgeChange] = field(default_factory=dict)
    exercise: SetExercise | None = None
    advice: dict[tuple[str, str], JudgeAdvice] = field(default_factory=dict)
    named: Named | None = None
    urgency: FlagUrgency | None = None
    closing: SetClosed | None = None
    calls: dict[str, Call] = field(default_factory=dict)
    signed: dict[DocumentKind, Sign] = field(default_factory=dict)

    def frozen(self) -> StudyState:
        """Return what was put together."""
        held: dict[str, Any] = {}
        for item in fields(self):
            value = getattr(self, item.name)
            held[item.name] = MappingProxyType(value) if isinstance(value, dict) else value
        return StudyState(**held)


def live_entries(entries: Iterable[Entry]) -> list[Entry]:
    """Return the entries that hold: no undo, and not undone. Entries come in the order in which they were written.

    An undo is itself an entry and can be undone, which brings back what it had undone.
    """
    entries = list(entries)
    undone = live_undos(entries)
    return [entry for entry in entries if not entry.undoes and entry.id not in undone]


def live_undos(entries: Sequence[Entry]) -> dict[str, Entry]:
    """Return the undos that hold, by the id of what they undo."""
    undone: dict[str, Entry] = {}
    for entry in reversed(entries):
        if entry.undoes and entry.id not in undone:
            undone[entry.undoes] = entry  # its target was written earlier, so it comes later here
    return undone


def judged_clips(entries: Iterable[Entry]) -> frozenset[str]:
    """Return the clips of which a blind judgement was ever written, taken back or not: their proposals were shown."""
    return frozenset(entry.clip for entry in entries if entry.action == "judge blind")


def fold(entries: Iterable[Entry]) -> StudyState:
    """Return what holds after these entries, in the order in which they were written.

    An entry that was undone is not read at all. One that no longer has anything to act on, because what it rests on
    was undone (a mark moved whose drawing was taken back), changes nothing until that comes back.

    Raises
    ------
    EntryError
        When an entry that holds cannot be read; it names entry and field.
    """
    draft = _Draft()
    for entry in live_entries(entries):
        action = read_action(entry)
        if isinstance(action, NameFacts):
            draft.named = action.named_by(entry.author)
        else:
            _apply(action, draft)
    return draft.frozen()


EMPTY = fold(())


def _apply(action: Action, draft: _Draft) -> None:
    match action:
        case PlaceClip() | TakeClipOut():
            draft.placements[action.clip] = action
        case NameMode(mode=None):
            draft.modes.pop(action.clip, None)
        case NameMode():
            draft.modes[action.clip] = action
        case JudgeBlind():
            draft.blind[action.clip] = action
        case SayCauses() | UncoverStudy():
            pass  # no part of what is told of the study: `causes_first` reads them
        case AcceptFinding() | OverruleFinding():
            _decide(action, draft)
        case AcceptFindings():
            for key in action.criteria:
                _decide(AcceptFinding(clip=action.clip, criterion=key), draft)
        case AddFinding():
            draft.added[action.finding] = action
        case TakeBackFinding():
            draft.added.pop(action.finding, None)
        case TickItem():
            _tick(action, draft)
        case JudgeStructure():
            _judge(action, draft)
        case DrawMark() | MoveMark() | RemoveMark():
            _mark(action, draft)
        case SetScale():
            draft.scales[action.clip] = action
        case SetStripScale():
            draft.strip_scales[(action.clip, action.marked.axis)] = action
        case _:
            _apply_to_papers(action, draft)


def _apply_to_papers(action: Action, draft: _Draft) -> None:
    match action:
        case FlagUrgency():
            draft.urgency = action
        case EditText(text=None):
            draft.texts.pop((action.document, action.part), None)
        case EditText(text=str(text)):
            draft.texts[(action.document, action.part)] = text
        case ChooseCorrection():
            draft.corrections[(action.criterion, action.side)] = action
        case OrderCorrections():
            draft.correction_order = action.order
        case JudgeChange(word=ChangeWord.NOT_SAID):
            draft.changes.pop(action.cause, None)
        case JudgeChange():
            draft.changes[action.cause] = action
        case SetExercise():
            draft.exercise = action
        case JudgeAdvice(word=AdviceWord.NOT_SAID):
            draft.advice.pop((action.letter, action.about), None)
        case JudgeAdvice():
            draft.advice[(action.letter, action.about)] = action
        case SetClosed():
            draft.closing = action
        case OpenCall() | RecordCall() | AcknowledgeCall():
            _call(action, draft)
        case Sign():
            draft.signed[action.document] = action
            draft.closing = None
        case _:
            raise TypeError(f"the state has no place for {type(action).__name__}")


def _decide(action: AcceptFinding | OverruleFinding, draft: _Draft) -> None:
    key = (action.clip, action.criterion)
    draft.decisions[key] = action
    draft.decided_in[key] = DecidedIn(
        placed=draft.placements.get(action.clip), blind=draft.blind.get(action.clip),
        landmarks=landmarks_set(draft.marks, action.clip),
    )  # fmt: skip


def _tick(action: TickItem, draft: _Draft) -> None:
    key = (action.clip, action.requirement, action.item)
    if action.is_shown is None:
        draft.ticks.pop(key, None)
    else:
        draft.ticks[key] = action.is_shown


def _judge(action: JudgeStructure, draft: _Draft) -> None:
    if action.judgement is Judgement.NOT_ASSESSED and not action.words:
        draft.structures.pop(action.structure, None)
    else:
        draft.structures[action.structure] = action


def _mark(action: DrawMark | MoveMark | RemoveMark, draft: _Draft) -> None:
    match action:
        case DrawMark():
            draft.marks[action.mark] = action
        case RemoveMark():
            draft.marks.pop(action.mark, None)
        case MoveMark():
            drawn = draft.marks.get(action.mark)
            if drawn is not None and fits(drawn.kind, action.points):
                draft.marks[action.mark] = replace(
                    drawn, frame=action.frame, points=action.points, proposed_spread_px=None
                )


def _call(action: OpenCall | RecordCall | AcknowledgeCall, draft: _Draft) -> None:
    call = draft.calls.get(action.call)
    match action:
        case OpenCall():
            draft.calls[action.call] = Call(opened=action) if call is None else replace(call, opened=action)
        case RecordCall() if call is not None:
            draft.calls[action.call] = replace(call, made=(*call.made, action))
        case AcknowledgeCall() if call is not None:
            draft.calls[action.call] = replace(call, acknowledged=action)
