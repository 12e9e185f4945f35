"""Screens with a spectrum: what the file says of a pixel is what was simulated there."""

import shutil
import subprocess
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from fanlight.frames.regions import check_regions
from fanlight.measure.areas import AreaKind, areas_of
from fanlight.simulate.dicom.dicom_file import ClipFacts, Coding
from fanlight.simulate.dicom.dicom_spectral import spectral_dataset, write_spectral_clip
from fanlight.simulate.screen.screen_layouts import LAYOUTS
from fanlight.simulate.screen.screen_layouts_shifted import SHIFTED_LAYOUTS
from fanlight.simulate.screen.screen_spectral import (
    paint_spectrum,
    place_spectral_guide,
    setting_words,
    spectral_box,
    tick_step_cm_s,
)
from fanlight.simulate.screen.screen_spectral_style import VelocityUnit, spectral_style
from fanlight.study import Layout, Mode, SpatialFormat
from tests.intake.dicom_files import clip_of, pixels_of
from tests.simulate import screen_stand_ins as stand_in
from tests.simulate.test_spectrum import CONSOLE, CONTINUOUS, PULSED, TISSUE, modal_cm_s, strip, tube

ALL = LAYOUTS | SHIFTED_LAYOUTS


def screen_of(layout, setting=PULSED, cm_s=60.0, *, has_guide=True, guide_frames=1, **more):
    """A steady flow, painted; and its strip."""
    style = spectral_style(layout, has_guide=has_guide)
    box = spectral_box(style)
    seen = strip(tube(cm_s), setting, n_columns=box.width_px, rows=box.height_px, start_ms=-2.5 * box.width_px)
    given = {"ecg": stand_in.ecg()} | more
    if has_guide:
        placed = place_spectral_guide(
            layout, style, left_deg=-38, right_deg=38, face_radius_mm=0.0, depth_mm=CONSOLE.depth_mm
        )
        given["placed"] = placed
        given["guide"] = stand_in.noise(
            np.random.default_rng(0), guide_frames, placed.box.height_px, placed.box.width_px
        )
    facts = stand_in.facts(depth_mm=CONSOLE.depth_mm, sweep_mm_s=100.0)
    return paint_spectrum(layout, style, seen, facts, **given), seen


def spectral_of(regions):
    return next(region for region in regions if region.spatial_format == SpatialFormat.SPECTRAL)


def written(screen, tmp_path, mode=Mode.PULSED_WAVE, coding=Coding.RLE):
    clip = ClipFacts(
        number=1, frames=screen.frames, regions=screen.regions,
        times_ms=tuple(20.0 * k for k in range(len(screen.frames))), since_start=timedelta(minutes=4),
    )  # fmt: skip
    return write_spectral_clip(tmp_path / "spectrum.dcm", clip, stand_in.visit(), mode, coding)


@pytest.mark.parametrize("key", ALL)
@pytest.mark.parametrize("has_guide", [True, False], ids=["guide", "alone"])
def test_every_console_has_room(key, has_guide):
    """Words, strip, trace and guide keep clear of each other on every screen."""
    screen, _ = screen_of(ALL[key], replace(PULSED, corrected_deg=20.0, is_inverted=True), has_guide=has_guide)
    boxes = [item.box for item in screen.texts]

    for k, box in enumerate(boxes):
        assert not box.overlap_px(screen.strip_box), screen.texts[k].text
        assert not box.overlap_px(screen.ecg_box), screen.texts[k].text
        for other in range(k):
            assert not box.overlap_px(boxes[other]), (screen.texts[k].text, screen.texts[other].text)
        if screen.placed is not None:
            assert not box.overlap_px(screen.placed.box), screen.texts[k].text
    assert not screen.strip_box.overlap_px(screen.ecg_box)
    assert "SIMULATED" in [item.text for item in screen.texts]
    assert {word for line in screen.texts for word in line.text.split("   ")} >= set(
        setting_words(replace(PULSED, corrected_deg=20.0, is_inverted=True))
    )


@pytest.mark.parametrize(
    ("setting", "cm_s"),
    [
        (PULSED, 60.0), (replace(PULSED, baseline_fraction=0.75), -30.0), (replace(PULSED, is_inverted=True), 60.0),
        (CONTINUOUS, -450.0),
    ],
    ids=["pulsed", "baseline moved", "inverted", "continuous"],
)  # fmt: skip
def test_region_read_back_gives_the_velocity_of_a_pixel(tmp_path, setting, cm_s):
    """Reference value + (row - reference row) · step (PS3.3 C.8.5.5.1.9): the brightest row holds the true velocity."""
    screen, seen = screen_of(LAYOUTS["head_band"], setting, cm_s)
    clip = clip_of(written(screen, tmp_path, setting.mode))
    checks = check_regions(clip.regions, clip.rows, clip.cols, None, 0.0)
    region = spectral_of(item.reading.region for item in checks if item.reading.trusted)
    row = np.argmax(seen.density.mean(axis=1))
    read = region.reference_value_y + (row - region.reference_row_px) * region.delta_y

    assert len(checks) == len(screen.regions)
    assert all(item.reading.trusted for item in checks)
    assert region == spectral_of(screen.regions)
    assert read == pytest.approx(modal_cm_s(seen), abs=1e-6)
    assert read == pytest.approx(cm_s, rel=0.03)
    assert region.delta_x * region.box.width_px == pytest.approx(2.5e-3 * len(seen.times_ms))


def test_calipers_read_the_velocity_that_was_simulated(tmp_path):
    screen, seen = screen_of(LAYOUTS["left_panel"], replace(PULSED, baseline_fraction=0.7))
    clip = clip_of(written(screen, tmp_path))
    readings = tuple(item.reading for item in check_regions(clip.regions, clip.rows, clip.cols, None, 0.0))
    layout = Layout(
        rows=clip.rows, cols=clip.cols, picture=None, picture_confidence=0.0, picture_reason="", scale=None,
        scale_reason="", regions=readings,
    )  # fmt: skip
    area = next(item for item in areas_of(layout, None, ()) if item.kind is AreaKind.SPECTRUM)
    row = screen.strip_box.row0 + np.argmax(seen.density.mean(axis=1))

    assert (area.zero_row - row) * area.cm_s_per_row == pytest.approx(60.0, rel=0.03)
    assert area.ms_per_col == pytest.approx(2.5)


def test_file_says_what_was_set(tmp_path):
    setting = replace(PULSED, cursor_deg=9.0, baseline_fraction=0.6, corrected_deg=20.0)
    screen, _ = screen_of(LAYOUTS["foot_rows"], setting)
    clip = clip_of(written(screen, tmp_path))
    region = spectral_of(clip.regions)
    guide = clip.regions[0]

    assert clip.tags.image_type[3] == "0009"
    assert region.pulse_repetition_hz == pytest.approx(setting.sample_hz, abs=0.5)
    assert region.transducer_frequency_khz == 4000
    assert (region.steering_deg, region.doppler_angle_deg) == (9.0, 20.0)
    # the gate lies on the cursor, 60 mm below the face
    assert guide.m_line_px is not None
    assert guide.sample_volume_px is not None
    assert guide.delta_x is not None
    assert guide.delta_y is not None
    row0, col0, row1, col1 = guide.m_line_px
    down, across = guide.sample_volume_px
    mm = 10 * np.hypot((down - row0) * guide.delta_y, (across - col0) * guide.delta_x)
    assert mm == pytest.approx(setting.gate_depth_mm, abs=1.5 * 10 * guide.delta_y)
    assert (across - col0) / (down - row0) == pytest.approx((col1 - col0) / (row1 - row0), abs=0.03)


@pytest.mark.parametrize(
    ("setting", "bits", "data_type"), [(PULSED, "0009", 3), (CONTINUOUS, "0005", 4), (TISSUE, "0009", 3)]
)
@pytest.mark.parametrize("frames", [1, 3])
def test_files_are_valid(tmp_path, setting, bits, data_type, frames):
    """dciodvfy (dicom3tools, D. A. Clunie) finds no error against PS3.3."""
    verifier = shutil.which("dciodvfy")
    assert verifier, "dciodvfy is missing: install Debian's package dicom3tools (scripts/system-packages.txt)"
    screen, _ = screen_of(LAYOUTS["right_column"], setting, cm_s=15.0, guide_frames=frames)
    path = written(screen, tmp_path, setting.mode, Coding.JPEG)
    done = subprocess.run([verifier, str(path)], capture_output=True, text=True, check=False)
    said = (done.stdout + done.stderr).splitlines()
    clip = clip_of(path)

    assert [line for line in said if line.startswith("Error")] == []
    assert ("USMultiFrameImage" if frames > 1 else "USImage") in said
    assert clip.tags.image_type[3] == bits
    assert spectral_of(clip.regions).data_type == data_type
    assert (spectral_of(clip.regions).pulse_repetition_hz is None) == (setting is CONTINUOUS)


def test_spectrum_without_guide_says_so(tmp_path):
    screen, _ = screen_of(LAYOUTS["corners"], has_guide=False, ecg=None)
    clip = clip_of(written(screen, tmp_path))

    assert clip.tags.image_type[3] == "0008"
    assert [region.spatial_format for region in clip.regions] == [SpatialFormat.SPECTRAL]
    assert np.array_equal(pixels_of(tmp_path / "spectrum.dcm"), screen.frames)


def test_axis_is_true():
    """Marks lie where the region says, numbers say what the marks are."""
    screen, seen = screen_of(LAYOUTS["head_band"])
    region = spectral_of(screen.regions)

    for tick in screen.ticks:
        value = (tick.row_px - screen.strip_box.row0 - region.reference_row_px) * region.delta_y
        assert value == pytest.approx(tick.cm_s, abs=0.5 * abs(region.delta_y))
    assert {f"{tick.cm_s:g}" for tick in screen.ticks} <= {item.text for item in screen.texts}
    assert screen.baseline_row_px == screen.strip_box.row0 + seen.baseline_px


@pytest.mark.parametrize(
    ("span", "unit", "step"), [(200, "cm/s", 50), (40, "cm/s", 10), (1300, "m/s", 200), (90, "m/s", 20)]
)
def test_steps_are_round(span, unit, step):
    assert tick_step_cm_s(span, VelocityUnit(unit)) == pytest.approx(step)


def test_strip_and_trace_share_their_time():
    screen, _ = screen_of(LAYOUTS["head_band"])
    trace = next(region for region in screen.regions if region.spatial_format == SpatialFormat.WAVEFORM)

    assert trace.delta_x == pytest.approx(spectral_of(screen.regions).delta_x)
    assert (trace.box.col0, trace.box.col1) == (screen.strip_box.col0, screen.strip_box.col1)


def test_strip_is_painted_as_it_is_but_for_its_baseline():
    screen, seen = screen_of(LAYOUTS["head_band"])
    box = screen.strip_box
    shown = screen.frames[0, box.row0 : box.row1, box.col0 : box.col1]
    others = np.arange(box.height_px) != seen.baseline_px

    assert np.array_equal(shown[others, :, 0], seen.levels[others])


def test_guide_may_run_beside_a_frozen_strip():
    screen, _ = screen_of(LAYOUTS["head_band"], guide_frames=3)
    box = screen.strip_box
    frames = screen.frames

    assert np.array_equal(frames[0, box.row0 :], frames[2, box.row0 :])
    assert not np.array_equal(frames[0, : box.row0], frames[2, : box.row0])


@pytest.mark.parametrize(
    ("guide", "message"),
    [(None, "a guide needs its place"), (np.zeros((1, 5, 5), np.uint8), "8-bit guide pictures")],
    ids=["no guide", "too small"],
)
def test_guides_that_do_not_fit_are_refused(guide, message):
    layout = LAYOUTS["head_band"]
    style = spectral_style(layout)
    box = spectral_box(style)
    seen = strip(tube(20.0), n_columns=box.width_px, rows=box.height_px)
    placed = place_spectral_guide(layout, style, left_deg=-38, right_deg=38, face_radius_mm=0, depth_mm=100)
    with pytest.raises(ValueError, match=message):
        paint_spectrum(layout, style, seen, stand_in.facts(), placed=placed, guide=guide)


def test_strip_of_another_size_is_refused():
    layout = LAYOUTS["head_band"]
    with pytest.raises(ValueError, match="expected a strip of"):
        paint_spectrum(layout, spectral_style(layout, has_guide=False), strip(tube(20.0)), stand_in.facts())


def test_only_spectra_are_written_as_spectra():
    screen, _ = screen_of(LAYOUTS["corners"])
    clip = ClipFacts(number=1, frames=screen.frames, regions=screen.regions, times_ms=(0.0,), since_start=timedelta(0))
    with pytest.raises(ValueError, match="not m_mode"):
        spectral_dataset(clip, stand_in.visit(), Mode.M_MODE)


def test_a_flipped_guide_is_the_mirror_image_with_its_marks():
    """Cursor, gate and the mark of correction turn about the middle; the file's steering angle goes with them."""
    layout, setting = next(iter(LAYOUTS.values())), replace(PULSED, cursor_deg=9.0, corrected_deg=30.0)
    style = spectral_style(layout, has_guide=True)
    placed = place_spectral_guide(
        layout, style, left_deg=-38, right_deg=38, face_radius_mm=0.0, depth_mm=CONSOLE.depth_mm
    )
    black = np.zeros((1, placed.box.height_px, placed.box.width_px), np.uint8)
    plain, flipped = (screen_of(layout, setting, guide=black, marker_at_left=at_left)[0] for at_left in (False, True))
    box = placed.box
    one, other = (s.frames[0][box.row0 : box.row1, box.col0 : box.col1].max(axis=-1) > 60 for s in (plain, flipped))
    middle = round(placed.sector.apex_col_px) - box.col0
    reach = min(middle, box.width_px - 1 - middle)
    here, there = one[:, middle - reach : middle + reach + 1], other[:, middle - reach : middle + reach + 1][:, ::-1]
    grown = np.asarray(np.pad(there, 2), np.uint8)
    near = np.maximum.reduce([grown[i : i + here.shape[0], j : j + here.shape[1]] for i in range(5) for j in range(5)])

    assert here.any()
    assert (here & (near == 0)).sum() < 0.05 * here.sum()  # drawn within two pixels of each other's mirror image
    assert spectral_of(flipped.regions).steering_deg == -spectral_of(plain.regions).steering_deg
