"""Every action can be written and read again; what is malformed is named."""

import json
from datetime import UTC, date, datetime

import pytest

from fanlight.store import (
    AdviceWord,
    ChangeWord,
    DocumentKind,
    Entry,
    EntryError,
    JudgedStructure,
    Judgement,
    MarkKind,
    Party,
    Requirement,
    parse_action,
    plain_action,
    read_action,
)
from fanlight.store.actions import (
    NAMES,
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
from fanlight.store.entry import write_action
from fanlight.study import (
    Box,
    ClipVerdict,
    Evidence,
    HeartFailure,
    Landmark,
    MarkedAxis,
    MarkedDistance,
    Mask,
    Mode,
    Polyline,
    Purpose,
    Side,
    StripAxis,
    Valve,
    Verdict,
)

LINE = ((1.5, 2.0), (30.25, 40.0))
SHAPES = (
    Box(row0=1, col0=2, row1=3, col1=4),
    Polyline(points=LINE, closed=True),
    Mask(runs=((1, 2, 3),)),
)
EXAMPLES: tuple[Action, ...] = (
    PlaceClip(clip="c", view="right_parasternal_long_axis_four_chamber"),
    PlaceClip(clip="c", view="left_apical_five_chamber", valve=Valve.AORTIC),
    NameMode(clip="c", mode=Mode.CONTINUOUS_WAVE),
    NameMode(clip="c", mode=None),
    TakeClipOut(clip="c"),
    AcceptFinding(clip="", criterion="ladder"),
    AcceptFindings(clip="c", criteria=("overall_gain", "focus")),
    OverruleFinding(clip="c", criterion="overall_gain", verdict=Verdict.MET, reason="blood is black"),
    AddFinding(finding="f", clip="c", words="Häufige Extraschläge", evidence=tuple(Evidence(shape=s) for s in SHAPES)),
    TakeBackFinding(finding="f"),
    TickItem(clip="c", requirement=Requirement.MUST_SHOW, item="both atria", is_shown=True),
    TickItem(clip="c", requirement=Requirement.MUST_NOT_SHOW, item="aorta", is_shown=None),
    JudgeStructure(structure=JudgedStructure.PERICARDIUM, judgement=Judgement.ABNORMAL, words="some fluid"),
    DrawMark(mark="m", clip="c", frame=0, kind=MarkKind.LINE, points=LINE, landmark=Landmark.LV_APEX.name),
    DrawMark(mark="m", clip="c", frame=7, kind=MarkKind.POINT, points=LINE[:1], label="jet"),
    DrawMark(mark="m", clip="c", frame=7, kind=MarkKind.ANGLE, points=(*LINE, (3.0, 4.0))),
    DrawMark(mark="m", clip="c", frame=7, kind=MarkKind.TRACE, points=LINE * 20),
    MoveMark(mark="m", clip="c", frame=1, points=LINE),
    RemoveMark(mark="m", clip="c"),
    SetScale(clip="c", frame=2, distance=MarkedDistance(start=LINE[0], end=LINE[1], distance_mm=50.0)),
    SetStripScale(clip="c", frame=2, marked=MarkedAxis(axis=StripAxis.TIME, start=LINE[0], end=LINE[1], amount=200.0)),
    FlagUrgency(is_urgent=True, said_by=Party.PRACTICE, reason="breathless"),
    JudgeBlind(clip="c", view="", verdicts=((Purpose.LOOK, ClipVerdict.LIMITED),)),
    SayCauses(through=("gain_low",), some=(), asked=(("gain_low", ""), ("chest_thick", "x")), not_shown="ab"),
    UncoverStudy(),
    NameFacts(
        lesions=("subaortic_stenosis",), failure=HeartFailure.NONE, treatment="none", signs=("a",), signs_absent=("b",)
    ),
    EditText(document=DocumentKind.LETTER, part="opening", text="Well done."),
    EditText(document=DocumentKind.SUMMARY, part="limits", text=None),
    ChooseCorrection(criterion="overall_gain", side=Side.LOW, is_kept=False, reason="of no weight here"),
    OrderCorrections(order=(("depth", Side.HIGH), ("focus", Side.LOW))),
    JudgeChange(cause="depth_large", word=ChangeWord.KEPT),
    SetExercise(view="v", look_for="both auricles", repetitions=5, due=date(2026, 12, 24)),
    JudgeAdvice(letter="d", about="depth_use:high", word=AdviceWord.NOT_MENDED),
    SetClosed(is_closed=True, reason="sent by mistake"),
    OpenCall(call="k", finding="large pericardial effusion"),
    RecordCall(call="k", whom="Dr Aster", called_at=datetime(2026, 11, 25, 9, tzinfo=UTC), said="drain today"),
    AcknowledgeCall(call="k", by_whom="Dr Aster"),
    Sign(document=DocumentKind.SUMMARY, document_id="d", version=1, sha256="ab"),
)


def test_examples_hold_every_kind_of_action() -> None:
    assert {type(example) for example in EXAMPLES} == set(NAMES.values())


@pytest.mark.parametrize("action", EXAMPLES, ids=lambda action: type(action).__name__)
def test_actions_come_back_as_written(action: Action) -> None:
    name, payload = write_action(action)

    assert read_action(_entry(name, payload)) == action
    assert parse_action(*plain_action(action)) == action


MALFORMED = [
    ("place clip", {}, "clip", "missing"),
    ("place clip", {"clip": "c"}, "view", "missing"),
    ("place clip", {"clip": 3, "view": "v"}, "clip", "3 does not fit its type"),
    ("place clip", {"clip": "c", "view": "v", "valve": "heart"}, "valve", "'heart' is not a valid Valve"),
    ("place clip", {"clip": "c", "view": "v", "size": 1}, "size", "does not have"),
    ("place clip", {"clip": "c", "view": " "}, "", "PlaceClip.view must not be empty"),
    ("move mark", {"mark": "m", "clip": "c", "frame": 1.5, "points": [[1, 2]]}, "frame", "1.5 does not fit"),
    ("move mark", {"mark": "m", "clip": "c", "frame": -1, "points": [[1, 2]]}, "", "frame must be 0 or more, got -1"),
    ("move mark", {"mark": "m", "clip": "c", "frame": 1, "points": [[1, 2, 3]]}, "points", ""),
    ("set exercise", {"view": "v", "look_for": "l", "repetitions": 0}, "", "1 or more, got 0"),
    ("set exercise", {"view": "v", "look_for": "l", "repetitions": 1, "due": "soon"}, "due", "soon"),
    (
        "overrule finding",
        {"clip": "", "criterion": "c", "verdict": "met", "reason": ""},
        "",
        "reason must not be empty",
    ),
    ("accept findings", {"clip": "c", "criteria": []}, "", "at least one criterion"),
    ("name facts", {"failure": "maybe"}, "failure", "'maybe' is not a valid HeartFailure"),
    ("name facts", {"signs": ["a"], "signs_absent": ["a"]}, "", "either in signs or in signs_absent"),
    ("dance", {}, "", "no action has this name"),
    ("undo", {}, "", "it undoes another entry"),
    ("place clip", ["c", "v"], "", "expected fields by name, found list"),
]


@pytest.mark.parametrize(("name", "plain", "field", "found"), MALFORMED)
def test_malformed_payloads_name_entry_and_field(name: str, plain: object, field: str, found: str) -> None:
    with pytest.raises(EntryError) as caught:
        read_action(_entry(name, json.dumps(plain)))

    assert (caught.value.entry, caught.value.action, caught.value.field) == ("e1", name, field)
    assert found in caught.value.found
    assert "entry e1" in str(caught.value)


def test_a_time_is_taken_in_the_form_that_browsers_write() -> None:
    """Date.toISOString: milliseconds and Z (ECMA-262, 21.4.4.36)."""
    plain = {"call": "k", "whom": "Dr Aster", "called_at": "2026-11-25T21:04:00.000Z", "said": "drain it"}

    action = parse_action("record call", plain)

    assert isinstance(action, RecordCall)
    assert action.called_at == datetime(2026, 11, 25, 21, 4, tzinfo=UTC)


def test_a_payload_that_is_no_json_is_named() -> None:
    with pytest.raises(EntryError, match="entry e1, action 'place clip': the payload is no JSON"):
        read_action(_entry("place clip", "{"))


def test_a_field_of_the_wrong_type_is_not_written() -> None:
    with pytest.raises(EntryError, match=r"field 'frame': 1\.5 does not fit its type"):
        write_action(MoveMark(mark="m", clip="c", frame=1.5, points=LINE))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("kind", "n", "wanted"),
    [(MarkKind.POINT, 2, "takes 1"), (MarkKind.LINE, 1, "takes 2"), (MarkKind.ANGLE, 2, "3"), (MarkKind.TRACE, 1, "2")],
)
def test_a_shape_of_too_few_or_many_points_is_refused(kind: MarkKind, n: int, wanted: str) -> None:
    with pytest.raises(ValueError, match=f"{wanted}.*got {n}"):
        DrawMark(mark="m", clip="c", frame=0, kind=kind, points=LINE[:n])


def test_marks_name_known_landmarks_and_finite_places() -> None:
    with pytest.raises(ValueError, match="landmark 'NOSE' is not known"):
        DrawMark(mark="m", clip="c", frame=0, kind=MarkKind.LINE, points=LINE, landmark="NOSE")
    with pytest.raises(ValueError, match="finite"):
        DrawMark(mark="m", clip="c", frame=0, kind=MarkKind.POINT, points=((float("nan"), 1.0),))


def _entry(name: str, payload: str) -> Entry:
    return Entry(id="e1", study="s", clip="", at=datetime.now(tz=UTC), author="M", action=name, payload=payload)
