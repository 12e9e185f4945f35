"""Colour on the screen: where the box lies, who wins a pixel, what wraps, what the file states."""

import math
import shutil
import subprocess
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from pydicom import dcmread

from fanlight.frames.colour_box import find_colour_box
from fanlight.frames.doppler.colour_bar import find_colour_bar
from fanlight.frames.doppler.colour_velocity import colour_tables, velocity_shares
from fanlight.simulate.colour.colour_beams import ColourBeams, ColourGeometry, mirrored
from fanlight.simulate.colour.colour_map import COLOUR_MAPS, colour_table
from fanlight.simulate.colour.colour_mode import render_colour
from fanlight.simulate.colour.colour_picture import paint_colours
from fanlight.simulate.colour.colour_setting import ColourBox, default_colour
from fanlight.simulate.dicom.colour_dicom import colour_clip_dataset, write_colour_clip
from fanlight.simulate.dicom.dicom_file import ClipFacts
from fanlight.simulate.machine.beams import Beams, LineGeometry
from fanlight.simulate.machine.console import default_console
from fanlight.simulate.machine.probe import PROBES
from fanlight.simulate.machine.scan_convert import scan_convert
from fanlight.simulate.screen.screen import paint
from fanlight.simulate.screen.screen_colour import paint_colour
from fanlight.simulate.screen.screen_colour_layouts import COLOUR_STYLES, SpeedUnit
from fanlight.simulate.screen.screen_layouts import LAYOUTS
from fanlight.simulate.screen.screen_layouts_shifted import SHIFTED_LAYOUTS
from fanlight.simulate.screen.screen_place import fan_mask, place_sector
from fanlight.study import PhysicalUnit, Sector, SpatialFormat, Species
from tests.simulate import screen_stand_ins as stand_in
from tests.simulate.flow_phantoms import tube
from tests.simulate.phantoms import DOWN, state

ALL_LAYOUTS = {**LAYOUTS, **SHIFTED_LAYOUTS}
PROBE = PROBES["phased medium"]
CONSOLE = replace(default_console(PROBE, Species.DOG, 12.0), n_lines=64, n_samples=240)
BOX = ColourBox(left_deg=-24.0, right_deg=16.0, near_mm=32.0, far_mm=72.0)
SETTING = default_colour(CONSOLE, BOX)
FACTS = stand_in.facts(depth_mm=CONSOLE.depth_mm)


@pytest.fixture(scope="module")
def flow():
    """A tube of 8 mm at 40 degrees in still muscle, 50 cm/s."""
    scene, moves = tube(40.0, 8.0, 52.0, 500.0)
    states = [state(40.0 * k) for k in range(3)]
    return render_colour(scene, moves, DOWN, PROBE, CONSOLE, SETTING, states, np.random.default_rng(6))


def saturation(frame):
    return frame.max(axis=-1).astype(int) - frame.min(axis=-1)


def test_box_is_drawn_where_the_setting_says(flow):
    """Corners by polar coordinates from the apex, to half a pixel; colour lies inside them."""
    layout = LAYOUTS["head_band"]
    whole = paint_colour(layout, flow, FACTS)
    placed, truth = whole.screen.placed, whole.colour
    want = [(BOX.near_mm, BOX.left_deg), (BOX.near_mm, BOX.right_deg), (BOX.far_mm, BOX.right_deg),
            (BOX.far_mm, BOX.left_deg)]  # fmt: skip

    for (row, col), (depth, angle) in zip(truth.corners_px, want, strict=True):
        radius, turn = depth / placed.mm_per_px, math.radians(angle)
        assert row == pytest.approx(placed.sector.apex_row_px + radius * math.cos(turn), abs=0.5)
        assert col == pytest.approx(placed.sector.apex_col_px + radius * math.sin(turn), abs=0.5)
        ink = whole.screen.frames[0][round(row), round(col)]
        assert tuple(ink) == COLOUR_STYLES["head_band"].outline_ink
    found = find_colour_box(whole.screen.frames, placed.sector)
    assert found is not None
    assert found.row0 >= truth.box.row0 - 1
    assert found.row1 <= truth.box.row1 + 1
    assert found.col0 >= truth.box.col0 - 1
    assert found.col1 <= truth.box.col1 + 1


def test_outside_the_box_the_picture_is_the_grey_one(flow):
    layout = LAYOUTS["right_column"]
    whole = paint_colour(layout, flow, FACTS)
    placed = whole.screen.placed
    grey = scan_convert(flow.grey, placed.sector_in_box, rows=placed.box.height_px, cols=placed.box.width_px)
    plain = paint(layout, grey, placed, FACTS, times_ms=flow.times_ms).frames
    truth = whole.colour
    fan = np.zeros(plain.shape[1:3], bool)
    fan[placed.box.row0 : placed.box.row1, placed.box.col0 : placed.box.col1] = fan_mask(placed) > 0
    fan[truth.box.row0 : truth.box.row1, truth.box.col0 : truth.box.col1] = False

    assert fan.sum() > 20_000
    assert np.array_equal(whole.screen.frames[:, fan], plain[:, fan])
    assert (saturation(whole.screen.frames[0]) > 60).sum() > 1000  # and inside it there is colour


def labels(beams, placed):
    """Distance of each pixel of the picture from the tube's axis, as a share of its radius."""
    row, col = np.mgrid[0 : placed.box.height_px, 0 : placed.box.width_px].astype(float)
    x = (col - placed.sector_in_box.apex_col_px) * placed.mm_per_px
    z = (row - placed.sector_in_box.apex_row_px) * placed.mm_per_px
    ax, az = math.sin(math.radians(40)), -math.cos(math.radians(40))
    return np.abs(x * az - (z - 52.0) * ax) / 8.0


def coloured(beams, placed):
    grey = scan_convert(beams.grey, placed.sector_in_box, rows=placed.box.height_px, cols=placed.box.width_px)
    part = paint_colours(beams, placed.sector_in_box, grey, placed.mm_per_px)
    mask = np.zeros(grey.shape, bool)
    mask[:, part.box.row0 : part.box.row1, part.box.col0 : part.box.col1] = part.mask > 0
    return mask


def test_colour_is_written_over_tissue_only_where_it_has_priority():
    """A machine that averages widely and takes nothing for tissue bleeds, unless bright pixels keep their place."""
    scene, moves = tube(40.0, 8.0, 52.0, 500.0, plug=True)
    loose = replace(SETTING, suppresses_tissue=False, smoothing=2)
    states = [state(40.0 * k) for k in range(3)]
    beams = render_colour(scene, moves, DOWN, PROBE, CONSOLE, loose, states, np.random.default_rng(6))
    placed = paint_colour(LAYOUTS["head_band"], beams, FACTS).screen.placed
    share = labels(beams, placed)
    tissue, lumen = (share > 1.08) & (share < 1.6), share < 0.7

    def shown(priority):
        return coloured(replace(beams, setting=replace(loose, priority_fraction=priority)), placed)

    greedy, proper, shy = shown(1.0), shown(0.3), shown(0.0)

    assert greedy[:, tissue].sum() > 3 * proper[:, tissue].sum()
    assert proper[:, lumen].sum() > 0.95 * greedy[:, lumen].sum() > 0
    assert shy.sum() < 0.5 * proper.sum()


def stripes(phases_rad):
    """Two halves of a box with flow of one phase each, full of power, nothing behind them."""
    geometry = ColourGeometry(
        apex_mm=0.0, first_mm=30.0, step_mm=1.0, left_deg=-20.0, right_deg=20.0, n_samples=40, n_lines=20
    )
    correlation = np.empty((1, 40, 20), np.complex64)
    correlation[..., :10], correlation[..., 10:] = (np.exp(1j * phase) for phase in phases_rad)
    lines = LineGeometry(apex_mm=0.0, depth_mm=90.0, left_deg=-35.0, right_deg=35.0, n_samples=90, n_lines=64)
    grey = Beams(levels=np.zeros((1, 90, 64), np.uint8), geometry=lines, times_ms=(0.0,), frame_rate_hz=25.0)
    setting = replace(
        SETTING, box=ColourBox(left_deg=-20.0, right_deg=20.0, near_mm=30.0, far_mm=69.0), map_key="brick"
    )
    return ColourBeams(
        correlation=correlation, power_db=np.full((1, 40, 20), 20.0, np.float32), geometry=geometry, setting=setting,
        threshold_db=4.0, grey=grey,
    )  # fmt: skip


def test_between_both_sides_of_the_wrap_lies_no_rest():
    """Velocities 0.9 and -0.9 of the scale are neighbours on the circle: between them is the bright end, not black."""
    sector = Sector(apex_row_px=0.0, apex_col_px=250.0, left_deg=-35.0, right_deg=35.0, near_px=0.0, far_px=450.0)
    ends = paint_colours(stripes((0.9 * np.pi, -0.9 * np.pi)), sector, np.zeros((1, 460, 500), np.uint8), 0.2)
    through = paint_colours(stripes((0.4 * np.pi, -0.4 * np.pi)), sector, np.zeros((1, 460, 500), np.uint8), 0.2)

    def darkest(part):
        return part.rgb[0].max(axis=-1)[part.mask[0] > 0].min()

    assert darkest(ends) > 150  # aliasing wraps through the bright ends
    assert darkest(through) < 40  # a true change of direction passes through black


@pytest.mark.parametrize("key", sorted(ALL_LAYOUTS))
@pytest.mark.parametrize("inverted", [False, True])
def test_bar_says_what_the_colours_mean(flow, key, inverted):
    """Rows of the bar against the map at the velocity that the region gives them; the numbers are its ends."""
    beams = replace(
        flow, setting=replace(SETTING, is_inverted=inverted, baseline_shift_fraction=0.25, map_key="ember scattered")
    )
    whole = paint_colour(ALL_LAYOUTS[key], beams, FACTS, labelled=True)
    low, high = beams.setting.range_m_s
    region = next(r for r in whole.screen.regions if r.data_type == 0xE)
    frame, bar = whole.screen.frames[-1], whole.colour.bar
    table = colour_table("ember scattered", 0.25, inverted).astype(int)

    assert region.unit_y == PhysicalUnit.CM_PER_S
    for row in range(3, bar.height_px - 3, 7):
        assert region.delta_y is not None
        assert region.reference_row_px is not None
        if abs(row - region.reference_row_px) < 2:
            continue  # the colour of direction changes within a pixel
        velocity = (row - region.reference_row_px) * region.delta_y / 100.0
        want = table[0, min(int((velocity - low) / (high - low) * 256), 255)]
        # a row covers several steps of the map
        assert np.abs(frame[bar.row0 + row, bar.col0].astype(int) - want).max() < 30
    unit = COLOUR_STYLES[key].unit
    numbers = {f"{v * 100:+.0f}" if unit is SpeedUnit.CM_S else f"{v:+.2f}" for v in (low, high)}
    said = [text.text for text in whole.screen.texts]
    assert all(any(text.startswith(number) for text in said) for number in numbers)
    assert any(unit.value in text for text in said)


@pytest.mark.parametrize("map_key", sorted(COLOUR_MAPS))
@pytest.mark.parametrize("key", sorted(ALL_LAYOUTS))
def test_our_own_reader_finds_the_bar_and_the_velocities(flow, key, map_key):
    """The frames' reader knows nothing of the setting: bar to a pixel, velocity to 2 cm/s, half of the pixels."""
    beams = replace(flow, setting=replace(SETTING, map_key=map_key))
    whole = paint_colour(ALL_LAYOUTS[key], beams, FACTS)
    frame, placed, truth = whole.screen.frames[-1], whole.screen.placed, whole.colour
    bar = find_colour_bar(frame, placed.sector)
    assert bar is not None
    share = velocity_shares(frame[None], colour_tables(bar)[0])[0]
    row, col = np.nonzero(np.isfinite(share))
    inside = (row > truth.box.row0 + 3) & (row < truth.box.row1 - 3) & (col > truth.box.col0) & (col < truth.box.col1)
    row, col = row[inside], col[inside]
    down, aside = row - placed.sector.apex_row_px, col - placed.sector.apex_col_px
    geometry = beams.geometry
    depth, angle = np.hypot(down, aside) * placed.mm_per_px, np.degrees(np.arctan2(aside, down))
    sample = np.rint((depth - geometry.first_mm) / geometry.step_mm)
    line = np.rint((angle - geometry.left_deg) / (geometry.right_deg - geometry.left_deg) * geometry.n_lines - 0.5)
    cell = (np.clip(sample, 0, geometry.n_samples - 1).astype(int), np.clip(line, 0, geometry.n_lines - 1).astype(int))

    assert (bar.scatter is not None) is (COLOUR_MAPS[map_key].scattered is not None)
    assert abs(bar.box.row0 - truth.bar.row0) <= 1
    assert abs(bar.box.row1 - truth.bar.row1) <= 1
    assert abs(bar.zero_row_px - truth.zero_row_px) <= 1
    assert len(row) > 2000
    error = share[row, col] * SETTING.scale_m_s - beams.velocity_m_s[-1][cell]
    assert np.median(np.abs(error)) < 0.02


@pytest.mark.parametrize("is_turned", [False, True])
@pytest.mark.parametrize("key", sorted(ALL_LAYOUTS))
def test_our_own_reader_tells_turbulence_by_the_bar(flow, key, is_turned):
    """Colours of the map itself, plain ones and ones of variance 0.8 (the tint is whole at 0.9), and no slow ones."""
    map_key = "ember scattered"
    whole = paint_colour(ALL_LAYOUTS[key], replace(flow, setting=replace(SETTING, map_key=map_key)), FACTS)
    frame, box = whole.screen.frames[-1].copy(), whole.colour.bar
    if is_turned:  # a machine may draw its bar the other way round
        frame[box.row0 : box.row1, box.col0 : box.col1] = frame[box.row0 : box.row1, box.col0 : box.col1][:, ::-1]
    bar = find_colour_bar(frame, whole.screen.placed.sector)
    assert bar is not None
    _, table = colour_tables(bar)
    assert table is not None
    share = (np.arange(256) + 0.5) / 128 - 1
    rows = colour_table(map_key)[[0, round(0.8 * 15)]][:, (np.abs(share) > 0.5) & (np.abs(share) < 0.95)]
    plain, scattered = velocity_shares(rows[:, None], table)[:, 0]
    assert np.nanmax(plain) < 0.4
    assert np.isfinite(scattered).mean() > 0.9
    assert np.nanmin(scattered) > 0.6


SECTORS = ((-38.0, 38.0, 0.0, 50.0), (-45.0, 45.0, 0.0, 100.0), (-30.0, 30.0, 50.0, 170.0), (-40.0, 40.0, 13.0, 90.0))


@pytest.mark.parametrize("sector", SECTORS)
@pytest.mark.parametrize("key", sorted(ALL_LAYOUTS))
def test_nothing_of_it_lies_on_the_fan_or_on_other_words(key, sector):
    left, right, face, depth = sector
    layout, style = ALL_LAYOUTS[key], COLOUR_STYLES[key]
    lines = LineGeometry(apex_mm=face, depth_mm=depth, left_deg=left, right_deg=right, n_samples=64, n_lines=32)
    grey = Beams(levels=np.zeros((1, 64, 32), np.uint8), geometry=lines, times_ms=(0.0,), frame_rate_hz=25.0)
    box = ColourBox(left_deg=-15.0, right_deg=15.0, near_mm=0.3 * depth, far_mm=0.8 * depth)
    geometry = ColourGeometry(
        apex_mm=face, first_mm=box.near_mm, step_mm=depth / 80, left_deg=-15.0, right_deg=15.0, n_samples=40, n_lines=20
    )
    beams = ColourBeams(
        correlation=np.zeros((1, 40, 20), np.complex64), power_db=np.full((1, 40, 20), -9.0, np.float32),
        geometry=geometry, setting=replace(SETTING, box=box, scale_m_s=0.37, gain_db=-12.0), threshold_db=4.0,
        grey=grey,
    )  # fmt: skip
    facts = stand_in.facts(depth_mm=depth)
    whole = paint_colour(layout, beams, facts, labelled=True, ecg=stand_in.ecg())
    placed = whole.screen.placed
    fan = np.zeros((layout.rows, layout.cols), bool)
    fan[placed.box.row0 : placed.box.row1, placed.box.col0 : placed.box.col1] = fan_mask(placed) > 0
    plain = paint(
        layout, np.zeros((1, placed.box.height_px, placed.box.width_px), np.uint8), placed, facts, times_ms=(0.0,),
        labelled=True, ecg=stand_in.ecg(),
    )  # fmt: skip
    ours = [text.box for text in whole.screen.texts[len(plain.texts) :]]

    assert len(ours) >= 6
    for item in (*ours, whole.colour.bar):
        part = (slice(item.row0, item.row1), slice(item.col0, item.col1))
        assert not fan[part].any(), f"{item} lies on the fan"
        rest = plain.frames[0][part]
        assert (rest == rest[0, 0]).all(), f"{item} lies on something else"
    boxes = [*ours, whole.colour.bar]
    for index, one in enumerate(boxes):
        for two in boxes[:index]:
            apart = one.row1 <= two.row0 or two.row1 <= one.row0 or one.col1 <= two.col0 or two.col1 <= one.col0
            assert apart, f"{one} and {two} lie on each other"
    assert style.bar_row1 - style.bar_row0 >= 70


def test_export_moves_everything_with_the_pixels(flow):
    once, twice = (paint_colour(LAYOUTS["corners"], flow, FACTS, scale_ratio=ratio) for ratio in (1.0, 2.0))
    first, second = once.colour, twice.colour

    assert twice.screen.frames.shape[1:3] == (1200, 1600)
    assert second.bar.row0 == 2 * first.bar.row0
    for small, large in zip(first.corners_px, second.corners_px, strict=True):
        assert large == pytest.approx([2 * v + 0.5 for v in small])
    regions = {r.data_type: r for r in twice.screen.regions}
    assert regions[2].delta_y == pytest.approx(twice.screen.placed.mm_per_px / 10)
    before = next(r.delta_y for r in once.screen.regions if r.data_type == 0xE)
    assert before is not None
    assert regions[0xE].delta_y == pytest.approx(before / 2)


def test_a_flipped_clip_is_the_mirror_image(flow):
    turned = mirrored(flow)

    assert np.array_equal(turned.velocity_m_s, flow.velocity_m_s[:, :, ::-1])
    assert turned.setting.box.left_deg == -BOX.right_deg
    placed = paint_colour(LAYOUTS["head_band"], turned, FACTS, marker_at_left=True).screen.placed
    assert placed.sector.left_deg == -flow.grey.geometry.right_deg
    assert np.array_equal(mirrored(turned).correlation, flow.correlation)


def clip_of(whole, times_ms):
    return ClipFacts(
        number=2, frames=whole.screen.frames, regions=whole.screen.regions, times_ms=times_ms,
        since_start=timedelta(minutes=4), heart_rate_bpm=120.0, focus_depth_mm=60.0, depth_mm=CONSOLE.depth_mm,
    )  # fmt: skip


@pytest.mark.parametrize("frames", [1, 3])
def test_file_is_valid_and_states_the_colour(flow, tmp_path, frames):
    """dciodvfy (dicom3tools, D. A. Clunie) finds no error; tags against PS3.3 C.8.5.5 and C.8.5.6.1.1."""
    verifier = shutil.which("dciodvfy")
    assert verifier, "dciodvfy is missing: install Debian's package dicom3tools (scripts/system-packages.txt)"
    beams = replace(
        flow, correlation=flow.correlation[:frames], power_db=flow.power_db[:frames],
        grey=replace(flow.grey, levels=flow.grey.levels[:frames], times_ms=flow.times_ms[:frames]),
    )  # fmt: skip
    whole = paint_colour(LAYOUTS["left_panel"], beams, FACTS)
    path = write_colour_clip(tmp_path / "colour.dcm", clip_of(whole, beams.times_ms), stand_in.visit())

    done = subprocess.run([verifier, str(path)], capture_output=True, text=True, check=False)
    said = (done.stdout + done.stderr).splitlines()
    data = dcmread(path)
    tissue, colour, bar = (
        next(item for item in data.SequenceOfUltrasoundRegions if item.RegionDataType == kind) for kind in (1, 2, 0xE)
    )

    assert [line for line in said if line.startswith("Error")] == []
    assert data.ImageType[3] == "0011"
    assert data.UltrasoundColorDataPresent == 1
    assert colour.RegionSpatialFormat == SpatialFormat.TWO_D
    assert colour.PhysicalUnitsXDirection == colour.PhysicalUnitsYDirection == PhysicalUnit.CM
    assert colour.PhysicalDeltaX == pytest.approx(tissue.PhysicalDeltaX)
    assert colour.PulseRepetitionFrequency == pytest.approx(SETTING.prf_hz, abs=0.5)
    assert colour.TransducerFrequency == 1000 * SETTING.frequency_mhz
    assert not colour.RegionFlags & 1
    assert tissue.RegionFlags & 1  # it lies below
    # the same point of the animal: depth 0 of both reference pixels is one pixel of the screen
    assert colour.RegionLocationMinY0 + colour.ReferencePixelY0 == tissue.RegionLocationMinY0 + tissue.ReferencePixelY0
    assert colour.RegionLocationMinX0 + colour.ReferencePixelX0 == tissue.RegionLocationMinX0 + tissue.ReferencePixelX0
    assert abs(bar.PhysicalDeltaY) * (bar.RegionLocationMaxY1 - bar.RegionLocationMinY0 + 1) == pytest.approx(
        200 * SETTING.scale_m_s
    )


def test_grey_frames_are_no_colour_clip(flow):
    whole = paint_colour(LAYOUTS["left_panel"], flow, FACTS)
    clip = clip_of(whole, flow.times_ms)

    with pytest.raises(ValueError, match="a colour clip needs RGB frames"):
        colour_clip_dataset(replace(clip, frames=clip.frames[..., 0]), stand_in.visit())


def test_every_console_has_a_place_for_colour():
    assert set(COLOUR_STYLES) == set(ALL_LAYOUTS)
    assert len({style.ends for style in COLOUR_STYLES.values()}) == 3
    placed = place_sector(LAYOUTS["corners"], left_deg=-38, right_deg=38, face_radius_mm=0, depth_mm=100)
    assert placed.box.row1 <= LAYOUTS["corners"].rows
