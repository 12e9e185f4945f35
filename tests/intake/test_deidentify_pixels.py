"""Which text goes, and that it goes from every frame."""

from typing import Any

import numpy as np

from fanlight.intake.deidentify_pixels import PixelPlan, blank, plan_pixels
from fanlight.intake.deidentify_report import OPTIONS, ClipRemoval, RemovalReport
from fanlight.study import Box, FrameChunk, ScreenText


def text(row, col, *, technical=False, inside=False, words="Muffinsecret", sure=0.99):
    return ScreenText(
        text=words,
        box=Box(row0=row, col0=col, row1=row + 12, col1=col + 60),
        confidence=sure,
        is_technical=technical,
        inside_picture=inside,
    )


def test_everything_outside_that_is_not_technical_goes():
    """Also what could not be read; technical text stays; text on the picture is flagged."""
    texts = [
        text(0, 0),
        text(30, 0, words="", sure=0.0),
        text(60, 0, technical=True, words="15 cm"),
        text(90, 0, inside=True),
    ]

    plan = plan_pixels(texts, 200, 300)

    assert len(plan.blanked) == 2
    assert len(plan.flagged) == 1
    assert not plan.is_clean
    assert plan.flagged[0].row0 < 90 < plan.flagged[0].row1


def test_text_on_the_picture_goes_when_asked():
    """With the option nothing is left to look at."""
    plan = plan_pixels([text(90, 0, inside=True)], 200, 300, blank_inside=True)

    assert plan.is_clean
    assert len(plan.blanked) == 1


def test_boxes_are_widened_and_end_at_the_edge_of_the_frame():
    """Letters that reach beyond the box found go too."""
    (box,) = plan_pixels([text(0, 235)], 200, 300).blanked

    assert (box.row0, box.col0, box.row1, box.col1) == (0, 232, 15, 298)


def test_technical_text_on_the_next_line_and_beside_it_stays():
    """The margin ends half-way; text that lies over technical text takes it along."""
    depth = text(20, 0, technical=True, words="15 cm")
    (above,) = plan_pixels([text(7, 0), depth], 200, 300).blanked
    (beside,) = plan_pixels([text(20, 62), depth], 200, 300).blanked
    (over,) = plan_pixels([text(23, 30), depth], 200, 300).blanked

    assert above.row1 <= depth.box.row0
    assert beside.col0 >= depth.box.col1
    assert over.overlap_px(depth.box) > 0
    assert over.row0 <= 23
    assert over.row1 >= 35


def test_every_frame_is_blanked_and_the_source_is_not_changed():
    """Frames of later chunks as well as the first."""
    rng = np.random.default_rng(17)
    pixels = rng.integers(1, 256, (7, 40, 50), dtype=np.uint8)
    before = pixels.copy()
    plan = PixelPlan((Box(row0=5, col0=6, row1=9, col1=30),))

    out = np.concatenate(list(blank([FrameChunk(first=i, pixels=pixels[i : i + 3]) for i in (0, 3, 6)], plan)))

    assert not out[:, 5:9, 6:30].any()
    out[:, 5:9, 6:30] = before[:, 5:9, 6:30]
    assert np.array_equal(out, before)
    assert np.array_equal(pixels, before)


def test_the_report_counts_and_names_no_value():
    """A reader sees profile, options, counts and places."""
    plan = plan_pixels([text(0, 0), text(90, 0, inside=True)], 200, 300)
    removal = ClipRemoval(
        clip=3,
        file="word/hash.dcm",
        removed=(("PatientComments (0010,4000)", 2),),
        changed=("PatientName",),
        blanked=plan.blanked,
        flagged=plan.flagged,
        whole_outside_blanked=False,
        pixels_clean=plan.is_clean,
        frames=40,
    )
    report = RemovalReport(code_word="word", clips=(removal,))

    words = report.as_text()

    assert "1 text blanked in every frame" in words
    assert "LOOK AT IT: 1 text on the picture itself (row 87, column 0)" in words
    assert "PatientComments (0010,4000) (2 times)" in words
    assert "Muffinsecret" not in words + repr(report.as_json())
    assert report.as_json()["clips"][0]["removed"] == {"PatientComments (0010,4000)": 2}


def test_the_study_claims_only_what_holds_for_every_clip():
    """A clip with text left on its picture takes the Clean Pixel Data option from the study, not from the others."""
    common: dict[str, Any] = {
        "removed": (), "changed": (), "blanked": (), "whole_outside_blanked": False, "frames": 2,
    }  # fmt: skip
    plan = plan_pixels([text(90, 0, inside=True)], 200, 300)
    clean = ClipRemoval(clip=1, file="word/a.dcm", flagged=(), pixels_clean=True, **common)
    flagged = ClipRemoval(clip=2, file="word/b.dcm", flagged=plan.flagged, pixels_clean=plan.is_clean, **common)

    both = RemovalReport(code_word="word", clips=(clean, flagged))

    assert "Clean Pixel Data" in RemovalReport(code_word="word", clips=(clean,)).options
    assert both.options == OPTIONS[1:]
    assert both.as_json()["options"] == OPTIONS[1:]
    assert [clip["options"] for clip in both.as_json()["clips"]] == [OPTIONS, OPTIONS[1:]]
    lines = both.as_text().splitlines()
    assert "Clean Pixel Data" not in next(line for line in lines if line.startswith("Options"))
    first = lines.index(next(line for line in lines if line.startswith("Clip 1")))
    assert lines[first + 1] == "  Options that hold for this file too: Clean Pixel Data"
    assert lines.count("  Options that hold for this file too: Clean Pixel Data") == 1
