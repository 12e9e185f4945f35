"""Facts of the trade, looked up on the finished heart: each is common practice without a source, none was fitted.

A fact that the model does not show stays here as a strict expected failure, and is reported.
"""

from functools import lru_cache

import numpy as np
import pytest

from fanlight.heart.animal import animal_landmarks
from fanlight.heart.calipers.la_ao import measure_la_ao_by_commissure
from fanlight.heart.calipers.septum import measure_septal_slope
from fanlight.heart.cycle import Still, still
from fanlight.heart.kinds import HeartClass
from fanlight.heart.label_map import label_map
from fanlight.heart.movements import Movement, moved, slid_with_frozen_handle
from fanlight.heart.pose_difference import difference
from fanlight.heart.standard_poses import standard_pose
from fanlight.heart.thorax import REST
from fanlight.heart.tissue import Tissue
from fanlight.study import Landmark
from tests.heart.animals import SEED, SIZES, animal_of, standard_pose_of
from tests.heart.visible import Polar

NORMAL = HeartClass.NORMAL
OUTFLOW = "right_parasternal_long_axis_outflow"
FOUR_CHAMBER = "right_parasternal_long_axis_four_chamber"
SHORT = "right_parasternal_short_axis_"
OFFSET_MM = 10.0  # at 10 kg: the size of one corrective step


def _septum_deg(animal, pose):
    k = animal.thorax.scale_ratio
    caliper = measure_septal_slope(
        label_map(animal, REST, pose, depth_mm=95.0 * k, mm_per_px=0.6 * k, half_angle_deg=45.0)
    )
    assert caliper.value is not None, caliper.reason
    return caliper.value


@pytest.mark.parametrize("size", SIZES)
def test_offset_to_the_sternum_lets_the_base_sink_in_the_outflow_view(size):
    """Common practice, no source: too near the sternum the septum slopes, base deep (positive). Re-aimed offset."""
    animal = animal_of(size)
    pose = standard_pose_of(size, NORMAL, OUTFLOW)
    offset = moved(animal, pose, Movement.SLIDE, -OFFSET_MM * animal.thorax.scale_ratio)

    assert _septum_deg(animal, offset) - _septum_deg(animal, pose) > 3.0


@pytest.mark.parametrize("size", SIZES)
def test_slide_to_the_spine_levels_a_sloping_septum(size):
    """Common practice, no source: a probe set down too near the sternum and rocked at the heart slopes the septum; a
    re-aimed slide to the spine brings it back to the slope of the standard view.
    """
    animal = animal_of(size)
    k = animal.thorax.scale_ratio
    pose = standard_pose_of(size, NORMAL, OUTFLOW)
    ventricle = animal_landmarks(animal, REST)[Landmark.LV_CENTRE]
    set_down = slid_with_frozen_handle(animal, pose, -OFFSET_MM * k)
    # The hand rocks until the ventricle is where it was across the picture.
    was, now = pose.to_probe(ventricle), set_down.to_probe(ventricle)
    rock = np.degrees(np.arctan2(now[0], now[2]) - np.arctan2(was[0], was[2]))
    faulty = moved(animal, set_down, Movement.ROCK, rock)
    mended = moved(animal, faulty, Movement.SLIDE, OFFSET_MM * k)
    standard, sloping, levelled = (_septum_deg(animal, p) for p in (pose, faulty, mended))

    assert sloping > standard + 3.0
    assert abs(levelled - standard) < 0.6 * abs(sloping - standard)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("level", ["papillary_muscles", "chordae", "mitral_valve", "aorta"])
def test_long_to_short_axis_is_a_quarter_turn_or_a_little_more(size, level):
    """Common practice, no source: 85 to 110 degrees clockwise from the four-chamber long axis."""
    turn = {
        step.movement: step.amount
        for step in difference(
            animal_of(size), standard_pose_of(size, NORMAL, FOUR_CHAMBER), standard_pose_of(size, NORMAL, SHORT + level)
        )
    }

    assert 85.0 <= turn[Movement.ROTATE] <= 110.0


@pytest.mark.parametrize("size", SIZES)
def test_outflow_lies_a_small_clockwise_turn_from_four_chambers(size):
    """Common practice, no source: a few degrees clockwise, less than the 40 seen in cattle (BRAUN2001, abstract)."""
    turn = {
        step.movement: step.amount
        for step in difference(
            animal_of(size), standard_pose_of(size, NORMAL, FOUR_CHAMBER), standard_pose_of(size, NORMAL, OUTFLOW)
        )
    }

    assert 0.0 < turn[Movement.ROTATE] < 40.0


LEVELS = {  # what tells the level on the way from apex to base, and its least area
    "papillary muscles": ((Tissue.PAPILLARY_CRANIAL, Tissue.PAPILLARY_CAUDAL), 30.0),
    "mitral valve": ((Tissue.MITRAL_SEPTAL_LEAFLET, Tissue.MITRAL_PARIETAL_LEAFLET), 3.0),
    "aorta and left atrium": ((Tissue.AORTA,), 60.0),
    "pulmonary artery": ((Tissue.RIGHT_PULMONARY_ARTERY,), 25.0),
}


@lru_cache
def _sweep(size):
    """Return at which tilts (degrees, from apex to base) each level is seen, from the chordal contact."""
    animal = animal_of(size)
    pose = standard_pose_of(size, NORMAL, SHORT + "chordae")
    seen: dict[str, list[int]] = {level: [] for level in LEVELS}
    for to_base in range(-20, 62, 3):
        picture = Polar(animal, moved(animal, pose, Movement.TILT, -to_base), 100.0 * animal.thorax.scale_ratio)
        for level, (tissues, least) in LEVELS.items():
            if picture.area_mm2(*tissues) > least:
                seen[level].append(to_base)
    return seen


@pytest.mark.parametrize("size", SIZES)
def test_sweep_passes_the_levels_in_order(size):
    """Common practice, no source: tilting to the base shows papillary muscles, (chordae,) mitral valve, aorta and left
    atrium, pulmonary artery, one after another.
    """
    seen = _sweep(size)
    first = [seen[level][0] for level in LEVELS]

    assert first == sorted(first)
    assert len(set(first)) == len(first)
    assert seen["papillary muscles"][-1] < seen["mitral valve"][0]  # between them: chordae alone


@lru_cache
def _la_ao(size, tilt_deg, seed=SEED):
    """Return LA:Ao, commissure-parallel, just after the aortic valve has shut, at a tilt off the standard plane."""
    animal = animal_of(size, seed=seed)
    k = animal.thorax.scale_ratio
    pose = moved(animal, standard_pose(animal, SHORT + "aorta"), Movement.TILT, tilt_deg)
    view = label_map(
        animal, still(Still.AFTER_AORTIC_CLOSURE), pose, depth_mm=90.0 * k, mm_per_px=0.5 * k, half_angle_deg=45.0
    )
    ratio = measure_la_ao_by_commissure(view)[2]
    assert ratio.value is not None, ratio.reason
    return ratio.value


@pytest.mark.parametrize("size", ["dog 3 kg", "dog 45 kg"])
def test_left_atrium_takes_about_1_4_aortic_diameters(size):
    """Common practice, no source: in the heart-base view of normal dogs 1.2 to 1.6 on average, valve just shut."""
    ratios = [_la_ao(size, 0.0, seed) for seed in range(SEED, SEED + 4)]

    assert 1.2 <= np.mean(ratios) <= 1.6
    assert max(ratios) <= 1.6


@pytest.mark.parametrize("tilt_deg", [-4.0, 4.0])
@pytest.mark.parametrize("size", SIZES)
def test_heart_base_cuts_the_atrium_at_its_widest(size, tilt_deg):
    """The standard plane stands in the middle of the plateau: 4 degrees either way change LA:Ao by a tenth at most."""
    assert _la_ao(size, tilt_deg) == pytest.approx(_la_ao(size, 0.0), rel=0.1)


@pytest.mark.parametrize("size", SIZES)
def test_outflow_view_meets_the_tip_of_the_open_septal_leaflet(size):
    """EPSS can be taken: the plane meets the tip within 2 mm of a 10 kg dog, and the aorta through its middle."""
    animal = animal_of(size)
    pose = standard_pose_of(size, NORMAL, OUTFLOW)
    k = animal.thorax.scale_ratio
    tip = animal_landmarks(animal, still(Still.EARLY_FILLING))[Landmark.MITRAL_SEPTAL_TIP]
    aorta = animal_landmarks(animal, REST)[Landmark.AORTIC_CENTRE]
    atrium = animal_landmarks(animal, still(Still.END_SYSTOLE))[Landmark.LA_CENTRE]

    assert abs(pose.to_probe(tip)[1]) <= 2.0 * k
    assert abs(pose.to_probe(aorta)[1]) <= 2.0 * k
    assert abs(pose.to_probe(atrium)[1]) <= 2.0 * k


@pytest.mark.parametrize("size", SIZES)
def test_atrial_and_ventricular_septum_lie_in_line(size):
    """Common practice, no source: in four chambers with a normal atrium the kink between them is 30 degrees at most."""
    animal = animal_of(size)
    pose = standard_pose_of(size, NORMAL, FOUR_CHAMBER)
    points = animal_landmarks(animal, REST)
    k = animal.thorax.scale_ratio
    crux = 0.5 * (points[Landmark.MITRAL_SEPTAL_HINGE] + points[Landmark.TRICUSPID_SEPTAL_HINGE])
    along = pose.to_probe(points[Landmark.FOSSA_OVALIS]) - pose.to_probe(crux)
    atrial_deg = np.degrees(np.arctan2(along[2], along[0]))
    caliper = measure_septal_slope(
        label_map(animal, REST, pose, depth_mm=95.0 * k, mm_per_px=0.6 * k, half_angle_deg=45.0)
    )

    assert abs(atrial_deg - caliper.value) <= 30.0
