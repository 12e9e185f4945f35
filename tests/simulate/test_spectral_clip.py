"""A spectrum of an animal from its setting to the screen and the file."""

from dataclasses import replace

import numpy as np
import pytest

from fanlight.heart.cycle import state_at
from fanlight.heart.kinds import HeartClass
from fanlight.heart.landmarks import landmarks
from fanlight.heart.standard_poses import standard_pose
from fanlight.simulate.clip.clip_setting import ClipSetting, Recording
from fanlight.simulate.clip.spectral_clip import gate_at, motion_before, spectral_film, spectral_screen_of, strip_ms
from fanlight.simulate.machine.beams import line_geometry
from fanlight.simulate.machine.console import default_console
from fanlight.simulate.machine.probe import default_probe
from fanlight.simulate.screen.screen_layouts import LAYOUTS
from fanlight.simulate.screen.spectral_export import exported_spectrum
from fanlight.simulate.spectral.spectral_setting import SpectralSetting
from fanlight.study import Landmark, Mode, SpatialFormat, Species
from tests.heart.blood.bodies import body_of
from tests.simulate import screen_stand_ins as stand_in
from tests.simulate.test_screen_spectral import screen_of, spectral_of
from tests.simulate.test_spectrum import PULSED

APICAL = "left_apical_four_chamber"
BODY = body_of(Species.DOG, 12.0, HeartClass.NORMAL)
PROBE = default_probe(12.0)
CONSOLE = replace(default_console(PROBE, Species.DOG, 12.0), n_lines=48, n_samples=160)
LINES = line_geometry(PROBE, CONSOLE)
SMALL = LAYOUTS["right_column"]
SPECTRAL = SpectralSetting(
    mode=Mode.PULSED_WAVE, frequency_mhz=3.0, scale_cm_s=130.0, gate_depth_mm=50.0, baseline_fraction=0.8,
    wall_filter_cm_s=15.0,
)  # fmt: skip


def setting_of(**recording):
    pose = standard_pose(BODY.animal, APICAL)
    return ClipSetting(
        view=APICAL, said_view=APICAL, pose=pose, probe=PROBE, console=CONSOLE,
        recording=Recording(is_still=True, **recording),
    )  # fmt: skip


def at_the_tips(setting):
    """A gate on the way from the mitral ring to the apex, a quarter of it behind the ring."""
    at = state_at(BODY.animal.rhythm, BODY.beats, BODY.beats[1].onset_ms)
    marks = landmarks(BODY.animal.anatomy, at)
    valve, apex = (np.asarray(marks[m], float) for m in (Landmark.MITRAL_CENTRE, Landmark.LV_APEX))
    cursor, depth = gate_at(LINES, setting.pose, valve + 0.25 * (apex - valve))
    return replace(SPECTRAL, cursor_deg=cursor, gate_depth_mm=depth)


@pytest.mark.parametrize("flipped", [False, True])
def test_inflow_of_an_animal(flipped):
    """The strip fills its field; flow comes towards the apex after the T wave; the gate lies where it was put."""
    setting = setting_of(is_mirrored=flipped)
    spectral = at_the_tips(setting)
    film = spectral_film(BODY.animal, setting, start_ms=200.0)
    motion = motion_before(BODY.animal, BODY.circulation, film, strip_ms(SMALL, spectral))
    facts = stand_in.facts(depth_mm=CONSOLE.depth_mm)
    screen = spectral_screen_of(BODY.animal, setting, spectral, motion, film, SMALL, facts, np.random.default_rng(3))
    box = screen.strip_box
    shown = screen.frames[0, box.row0 : box.row1, box.col0 : box.col1, 0].astype(float)
    above = shown[: screen.baseline_row_px - box.row0 - 4]
    columns = (above > 120).mean(axis=0)
    rr_px = 60_000 / BODY.animal.rhythm.rate_bpm / 2.5
    spectrum = spectral_of(screen.regions)
    assert screen.gate_px is not None
    row, col = screen.gate_px
    sector, side = screen.placed.sector, -1 if flipped else 1
    angle = np.degrees(np.arctan2(col - sector.apex_col_px, row - sector.apex_row_px))

    assert len(screen.frames) == 1
    assert spectrum.pulse_repetition_hz == pytest.approx(spectral.sample_hz, abs=0.5)
    assert columns.max() > 0.15
    assert 0.1 < (columns > 0.05).mean() < 0.8  # it comes and goes
    # waves repeat with the beat
    lag = np.arange(round(0.7 * rr_px), round(1.3 * rr_px))
    free = columns - columns.mean()
    alike = [np.corrcoef(free[:-k], free[k:])[0, 1] for k in lag if k < len(free) - 40]
    assert max(alike) > 0.5
    assert angle == pytest.approx(side * spectral.cursor_deg, abs=1.5)
    assert screen.ecg_box is not None


def test_strip_longer_than_the_time_before_it_is_refused():
    film = spectral_film(BODY.animal, setting_of(), start_ms=200.0)
    with pytest.raises(ValueError, match="make the film with spectral_film or the sweep faster"):
        motion_before(BODY.animal, BODY.circulation, film, 2 * film.lead_ms)


def test_gate_beside_the_picture_is_refused():
    far = setting_of().pose.to_patient(np.array([0.0, 0.0, 500.0]))
    with pytest.raises(ValueError, match=r"the point lies at 500 mm and -?0 degrees, outside the picture"):
        gate_at(LINES, setting_of().pose, far)


@pytest.mark.parametrize("has_guide", [True, False], ids=["guide", "alone"])
@pytest.mark.parametrize("ratio", [0.5, 1.6])
def test_exported_regions_follow_the_pixels(ratio, has_guide):
    """The velocity that the region gives for the brightest row stays that of the flow."""
    screen, _ = screen_of(SMALL, PULSED, 60.0, has_guide=has_guide)
    out = exported_spectrum(screen, ratio)
    box, region = out.strip_box, spectral_of(out.regions)
    rows = out.frames[0, box.row0 : box.row1, box.col0 : box.col1, 0].mean(axis=1)
    middle = float((rows * np.arange(len(rows)))[rows > 0.7 * rows.max()].sum() / rows[rows > 0.7 * rows.max()].sum())
    read = (middle - region.reference_row_px) * region.delta_y

    assert out.frames.shape[1:3] == tuple(round(n * ratio) for n in screen.frames.shape[1:3])
    assert region.box == box
    assert read == pytest.approx(60.0, abs=1.5 * abs(region.delta_y) + 1.0)
    assert (out.placed is None) == (not has_guide)
    if has_guide:
        guide = next(item for item in out.regions if item.spatial_format == SpatialFormat.TWO_D)
        assert guide.reference_row_px is not None
        assert guide.sample_volume_px is not None
        assert out.gate_px is not None
        row = guide.box.row0 + guide.reference_row_px + guide.sample_volume_px[0]
        assert row == pytest.approx(out.gate_px[0], abs=1.5)


def test_same_size_is_the_same_screen():
    screen, _ = screen_of(SMALL, PULSED, 60.0)
    assert exported_spectrum(screen, 1.0) is screen
