"""Earlier advice on paper: praise first, the real record beside what is said again, and why something is not told."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from html import unescape

import pytest

from fanlight.report.causes import correction_words
from fanlight.report.document import Grid, Heading, Items
from fanlight.report.followed import follow_up_blocks, follow_up_lines, follow_up_sheet, praise_lines, record_words
from fanlight.report.html import render_html
from fanlight.report.json_file import review_as_plain, review_schema
from fanlight.report.letter import build_letter
from fanlight.study import AdviceGiven, FollowedAdvice, FollowUp, MetNow, Outcome, Side, StudyReview
from fanlight.study.codec import from_bytes, to_bytes
from tests.report.sample import InventedFrames, sample_review
from tests.report.test_causes import LESS

WHEN = datetime(2026, 11, 25, 9, 0)
FOCUS = AdviceGiven(
    about="sample_low:low", title="Focal depth", correction="Set one focus.", signs=(("sample_low", Side.LOW),)
)


def followed(outcome: Outcome | None, given: int = 3, mended: int = 1, not_told: int = 0) -> FollowedAdvice:
    tried = ("clip01", "clip02") if outcome not in (None, Outcome.NOT_TOLD) else ()
    return FollowedAdvice(
        advice=FOCUS, outcome=outcome, tried_in=tried, given=given, mended=mended, not_told=not_told
    )  # fmt: skip


def review_with(*advice: FollowedAdvice, met: tuple[MetNow, ...] = (), left: tuple[str, ...] = ()) -> StudyReview:
    found = FollowUp(since=datetime(2026, 3, 1), advice=advice, met_now=met, not_followed=left)
    return replace(sample_review(), follow_up=found)


@pytest.mark.parametrize(
    ("outcome", "line"),
    [
        (Outcome.MENDED, "Focal depth: advised last time, mended now (clips 1 and 2). Well done."),
        (Outcome.STILL_THERE, "Focal depth: still there (clips 1 and 2). Given in 3 earlier studies, mended in 1."),
        (
            Outcome.BORDERLINE,
            "Focal depth: better, and borderline now (clips 1 and 2). Given in 3 earlier studies, mended in 1.",
        ),
        (
            Outcome.OVERDONE,
            "Focal depth: too much of it now, missed on the other side (clips 1 and 2). "
            "Given in 3 earlier studies, mended in 1.",
        ),
        (
            Outcome.NOT_TOLD,
            "Focal depth: whether it is mended cannot be told, since no clip shows it. "
            "Given in 3 earlier studies, mended in 1.",
        ),
    ],
)
def test_each_outcome_in_words(outcome: Outcome, line: str) -> None:
    assert follow_up_lines(review_with(followed(outcome))) == (line,)


@pytest.mark.parametrize(
    ("given", "mended", "not_told", "words"),
    [
        (1, 0, 0, "given in 1 earlier study, mended in none"),
        (3, 1, 1, "given in 3 earlier studies, mended in 1, not to be told in 1"),
        (2, 0, 2, "given in 2 earlier studies, never to be told whether it was mended"),
    ],
)
def test_the_record_in_words(given: int, mended: int, not_told: int, words: str) -> None:
    found = FollowUp(advice=(followed(None, given, mended, not_told),))

    assert record_words(found, "sample_low:low") == words
    assert record_words(found, "sample_low:high") == ""


def test_praise_comes_first_names_the_view_and_is_said_once() -> None:
    met = (
        MetNow(criterion="sample_low", words="Sharp.", views=("Right long axis",), clips=("clip01",)),
        MetNow(criterion="other", words="Even gain.", views=("Right short axis",), clips=("clip02", "clip03")),
    )
    lines = follow_up_lines(review_with(followed(Outcome.MENDED), met=met, left=("Not that one.",)))

    assert lines == (
        "Focal depth: advised last time, mended now: Right long axis (clips 1 and 2). Well done.",
        "Even gain. Missed last time, met now: Right short axis (clips 2 and 3).",
    )


@pytest.mark.parametrize("said", [Outcome.STILL_THERE, Outcome.MENDED])
def test_what_a_mentor_spoke_of_gets_no_praise_from_the_engine(said: Outcome) -> None:
    met = (MetNow(criterion="sample_low", words="Sharp.", views=("Right long axis",), clips=("clip01",)),)
    spoken = replace(followed(said), is_said=True)

    assert praise_lines(review_with(spoken, met=met)) == ()
    assert len(praise_lines(review_with(followed(Outcome.STILL_THERE), met=met))) == 1  # of the engine's own


def test_an_advice_that_is_mended_in_part_says_what_is_met_and_what_is_missing() -> None:
    part = replace(
        followed(Outcome.PARTLY), met_in=("Right long axis",), left_in=("Right short axis",),
        not_judged_in=("Left apical",), partly=2,
    )  # fmt: skip
    (line,) = follow_up_lines(review_with(part))
    (grid,) = (block for block in follow_up_sheet(review_with(part)) if isinstance(block, Grid))

    assert line == (
        "Focal depth: partly mended (clips 1 and 2); met now: Right long axis; not yet: Right short axis; not enough "
        "to tell: Left apical. Given in 3 earlier studies, mended in 1, better or in part in 2."
    )
    assert "not enough to tell: Left apical" in str(grid.rows[0][1])


def test_which_studies_do_not_count_is_no_matter_of_the_trainee() -> None:
    review = review_with(left=("The advice of an undated study is not followed up.",))

    assert "not followed up" not in unescape(render_html(build_letter(review, InventedFrames(), WHEN)))
    assert any("not followed up" in str(block) for block in follow_up_sheet(review))


def test_the_letter_says_it_and_what_is_advised_again_carries_its_record() -> None:
    review = review_with(followed(Outcome.STILL_THERE))
    page = unescape(render_html(build_letter(review, InventedFrames(), WHEN)))

    assert "Since the study of 1 March 2026" in page
    assert page.index("Since the study of") < page.index("What is right")
    assert "clips 1 to 3; given in 3 earlier studies, mended in 1" in page
    assert "Since the study of" not in unescape(render_html(build_letter(sample_review(), InventedFrames(), WHEN)))


def test_a_change_that_was_advised_before_says_so() -> None:
    deep = replace(FOCUS, about="cause:depth_large")
    review = review_with(replace(followed(None), advice=deep))

    assert correction_words(LESS, review).endswith(" Given in 3 earlier studies, mended in 1.")


def test_the_sheet_lists_all_advice_with_outcome_clips_and_record() -> None:
    blocks = follow_up_sheet(review_with(followed(Outcome.STILL_THERE), followed(None), left=("Not that one.",)))
    (grid,) = (block for block in blocks if isinstance(block, Grid))

    assert grid.rows[0] == (
        "Focal depth: Set one focus.", "still there", "clips 1 and 2", "given in 3 earlier studies, mended in 1",
    )  # fmt: skip
    assert grid.rows[1][1:3] == ("not among the advice of the last study", "–")
    assert any(isinstance(block, Items) and block.entries == ("Not that one.",) for block in blocks)


def test_without_earlier_studies_nothing_is_said() -> None:
    assert follow_up_blocks(sample_review()) == []
    assert follow_up_sheet(sample_review()) == []
    assert isinstance(follow_up_blocks(review_with(followed(Outcome.MENDED)))[0], Heading)


def test_a_followed_review_survives_its_file() -> None:
    review = review_with(followed(Outcome.STILL_THERE))

    assert from_bytes(to_bytes(review), StudyReview) == review
    assert set(review_as_plain(review)["follow_up"]) == set(review_schema()["$defs"]["FollowUp"]["properties"])


def test_a_letter_holds_nothing_about_files_records_and_versions() -> None:
    """They are the mentor's, and stand on the study sheet; that the files are of two animals stands in both."""
    review = review_with(left=("The advice of an undated study is not followed up.",))
    page = unescape(render_html(build_letter(review, InventedFrames(), WHEN)))

    assert review.refused
    assert not any(item.name in page for item in review.refused)
    assert "not followed up" not in page
    assert review.engine_version not in page
    assert review.house[:8] not in page
    assert review.study.key in page
