"""The few changes that open the letter: drawn from what was decided, kept, reworded and thrown out by the mentor."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from fanlight.desk.as_left import as_left
from fanlight.desk.changes import changes_of, kept_changes, no_room, part_of
from fanlight.desk.changes_page import plain_changes
from fanlight.desk.decided import for_papers
from fanlight.reference.causes import read_causes, read_try_words
from fanlight.reference.load import load_house
from fanlight.review.conclude import conclude
from fanlight.store import ChangeWord, DocumentKind, Store
from fanlight.store.actions import AcceptFindings, Action, EditText, JudgeChange, OverruleFinding
from fanlight.study import Breathing, CauseFound, CauseLevel, ClipReading, Explained, House, Side, StudyReview, Verdict
from tests.coach.causes.test_find import DEEP, clip
from tests.desk.browser import Browser, new_id
from tests.desk.drafts import house_rows, keep, state_after
from tests.report.sample import sample_review

VIEWS = (
    "right_parasternal_long_axis_four_chamber", "right_parasternal_short_axis_papillary_muscles",
    "right_parasternal_short_axis_aorta", "left_apical_four_chamber",
)  # fmt: skip
CUT = (("chamber_cut", Side.HIGH),)
ALIKE = ("depth_small", "sector_narrow")  # a chamber is cut: too shallow, or too narrow


def drafted(signs: Any, n: int, **more: Any) -> StudyReview:
    """A study of n clips that all show the same."""
    readings = tuple(clip(k, *signs, view=VIEWS[k % len(VIEWS)], **more) for k in range(1, n + 1))
    return drafted_of(readings)


def drafted_of(readings: tuple[ClipReading, ...]) -> StudyReview:
    sample = sample_review()
    request = replace(sample.study.request, breathing=Breathing.NORMAL)
    study = replace(sample.study, request=request, clips=tuple(item.clip for item in readings))
    return conclude(study, readings, (), house_rows())


def accepted(draft: StudyReview) -> list[Action]:
    """Keep every finding of every clip."""
    return [
        AcceptFindings(clip=item.clip.key, criteria=tuple(f.criterion for f in item.findings))
        for item in draft.readings
        if item.findings
    ]


def listed(draft: StudyReview, *acts: Action) -> dict[str, tuple[ChangeWord, bool]]:
    """Return cause, the mentor's word, and whether something that was decided points to it."""
    state = state_after(*acts)
    found = changes_of(for_papers(as_left(draft, state, house_rows())), state, house_rows())
    return {item.cause: (item.word, item.correction is not None) for item in found}


def printed(draft: StudyReview, *acts: Action) -> tuple[str, ...]:
    state = state_after(*acts)
    return kept_changes(for_papers(as_left(draft, state, house_rows())), state, house_rows())


def said(cause: str, word: ChangeWord = ChangeWord.KEPT) -> JudgeChange:
    return JudgeChange(cause=cause, word=word)


def test_changes_come_from_decided_findings_and_the_letter_has_those_that_were_kept() -> None:
    """Undecided findings propose nothing; an undecided change stands in no letter; the count is of kept findings."""
    draft = drafted(DEEP, 5)
    assert listed(draft) == {}

    kept = accepted(draft)
    assert listed(draft, *kept) == {"depth_large": (ChangeWord.NOT_SAID, True)}
    assert printed(draft, *kept) == ()
    (words,) = printed(draft, *kept, said("depth_large"))
    assert words.startswith("Depth too large (clips 1 to 5; behind 15 findings). It runs through the study. When")
    assert printed(draft, *kept, said("depth_large", ChangeWord.THROWN_OUT)) == ()

    fewer = kept[:4]  # nobody has decided on the fifth clip
    (words,) = printed(draft, *fewer, said("depth_large"))
    assert words.startswith("Depth too large (clips 1 to 4; behind 12 findings).")


def test_words_of_the_mentor_replace_the_proposed_ones() -> None:
    draft = drafted(DEEP, 5)
    own = EditText(document=DocumentKind.LETTER, part=part_of("depth_large"), text="Two centimetres less.")
    (words,) = printed(draft, *accepted(draft), said("depth_large"), own)
    assert words.endswith("It runs through the study. Two centimetres less.")


def test_a_word_stands_when_what_it_rests_on_is_gone_and_the_letter_is_silent() -> None:
    """A decision belongs to the cause: it comes back with the findings."""
    draft = drafted(DEEP, 5)
    kept = [*accepted(draft), said("depth_large")]
    overruled = [
        OverruleFinding(clip=item.clip.key, criterion=criterion, verdict=Verdict.MET, reason="as it should be")
        for item in draft.readings
        for criterion, _ in DEEP
    ]

    assert listed(draft, *kept, *overruled) == {"depth_large": (ChangeWord.KEPT, False)}
    assert printed(draft, *kept, *overruled) == ()
    assert listed(draft, *kept)["depth_large"] == (ChangeWord.KEPT, True)


def test_either_or_is_told_until_the_mentor_has_chosen() -> None:
    draft = drafted(CUT, 8, unjudged=("focal_depth", "tgc_banding"))
    kept = accepted(draft)
    proposed = listed(draft, *kept)
    (first,) = set(proposed) & set(ALIKE)
    (other,) = set(ALIKE) - {first}

    (both,) = printed(draft, *kept, said(first))
    assert " Or " in both
    (one,) = printed(draft, *kept, said(first), said(other, ChangeWord.THROWN_OUT))
    assert " Or " not in one
    (instead,) = printed(draft, *kept, said(first, ChangeWord.THROWN_OUT), said(other))
    assert " Or " not in instead
    assert instead.split("(")[0] != one.split("(")[0]
    assert "behind 8 findings" in instead


def with_causes(n: int) -> StudyReview:
    """Papers of a study of n clips that point to several settings, the first in most clips."""
    review = for_papers(as_left(drafted(DEEP, n), state_after(*accepted(drafted(DEEP, n))), house_rows()))
    keys = [key for key, row in read_causes(house_rows()).items() if row.level is CauseLevel.CONSOLE][:n]
    found = tuple(
        CauseFound(
            cause=key, title=key, level=CauseLevel.CONSOLE, probability=0.999, habit=0.0, is_habit=False,
            clips=tuple(item.clip.key for item in review.readings[: n - place]),
            explains=tuple(
                Explained(criterion="overall_gain", clip=item.clip.key) for item in review.readings[: n - place]
            ),
        )
        for place, key in enumerate(keys)
    )  # fmt: skip
    return replace(review, causes=found)


def shown(review: StudyReview, *acts: Action) -> list[tuple[str, ChangeWord, bool]]:
    found = changes_of(review, state_after(*acts), house_rows())
    return [(item.cause, item.word, item.is_in_letter) for item in found]


def test_a_setting_that_is_likely_and_not_sure_is_shown_and_kept_as_one_to_be_tried() -> None:
    review = with_causes(2)
    likely = replace(review.causes[1], probability=0.85)
    review = replace(review, causes=(review.causes[0], likely))
    words = read_try_words(house_rows())

    sure, tried = plain_changes(review, state_after(), house_rows())
    assert (sure["is_tried"], tried["is_tried"]) == (False, True)
    assert tried["words"].startswith(words)
    assert not sure["words"].startswith(words)
    (kept,) = kept_changes(review, state_after(said(likely.cause)), house_rows())
    assert kept.startswith("Perhaps ")
    assert words in kept


def test_a_change_that_is_thrown_out_makes_room_for_the_next_and_stays_in_its_place() -> None:
    """Three at most are proposed; what was thrown out is none of them, and can be brought back where it stood."""
    review = with_causes(5)
    one, two, three, four, _ = (item.cause for item in review.causes)
    assert [cause for cause, _, _ in shown(review)] == [one, two, three]

    listed = shown(review, said(two, ChangeWord.THROWN_OUT))
    assert [cause for cause, _, _ in listed] == [one, two, three, four]
    assert [word for _, word, _ in listed].count(ChangeWord.NOT_SAID) == 3


def test_no_more_changes_stand_in_the_letter_than_the_house_allows() -> None:
    """Kept ones leave no slot to what is only proposed; of too many the last gives way, and is said to."""
    review = with_causes(5)
    keys = [item.cause for item in review.causes]
    three = [said(key) for key in keys[1:4]]
    assert shown(review, *three) == [(key, ChangeWord.KEPT, True) for key in keys[1:4]]
    titles = no_room(review, state_after(*three), house_rows(), keys[0])
    assert len(titles) == 3
    assert no_room(review, state_after(*three), house_rows(), keys[1]) == (), "it is one of the three"

    four = shown(review, *three, said(keys[4]))
    assert four[-1] == (keys[4], ChangeWord.KEPT, False)
    assert len(kept_changes(review, state_after(*three, said(keys[4])), house_rows())) == 3
    plain = plain_changes(review, state_after(*three, said(keys[4])), house_rows())
    assert [item["has_room"] for item in plain] == [True, True, True, False]


def test_the_service_refuses_a_change_too_many_and_says_which_fill_the_letter(
    browser: Browser, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    review = with_causes(5)
    monkeypatch.setattr("fanlight.desk.letters.for_papers", lambda *_: review)
    study = keep(store, drafted(DEEP, 5))
    keys = [item.cause for item in review.causes]
    for key in keys[:3]:
        assert browser.act(study, "judge change", cause=key, word="kept").status_code == 200
    again = browser.act(study, "judge change", cause=keys[0], word="kept")
    refused = browser.act(study, "judge change", cause=keys[3], word="kept")
    out = browser.act(study, "judge change", cause=keys[3], word="thrown out")

    assert (again.status_code, refused.status_code, out.status_code) == (200, 409, 200)
    error = refused.json()["error"]
    assert "3 changes at most" in error["what"]
    assert read_causes(house_rows())[keys[0]].title in error["what"]
    assert browser.get(f"/api/studies/{study}/changes").json()["most"] == 3
    browser.act(study, "judge change", cause=keys[0], word="thrown out")
    assert browser.act(study, "judge change", cause=keys[3], word="kept").status_code == 200


def test_the_desk_lists_them_and_a_signed_letter_opens_with_those_kept(browser: Browser, store: Store) -> None:
    """With cause, evidence and how likely in words; taken back with the act; the addendum says what it changed."""
    draft = drafted(DEEP, 3)
    study = keep(store, draft)
    for act in accepted(draft):
        assert isinstance(act, AcceptFindings)
        browser.act(study, "accept findings", act.clip, criteria=list(act.criteria))

    (item,) = browser.get(f"/api/studies/{study}/changes").json()["changes"]
    assert (item["cause"], item["word"], item["is_stale"]) == ("depth_large", "not said", False)
    assert item["likely"] in ("very likely", "likely", "perhaps")
    assert item["resolves"] == len(item["evidence"]) == 9
    assert {each["number"] for each in item["evidence"]} == {1, 2, 3}
    assert "%" not in str(item)

    def letter() -> str:
        return browser.get(f"/api/studies/{study}/letter", params={"kind": "letter"}).text

    assert "What would change most" not in letter()
    browser.act(study, "judge change", cause="depth_large", word="kept")
    text = letter()
    assert text.index("What would change most") < text.index("What is right") < text.index("What matters most")
    assert "behind 9 findings" in text

    state = browser.get(f"/api/studies/{study}/state").json()
    assert state["state"]["changes"] == [{"action": "judge change", "cause": "depth_large", "word": "kept"}]
    undo = {"id": new_id(), "author": "M. Linden", "entry": state["next_undo"]}
    assert browser.post(f"/api/studies/{study}/undo", undo).status_code == 200
    assert "What would change most" not in letter()


@pytest.mark.parametrize("plain", [{"cause": " ", "word": "kept"}, {"cause": "c", "word": "maybe"}])
def test_a_word_that_says_nothing_is_refused(browser: Browser, store: Store, plain: dict[str, str]) -> None:
    study = keep(store, drafted(DEEP, 1))
    body = {"id": new_id(), "author": "M. Linden", "clip": "", "action": "judge change", "payload": plain}
    assert browser.post(f"/api/studies/{study}/entries", body).status_code == 422


def test_a_change_says_where_its_probability_comes_from(tmp_path: Path) -> None:
    """If a group re-fitted it; as shipped it says nothing."""
    origin = "from 60 studies of this practice judged before proposals were shown"
    file = tmp_path / "group.toml"
    file.write_text(
        f"[causes.causes.depth_large]\nbefore = 0.2\n[cause_priors.fitted.depth_large]\nbefore = 0.2\nlow = 0.1\n"
        f'high = 0.3\nn_studies = 60\nn_named = 14\nsaid = "{origin}"\n'
    )
    draft = drafted(DEEP, 5)
    state = state_after(*accepted(draft))

    def told(house: House) -> list[str]:
        return [item["prior_from"] for item in plain_changes(for_papers(as_left(draft, state, house)), state, house)]

    assert told(load_house(file)) == [origin]
    assert told(house_rows()) == [""]
