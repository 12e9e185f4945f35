"""What was lost on the way out of the machine."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from fanlight.critique.export import FAMILY, blockiness_ratio
from fanlight.study import ClipTags, Verdict
from tests.critique.series import PLAIN, finding, rises, values
from tests.critique.speckle_phantom import judge, make


def test_lower_jpeg_quality_gives_larger_blocks() -> None:
    assert rises(values(FAMILY, "compression_blocks", "jpeg_quality", (95, 80, 60, 40, 20, 8), n_frames=3))


def test_an_uncompressed_picture_has_no_blocks() -> None:
    assert finding(FAMILY, "compression_blocks", n_frames=3).value == pytest.approx(1.0, abs=0.1)


def test_blocks_are_found_in_a_cropped_picture() -> None:
    """The place of the blocks is not known after cropping."""
    steps = np.ones(400)
    steps[5::8] = 2.0

    assert blockiness_ratio(steps) > 1.7


def test_doubled_pixels_do_not_pass_for_blocks() -> None:
    doubled = finding(FAMILY, "compression_blocks", scale_factor=2.0, scale_kind=cv2.INTER_NEAREST, n_frames=3)

    assert doubled.verdict is Verdict.MET


@pytest.mark.parametrize("kind", [cv2.INTER_LINEAR, cv2.INTER_CUBIC], ids=["linear", "cubic"])
@pytest.mark.parametrize("factor", [1.25, 1.5, 1.8])
def test_an_enlarged_picture_is_raised(factor: float, kind: int) -> None:
    enlarged = finding(FAMILY, "rescaled", scale_factor=factor, scale_kind=kind, n_frames=3)

    assert enlarged.verdict in (Verdict.BORDERLINE, Verdict.MISSED)


def test_an_untouched_picture_keeps_its_size() -> None:
    assert finding(FAMILY, "rescaled", n_frames=3).verdict is Verdict.MET


@pytest.mark.parametrize("stretch", [0.85, 0.93, 1.0, 1.07, 1.2])
def test_pixel_aspect_is_width_over_height(stretch: float) -> None:
    assert finding(FAMILY, "pixel_aspect", col_stretch=stretch, n_frames=1).value == pytest.approx(stretch, abs=0.005)


def test_pixel_aspect_of_the_file_is_vertical_then_horizontal() -> None:
    """PS3.3 C.7.6.3.1.7: the first value is the vertical size."""
    phantom = make(replace(PLAIN, n_frames=1, with_scale=False), np.random.default_rng(0))
    squeezed = judge(replace(phantom, tags=ClipTags(pixel_aspect=(5, 4))), FAMILY)["pixel_aspect"]

    assert squeezed.value == pytest.approx(0.8)


def test_a_missing_scale_is_missed_and_asks_for_another_file() -> None:
    assert finding(FAMILY, "scale_known", with_scale=False, n_frames=1).verdict is Verdict.MISSED


@pytest.mark.parametrize(
    ("tags", "verdict"),
    [
        (ClipTags(lossy_ratio=8.0), Verdict.MET),
        (ClipTags(lossy_ratio=18.0), Verdict.BORDERLINE),
        (ClipTags(lossy_ratio=40.0), Verdict.MISSED),
        (ClipTags(lossy=False), Verdict.MET),
        (ClipTags(lossy=True), Verdict.NOT_ASSESSABLE),
        (ClipTags(), Verdict.NOT_ASSESSABLE),
    ],
)
def test_stated_compression_is_weighed(tags: ClipTags, verdict: Verdict) -> None:
    phantom = replace(make(replace(PLAIN, n_frames=1), np.random.default_rng(0)), tags=tags)

    assert judge(phantom, FAMILY)["lossy_ratio"].verdict is verdict
