"""Blood or tissue in a gate by the speed of the signal itself: what is slow, whole and goes to and fro is tissue."""

import numpy as np
import pytest

from fanlight.recognise.mode_features import ModeFeatures, feature_names
from fanlight.recognise.spectrum_kind import tell_kind
from fanlight.recognise.spectrum_signs import SpectrumSigns, look_for_spectrum
from fanlight.study import Box, Layout, Mode, Region, RegionReading

ROWS, COLS, BASELINE = 200, 400, 100
STRIP = Box(row0=0, col0=0, row1=ROWS, col1=COLS)


def strip(*, up_px: int, down_px: int) -> np.ndarray:
    """Two waves a beat, up and down from a drawn baseline, in grain."""
    frame = np.random.default_rng(3).integers(0, 4, (ROWS, COLS)).astype(np.uint8)
    for col in range(COLS):
        swing = np.sin(2 * np.pi * col / 100)
        tip = int(BASELINE - (up_px if swing > 0 else down_px) * swing)
        low, high = min(tip, BASELINE), max(tip, BASELINE)
        frame[low : high + 1, col] = 150 + 30 * (col % 2)
    frame[BASELINE] = 255
    return frame


def signs(frame: np.ndarray, half_cm_s: float) -> SpectrumSigns:
    """As of a file whose region tells the axis."""
    region = Region(
        spatial_format=3, data_type=3, box=STRIP, unit_x=4, unit_y=7, delta_x=0.005, delta_y=2 * half_cm_s / ROWS
    )
    layout = Layout(
        rows=ROWS, cols=COLS, picture=None, picture_confidence=0.0, picture_reason="", scale=None, scale_reason="",
        regions=(RegionReading(region=region, trusted=True, reason="as stored"),),
    )  # fmt: skip
    return look_for_spectrum(layout, frame, frame, STRIP)


def features(of: SpectrumSigns) -> ModeFeatures:
    """Nothing is seen but the strip."""
    return ModeFeatures(**dict.fromkeys(feature_names(), 0.0), signs=of)


@pytest.mark.parametrize(
    ("half_cm_s", "kind"),
    [
        pytest.param(15.0, Mode.TISSUE_DOPPLER, id="6 cm/s on a scale of tissue"),
        pytest.param(50.0, Mode.TISSUE_DOPPLER, id="20 cm/s on a scale of blood"),
        pytest.param(80.0, Mode.PULSED_WAVE, id="32 cm/s"),
        pytest.param(200.0, Mode.PULSED_WAVE, id="80 cm/s"),
    ],
)
def test_the_same_picture_is_tissue_or_blood_by_its_speed(half_cm_s: float, kind: Mode) -> None:
    found = signs(strip(up_px=40, down_px=30), half_cm_s)

    assert tell_kind(features(found), Mode.PULSED_WAVE)[0] == (kind,)


def test_a_signal_that_reaches_the_end_of_its_axis_may_be_fast_blood_that_wraps() -> None:
    whole, cut = (signs(strip(up_px=px, down_px=px), 12.0) for px in (70, 99))

    assert (whole.slow_signal, cut.slow_signal) == (1.0, 0.0)


def test_slow_flow_one_way_is_not_taken_for_tissue() -> None:
    """A vein: 10 cm/s towards the probe and next to nothing away from it."""
    found = signs(strip(up_px=60, down_px=4), 18.0)

    assert found.slow_signal == 1.0
    assert Mode.PULSED_WAVE in tell_kind(features(found), Mode.PULSED_WAVE)[0]


def test_an_empty_strip_is_not_slow() -> None:
    assert signs(strip(up_px=0, down_px=0), 15.0).slow_signal == 0.0
