"""What a hand without any fault would set for a view: pose, depth, width, focus, cursor."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fanlight.heart.animal import Animal, animal_landmarks, sample
from fanlight.heart.cycle import RESTING
from fanlight.heart.label_map import LabelMap, slice_labels
from fanlight.heart.pose import Pose, Vector
from fanlight.heart.standard_poses import standard_pose
from fanlight.heart.tissue import NOT_HEART, Tissue
from fanlight.simulate.clip.clip_setting import ClipSetting, Recording
from fanlight.simulate.machine.console import Console, default_console, default_depth_mm
from fanlight.simulate.machine.point_spread import echo_mhz
from fanlight.simulate.machine.probe import ArrayKind, Probe, default_probe
from fanlight.simulate.machine.receive import WHITE_DB
from fanlight.simulate.machine.tissue_echo import ECHOES
from fanlight.simulate.steady.beam_through import beam_through_deg
from fanlight.study import Landmark, Mode

COARSE_MM = 1.5  # of the map from which depth and width are chosen: far finer than a step of a depth knob
HEART_FILLS_FRACTION = 0.88  # of the depth: a little room below the heart (0.70 to 0.92 is the house's band)
DEPTH_STEP_MM = 5.0  # of a console's depth knob; common practice, no source
DEEPEST_SHARE = 0.985  # of the heart's area lies above what counts as its bottom: an auricle's tip is no reason
# Frequency of the echo times depth: there and back 65 dB are lost at 0.5 dB/cm/MHz (physics), about what 110 dB from
# the strongest echo down to the noise leave beside a display of 55 dB (engineering judgement: usual ranges).
PENETRATION_MHZ_CM = 65.0
BLOOD_SHOWN_DB = 4.0  # above the darkest level shown: blood is black but for a few specks (common practice)
PLAIN_WIDTH_DEG = 76.0  # common practice: 60 to 90 degrees
# Wider where right atrium and aorta lie to the side of the near field; narrower from the left, where a wide one looks
# past the window into lung, and below the ribs, where all lies in the middle. Common practice, no source.
WIDTHS_DEG = {
    "right_parasternal_long_axis_four_chamber": 86.0,
    "right_parasternal_long_axis_outflow": 86.0,
    "right_parasternal_short_axis_aorta": 86.0,
    "left_apical_four_chamber": 68.0,
    "left_cranial_long_axis_aorta": 66.0,
    "left_cranial_long_axis_right_inflow": 66.0,
    "left_cranial_long_axis_right_auricle": 66.0,
    "subcostal_outflow": 60.0,
}

# Where the cursor of an M-mode runs through. Dogs: ventricle at the chordae, leaflets at the mitral level; the annulus
# of the tricuspid valve from the apex.
CURSOR_THROUGH = {
    "right_parasternal_short_axis_papillary_muscles": Landmark.LV_CENTRE,
    "right_parasternal_short_axis_chordae": Landmark.LV_CENTRE,
    "right_parasternal_short_axis_mitral_valve": Landmark.MITRAL_TIPS,
    "right_parasternal_short_axis_aorta": Landmark.AORTIC_SINUS_CENTRE,
    "right_parasternal_long_axis_four_chamber": Landmark.LV_CENTRE,
    "right_parasternal_long_axis_outflow": Landmark.MITRAL_SEPTAL_TIP,
    "left_apical_four_chamber_right_heart": Landmark.TRICUSPID_PARIETAL_HINGE,
    "left_apical_four_chamber": Landmark.TRICUSPID_PARIETAL_HINGE,
}


def plane_of(animal: Animal, pose: Pose, *, depth_mm: float, width_deg: float, mm_per_px: float) -> LabelMap:
    """Return what lies in the image plane at end-diastole and at the end of expiration."""
    return slice_labels(
        lambda x, y, z: sample(animal, RESTING, x, y, z),
        pose,
        depth_mm=depth_mm,
        mm_per_px=mm_per_px,
        half_angle_deg=width_deg / 2,
    )


def fitting_depth_mm(animal: Animal, pose: Pose, width_deg: float) -> float:
    """Return the depth at which the heart fills the picture with a little room below.

    Parameters
    ----------
    animal : Animal
        The animal.
    pose : Pose
        Where the probe stands.
    width_deg : float
        Opening angle of the picture.

    Returns
    -------
    float
        mm, a step of a depth knob; the animal's default depth where no heart is met.
    """
    usual = default_depth_mm(animal.species, animal.weight_kg)
    plane = plane_of(animal, pose, depth_mm=2.2 * usual, width_deg=width_deg, mm_per_px=COARSE_MM)
    is_heart = ~np.isin(plane.shown(), [int(t) for t in NOT_HEART])
    rows = is_heart.sum(axis=1).cumsum()
    if rows[-1] == 0:
        return usual
    bottom_mm = float(np.searchsorted(rows, DEEPEST_SHARE * rows[-1])) * COARSE_MM
    return float(np.ceil(bottom_mm / HEART_FILLS_FRACTION / DEPTH_STEP_MM) * DEPTH_STEP_MM)


def steady_setting(
    animal: Animal,
    view: str,
    *,
    mode: Mode = Mode.TWO_D,
    probe: Probe | None = None,
    recording: Recording | None = None,
    console: Console | None = None,
) -> ClipSetting:
    """Return the setting without fault for one view of one animal.

    Parameters
    ----------
    view : str
        Key of views.toml.
    mode : Mode
        2-D or M-mode; the cursor of an M-mode runs through the view's own landmark.
    probe, recording, console
        By default what suits the animal; a console given here keeps all but depth and focus.

    Raises
    ------
    ValueError
        If the view has no landmark for an M-mode.
    """
    array = probe or default_probe(animal.weight_kg)
    pose = standard_pose(animal, view)
    base = console or default_console(array, animal.species, animal.weight_kg, is_harmonic=True)
    plain = WIDTHS_DEG.get(view, PLAIN_WIDTH_DEG)
    width = min(plain if array.kind is ArrayKind.PHASED else array.widest_deg, array.widest_deg)
    depth = fitting_depth_mm(animal, pose, width)
    fitted = default_console(array, animal.species, animal.weight_kg, depth, is_harmonic=base.is_harmonic)
    return ClipSetting(
        view=view,
        said_view=view,
        pose=pose,
        probe=array,
        console=penetrating(
            replace(
                base,
                depth_mm=depth,
                width_deg=width,
                focus_mm=fitted.focus_mm,
                n_samples=fitted.n_samples,
                gain_db=base.gain_db + blood_black_db(base),
            ),
            array,
        ),
        mode=mode,
        cursor_deg=_cursor_deg(animal, view, pose, array) if mode is Mode.M_MODE else 0.0,
        recording=recording or Recording(),
    )


def penetrating(console: Console, probe: Probe) -> Console:
    """Return the settings with a frequency that reaches the bottom of the picture, harmonics off where they cannot."""
    echo = min(echo_mhz(console), PENETRATION_MHZ_CM / (console.depth_mm / 10))
    if console.is_harmonic and echo / 2 >= probe.low_mhz:
        return replace(console, frequency_mhz=echo / 2)
    return replace(console, is_harmonic=False, frequency_mhz=min(max(echo, probe.low_mhz), probe.high_mhz))


def blood_black_db(console: Console) -> float:
    """Return by how much the gain is turned down, dB: a wide display range shows blood grey otherwise."""
    shown = ECHOES[Tissue.LV_CAVITY].scatter_db - (WHITE_DB - console.dynamic_range_db)
    return min(0.0, BLOOD_SHOWN_DB - shown)


def _cursor_deg(animal: Animal, view: str, pose: Pose, probe: Probe) -> float:
    if view not in CURSOR_THROUGH:
        raise ValueError(f"no M-mode is taken from the view {view}; it is from {', '.join(CURSOR_THROUGH)}")
    through: Vector = animal_landmarks(animal, RESTING)[CURSOR_THROUGH[view]]
    return beam_through_deg(pose, probe.radius_mm, through)
