"""What the numbers mean together, on paper: never a stage without its grounds and its caution."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from html import unescape

from fanlight.reference.load import load_house
from fanlight.report.document import Grid
from fanlight.report.html import render_html
from fanlight.report.interval import draw_interval
from fanlight.report.json_file import review_as_plain, review_schema
from fanlight.report.meaning import GRADED, meaning_blocks
from fanlight.report.measurements import measurement_blocks
from fanlight.report.summary import build_summary
from fanlight.study import GradingResult, IntervalReading, Meaning, Measurement, ReferenceKind, Remark
from fanlight.study.codec import from_bytes, to_bytes
from tests.report.sample import sample_review

WHEN = datetime(2026, 11, 25, 9, 0)
STAGE = GradingResult(
    key="mitral_stage", title="Stage of mitral valve disease", result="stage B1 by these numbers",
    used=("LA:Ao 1.40 (machine report)",), missing=("murmur",), citation="KEENE2019",
    status="from memory, confirm: the limits", caution="A stage is the veterinarian's.",
)  # fmt: skip
REMARK = Remark(kind="discordance", words="EPSS and FS disagree.", citation="WARE6")
SLIP = Remark(kind="discordance", words="LVIDd differs.", likely="mm and cm may have been mixed up", about_reading=True)
WHOLE = Meaning(named="M. Mentor: mitral disease", gradings=(STAGE,), remarks=(REMARK, SLIP))
CITED = {"KEENE2019": "Keene and others", "WARE6": "a book"}


def summary_of(meaning: Meaning) -> str:
    review = replace(sample_review(), meaning=meaning)
    return unescape(render_html(build_summary(review, {}, load_house(), WHEN)))


def test_a_stage_stands_with_inputs_source_status_and_caution() -> None:
    page = summary_of(WHOLE)

    for words in (
        "Stage B1 by these numbers", "Used: LA:Ao 1.40 (machine report).", "Missing: murmur.",
        "KEENE2019, from memory, confirm: the limits. A stage is the veterinarian's.", GRADED,
    ):  # fmt: skip
        assert words in page


def test_what_tells_of_a_reading_stands_on_the_sheet_alone() -> None:
    assert "LVIDd differs" not in summary_of(WHOLE)
    whole = str(meaning_blocks(WHOLE, CITED, whole=True))
    assert "LVIDd differs. Likely: mm and cm may have been mixed up." in whole
    assert "KEENE2019: Keene and others" in whole


def test_every_work_that_is_named_is_listed() -> None:
    """Also those that only a note or a remark names by its key."""
    treated = replace(STAGE, notes=("Sizes fell (EPIC).",))
    remark = replace(REMARK, words="LVIDd lies above its interval (STROHM2018).", citation="HSUE2020, WARE6")
    keys = ("EPIC", "STROHM2018", "HSUE2020", "WARE6", "KEENE2019", "LV")
    blocks = str(meaning_blocks(replace(WHOLE, gradings=(treated,), remarks=(remark,)), dict.fromkeys(keys, "a work")))

    assert all(f"{key}: a work" in blocks for key in keys[:-1])
    assert "LV: a work" not in blocks


def test_what_rests_on_numbers_kept_off_the_summary_is_kept_off_it() -> None:
    hidden = replace(WHOLE, gradings=(replace(STAGE, sheet_only=True),), remarks=(replace(REMARK, sheet_only=True),))

    assert "What the numbers mean together" not in summary_of(hidden)
    assert "Stage B1" in str(meaning_blocks(hidden, {}, whole=True))


def test_why_nothing_is_graded_stands_on_the_sheet() -> None:
    nothing = Meaning(waits_for=("the lesion", "the failure status", "the treatment"))

    assert "Stages and scores" not in summary_of(nothing)
    assert "until the mentor has named the lesion, the failure status and the treatment" in str(
        meaning_blocks(nothing, {}, whole=True)
    )
    begun = Meaning(named="M. Mentor: mitral disease", waits_for=("the treatment",))
    assert "until the mentor has named the treatment" in summary_of(begun)


def test_an_empty_grading_says_why() -> None:
    empty = replace(STAGE, result="", reason="missing: murmur")
    assert "Empty: missing: murmur" in summary_of(replace(WHOLE, gradings=(empty,)))


def test_that_a_value_and_its_limit_cannot_be_told_apart_is_never_left_out() -> None:
    """The summary keeps one sentence a reading; this one is added to it, and drawn."""
    reading = IntervalReading(
        row="x", citation="LAROUCHE2019", kind=ReferenceKind.STAGING_CRITERION, applies=True, reason="", upper=1.6,
        unit="1", words="1.70 reaches 1.60. A second sentence.", repeat_lower=1.28, repeat_upper=2.12,
        repeat_words="Repeat scans scatter: 1.70 and the limit of 1.60 cannot be told apart.",
        repeat_citation="HSUE2020",
    )  # fmt: skip
    number = Measurement(
        name="la_ao", label="LA:Ao", value=1.7, unit="1", given_by="machine report", readings=(reading,)
    )
    review = replace(sample_review(), measurements=(number,))
    assert "HSUE2020: a paper" in str(measurement_blocks(review, {"HSUE2020": "a paper"}, {}))
    (grid,) = (block for block in measurement_blocks(review, {}, {}) if isinstance(block, Grid))

    assert grid.rows[0][-1] == f"1.70 reaches 1.60. [LAROUCHE2019] {reading.repeat_words}"
    unknown = replace(reading, repeat_lower=None, repeat_upper=None, repeat_words="How far it scatters is not known.")
    review = replace(review, measurements=(replace(number, readings=(unknown,)),))
    (short,) = (block for block in measurement_blocks(review, {}, {}) if isinstance(block, Grid))
    (whole,) = (block for block in measurement_blocks(review, {}, {}, whole=True) if isinstance(block, Grid))
    assert "not known" not in str(short.rows[0][-1])
    assert "not known" in str(whole.rows[0][-1])


def test_the_band_of_a_repeat_scan_is_drawn_on_both_sides_of_the_value() -> None:
    plain = draw_interval(1.7, None, 1.6, solid=False, words="")
    banded = draw_interval(1.7, None, 1.6, solid=False, words="", repeat=(1.28, 2.12))

    assert banded.svg.count("<path") == plain.svg.count("<path") + 1


def test_what_is_meant_is_kept_and_fits_the_schema() -> None:
    review = replace(sample_review(), meaning=WHOLE)

    assert from_bytes(to_bytes(review), type(review)).meaning == WHOLE
    assert review_as_plain(review)["meaning"]["named"] == "M. Mentor: mitral disease"
    assert "meaning" in review_schema()["properties"]
