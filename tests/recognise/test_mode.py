"""The mode of a clip: right on drawn screens of every mode, unsure rather than wrong, and never talked into paint."""

import numpy as np
import pytest

from fanlight.frames.colour_box import picture_mask
from fanlight.frames.layout_of import read_layout
from fanlight.recognise.mode import read_mode
from fanlight.recognise.mode_features import feature_names
from fanlight.recognise.mode_weights import BIASES, FEATURES, WEIGHTS
from fanlight.study import SPECTRA, Box, Clip, ClipTags, Mode, Region
from tests.recognise.mode_screens import draw_mode

# Seeds of the tests lie outside those that design/fit_mode_weights.py uses.
FIRST_SEED = 8000


def _clip(pixels, regions=(), image_type=()):
    n, rows, cols = pixels.shape[:3]
    return Clip(
        key="drawn", number=1, name="drawn", container="drawn", rows=rows, cols=cols, n_frames=n,
        is_colour=pixels.ndim == 4, regions=regions, tags=ClipTags(image_type=image_type),
    )  # fmt: skip


def _read(drawn, **tags):
    clip = _clip(drawn.pixels, **tags)
    return read_mode(clip, read_layout(clip, drawn.pixels, drawn.texts), drawn.pixels)


@pytest.mark.parametrize("mode", list(Mode), ids=str)
def test_drawn_modes_are_told_or_left_open(mode):
    """With their words on the screen, at least seven of eight; what is said wrongly is at most one of eight.

    Which spectrum it is stays open where the reader missed its word and nothing else tells it.
    """
    said = []
    for index in range(8):
        drawn = draw_mode(np.random.default_rng(FIRST_SEED + 10 * index + len(mode)), mode)
        said.append(_read(drawn).mode)

    wrong = [item for item in said if item is not None and item is not mode]
    assert said.count(mode) >= (4 if mode in SPECTRA else 7)
    assert len(wrong) <= 1


def test_probabilities_add_up_and_best_comes_first():
    """A reading is a distribution."""
    reading = _read(draw_mode(np.random.default_rng(FIRST_SEED), Mode.COLOUR))

    values = [value for _, value in reading.per_mode]
    assert sum(values) == pytest.approx(1.0)
    assert values == sorted(values, reverse=True)
    assert reading.probability == values[0]
    assert reading.reasons


def test_undecided_clip_has_no_mode_and_says_between_which():
    """Half of the evidence taken away: a strip without words, or any screen that stays below 0.6."""
    for seed in range(FIRST_SEED, FIRST_SEED + 40):
        reading = _read(draw_mode(np.random.default_rng(seed), Mode.TISSUE_DOPPLER, words=False))
        if reading.mode is None:
            assert reading.probability < 0.6
            assert reading.reasons[0].startswith("not sure: ")
            return
    pytest.fail("forty spectra without a word on the screen were all decided")


def test_believed_region_names_the_spectrum():
    """A continuous-wave region that lies on the frame settles what pixels leave open."""
    drawn = draw_mode(np.random.default_rng(FIRST_SEED + 3), Mode.CONTINUOUS_WAVE, words=False)
    rows, cols = drawn.pixels.shape[1:3]
    region = Region(
        spatial_format=3, data_type=4, box=Box(row0=0, col0=0, row1=rows, col1=cols), unit_x=4, unit_y=7,
        delta_x=0.005, delta_y=1.5,
    )  # fmt: skip

    reading = _read(drawn, regions=(region,))

    assert reading.mode is Mode.CONTINUOUS_WAVE
    assert any("regions of the file" in reason for reason in reading.reasons)


def test_region_cannot_conjure_up_colour():
    """A colour region over a grey picture: the preset was on, nothing was painted."""
    drawn = draw_mode(np.random.default_rng(FIRST_SEED + 4), Mode.NO_CONTACT)
    rows, cols = drawn.pixels.shape[1:3]
    region = Region(
        spatial_format=1, data_type=2, box=Box(row0=0, col0=0, row1=rows, col1=cols), unit_x=3, unit_y=3,
        delta_x=0.03, delta_y=0.03,
    )  # fmt: skip

    assert _read(drawn, regions=(region,)).mode is not Mode.COLOUR


@pytest.mark.parametrize("index", range(4))
def test_walls_below_the_bands_are_no_air(index):
    """Lung hides most of a picture, and a few walls show beside it: the probe has contact all the same."""
    rng = np.random.default_rng(FIRST_SEED + 300 + index)
    drawn = next(item for item in iter(lambda: draw_mode(rng, Mode.NO_CONTACT), None) if len(item.pixels) > 3)
    clip = _clip(drawn.pixels)
    layout = read_layout(clip, drawn.pixels, drawn.texts)
    assert layout.picture is not None
    assert read_mode(clip, layout, drawn.pixels).mode is Mode.NO_CONTACT

    inside = picture_mask(layout.picture, *drawn.pixels.shape[1:3]) > 0
    row, col = np.nonzero(inside)
    deep = row > np.percentile(row, 30)
    wall = deep & ((row + 2 * col) // max(inside.shape[0] // 12, 1) % 3 == 0)
    pixels = drawn.pixels.copy()
    pixels[:, row[wall], col[wall]] = np.minimum(pixels[:, row[wall], col[wall]].astype(int) + 25, 255)

    assert read_mode(clip, layout, pixels).mode is not Mode.NO_CONTACT


@pytest.mark.parametrize("value", ["", "zzzz", "RENAL"])
def test_image_type_that_is_no_bit_mask_is_passed_over(value):
    """Presets often stand where the standard has a number."""
    drawn = draw_mode(np.random.default_rng(FIRST_SEED + 5), Mode.TWO_D)

    reading = _read(drawn, image_type=("ORIGINAL", "PRIMARY", "", value))

    assert not any("Image Type" in reason for reason in reading.reasons)


@pytest.mark.parametrize("level", [0, 120, 255])
def test_uniform_frame_is_no_scan_or_left_open(level):
    """Limits: black, grey and white screens."""
    pixels = np.full((1, 240, 320), level, np.uint8)
    clip = _clip(pixels)

    assert read_mode(clip, read_layout(clip, pixels), pixels).mode in (None, Mode.NOT_ECHO)


def test_weights_fit_the_features():
    """Both tables name the same columns in the same order, and every mode."""
    assert feature_names() == FEATURES
    assert set(WEIGHTS) == set(BIASES) == set(Mode)
    assert {len(row) for row in WEIGHTS.values()} == {len(FEATURES)}


def test_words_on_a_probe_in_the_air_are_no_structures():
    """A caption written over the bands changes neither how banded the picture is nor how it fades."""
    from fanlight.recognise.mode_features import _picture_structure
    from fanlight.study import Box, ScreenText, Strip

    rng = np.random.default_rng(41)
    strip = Strip(box=Box(row0=10, col0=20, row1=310, col1=420))
    depth = np.arange(300)
    bands = 200 * np.exp(-depth / 40.0) * (0.5 + 0.5 * np.cos(depth / 5.0)) + 12
    air = np.zeros((6, 330, 440), np.float32)
    air[:, 10:310, 20:420] = bands[None, :, None] + rng.normal(0, 2, (6, 300, 400))
    plain = np.clip(air, 0, 255).astype(np.uint8)
    written = plain.copy()
    written[:, 250:262, 60:300][:, ::2, ::3] = 255
    caption = (ScreenText(text="", box=Box(row0=250, col0=60, row1=262, col1=300), confidence=1.0),)

    without = np.array(_picture_structure(plain, strip, ()))
    with_words = np.array(_picture_structure(written, strip, caption))
    unread = np.array(_picture_structure(written, strip, ()))

    assert with_words == pytest.approx(without, abs=0.02)
    assert np.abs(unread - without).max() > 0.1
