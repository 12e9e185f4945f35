"""Scale and Doppler frequency from text, tag and pulses, and the most that a depth allows: against formulas."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fanlight.critique.accumulator import ClipContext
from fanlight.critique.doppler.colour_settings import Attainable, attainable, doppler_mhz, read_scale
from fanlight.frames.doppler.colour_bar import ColourBar
from fanlight.frames.doppler.colour_outline import ColourOutline
from fanlight.study import (
    Box,
    Clip,
    ClipTags,
    Layout,
    Mode,
    ModeReading,
    Patient,
    Quantity,
    Region,
    RegionReading,
    Scale,
    ScaleSource,
    ScreenText,
    Side,
    Verdict,
)
from tests.critique.doppler.colour_clips import PICTURE, Drawn, clip, judge
from tests.frames.doppler.real_colour import EXPECTED, NAME

BAR = ColourBar(
    box=Box(row0=60, col0=530, row1=200, col1=546), zero_row_px=130.0, colours=np.zeros((1, 3), np.uint8),
    shares=np.zeros(1, np.float32),
)  # fmt: skip
FILE = Clip(key="k", number=1, name="k.dcm", container="DICOM", rows=420, cols=560, n_frames=9, is_colour=True)


def text(words: str, value: float, unit: str, row: int = 40, col: int = 530) -> ScreenText:
    return ScreenText(
        text=words, box=Box(row0=row, col0=col, row1=row + 10, col1=col + 28), confidence=1.0,
        quantities=(Quantity(value=value, unit=unit),),
    )  # fmt: skip


def region(**changes: object) -> RegionReading:
    plain = Region(spatial_format=1, data_type=1, box=Box(row0=0, col0=0, row1=400, col1=500), unit_x=3, unit_y=3,
                   delta_x=0.03, delta_y=0.03)  # fmt: skip
    return RegionReading(region=replace(plain, **changes), trusted=True, reason="drawn")  # type: ignore[arg-type]


def context(
    *texts: ScreenText,
    regions: tuple[RegionReading, ...] = (),
    mm_per_px: float | None = 0.25,
    khz: float | None = None,
) -> ClipContext:
    scale = None if mm_per_px is None else Scale(
        mm_per_row_px=mm_per_px, mm_per_col_px=mm_per_px, source=ScaleSource.RULER, uncertainty_fraction=0.01,
        witnesses=(),
    )  # fmt: skip
    layout = Layout(
        rows=420, cols=560, picture=PICTURE, picture_confidence=1.0, picture_reason="drawn", scale=scale,
        scale_reason="drawn", regions=regions, texts=texts,
    )  # fmt: skip
    return ClipContext(
        clip=replace(FILE, tags=ClipTags(transducer_frequency_khz=khz)), patient=Patient(), layout=layout,
        mode=ModeReading(mode=Mode.COLOUR, probability=1.0, reasons=()), criteria={},
    )  # fmt: skip


def bar_region(cm_s_per_px: float) -> RegionReading:
    return region(data_type=0xE, spatial_format=5, box=BAR.box, unit_y=7, delta_y=-cm_s_per_px)


def test_the_scale_is_what_stands_beside_the_bar() -> None:
    found = read_scale(context(text("+59.3", 59.3, "cm/s"), text("-59.3", -59.3, "cm/s", row=202)), BAR)
    assert found is not None
    assert found.value == pytest.approx(59.3)


def test_a_baseline_that_was_moved_leaves_the_span() -> None:
    found = read_scale(context(text("+0.9", 0.9, "m/s"), text("-0.3", -0.3, "m/s", row=202)), BAR)
    assert found is not None
    assert found.value == pytest.approx(60.0)


def test_without_numbers_the_region_of_the_bar_tells() -> None:
    # 140 rows of 1 cm/s each, half of them above zero
    found = read_scale(context(text("Depth", 12.0, "cm"), regions=(bar_region(1.0),)), BAR)
    assert found is not None
    assert found.value == pytest.approx(70.0)


def test_without_either_the_pulses_tell() -> None:
    # ring D: an eye read 3850 Hz and 2.5 MHz off the screen, and 59.3 cm/s off its bar
    row = EXPECTED[NAME]
    said = row["colour_doppler"]
    far = {"row": 20, "col": 20}
    found = read_scale(
        context(
            text("3850Hz", said["prf_hz"], "Hz", **far), text("2.5MHz", said["doppler_mhz"], "MHz", **far),
            text("18Hz", 18.0, "Hz", **far),
        ),
        BAR,
    )  # fmt: skip
    assert found is not None
    assert found.value == pytest.approx(row["velocity_scale_cm_s"][0], abs=0.1)


def test_nothing_said_is_nothing_known() -> None:
    assert read_scale(context(), BAR) is None
    assert doppler_mhz(context()) is None


def test_the_colour_regions_frequency_goes_before_text_and_probe() -> None:
    colour = region(data_type=2, transducer_frequency_khz=2600.0)
    read = [
        doppler_mhz(context(text("4.0 MHz", 4.0, "MHz"), regions=(colour,), khz=5000.0)),
        doppler_mhz(context(text("4.0 MHz", 4.0, "MHz"), text("2.5 MHz", 2.5, "MHz"), khz=5000.0)),
        doppler_mhz(context(khz=5000.0)),
    ]
    assert [item.value for item in read if item is not None] == [2.6, 2.5, 5.0]


@pytest.mark.parametrize(
    ("depth_mm", "mhz", "most"),
    # c²/(8 f d) with 1540 m/s, worked by hand
    [(50.0, 2.5, 237.0), (100.0, 3.3, 90.0), (150.0, 5.0, 40.0), (30.0, 7.0, 141.0)],
)
def test_the_most_for_the_lower_edge_follows_from_time_of_flight(depth_mm: float, mhz: float, most: float) -> None:
    per_px = 2 * depth_mm / PICTURE.depth_px  # the box ends half-way down
    box = ColourOutline(near=0.2, far=0.5, left=0.3, right=0.6, seen=1.0)
    found = attainable(context(text("f", mhz, "MHz"), mm_per_px=per_px), box)
    assert isinstance(found, Attainable)
    assert found.cm_s == pytest.approx(most, abs=1.0)
    assert not found.is_floor


def test_a_real_box_allows_what_an_eye_worked_out() -> None:
    # ring D: the deepest row of the box and the text, read by eye; the range beside them in the file
    said = EXPECTED[NAME]["colour_doppler"]
    low, high = said["deepest_of_box_mm_range"]
    box = ColourOutline(near=0.4, far=0.87, left=0.3, right=0.6, seen=1.0)
    per_px = (low + high) / 2 / 0.87 / PICTURE.depth_px
    found = attainable(context(text("2.5MHz", said["doppler_mhz"], "MHz"), mm_per_px=per_px), box)
    assert isinstance(found, Attainable)
    least, most = said["attainable_scale_cm_s_range"]
    assert least <= found.cm_s <= most


def test_without_an_outline_the_whole_depth_counts_and_only_as_a_floor() -> None:
    found = attainable(context(text("f", 3.0, "MHz")), None)
    assert isinstance(found, Attainable)
    assert found.is_floor
    assert found.depth_mm == pytest.approx(PICTURE.depth_px * 0.25)
    assert attainable(context(text("f", 3.0, "MHz"), mm_per_px=None), None) == (
        "the depth of the picture is not known, so what it allows is not"
    )
    assert "frequency is not known" in str(attainable(context(), None))


def _judged(scale_cm_s: float, mhz: float, mm_per_px: float) -> dict[str, tuple[Verdict, Side, float | None, str]]:
    found = judge(
        clip(Drawn(fastest=1.3)), scale=(scale_cm_s, Box(row0=45, col0=520, row1=56, col1=558)), mhz=mhz,
        mm_per_px=mm_per_px,
    )  # fmt: skip
    return {key: (item.verdict, item.side, item.value, item.reason) for key, item in found.items()}


def test_a_low_scale_is_a_fault_only_where_more_was_to_be_had() -> None:
    # the box ends at 300 px: 0.2 mm a pixel is 60 mm, 1540² / (8 · f · 0.06 m) = 124 cm/s at 4 MHz
    shallow = _judged(45.0, 4.0, 0.2)
    assert shallow["colour_scale_room"][:2] == (Verdict.MISSED, Side.LOW)
    assert shallow["colour_scale_room"][2] == pytest.approx(45.0 / 124.0, abs=0.01)
    assert shallow["colour_wrap"][0] in (Verdict.BORDERLINE, Verdict.MISSED)
    # 0.55 mm a pixel is 165 mm: 45 cm/s is all that 4 MHz give
    deep = _judged(45.0, 4.0, 0.55)
    assert deep["colour_scale_room"][0] is Verdict.MET
    assert deep["colour_wrap"][0] is Verdict.NOT_ASSESSABLE
    assert "no more was to be had" in deep["colour_wrap"][3]
