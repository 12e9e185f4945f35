"""Real clips (ring D): beats and ECG against what was written down by eye before this code existed.

Source of every expected value: tests/real/expected.toml, read off the frames by a human-like reading of the files
that pydicom and deid-data ship. Nothing here was tuned on them.
"""

from __future__ import annotations

import tomllib
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np
import pydicom
import pytest
from pydicom.pixels.processing import convert_color_space

from fanlight.frames.clip_time import ClipTimer
from fanlight.frames.ecg_line import find_line
from fanlight.frames.polar import to_grey
from fanlight.study import Clip, ClipTime, FrameTimes, Layout, PictureChunk, TimeSource

EXPECTED: dict[str, Any] = tomllib.loads(Path(__file__).parents[1].joinpath("real", "expected.toml").read_text("utf-8"))


def _pixels(name: str) -> tuple[np.ndarray[Any, np.dtype[np.uint8]], float]:
    row = EXPECTED[name]
    dataset = pydicom.dcmread(str(resources.files(row["package"]) / row["path"]))
    pixels = dataset.pixel_array
    if "YBR" in dataset.PhotometricInterpretation:
        pixels = convert_color_space(pixels, dataset.PhotometricInterpretation, "RGB")
    return np.asarray(pixels, np.uint8), float(dataset.FrameTime)


def _time(name: str) -> tuple[ClipTime, np.ndarray[Any, np.dtype[np.uint8]]]:
    pixels, step_ms = _pixels(name)
    n, rows, cols = pixels.shape[:3]
    clip = Clip(
        key=name, number=1, name=name, container="DICOM", rows=rows, cols=cols, n_frames=n, is_colour=True,
        times=FrameTimes(times_ms=tuple(step_ms * i for i in range(n)), source=TimeSource.FRAME_TIME),
    )  # fmt: skip
    layout = Layout(
        rows=rows, cols=cols, picture=None, picture_confidence=0.0, picture_reason="not looked for", scale=None,
        scale_reason="not looked for",
    )  # fmt: skip
    timer = ClipTimer(clip, layout)
    for first in range(0, n, 16):
        part = pixels[first : first + 16]
        timer.add(PictureChunk(first=first, pixels=part, grey=to_grey(part), beams=None))
    return timer.finish(), pixels


def test_the_clip_with_an_ecg_gives_its_beats() -> None:
    """Place of the trace, frames of its R waves, beat period and heart rate as read by eye."""
    row = EXPECTED["ultrasound-multiframe.dcm"]
    time, pixels = _time("ultrasound-multiframe.dcm")
    line = find_line(pixels, None)

    assert line is not None
    box = line.box
    row0, col0, row1, col1 = row["ecg_bbox_px"]  # both ends included
    assert (box.row0, box.col0, box.row1 - 1, box.col1 - 1) == pytest.approx(
        (row0, col0, row1, col1), abs=row["ecg_bbox_tol_px"]
    )
    assert time.has_ecg is row["ecg"]
    assert time.r_frames == pytest.approx(row["r_wave_frames"], abs=row["r_wave_frames_tol"])
    assert time.beat_period_ms is not None
    assert row["beat_period_ms_range"][0] <= time.beat_period_ms <= row["beat_period_ms_range"][1]
    assert time.heart_rate_bpm is not None
    assert row["hr_bpm_range"][0] <= time.heart_rate_bpm <= row["hr_bpm_range"][1]
    assert time.complete_beats == row["beats_complete"]
    assert len(time.frozen_frames) == row["identical_to_previous_frame_count"]


def test_the_clip_without_an_ecg_claims_no_beat_that_it_does_not_hold() -> None:
    """Less than two beats: "not known" is allowed, a period outside the range is not; repeated frames are named."""
    row = EXPECTED["examples_ybr_color.dcm"]
    time, _ = _time("examples_ybr_color.dcm")

    assert time.has_ecg is row["ecg"]
    assert list(time.frozen_frames) == row["identical_to_previous_frames"]
    low, high = row["beat_period_ms_range"]
    assert time.beat_period_ms is None or low <= time.beat_period_ms <= high
