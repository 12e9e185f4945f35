"""What holds is what was said and not taken back."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fanlight.store import (
    EMPTY,
    AdviceWord,
    Call,
    ChangeWord,
    DocumentKind,
    Entry,
    EntryError,
    JudgedStructure,
    Judgement,
    MarkKind,
    Party,
    Requirement,
    StudyState,
    fold,
    live_entries,
)
from fanlight.store.actions import (
    UNDO,
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
    SetClosed,
    SetExercise,
    SetScale,
    SetStripScale,
    Sign,
    TakeBackFinding,
    TakeClipOut,
    TickItem,
)
from fanlight.store.entry import write_action
from fanlight.study import MarkedAxis, MarkedDistance, Mode, Named, Side, StripAxis, Verdict

AT = datetime(2026, 11, 25, tzinfo=UTC)
LINE = ((1.0, 2.0), (30.0, 40.0))
NAMED_MODE = NameMode(clip="a", mode=Mode.PULSED_WAVE)
PLACED = PlaceClip(clip="a", view="long")
OUT = TakeClipOut(clip="a")
OVERRULED = OverruleFinding(clip="a", criterion="gain", verdict=Verdict.MET, reason="seen")
FOUND = AddFinding(finding="f", clip="a", words="thick")
FOUND_AGAIN = AddFinding(finding="f", clip="a", words="very thick")
DRAWN = DrawMark(mark="m", clip="a", frame=0, kind=MarkKind.LINE, points=LINE)
OPENED = OpenCall(call="k", finding="effusion")
CALLED = RecordCall(call="k", whom="Dr Aster", called_at=AT, said="today")
HEARD = AcknowledgeCall(call="k", by_whom="Dr Aster")
SHOWN = TickItem(clip="a", requirement=Requirement.MUST_SHOW, item="atria", is_shown=True)
ABNORMAL = JudgeStructure(structure=JudgedStructure.AORTA, judgement=Judgement.ABNORMAL)
SCALE = SetScale(clip="a", frame=0, distance=MarkedDistance(start=LINE[0], end=LINE[1], distance_mm=10.0))
TIME, LATER_TIME = (
    SetStripScale(clip="a", frame=0, marked=MarkedAxis(axis=StripAxis.TIME, start=LINE[0], end=LINE[1], amount=ms))
    for ms in (200.0, 300.0)
)
BASELINE = SetStripScale(
    clip="a", frame=0, marked=MarkedAxis(axis=StripAxis.BASELINE, start=LINE[0], end=LINE[0], amount=0.0)
)


def _advice(word: str) -> JudgeAdvice:
    return JudgeAdvice(letter="d", about="exercise", word=AdviceWord(word))


def _change(word: str) -> JudgeChange:
    return JudgeChange(cause="depth_large", word=ChangeWord(word))


EXERCISE = SetExercise(view="long", look_for="atria", repetitions=3)
KEPT = ChooseCorrection(criterion="gain", side=Side.LOW, is_kept=True)
URGENT = FlagUrgency(is_urgent=True, said_by=Party.MENTOR)
BLIND = JudgeBlind(clip="a", view="long", verdicts=())
CLOSED = SetClosed(is_closed=True)
SIGNED = Sign(document=DocumentKind.LETTER, document_id="d", version=1, sha256="x")


def entries(*actions: Action) -> list[Entry]:
    return [_entry(f"e{k}", *write_action(action)) for k, action in enumerate(actions)]


def _entry(key: str, name: str, payload: str = "{}", undoes: str = "") -> Entry:
    return Entry(id=key, study="s", clip="", at=AT, author="M", action=name, payload=payload, undoes=undoes)


CASES: list[tuple[str, Sequence[Action], str, object]] = [
    ("a clip lies where it was placed last", [PLACED, PlaceClip(clip="a", view="short")], "placements",
     {"a": PlaceClip(clip="a", view="short")}),
    ("a clip taken out stays out", [PLACED, OUT], "placements", {"a": OUT}),
    ("a named mode holds", [NameMode(clip="a", mode=Mode.M_MODE), NAMED_MODE], "modes", {"a": NAMED_MODE}),
    ("a mode can be left to the engine again", [NAMED_MODE, NameMode(clip="a", mode=None)], "modes", {}),
    ("the last decision counts", [AcceptFinding(clip="a", criterion="gain"), OVERRULED], "decisions",
     {("a", "gain"): OVERRULED}),
    ("a clip's findings are kept in one act", [AcceptFindings(clip="a", criteria=("gain", "focus"))], "decisions",
     {("a", key): AcceptFinding(clip="a", criterion=key) for key in ("gain", "focus")}),
    ("an added finding can get other words", [FOUND, FOUND_AGAIN], "added", {"f": FOUND_AGAIN}),
    ("an added finding can be withdrawn", [FOUND, TakeBackFinding(finding="f")], "added", {}),
    ("a tick is kept", [SHOWN], "ticks", {("a", Requirement.MUST_SHOW, "atria"): True}),
    ("a tick can be taken away",
     [SHOWN, TickItem(clip="a", requirement=Requirement.MUST_SHOW, item="atria", is_shown=None)], "ticks", {}),
    ("a structure is judged", [ABNORMAL], "structures", {JudgedStructure.AORTA: ABNORMAL}),
    ("not assessed is as if nothing was said",
     [ABNORMAL, JudgeStructure(structure=JudgedStructure.AORTA, judgement=Judgement.NOT_ASSESSED)], "structures", {}),
    ("a mark lies where it was moved to", [DRAWN, MoveMark(mark="m", clip="a", frame=3, points=LINE[::-1])], "marks",
     {"m": DrawMark(mark="m", clip="a", frame=3, kind=MarkKind.LINE, points=LINE[::-1])}),
    ("a move that is no line leaves the line", [DRAWN, MoveMark(mark="m", clip="a", frame=3, points=LINE[:1])],
     "marks", {"m": DRAWN}),
    ("moving what was never drawn does nothing", [MoveMark(mark="m", clip="a", frame=3, points=LINE)], "marks", {}),
    ("a mark can be removed", [DRAWN, RemoveMark(mark="m", clip="a")], "marks", {}),
    ("a scale is kept", [SCALE], "scales", {"a": SCALE}),
    (
        "each axis of a strip has its newest scale", [TIME, BASELINE, LATER_TIME], "strip_scales",
        {("a", StripAxis.TIME): LATER_TIME, ("a", StripAxis.BASELINE): BASELINE},
    ),
    ("a blind judgement is kept", [BLIND], "blind", {"a": BLIND}),
    ("urgency is what was said last", [URGENT, FlagUrgency(is_urgent=False, said_by=Party.MENTOR)], "urgency",
     FlagUrgency(is_urgent=False, said_by=Party.MENTOR)),
    ("a text is the mentor's", [EditText(document=DocumentKind.LETTER, part="p", text="x")], "texts",
     {(DocumentKind.LETTER, "p"): "x"}),
    ("a text can go back to the draft's", [EditText(document=DocumentKind.LETTER, part="p", text="x"),
     EditText(document=DocumentKind.LETTER, part="p", text=None)], "texts", {}),
    ("a correction is kept", [KEPT], "corrections", {("gain", Side.LOW): KEPT}),
    ("corrections have an order", [OrderCorrections(order=(("gain", Side.LOW),))], "correction_order",
     (("gain", Side.LOW),)),
    ("a change is kept", [_change("thrown out"), _change("kept")], "changes", {"depth_large": _change("kept")}),
    ("a word on a change is taken away", [_change("kept"), _change("not said")], "changes", {}),
    ("an exercise is set", [EXERCISE], "exercise", EXERCISE),
    ("what was named last holds, with its author", [NameFacts(lesions=("gone",)), NameFacts(treatment=" none ")],
     "named", Named(by="M", treatment="none")),
    ("advice is judged", [_advice("done"), _advice("not done")], "advice", {("d", "exercise"): _advice("not done")}),
    ("a judgement is taken off", [_advice("done"), _advice("not said")], "advice", {}),
    ("a study is closed", [CLOSED], "closing", CLOSED),
    ("a signature settles a closing", [CLOSED, SIGNED], "closing", None),
    ("a signature is kept", [SIGNED], "signed", {DocumentKind.LETTER: SIGNED}),
    ("an opened call is open", [OPENED], "open_calls", (Call(opened=OPENED),)),
    ("a call made but not acknowledged is open", [OPENED, CALLED], "open_calls",
     (Call(opened=OPENED, made=(CALLED,)),)),
    ("an acknowledgement without a call leaves it open", [OPENED, HEARD], "open_calls",
     (Call(opened=OPENED, acknowledged=HEARD),)),
    ("a call made and acknowledged is done", [OPENED, CALLED, HEARD], "open_calls", ()),
    ("a call that was never opened is none", [CALLED, HEARD], "calls", {}),
]  # fmt: skip


@pytest.mark.parametrize(("actions", "part", "expected"), [case[1:] for case in CASES], ids=[case[0] for case in CASES])
def test_state(actions: Sequence[Action], part: str, expected: object) -> None:
    state = fold(entries(*actions))

    assert getattr(state, part) == expected


def test_undoing_brings_back_what_was_before_and_undoing_that_brings_it_again() -> None:
    log = entries(PLACED, PlaceClip(clip="a", view="short"))
    undone = [*log, _entry("u1", UNDO, undoes="e1")]
    redone = [*undone, _entry("u2", UNDO, undoes="u1")]

    assert fold(undone).placements == {"a": PLACED}
    assert fold(redone) == fold(log)


def test_an_undone_entry_that_cannot_be_read_harms_nothing() -> None:
    broken = _entry("e0", "an action of the future", "{}")

    with pytest.raises(EntryError, match="entry e0, action 'an action of the future'"):
        fold([broken])
    assert fold([broken, _entry("u", UNDO, undoes="e0")]) == EMPTY


def test_a_state_cannot_be_changed() -> None:
    state = fold(entries(PLACED))

    with pytest.raises(TypeError):
        state.placements["a"] = OUT  # type: ignore[index]


# Few clips, marks and findings, so that actions meet.
CLIPS = st.sampled_from(["a", "b"])
MARKS = st.sampled_from(["m", "n"])
FINDINGS = st.sampled_from(["f", "g"])
CALLS = st.sampled_from(["k", "l"])
POINTS = st.sampled_from([LINE, LINE[::-1], LINE[:1]])
ACTIONS = st.one_of(
    st.builds(PlaceClip, clip=CLIPS, view=st.sampled_from(["long", "short"])),
    st.builds(TakeClipOut, clip=CLIPS),
    st.builds(JudgeBlind, clip=CLIPS, view=st.sampled_from(["", "long"]), verdicts=st.just(())),
    st.builds(AcceptFinding, clip=CLIPS, criterion=FINDINGS),
    st.builds(AcceptFindings, clip=CLIPS, criteria=st.just(("f", "g"))),
    st.builds(
        OverruleFinding, clip=CLIPS, criterion=FINDINGS, verdict=st.sampled_from(Verdict), reason=st.just("seen")
    ),
    st.builds(AddFinding, finding=FINDINGS, clip=CLIPS, words=st.sampled_from(["thin", "thick"])),
    st.builds(TakeBackFinding, finding=FINDINGS),
    st.builds(
        TickItem, clip=CLIPS, requirement=st.sampled_from(Requirement), item=st.just("atria"),
        is_shown=st.sampled_from([True, False, None]),
    ),
    st.builds(JudgeStructure, structure=st.sampled_from(JudgedStructure), judgement=st.sampled_from(Judgement)),
    st.builds(
        DrawMark, mark=MARKS, clip=CLIPS, frame=st.integers(0, 3), kind=st.just(MarkKind.LINE), points=st.just(LINE)
    ),
    st.builds(MoveMark, mark=MARKS, clip=CLIPS, frame=st.integers(0, 3), points=POINTS),
    st.builds(RemoveMark, mark=MARKS, clip=CLIPS),
    st.just(SCALE),
    st.sampled_from([TIME, LATER_TIME, BASELINE]),
    st.builds(FlagUrgency, is_urgent=st.booleans(), said_by=st.sampled_from(Party)),
    st.builds(
        EditText, document=st.sampled_from(DocumentKind), part=st.just("p"), text=st.sampled_from([None, "x", "y"])
    ),
    st.builds(ChooseCorrection, criterion=FINDINGS, side=st.sampled_from(Side), is_kept=st.booleans()),
    st.just(OrderCorrections(order=(("f", Side.LOW), ("g", Side.LOW)))),
    st.builds(JudgeChange, cause=FINDINGS, word=st.sampled_from(ChangeWord)),
    st.builds(NameFacts, lesions=st.sampled_from([(), ("subaortic_stenosis",)]), treatment=st.just("none")),
    st.just(EXERCISE),
    st.builds(JudgeAdvice, letter=st.just("d"), about=FINDINGS, word=st.sampled_from(AdviceWord)),
    st.builds(SetClosed, is_closed=st.booleans()),
    st.builds(OpenCall, call=CALLS, finding=st.just("effusion")),
    st.builds(RecordCall, call=CALLS, whom=st.just("w"), called_at=st.just(AT), said=st.just("s")),
    st.builds(AcknowledgeCall, call=CALLS, by_whom=st.just("w")),
    st.builds(
        Sign, document=st.sampled_from(DocumentKind), document_id=st.just("d"), version=st.integers(1, 3),
        sha256=st.just("x"),
    ),
)  # fmt: skip


@st.composite
def logs(draw: st.DrawFn) -> list[Entry]:
    """A log in which any entry, an undo too, may be undone, once or more."""
    log: list[Entry] = []
    for k in range(draw(st.integers(0, 14))):
        is_undo: bool = draw(st.booleans())
        if log and is_undo:
            log.append(_entry(f"e{k}", UNDO, undoes=draw(st.sampled_from(log)).id))
        else:
            log.append(_entry(f"e{k}", *write_action(draw(ACTIONS))))
    return log


def holds(log: list[Entry], k: int) -> bool:
    """Say it as a person would: an entry holds unless an undo that holds names it."""
    return not any(later.undoes == log[k].id and holds(log, k + 1 + i) for i, later in enumerate(log[k + 1 :]))


@settings(max_examples=150, deadline=None)
@given(logs())
def test_a_log_folds_as_if_what_was_undone_had_never_been_written(log: list[Entry]) -> None:
    left = [entry for k, entry in enumerate(log) if not entry.undoes and holds(log, k)]

    assert live_entries(log) == left
    assert fold(log) == fold(left)


@settings(max_examples=60, deadline=None)
@given(logs())
def test_undoing_everything_leaves_nothing(log: list[Entry]) -> None:
    undos = [_entry(f"u{k}", UNDO, undoes=entry.id) for k, entry in enumerate(live_entries(log))]

    assert fold([*log, *undos]) == EMPTY == _nothing()


@settings(max_examples=60, deadline=None)
@given(logs(), ACTIONS)
def test_doing_and_undoing_changes_nothing_and_redoing_does(log: list[Entry], action: Action) -> None:
    done = [*log, _entry("x", *write_action(action))]
    undone = [*done, _entry("y", UNDO, undoes="x")]

    assert fold(undone) == fold(log)
    assert fold([*undone, _entry("z", UNDO, undoes="y")]) == fold(done)


def _nothing() -> StudyState:
    return StudyState(
        placements={}, modes={}, blind={}, decisions={}, decided_in={}, added={}, ticks={}, structures={}, marks={},
        scales={}, strip_scales={}, texts={}, corrections={}, correction_order=(), changes={}, exercise=None, advice={},
        named=None, urgency=None, closing=None, calls={}, signed={},
    )  # fmt: skip


def test_a_mark_kept_as_proposed_keeps_its_spread_until_it_is_moved() -> None:
    """An entry written before there were spreads is read as set by hand."""
    kept = replace(DRAWN, proposed_spread_px=2.5)
    moved = MoveMark(mark="m", clip="a", frame=0, points=LINE)

    assert DRAWN.proposed_spread_px is None
    assert fold(entries(kept)).marks["m"].proposed_spread_px == 2.5
    assert fold(entries(kept, moved)).marks["m"].proposed_spread_px is None
