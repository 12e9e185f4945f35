"""What was said of causes before proposals were shown: the last word before, and nothing after."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime

from hypothesis import given, settings
from hypothesis import strategies as st

from fanlight.review.events import ReviewFinished, StudyAssembled
from fanlight.store import (
    ChangeWord,
    DocumentKind,
    Entry,
    MarkKind,
    Store,
    add_entry,
    blind_studies,
    digest_of,
    ends_cover,
    fold,
    is_seen,
    new_id,
    record_event,
    said_first,
    undo_entry,
)
from fanlight.store.actions import (
    AcceptFinding,
    AcceptFindings,
    Action,
    ChooseCorrection,
    DrawMark,
    JudgeBlind,
    JudgeChange,
    OrderCorrections,
    OverruleFinding,
    PlaceClip,
    SayCauses,
    Sign,
    UncoverStudy,
)
from fanlight.store.entry import write_action
from fanlight.study import CauseFound, CauseLevel, Side, Verdict
from measure._store_samples import HOUSE, sample_review, sample_study

DEEP, GAIN = SayCauses(through=("depth_large",), some=()), SayCauses(through=(), some=("gain_low",))
NONE = SayCauses(through=(), some=())
DRAWN = DrawMark(mark="m", clip="c", frame=0, kind=MarkKind.POINT, points=((1.0, 2.0),), landmark="LV_APEX")
ENDS: tuple[Action, ...] = (
    UncoverStudy(),
    AcceptFinding(clip="", criterion="ladder"),
    AcceptFindings(clip="c", criteria=("overall_gain",)),
    OverruleFinding(clip="c", criterion="overall_gain", verdict=Verdict.MET, reason="seen"),
    JudgeBlind(clip="c", view="", verdicts=()),
    ChooseCorrection(criterion="overall_gain", side=Side.LOW, is_kept=True),
    OrderCorrections(order=(("overall_gain", Side.LOW),)),
    JudgeChange(cause="depth_large", word=ChangeWord.KEPT),
    replace(DRAWN, proposed_spread_px=1.5),  # a landmark kept as it was proposed
    Sign(document=DocumentKind.LETTER, document_id="d", version=1, sha256="x"),
)
ANY = st.sampled_from((*ENDS, DEEP, GAIN, NONE, DRAWN, PlaceClip(clip="c", view="v"), "undo"))


def log(acts: Sequence[Action | str]) -> list[Entry]:
    """Entries in their order; "undo" takes back the one before it."""
    made: list[Entry] = []
    for k, act in enumerate(acts):
        name, payload = ("undo", "{}") if isinstance(act, str) else write_action(act)
        undoes = made[-1].id if isinstance(act, str) and made else ""
        if isinstance(act, str) and not made:
            continue
        made.append(
            Entry(
                id=f"e{k}", study="s", clip="", at=datetime(2026, 12, 1, tzinfo=UTC), author="M. Linden", action=name,
                payload=payload, undoes=undoes,
            )
        )  # fmt: skip
    return made


def causes(acts: Sequence[Action | str]) -> SayCauses | None:
    found = said_first(log(acts))
    return found.said if found else None


def test_the_last_word_before_proposals_are_shown_counts() -> None:
    assert causes([DEEP]) == DEEP
    assert causes([DEEP, GAIN, UncoverStudy()]) == GAIN
    assert causes([DEEP, GAIN, "undo", UncoverStudy()]) == DEEP
    assert causes([DEEP, "undo", UncoverStudy()]) is None
    assert causes([NONE, UncoverStudy()]) == NONE  # that none acts is a word too


def test_every_act_that_shows_or_judges_a_proposal_ends_it() -> None:
    for act in ENDS:
        assert ends_cover(act)
        assert is_seen(log([act]))
        assert causes([act, DEEP]) is None
        assert causes([act, "undo", DEEP]) is None  # it was seen, taken back or not
        assert causes([DEEP, act, GAIN]) == DEEP


def test_what_is_done_without_a_proposal_ends_nothing() -> None:
    for act in (DEEP, DRAWN, PlaceClip(clip="c", view="v")):
        assert not ends_cover(act)
        assert not is_seen(log([act, "undo"]))
        assert causes([act, GAIN]) == GAIN


@settings(max_examples=200, deadline=None)
@given(before=st.lists(ANY, max_size=6), end=st.sampled_from(ENDS), after=st.lists(ANY, max_size=6))
def test_nothing_done_after_proposals_were_shown_changes_what_was_said_first(
    before: list[Action | str], end: Action, after: list[Action | str]
) -> None:
    """Neither a later word, nor taking back the earlier one, nor taking back that they were shown."""
    assert causes([*before, end, *after]) == causes([*before, end])


def test_what_is_told_of_a_study_does_not_hang_on_it() -> None:
    assert fold(log([DEEP, UncoverStudy()])) == fold(())


def test_the_engines_word_is_found_again_by_its_digest(store: Store, study: str) -> None:
    """Drafts are kept: one that was made anew later does not stand in for the one that was covered."""
    whole = sample_study(1, study, trainee="T. Rowan")
    deep = CauseFound(
        cause="depth_large", title="depth too large", level=CauseLevel.CONSOLE, probability=0.99, habit=0.9,
        is_habit=True, clips=("c",), explains=(),
    )  # fmt: skip
    covered, later = replace(sample_review(whole), causes=(deep,)), replace(sample_review(whole), causes=())
    record_event(store, study, StudyAssembled(study=whole), house=HOUSE)
    record_event(store, study, ReviewFinished(review=covered), house=HOUSE)
    entry = new_id()
    add_entry(store, study, replace(GAIN, not_shown=digest_of(covered)), author="M. Linden", entry=entry)
    record_event(store, study, ReviewFinished(review=later), house=HOUSE)

    (found,) = blind_studies(store)
    assert (found.study, found.trainee, found.engine) == (study, "T. Rowan", ("depth_large",))

    add_entry(store, study, replace(GAIN, not_shown="of a draft that is gone"), author="M. Linden", entry=new_id())
    assert blind_studies(store)[0].engine is None

    add_entry(store, study, UncoverStudy(), author="M. Linden", entry=new_id())
    undo_entry(store, study, entry, author="M. Linden", entry=new_id())
    assert blind_studies(store)[0].first.said.some == ("gain_low",)


def test_a_study_of_which_nobody_spoke_first_does_not_count(store: Store, study: str) -> None:
    whole = sample_study(1, study)
    record_event(store, study, StudyAssembled(study=whole), house=HOUSE)
    add_entry(store, study, UncoverStudy(), author="M. Linden", entry=new_id())
    add_entry(store, study, DEEP, author="M. Linden", entry=new_id())

    assert blind_studies(store) == ()
