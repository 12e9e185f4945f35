"""Letters and sheets: one structure, two forms; people's text stays text."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import datetime
from html import unescape

import jsonschema
import numpy as np
import pytest

from fanlight.reference.load import load_house
from fanlight.report import words
from fanlight.report.annotate import draw_evidence, picture_box
from fanlight.report.band import draw_band
from fanlight.report.document import Advice, Document, Grid, Items, Paragraph
from fanlight.report.fan import draw_fan, drawn_fans, fan_key
from fanlight.report.html import render_html
from fanlight.report.json_file import review_as_plain, review_schema
from fanlight.report.ladder import draw_ladder, drawn_ladders
from fanlight.report.letter import build_letter
from fanlight.report.measurements import measurement_blocks
from fanlight.report.mentor import MentorWords
from fanlight.report.pdf import render_pdf
from fanlight.report.summary import build_summary
from fanlight.report.write import LETTER_PAGES, fit_letter
from fanlight.study import (
    ENGINE,
    Band,
    Box,
    Breathing,
    Evidence,
    Layout,
    Measurement,
    Mode,
    ModeReading,
    Rung,
    RungState,
    StudyReview,
    Valve,
    ValveLadder,
    Verdict,
)
from tests.report.sample import HOSTILE, PICTURE, InventedFrames, finding, sample_review

WHEN = datetime(2026, 11, 25, 9, 0)


def letter_of(review: StudyReview) -> Document:
    return build_letter(review, InventedFrames(), WHEN)


@pytest.mark.parametrize("n_points", [0, 3, 9])
def test_letter_never_takes_more_than_two_pages(n_points: int) -> None:
    _, pdf = fit_letter(letter_of(sample_review(n_points=n_points)))

    assert _n_pages(pdf) <= LETTER_PAGES


def _n_pages(pdf: bytes) -> int:
    # /Count of the page tree, PDF 32000-1 table 29; typst writes it in the clear.
    return max(int(n) for n in re.findall(rb"/Type\s*/Pages[^>]*/Count (\d+)|/Count (\d+)", pdf) for n in n if n)


def test_a_last_page_of_a_few_lines_is_saved_by_smaller_type() -> None:
    """Of letters that grow line by line: the first that runs over is set on one page, one that needs two has two."""
    empty = replace(letter_of(sample_review(n_points=0)), blocks=())
    line = Paragraph(text="One line of a letter.")

    def pages(n_lines: int) -> tuple[int, int]:
        whole = replace(empty, blocks=(line,) * n_lines)
        return render_pdf(whole)[1], _n_pages(fit_letter(whole)[1])

    over = next(n for n in range(36, 80) if pages(n)[0] == 2)
    assert pages(over) == (2, 1)
    assert pages(over + 20) == (2, 2)


def test_a_letter_that_drops_points_says_how_many() -> None:
    review = sample_review(n_points=9)
    long = replace(review, priorities=tuple(replace(item, means=item.means * 14) for item in review.priorities))

    shown, _ = fit_letter(letter_of(long))

    kept = sum(isinstance(item, Advice) for item in shown.blocks)
    text = unescape(render_html(shown))
    assert kept < 9
    assert f"{9 - kept} further point(s) stand on the study sheet" in text


def test_text_from_people_is_never_markup() -> None:
    document = letter_of(sample_review(name=HOSTILE))
    html = render_html(document)

    _, pages = render_pdf(document)

    assert "<script>" not in html
    assert HOSTILE in unescape(html)
    assert pages >= 1


def test_a_picture_that_cannot_be_fetched_leaves_the_words() -> None:
    review = sample_review()
    first = replace(review.priorities[0], worst_clip="clip01")

    class Nothing:
        def frame(self, clip: str, frame: int) -> None:
            return None

    document = build_letter(replace(review, priorities=(first,)), Nothing(), WHEN)
    points = [item for item in document.blocks if isinstance(item, Advice)]

    assert points[0].figure is None
    assert points[0].means == first.means


def test_withheld_advice_shows_why_and_no_correction() -> None:
    html = unescape(render_html(letter_of(sample_review(n_points=2))))

    assert "Advice on handling is withheld" in html


def test_a_distressed_animal_comes_before_everything_else() -> None:
    review = sample_review()
    request = replace(review.study.request, breathing=Breathing.DISTRESSED)
    html = unescape(render_html(letter_of(replace(review, study=replace(review.study, request=request)))))

    assert "Stop: the request sheet says that the animal is distressed" in html.split("<main>")[1][:200]


def test_what_is_right_comes_first_and_names_its_clips() -> None:
    html = unescape(render_html(letter_of(sample_review())))

    assert "The depth is well used: the heart fills the picture. (clips 1 to 4)" in html
    assert html.index("What is right") < html.index("Right long axis, four-chamber") < html.index("What matters most")


def test_every_clip_stands_in_the_letter_exactly_once() -> None:
    html = unescape(render_html(letter_of(sample_review())))
    fold = html.split("Every clip</h2>")[1].split("<h2>")[0]

    assert "Clips 1 to 3: limited to look at and to measure" in fold
    assert "clip 6: mode not sure, not judged" in fold


def test_summary_marks_what_cannot_be_signed_and_cautions() -> None:
    review = sample_review()
    review = replace(review, study=replace(review.study, mismatches=("weight: 12.4 kg and 21 kg",)))
    html = unescape(render_html(build_summary(review, {}, load_house(), WHEN)))

    assert "Cannot be signed" in html
    assert "contact a veterinarian now" in html
    assert "inside the reference interval 2.66 to 3.88 cm" in html
    assert "a staging limit speaks only where the disease is diagnosed" in html


def test_a_quantity_that_was_given_by_its_key_is_written_as_people_do() -> None:
    review = sample_review()
    given = replace(review.measurements[1], name="la_ao", label="la_ao")
    html = unescape(render_html(build_summary(replace(review, measurements=(given,)), {}, load_house(), WHEN)))

    assert "LA:Ao (request sheet" in html
    assert "la_ao" not in html


def test_a_diagnosis_that_the_tables_do_not_know_is_told() -> None:
    review = sample_review()
    request = replace(review.study.request, named_diseases=("MMVD", "tired heart"))
    review = replace(review, study=replace(review.study, request=request))
    html = unescape(render_html(build_summary(review, {}, load_house(), WHEN)))

    assert "Not known to the tables:</strong> tired heart." in html


def test_json_keeps_its_schema() -> None:
    plain = json.loads(json.dumps(review_as_plain(sample_review())))
    schema = review_schema()

    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(plain, schema)


def test_schema_refuses_a_field_that_is_not_there() -> None:
    plain = json.loads(json.dumps(review_as_plain(sample_review())))
    plain["readings"][0]["layout"]["picture"]["kind"] = "triangle"

    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(plain, review_schema())


def test_each_state_of_a_rung_looks_different_without_colour() -> None:
    def bare(state: RungState) -> str:
        return re.sub(r"#[0-9a-f]{6}", "", draw_fan([(Rung.TWO_D, state)], "view").svg)

    assert len({bare(state) for state in RungState}) == len(RungState)


def test_fan_says_the_same_in_words() -> None:
    fan = draw_fan([(Rung.TWO_D, RungState.DIAGNOSTIC), (Rung.CONTINUOUS_WAVE, RungState.MISSING)], "Mitral valve")

    assert fan.alt == "Mitral valve: 2-D diagnostic; CW asked for and missing"


def test_each_state_of_a_ladder_looks_different_without_colour() -> None:
    def bare(state: RungState) -> str:
        drawing = draw_ladder(ValveLadder(valve=Valve.MITRAL, states=((Rung.TWO_D, state),)))
        return re.sub(r"#[0-9a-f]{6}", "", drawing.svg)

    assert len({bare(state) for state in RungState}) == len(RungState)


def test_the_letter_shows_the_rungs_of_each_valve() -> None:
    """In a drawing with words; where clips are not placed, only valves of which a clip is there."""
    review = sample_review()

    assert "mitral valve: 2-D diagnostic; colour limited; PW non-diagnostic; CW asked for and missing" in unescape(
        render_html(letter_of(review))
    )
    empty = ValveLadder(valve=Valve.AORTIC, states=((Rung.TWO_D, RungState.MISSING),))
    ladders = (*review.coverage.ladders, empty)
    unsure = replace(review.coverage, ladders=ladders, can_judge_missing=False)
    ((drawing, name),) = drawn_ladders(unsure)
    assert (name, drawing.alt) == ("mitral valve", "mitral valve: 2-D diagnostic; colour limited; PW non-diagnostic")
    assert all("missing" not in fan.alt for fan, _ in drawn_fans(unsure, 10.0))
    assert "missing" not in fan_key(unsure)
    assert "missing" in fan_key(replace(unsure, can_judge_missing=True))
    assert [name for _, name in drawn_ladders(replace(unsure, can_judge_missing=True))] == [
        "mitral valve",
        "aortic valve",
    ]


def test_a_value_outside_its_band_is_drawn_outside() -> None:
    band = Band(met_low=0.2, met_high=0.6)

    def mark_x(value: float, verdict: Verdict) -> tuple[float, float, float]:
        svg = draw_band(value, band, verdict, "").svg
        left, width = (float(v) for v in re.findall(r'<rect x="([\d.]+)" y="4.5" width="([\d.]+)"', svg)[0])
        mark = float(re.findall(r"M([\d.]+) 1.5V14.5", svg)[0])
        return left, left + width, mark

    left, right, mark = mark_x(0.4, Verdict.MET)
    assert left < mark < right
    left, right, mark = mark_x(0.1, Verdict.MISSED)
    assert mark < left
    left, right, mark = mark_x(0.9, Verdict.MISSED)
    assert mark > right


def layout_of(picture: object) -> Layout:
    return Layout(
        rows=480, cols=640, picture=PICTURE, picture_confidence=1, picture_reason="", scale=None, scale_reason=""
    )  # fmt: skip


def test_pictures_in_letters_hold_nothing_from_outside_the_sector() -> None:
    pixels = np.zeros((480, 640, 3), np.uint8)
    pixels[:60, :200] = 255  # a name in the corner of the screen, inside the box around the sector
    pixels[448:, :] = 255  # beyond the margin of six pixels

    drawn = draw_evidence(pixels, layout_of(PICTURE), (), 0)

    assert drawn.max() == 0


def test_evidence_lies_where_it_points() -> None:
    pixels = np.zeros((480, 640), np.uint8)
    box = Box(row0=200, col0=300, row1=240, col1=340)

    drawn = draw_evidence(pixels, layout_of(PICTURE), (Evidence(shape=box),), 0)

    cut = picture_box(PICTURE, 480, 640)
    scale = drawn.shape[1] / cut.width_px
    lit = np.argwhere(drawn.max(axis=2) > 100)
    middle = (lit.min(axis=0) + lit.max(axis=0)) / 2 / scale
    assert middle == pytest.approx((220 - 0.5 - cut.row0, 320 - 0.5 - cut.col0), abs=1.5)


def test_evidence_of_another_frame_is_left_out() -> None:
    pixels = np.zeros((480, 640), np.uint8)
    shape = Box(row0=200, col0=300, row1=240, col1=340)

    drawn = draw_evidence(pixels, layout_of(PICTURE), (Evidence(shape=shape, frame=4),), 0)

    assert drawn.max() == 0


@pytest.mark.parametrize(
    ("numbers", "text"),
    [
        ([3], "clip 3"),
        ([1, 2], "clips 1 and 2"),
        ([4, 1, 2, 3], "clips 1 to 4"),
        ([1, 2, 3, 7, 9], "clips 1 to 3, 7 and 9"),
    ],
)
def test_clips_are_counted_as_people_do(numbers: list[int], text: str) -> None:
    assert words.clips(numbers) == text


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (0.284, "mm", "0.284 mm"),
        (123456.0, "px", "123456 px"),
        (0.5, "fraction", "50 %"),
        (3.0, "1", "3"),
        (1e-6, "1", "0.0000"),
    ],
)
def test_numbers_carry_units_and_no_needless_digits(value: float, unit: str, text: str) -> None:
    assert words.number(value, unit) == text


@pytest.mark.parametrize(
    ("text", "first"),
    [
        ("One. Two.", "One."),
        ("36.0 mm lies above (Cornell et al. 2004). More.", "36.0 mm lies above (Cornell et al. 2004)."),
        ("no stop at all", "no stop at all"),
        ("Only one.", "Only one."),
    ],
)
def test_the_first_sentence_ends_where_a_reader_would_say(text: str, first: str) -> None:
    assert words.first_sentences(text, 1) == first


def test_several_sentences_are_counted() -> None:
    assert words.first_sentences("One. Two (a. b). Three.", 2) == "One. Two (a. b)."


def test_shares_are_said_as_per_cent_and_yes_or_no_in_words() -> None:
    share = finding("a", 1, Verdict.MISSED, 0.125, unit="fraction", uncertainty=0.03, band=Band(met_high=0.05))
    either = finding("a", 1, Verdict.MISSED, 0.0, unit="yes/no", band=Band(met_low=1.0))

    assert (words.finding_value(share), words.target(share)) == ("12 ± 3 %", "at most 5 %")
    assert (words.finding_value(either), words.target(either)) == ("no", "yes")


def test_a_mode_that_is_not_sure_says_so() -> None:
    assert words.mode(ModeReading(mode=None, probability=0.5, reasons=())) == "mode not sure"
    assert words.mode(ModeReading(mode=Mode.TWO_D, probability=1, reasons=())) == "2-D"


def test_numbers_of_the_engine_say_what_they_stand_on() -> None:
    """A bound says so on the summary, all of it stands on the sheet; one reason for several numbers is said once."""
    review = sample_review()
    bound = Measurement(
        name="aortic_vti", label="Aortic velocity-time integral", value=9.9, unit="cm", uncertainty=0.4, clip="IM7",
        given_by=ENGINE, reason="mean of 3 beats", validity="at least: the beam crosses the flow; note: so-so",
    )  # fmt: skip
    none = [replace(bound, label=label, value=None, reason="E and A are fused", validity="") for label in ("E", "A")]
    told = replace(review, measurements=(bound, *none))
    html = unescape(render_html(build_summary(told, {}, load_house(), WHEN)))
    assert "What it stands on: at least: the beam crosses the flow" in html
    assert "E, A (engine, IM7)" in html
    assert html.count("E and A are fused") == 1
    assert "a bound lies in no interval" in html
    assert "mean of 3 beats" not in html
    whole = measurement_blocks(told, {}, {}, whole=True)
    assert "Mean of 3 beats" in str(whole)


def test_the_sheet_gives_each_number_once_and_shared_remarks_below() -> None:
    """Three clips give the annulus: one row, and what they stand on is not said three times."""
    review = sample_review()
    best = Measurement(
        name="mitral_annulus", label="mitral annulus", value=17.2, unit="mm", uncertainty=0.8, clip="IM1",
        given_by=ENGINE, validity="note: of the plane; only so", method="marked by hand; frame 2", rank=1,
        beside="of 3 clips clip 1, the one that holds best; beside it clip 2: 17.9 mm, clip 3: 18.1 mm",
    )  # fmt: skip
    aorta = replace(best, name="aortic_annulus", label="aortic annulus", method="marked by hand; frame 7")
    others = [replace(best, clip=f"IM{place}", rank=place, beside="clip 1 gives it") for place in (2, 3)]
    none = [replace(best, clip=clip, value=None, rank=0, reason="not found", validity="") for clip in ("IM4", "IM5")]
    told = replace(review, measurements=(best, *others, none[0], aorta, none[1]))
    blocks = measurement_blocks(told, {}, {}, whole=True)
    (grid,) = (block for block in blocks if isinstance(block, Grid))

    assert [row[0] for row in grid.rows] == [
        "mitral annulus (engine, IM1)", "mitral annulus (engine, IM4, IM5)", "aortic annulus (engine, IM1)",
    ]  # fmt: skip
    assert "How it was taken: frame 2. Notes a, b below." in str(grid.rows[0][-1])
    assert "clip 3: 18.1 mm" in str(grid.rows[0][-1])
    notes = next(block for block in blocks if isinstance(block, Items))
    assert notes.entries == ("a: note: of the plane; only so", "b: marked by hand")


def test_numbers_for_the_sheet_stand_on_no_summary() -> None:
    review = sample_review()
    number = Measurement(
        name="ivrt", label="Isovolumic relaxation time", value=52.0, unit="ms", uncertainty=9.0, given_by=ENGINE,
        sheet_only=True,
    )  # fmt: skip
    refused = replace(number, value=None, reason="the strip does not hold both")
    silent = unescape(render_html(build_summary(replace(review, measurements=(refused,)), {}, load_house(), WHEN)))
    assert "Why strips and marks gave no number stands on the study sheet." in silent
    for told in (replace(review, measurements=(number,)), replace(review, measurements=(*review.measurements, number))):
        html = unescape(render_html(build_summary(told, {}, load_house(), WHEN)))
        assert "stands on the study sheet only" in html
        assert "Isovolumic relaxation time" not in html
        assert "Isovolumic relaxation time" in str(measurement_blocks(told, {}, {}, whole=True))


def test_a_mentors_summary_points_to_no_study_sheet_and_says_whose_findings_count() -> None:
    """The attending vet gets the summary alone."""
    review = sample_review()
    number = Measurement(name="ivrt", label="Relaxation", value=52.0, unit="ms", given_by=ENGINE, sheet_only=True)
    for item in (number, replace(number, value=None, reason="the strip does not hold both")):
        told = replace(review, measurements=(item,))
        html = unescape(render_html(build_summary(told, {}, load_house(), WHEN, MentorWords())))
        assert "study sheet" not in html
        assert ("engine measured numbers too" in html) is (item.value is not None)
    told = replace(review, measurements=(replace(number, sheet_only=False),))
    html = unescape(render_html(build_summary(told, {}, load_house(), WHEN, MentorWords())))
    assert "the engine's own counts" in html
    assert "the engine's own counts" not in unescape(render_html(build_summary(told, {}, load_house(), WHEN)))


def test_numbers_refused_for_one_reason_say_which_clip_refuses_which() -> None:
    """Labels of two clips side by side with both clips would say that each refuses all of them."""
    number = Measurement(name="", label="LVIDd", value=None, unit="", given_by=ENGINE, reason="no scale", clip="a")
    other = replace(number, label="LVIDs", clip="b")

    def told(*items: Measurement) -> str:
        return str(measurement_blocks(replace(sample_review(), measurements=items), {}, {}, whole=True))

    assert "LVIDd [a]; LVIDs [b] (engine)" in told(number, other)
    assert "LVIDd (engine, a, b)" in told(number, replace(number, clip="b"))  # both refuse the same
    assert "LVIDd, LVIDs (engine, a)" in told(number, replace(other, clip="a"))
