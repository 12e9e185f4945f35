"""A painted screen tells the truth about itself."""

import math

import cv2
import numpy as np
import pytest

from fanlight.frames.polar import to_grey
from fanlight.simulate.screen.screen import paint, place_sector, strip_box
from fanlight.simulate.screen.screen_layouts import LAYOUTS
from fanlight.study import PhysicalUnit, Region, SpatialFormat
from tests.simulate import screen_stand_ins as stand_in

SMALL = LAYOUTS["right_column"]


def delta_y(region: Region) -> float:
    """Height of a pixel, which every region here states."""
    assert region.delta_y is not None
    return region.delta_y


def reference(region: Region) -> tuple[float, float]:
    """The reference pixel on the screen."""
    assert region.reference_row_px is not None
    assert region.reference_col_px is not None
    return region.box.row0 + region.reference_row_px, region.box.col0 + region.reference_col_px


@pytest.fixture
def rng():
    return np.random.default_rng(3)


@pytest.mark.parametrize("depth_mm", [45.0, 120.0, 230.0])
@pytest.mark.parametrize("face_radius_mm", [0.0, 12.0, 60.0])
def test_sector_spans_its_depth_and_fills_its_field(depth_mm, face_radius_mm):
    """Pixels times millimetres are the depth; the fan touches its field in height or in width."""
    placed = place_sector(SMALL, left_deg=-30, right_deg=42, face_radius_mm=face_radius_mm, depth_mm=depth_mm)

    area = SMALL.picture
    assert placed.sector.depth_px * placed.mm_per_px == pytest.approx(depth_mm)
    assert placed.sector.near_px * placed.mm_per_px == pytest.approx(face_radius_mm)
    assert area.row0 <= placed.box.row0 < placed.box.row1 <= area.row1
    assert area.col0 <= placed.box.col0 < placed.box.col1 <= area.col1
    rows, cols = area.row1 - area.row0, area.col1 - area.col0
    assert placed.box.height_px >= rows - 1 or placed.box.width_px >= cols - 1


def test_sector_in_its_box_is_the_same_sector():
    """A point counted from the box is the point of the screen less the box's corner."""
    placed = stand_in.placed_on(SMALL, face_radius_mm=10.0)

    row, col = placed.sector.point(0.3, 0.8)
    assert placed.sector_in_box.point(0.3, 0.8) == pytest.approx((row - placed.box.row0, col - placed.box.col0))


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"left_deg": 40.0}, "must rise between -89 and 89 degrees, got 40"),
        ({"right_deg": 95.0}, "must rise between -89 and 89"),
        ({"depth_mm": 0.0}, "depth must be above 0 mm"),
        ({"face_radius_mm": -1.0}, "the face 0 mm or more, got 120.0 and -1.0"),
    ],
)
def test_impossible_sector_is_refused(changed, words):
    """The message names the limit and the value."""
    given = {"left_deg": -38.0, "right_deg": 38.0, "face_radius_mm": 0.0, "depth_mm": 120.0}
    with pytest.raises(ValueError, match=words):
        place_sector(SMALL, **(given | changed))


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=LAYOUTS.keys())
def test_ruler_marks_stand_at_whole_steps_below_the_face(layout, rng):
    """Row and depth agree to half a pixel, and the ink is where the truth says."""
    screen = stand_in.two_d(layout, rng, frames=1, depth_mm=130.0, face_radius_mm=12.0)

    ruler = screen.ruler
    assert ruler is not None
    face_row = screen.placed.sector.apex_row_px + screen.placed.sector.near_px
    for index, row in enumerate(ruler.rows_px):
        depth_mm = (row - face_row) * screen.placed.mm_per_px
        assert depth_mm == pytest.approx(index * ruler.step_mm, abs=0.51 * screen.placed.mm_per_px)
        patch = screen.frames[0, round(row), round(ruler.col_px)].astype(int)
        assert (patch - layout.ground).max() > 60
    assert len(ruler.rows_px) == 130.0 // ruler.step_mm + 1


def test_two_d_region_is_true(rng):
    """Box, size of a pixel and reference pixel of the region are those of the fan that was painted."""
    screen = stand_in.two_d(SMALL, rng, frames=1)

    region, trace = screen.regions
    assert (region.spatial_format, region.unit_x, region.unit_y) == (SpatialFormat.TWO_D, 3, 3)
    assert region.box == screen.placed.box
    assert delta_y(region) * 10 * screen.placed.sector.depth_px == pytest.approx(120.0)
    row, col = reference(region)
    assert (row, col) == pytest.approx(screen.placed.sector.point(0.0, 0.5), abs=0.51)
    assert trace.spatial_format is SpatialFormat.WAVEFORM
    assert trace.box == screen.ecg_box
    assert trace.delta_x == pytest.approx(1.0 / SMALL.ecg.px_per_s)


def test_m_mode_regions_are_true(rng):
    """Strip and guide state their own scales; the cursor lies on its beam, counted from the reference pixel."""
    screen = stand_in.m_mode(SMALL, rng, cursor_deg=-12.0, ms_per_px=4.0)

    guide, strip, trace = screen.regions
    assert strip.spatial_format is SpatialFormat.M_MODE
    assert (strip.unit_x, strip.unit_y) == (PhysicalUnit.SECONDS, PhysicalUnit.CM)
    assert strip.delta_x == pytest.approx(0.004)
    assert delta_y(strip) * 10 * (strip.box.height_px - 1) == pytest.approx(120.0)
    assert guide.m_line_px is not None
    assert screen.cursor_px is not None
    row0, col0, row1, col1 = guide.m_line_px
    # PS3.3 C.8.5.5.1.10: both ends are displacements from the reference pixel.
    sector = screen.placed.sector
    row, col = reference(guide)
    assert (row + row0, col + col0, row + row1, col + col1) == screen.cursor_px
    assert math.degrees(math.atan2(col1 - col0, row1 - row0)) == pytest.approx(-12.0, abs=0.6)
    far = (sector.apex_row_px + sector.far_px * math.cos(math.radians(-12)), sector.apex_col_px)
    assert screen.cursor_px[2] == pytest.approx(far[0], abs=0.51)
    assert trace.delta_x == pytest.approx(strip.delta_x)  # trace and strip keep one time
    assert (trace.box.col0, trace.box.col1) == (strip.box.col0, strip.box.col1)


def test_m_mode_time_marks_are_as_far_apart_as_the_region_says(rng):
    """Ticks below the strip lie a fifth of a second apart."""
    screen = stand_in.m_mode(SMALL, rng, ms_per_px=5.0)

    strip = strip_box(SMALL)
    below = screen.frames[0, strip.row1 + 3, strip.col0 : strip.col1].max(axis=1)
    cols = np.flatnonzero(below > 100)
    assert np.diff(cols).tolist() == [SMALL.m_mode.time_tick_s * 1000 / 5.0] * (len(cols) - 1)
    assert len(cols) > 5


def test_grey_frames_are_the_luma_of_the_coloured_ones():
    """The same screen, exported without colour."""
    coloured = stand_in.two_d(SMALL, np.random.default_rng(1))
    grey = stand_in.two_d(SMALL, np.random.default_rng(1), colour=False)

    assert grey.frames.shape == coloured.frames.shape[:3]
    assert np.array_equal(grey.frames, to_grey(coloured.frames))
    assert grey.regions == coloured.regions


def test_without_leads_there_is_no_trace_and_no_region_of_one(rng):
    """No ECG: nothing is drawn in its field and nothing is claimed of it."""
    screen = stand_in.two_d(SMALL, rng, ecg=None)

    style = SMALL.ecg
    assert screen.ecg_box is None
    assert [region.spatial_format for region in screen.regions] == [SpatialFormat.TWO_D]
    assert (screen.frames[:, style.row0 : style.row1, style.col0 : style.col1] == SMALL.ground).all()


def test_only_picture_and_trace_change_between_frames(rng):
    """Furniture is drawn once: outside the fan and the ECG every frame is the same."""
    screen = stand_in.two_d(SMALL, rng, frames=4)

    moving = np.ptp(screen.frames.astype(int), axis=0).max(axis=2) > 0
    for box in (screen.placed.box, screen.ecg_box):
        moving[box.row0 : box.row1, box.col0 : box.col1] = False
    assert not moving.any()


def test_focus_mark_stands_at_its_depth(rng):
    """The mark moves down the screen by as many pixels as the focus goes deeper."""
    layout = LAYOUTS["foot_rows"]
    placed = stand_in.placed_on(layout)
    picture = stand_in.noise(rng, 1, placed.box.height_px, placed.box.width_px)
    rows = []
    for focus_mm in (30.0, 80.0):
        said = stand_in.facts(focus_mm=focus_mm)
        frame = paint(layout, picture, placed, said, times_ms=(0.0,)).frames[0].astype(int)
        column = frame[:, layout.focus.col_px]
        rows.append(np.mean(np.flatnonzero(np.abs(column - layout.focus.ink).max(axis=1) < 40)))

    assert (rows[1] - rows[0]) * placed.mm_per_px == pytest.approx(50.0, abs=placed.mm_per_px)


def test_unknown_facts_leave_no_gap_and_no_words(rng):
    """Without a heart rate, no line speaks of one."""
    placed = stand_in.placed_on(SMALL)
    picture = stand_in.noise(rng, 1, placed.box.height_px, placed.box.width_px)
    screen = paint(SMALL, picture, placed, stand_in.facts(heart_rate_bpm=None, owner=""), times_ms=(0.0,))

    assert not [item.text for item in screen.texts if "bpm" in item.text or "None" in item.text]


def test_template_that_asks_for_no_fact_is_refused():
    """A slip in a layout is told, with the field."""
    with pytest.raises(ValueError, match='asks for "colour_of_eyes", which is no fact'):
        stand_in.facts().words("{colour_of_eyes}")


def test_pictures_that_do_not_fit_are_refused(rng):
    """Size, type and number of frames are checked before anything is drawn."""
    placed = stand_in.placed_on(SMALL)
    height, width = placed.box.height_px, placed.box.width_px
    picture = stand_in.noise(rng, 2, height, width)
    said = stand_in.facts()

    with pytest.raises(ValueError, match=f"expected 8-bit pictures of {height} × {width}"):
        paint(SMALL, picture[:, 1:], placed, said, times_ms=(0.0, 40.0))
    with pytest.raises(ValueError, match="type float64"):
        paint(SMALL, picture.astype(float), placed, said, times_ms=(0.0, 40.0))
    with pytest.raises(ValueError, match="expected a time for each of 2 pictures, got 3"):
        paint(SMALL, picture, placed, said, times_ms=(0.0, 40.0, 80.0))
    with pytest.raises(ValueError, match="cursor must lie between -38 and 38 degrees, got 50"):
        stand_in.m_mode(SMALL, rng, cursor_deg=50.0)
    with pytest.raises(ValueError, match="depth_mm must be above 0, got 0"):
        stand_in.facts(depth_mm=0.0)


def test_box_of_words_is_the_box_of_their_ink():
    """Every pixel that the words changed lies in their box, and the box touches ink on all sides."""
    from fanlight.simulate.screen.screen_layout import Align, Lettering, Typeface
    from fanlight.simulate.screen.screen_words import draw_words

    for face in Typeface:
        for align in Align:
            canvas = np.zeros((80, 400, 3), np.uint8)
            box = draw_words(
                canvas, "Depth 12.5 cm", 40, 200, Lettering(typeface=face, height_px=11, ink=(250,) * 3), align
            )
            hit = cv2.compare(canvas.max(axis=2), 60.0, cv2.CMP_GT)
            rows, cols = np.flatnonzero(hit.any(axis=1)), np.flatnonzero(hit.any(axis=0))
            assert (box.row0, box.row1 - 1, box.col0, box.col1 - 1) == (rows[0], rows[-1], cols[0], cols[-1])
            assert {Align.LEFT: box.col0, Align.RIGHT: box.col1, Align.CENTRE: (box.col0 + box.col1) // 2}[
                align
            ] == pytest.approx(200, abs=1)


def test_words_without_room_are_refused():
    """They are never cut in silence."""
    from fanlight.simulate.screen.screen_layout import Lettering, Typeface
    from fanlight.simulate.screen.screen_words import draw_words

    canvas = np.zeros((40, 60, 3), np.uint8)
    with pytest.raises(ValueError, match="the screen has 40 and 60; shorten them"):
        draw_words(canvas, "Frequency 5.2 MHz", 20, 5, Lettering(typeface=Typeface.ROUND, height_px=9, ink=(9, 9, 9)))
