"""Every standard view shows what it must and not what it must not, on every animal, through an open window."""

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest

from fanlight.heart.animal import animal_axes, animal_landmarks, sample
from fanlight.heart.axis import Axis
from fanlight.heart.body_wall import skin_depth_mm
from fanlight.heart.cable_end import direction_word, marker_clock_hours
from fanlight.heart.cycle import Still, still
from fanlight.heart.kinds import HeartClass
from fanlight.heart.movements import lean_deg
from fanlight.heart.ribs import space_coordinate
from fanlight.heart.skin import inward_normals
from fanlight.heart.standard_poses import STANDARD_VIEWS, standard_pose, view_window
from fanlight.heart.thorax import REST
from fanlight.heart.tissue import Tissue
from fanlight.heart.windows import Window
from fanlight.reference.load import load_house
from fanlight.reference.views import read_views
from fanlight.study import Landmark
from tests.heart.animals import ALL_CASES, SIZES, animal_of, standard_pose_of
from tests.heart.visible import Polar, depth_mm, half_sector_deg

# Areas of a heart of the size that a 10 kg dog has. Engineering judgement: a cavity is seen from a disc of 9 mm, a
# vessel from 6 mm, a leaflet from 1 mm²; a cavity is not seen below a disc of 5 mm, a leaflet below 2 mm.
CAVITY, VESSEL, WALL, LEAFLET = 64.0, 28.0, 28.0, 1.0
NO_CAVITY, NO_LEAFLET = 20.0, 3.0
NO_PAPILLARY = 35.0  # half of a papillary muscle in the short axis
MITRAL = (Tissue.MITRAL_SEPTAL_LEAFLET, Tissue.MITRAL_PARIETAL_LEAFLET)
PAPILLARY = (Tissue.PAPILLARY_CRANIAL, Tissue.PAPILLARY_CAUDAL)
# The moment at which the trade judges a view, where it is not end-diastole (common practice, no source).
MOMENTS = {
    "right_parasternal_short_axis_mitral_valve": still(Still.EARLY_FILLING),
    "right_parasternal_short_axis_aorta": still(Still.AFTER_AORTIC_CLOSURE),
}

# view: (what is seen, least mm²), (what is not, most mm²), source of the list. Sources: THOMAS1993, abstract read;
# HOLLAND2020 and BRUYETTE2020, extracts read; DARKE1993, abstract read; else common practice, no source.
SHOWS: dict[str, tuple[dict[tuple[Tissue, ...], float], dict[tuple[Tissue, ...], float], str]] = {
    "right_parasternal_long_axis_four_chamber": (
        {
            (Tissue.RV_CAVITY,): CAVITY,
            (Tissue.RA_CAVITY,): CAVITY,
            (Tissue.SEPTUM,): WALL,
            (Tissue.TRICUSPID_LEAFLET,): LEAFLET,
            (Tissue.MITRAL_SEPTAL_LEAFLET,): LEAFLET,
            (Tissue.MITRAL_PARIETAL_LEAFLET,): LEAFLET,
            (Tissue.LV_CAVITY,): CAVITY,
            (Tissue.LV_FREE_WALL,): WALL,
            (Tissue.LA_CAVITY,): CAVITY,
            (Tissue.LA_WALL,): 5.0,
        },
        {(Tissue.AORTA, Tissue.AORTIC_CUSP): NO_CAVITY, PAPILLARY: NO_PAPILLARY, (Tissue.PULMONARY_TRUNK,): NO_CAVITY},
        "THOMAS1993, HOLLAND2020",
    ),
    "right_parasternal_long_axis_outflow": (
        {
            (Tissue.LV_CAVITY,): CAVITY,
            (Tissue.SEPTUM,): WALL,
            (Tissue.AORTA,): CAVITY,
            (Tissue.AORTIC_CUSP,): LEAFLET,
            (Tissue.LA_CAVITY,): CAVITY,
            (Tissue.MITRAL_SEPTAL_LEAFLET,): LEAFLET,
            (Tissue.RV_CAVITY,): CAVITY,
        },
        {PAPILLARY: NO_PAPILLARY, (Tissue.PULMONARY_TRUNK,): NO_CAVITY},
        "THOMAS1993, BRUYETTE2020",
    ),
    "right_parasternal_short_axis_apex": (
        {(Tissue.LV_CAVITY,): CAVITY, (Tissue.LV_FREE_WALL,): WALL},
        {PAPILLARY: NO_PAPILLARY, MITRAL: NO_LEAFLET, (Tissue.LA_CAVITY, Tissue.AORTA): NO_CAVITY},
        "THOMAS1993",
    ),
    "right_parasternal_short_axis_papillary_muscles": (
        {
            (Tissue.PAPILLARY_CRANIAL,): WALL,
            (Tissue.PAPILLARY_CAUDAL,): WALL,
            (Tissue.RV_CAVITY,): CAVITY,
            (Tissue.SEPTUM,): WALL,
            (Tissue.LV_FREE_WALL,): WALL,
            (Tissue.LV_CAVITY,): CAVITY,
        },
        {MITRAL: NO_LEAFLET, (Tissue.LA_CAVITY, Tissue.AORTA): NO_CAVITY},
        "THOMAS1993, HOLLAND2020",
    ),
    "right_parasternal_short_axis_chordae": (
        {(Tissue.LV_CAVITY,): CAVITY, (Tissue.RV_CAVITY,): CAVITY},
        {PAPILLARY: NO_PAPILLARY, MITRAL: NO_LEAFLET, (Tissue.LA_CAVITY, Tissue.AORTA): NO_CAVITY},
        "THOMAS1993",
    ),
    "right_parasternal_short_axis_mitral_valve": (
        {
            (Tissue.LV_CAVITY,): CAVITY,
            (Tissue.MITRAL_SEPTAL_LEAFLET,): LEAFLET,
            (Tissue.MITRAL_PARIETAL_LEAFLET,): LEAFLET,
            (Tissue.RV_CAVITY,): CAVITY,
        },
        {PAPILLARY: NO_PAPILLARY, (Tissue.AORTA, Tissue.AORTIC_CUSP): NO_CAVITY},
        "THOMAS1993",
    ),
    "right_parasternal_short_axis_aorta": (
        {
            (Tissue.AORTA,): CAVITY,
            (Tissue.AORTIC_CUSP,): LEAFLET,
            (Tissue.LA_CAVITY,): CAVITY,
            (Tissue.LEFT_AURICLE,): VESSEL,
            (Tissue.RA_CAVITY,): CAVITY,
            (Tissue.RV_OUTFLOW, Tissue.RV_CAVITY): CAVITY,
        },
        {
            (Tissue.SEPTUM, Tissue.LV_CAVITY): NO_CAVITY,
            MITRAL: NO_LEAFLET,
            (Tissue.RIGHT_PULMONARY_ARTERY,): NO_CAVITY,
        },
        "HOLLAND2020, BRUYETTE2020",
    ),
    "right_parasternal_short_axis_pulmonary_artery": (
        {
            (Tissue.RV_OUTFLOW,): CAVITY,
            (Tissue.PULMONIC_CUSP,): LEAFLET,
            (Tissue.PULMONARY_TRUNK,): CAVITY,
            (Tissue.RIGHT_PULMONARY_ARTERY,): VESSEL,
            (Tissue.AORTA,): CAVITY,
        },
        {(Tissue.LV_CAVITY,): CAVITY},
        "THOMAS1993, HOLLAND2020",
    ),
    "left_apical_four_chamber": (
        {
            (Tissue.LV_CAVITY,): CAVITY,
            (Tissue.RV_CAVITY,): CAVITY,
            MITRAL: LEAFLET,
            (Tissue.TRICUSPID_LEAFLET,): LEAFLET,
            (Tissue.LA_CAVITY,): CAVITY,
            (Tissue.RA_CAVITY,): CAVITY,
            (Tissue.SEPTUM,): WALL,
        },
        {(Tissue.AORTA, Tissue.AORTIC_CUSP): NO_CAVITY},
        "THOMAS1993",
    ),
    "left_apical_four_chamber_right_heart": (
        {
            (Tissue.RV_CAVITY,): CAVITY,
            (Tissue.RV_WALL,): WALL,
            (Tissue.TRICUSPID_LEAFLET,): LEAFLET,
            (Tissue.RA_CAVITY,): CAVITY,
            (Tissue.LV_CAVITY,): CAVITY,
            (Tissue.LA_CAVITY,): CAVITY,
        },
        {(Tissue.AORTA, Tissue.AORTIC_CUSP): NO_CAVITY},
        "common practice, no source",
    ),
    "left_apical_five_chamber": (
        {
            (Tissue.LV_CAVITY,): CAVITY,
            (Tissue.AORTA,): CAVITY,
            (Tissue.AORTIC_CUSP,): LEAFLET,
            MITRAL: LEAFLET,
            (Tissue.LA_CAVITY,): CAVITY,
        },
        {},
        "THOMAS1993",
    ),
    "left_apical_two_chamber": (
        {(Tissue.LV_CAVITY,): CAVITY, MITRAL: LEAFLET, (Tissue.LA_CAVITY,): CAVITY, (Tissue.LEFT_AURICLE,): VESSEL},
        {(Tissue.RV_CAVITY,): NO_CAVITY, (Tissue.RA_CAVITY,): NO_CAVITY, (Tissue.AORTA,): NO_CAVITY},
        "THOMAS1993; COTE2011",
    ),
    "left_apical_three_chamber": (
        {
            (Tissue.LV_CAVITY,): CAVITY,
            (Tissue.LA_CAVITY,): CAVITY,
            (Tissue.AORTA,): CAVITY,
            (Tissue.AORTIC_CUSP,): LEAFLET,
            MITRAL: LEAFLET,
        },
        {(Tissue.RA_CAVITY,): NO_CAVITY},
        "common practice, no source",
    ),
    "left_cranial_long_axis_aorta": (
        {
            (Tissue.AORTA,): 150.0,
            (Tissue.AORTIC_CUSP,): LEAFLET,
            (Tissue.LV_CAVITY,): CAVITY,
            (Tissue.LA_CAVITY,): CAVITY,
        },
        {},
        "THOMAS1993",
    ),
    "left_cranial_long_axis_right_inflow": (
        {(Tissue.RA_CAVITY,): CAVITY, (Tissue.TRICUSPID_LEAFLET,): LEAFLET, (Tissue.RV_CAVITY,): CAVITY},
        {
            (Tissue.AORTA, Tissue.AORTIC_CUSP): NO_CAVITY,
            (Tissue.LA_CAVITY,): NO_CAVITY,
            (Tissue.RIGHT_AURICLE,): CAVITY,
        },
        "THOMAS1993; without atrium and auricle: common practice, no source",
    ),
    "left_cranial_long_axis_right_auricle": (
        {
            (Tissue.RA_CAVITY,): CAVITY,
            (Tissue.TRICUSPID_LEAFLET,): LEAFLET,
            (Tissue.RIGHT_AURICLE,): VESSEL,
            (Tissue.CRANIAL_VENA_CAVA, Tissue.CAUDAL_VENA_CAVA): 10.0,
        },
        {},
        "common practice, no source",
    ),
    "left_cranial_long_axis_right_outflow": (
        {(Tissue.RV_OUTFLOW,): 20.0, (Tissue.PULMONIC_CUSP,): LEAFLET, (Tissue.PULMONARY_TRUNK,): CAVITY},
        {(Tissue.AORTA,): 40.0},
        "THOMAS1993",
    ),
    "left_cranial_short_axis": (
        {
            (Tissue.AORTA,): CAVITY,
            (Tissue.AORTIC_CUSP,): LEAFLET,
            (Tissue.RA_CAVITY,): CAVITY,
            (Tissue.TRICUSPID_LEAFLET,): LEAFLET,
            (Tissue.RV_CAVITY, Tissue.RV_OUTFLOW): CAVITY,
            (Tissue.PULMONIC_CUSP,): LEAFLET,
            (Tissue.PULMONARY_TRUNK,): CAVITY,
        },
        {(Tissue.LV_CAVITY,): CAVITY},  # the chamber; a rim of outflow tract may show in the aortic ring
        "THOMAS1993",
    ),
    "subcostal_outflow": (
        {(Tissue.LIVER,): VESSEL, (Tissue.LV_CAVITY,): CAVITY, (Tissue.AORTIC_CUSP,): LEAFLET, (Tissue.AORTA,): CAVITY},
        {},
        "DARKE1993",
    ),
}
# What the model does not show where the trade expects it: reported, not fitted. (view, case) -> why.
AURICLE_BEHIND_LUNG = "in the plane, but lung lies beside the free wall on its way"
MUSCLE = "the caudal papillary muscle lies in the plane that holds aorta, septal leaflet and left atrium"
GAPS = {
    ("left_apical_two_chamber", "dog 10 kg, la_enlarged"): AURICLE_BEHIND_LUNG,
    ("left_apical_two_chamber", "dog 10 kg, mitral_disease"): AURICLE_BEHIND_LUNG,
    ("left_apical_two_chamber", "dog 10 kg, thick_walls"): AURICLE_BEHIND_LUNG,
    ("left_apical_two_chamber", "dog 10 kg, right_overload"): "the enlarged right ventricle reaches round the septum",
    ("left_apical_two_chamber", "dog 10 kg, effusion"): "a strip of right ventricle is seen",
    ("right_parasternal_long_axis_outflow", "dog 10 kg, lv_dilated"): MUSCLE,
    ("right_parasternal_long_axis_outflow", "dog 10 kg, right_overload"): MUSCLE,
    ("left_cranial_long_axis_right_auricle", "dog 10 kg, effusion"): "the plane only grazes the cranial vena cava",
    ("left_cranial_short_axis", "cat 4 kg, normal"): "the tricuspid valve lies nearer to the apex than the plane",
}


@lru_cache(maxsize=512)
def _picture(size: str, heart: HeartClass, view: str) -> Polar:
    animal = animal_of(size, heart)
    pose = standard_pose_of(size, heart, view)
    return Polar(animal, pose, depth_mm(animal, view), MOMENTS.get(view, REST), half_sector_deg(view))


def _cases():
    rows = []
    for view in STANDARD_VIEWS:
        for size, heart in ALL_CASES:
            why = GAPS.get((view, f"{size}, {heart.value}"))
            marks = [pytest.mark.xfail(reason=why, strict=True)] if why else []
            rows.append(pytest.param(view, size, heart, marks=marks, id=f"{view}-{size}-{heart.value}"))
    return rows


def test_every_view_of_the_tables_has_a_pose_and_a_list():
    """The views that this room knows are those of the view tables, in window and name."""
    views = read_views(load_house())

    assert set(STANDARD_VIEWS) == set(views) == set(SHOWS)
    assert all(view_window(key).value == view.window for key, view in views.items())


@pytest.mark.parametrize(("view", "size", "heart"), _cases())
def test_view_shows_what_it_must_and_hides_what_it_must_not(view, size, heart):
    """Seen along free lines from the face, each structure of the list has its least area, the others at most theirs."""
    picture = _picture(size, heart, view)
    shows, hides, _ = SHOWS[view]
    missing = {names: area for names, least in shows.items() if (area := picture.area_mm2(*names)) < least}
    intruding = {names: area for names, most in hides.items() if (area := picture.area_mm2(*names)) > most}

    assert not missing
    assert not intruding


@pytest.mark.parametrize(("size", "heart"), ALL_CASES)
@pytest.mark.parametrize("view", STANDARD_VIEWS)
def test_probe_stands_on_skin_within_reach_of_a_hand(view, size, heart):
    """The face lies on the skin, in the middle part of a space, and the probe leans 60 degrees at most."""
    animal = animal_of(size, heart)
    pose = standard_pose_of(size, heart, view)
    thorax = animal.thorax
    place = float(space_coordinate(thorax.ribs, pose.origin_mm[0], pose.origin_mm[2])) % 1.0

    assert abs(float(skin_depth_mm(thorax.wall, *pose.origin_mm))) < 1e-6
    assert lean_deg(animal, pose) <= 60.0
    if view_window(view) is not Window.SUBCOSTAL:
        assert 0.4 - 1e-6 <= place <= 0.6 + 1e-6  # a rib begins 0.32 of the pitch from the middle


# view, valve, direction of flow, its sense along the beam, point on the beam
ALIGNED = [
    ("left_apical_four_chamber", Axis.MITRAL_INFLOW, -1, Landmark.MITRAL_CENTRE),
    ("left_apical_five_chamber", Axis.AORTIC_OUTFLOW, 1, Landmark.AORTIC_CENTRE),
    ("left_cranial_long_axis_right_inflow", Axis.TRICUSPID_INFLOW, -1, Landmark.TRICUSPID_CENTRE),
    ("left_cranial_long_axis_right_outflow", Axis.PULMONIC_OUTFLOW, 1, Landmark.PULMONIC_CENTRE),
]


@pytest.mark.parametrize(("size", "heart"), ALL_CASES)
@pytest.mark.parametrize(("view", "flow", "sense", "valve"), ALIGNED, ids=[row[0] for row in ALIGNED])
def test_flow_is_met_within_25_degrees(view, flow, sense, valve, size, heart):
    """The line from the face through the valve meets the flow at 25 degrees or less: the project's own requirement."""
    animal = animal_of(size, heart)
    pose = standard_pose_of(size, heart, view)
    line = animal_landmarks(animal, REST)[valve] - pose.origin_mm
    cosine = sense * line @ animal_axes(animal, REST)[flow] / np.linalg.norm(line)

    assert np.degrees(np.arccos(cosine)) <= 25.0
    assert abs(line @ pose.y) < 0.2 * np.linalg.norm(line)  # and the valve lies in the picture


def _right_of(picture, names, others):
    return picture.centre_mm(*names)[0] > picture.centre_mm(*others)[0]


@pytest.mark.parametrize(("size", "heart"), ALL_CASES)
def test_left_and_right_of_the_screen(size, heart):
    """Heart base at screen right in right views (THOMAS1993), left heart at screen right from the apex (COTE2011)."""
    long_axis = _picture(size, heart, "right_parasternal_long_axis_four_chamber")
    outflow = _picture(size, heart, "right_parasternal_long_axis_outflow")
    base = _picture(size, heart, "right_parasternal_short_axis_aorta")
    apical = _picture(size, heart, "left_apical_four_chamber")

    assert _right_of(long_axis, [Tissue.LA_CAVITY], [Tissue.LV_CAVITY])
    assert _right_of(outflow, [Tissue.AORTA], [Tissue.LV_CAVITY])
    assert _right_of(base, [Tissue.PULMONARY_TRUNK, Tissue.RV_OUTFLOW], [Tissue.RA_CAVITY])
    assert _right_of(apical, [Tissue.LV_CAVITY], [Tissue.RV_CAVITY])
    assert _right_of(apical, [Tissue.LA_CAVITY], [Tissue.RA_CAVITY])


@pytest.mark.parametrize(("size", "heart"), ALL_CASES)
def test_right_heart_is_near_the_right_window_and_base_far_from_the_apex(size, heart):
    """From the right the right ventricle lies nearer than the left; from the apex the atria lie deepest."""
    long_axis = _picture(size, heart, "right_parasternal_long_axis_four_chamber")
    base = _picture(size, heart, "right_parasternal_short_axis_aorta")
    apical = _picture(size, heart, "left_apical_four_chamber")

    assert long_axis.centre_mm(Tissue.RV_CAVITY)[1] < long_axis.centre_mm(Tissue.LV_CAVITY)[1]
    assert base.centre_mm(Tissue.AORTA)[1] < base.centre_mm(Tissue.LA_CAVITY)[1]
    assert apical.centre_mm(Tissue.LV_CAVITY)[1] < apical.centre_mm(Tissue.LA_CAVITY)[1]


@pytest.mark.parametrize("size", SIZES)
def test_right_heart_stands_in_the_middle_when_the_apical_view_is_turned_to_it(size):
    """Common practice, no source: right atrium and ventricle in the middle, where four chambers put the left heart."""
    both = [Tissue.RV_CAVITY, Tissue.RA_CAVITY]
    across_mm = [
        abs(_picture(size, HeartClass.NORMAL, view).centre_mm(*both)[0])
        for view in ("left_apical_four_chamber_right_heart", "left_apical_four_chamber")
    ]

    assert across_mm[0] < 0.6 * across_mm[1]


@pytest.mark.parametrize("size", SIZES)
def test_cavity_at_the_apex_is_far_smaller_than_at_the_papillary_muscles(size):
    """Common practice, no source: by size, not by the muscles alone, the two levels are told apart."""
    inside = [Tissue.LV_CAVITY, *PAPILLARY]
    apex, middle = (
        _picture(size, HeartClass.NORMAL, f"right_parasternal_short_axis_{level}").area_mm2(*inside)
        for level in ("apex", "papillary_muscles")
    )

    assert apex < 0.5 * middle


@pytest.mark.parametrize("size", SIZES)
def test_heart_base_shows_cusps_at_the_end_of_diastole_too(size):
    """Common practice, no source: the three shut cusps are seen through diastole, though the base moves."""
    view = "right_parasternal_short_axis_aorta"
    picture = Polar(animal_of(size), standard_pose_of(size, HeartClass.NORMAL, view), depth_mm(animal_of(size), view))

    assert picture.area_mm2(Tissue.AORTIC_CUSP) >= 5.0 * LEAFLET


# Common practice, no source: where the marker stands on the clock seen from the cable end, 12 = dorsal.
CLOCK = [
    ("right_parasternal_long_axis_four_chamber", 11.0, 2.0),
    ("right_parasternal_long_axis_outflow", 0.0, 3.0),
    ("right_parasternal_short_axis_papillary_muscles", 3.0, 5.0),
    ("right_parasternal_short_axis_chordae", 3.0, 5.0),
    ("right_parasternal_short_axis_mitral_valve", 3.0, 5.0),
    ("right_parasternal_short_axis_aorta", 3.0, 5.5),
    ("left_cranial_long_axis_aorta", 8.0, 10.0),
]


OFF_CLOCK = {
    ("left_cranial_long_axis_aorta", size): "to cut the left atrium too, the marker stands a little before 8"
    for size in ("dog 3 kg", "dog 10 kg", "dog 25 kg", "dog 45 kg")
}


def _clock_cases():
    for view, first, last in CLOCK:
        for size in SIZES:
            why = OFF_CLOCK.get((view, size))
            marks = [pytest.mark.xfail(reason=why, strict=True)] if why else []
            yield pytest.param(view, first, last, size, marks=marks, id=f"{view}-{size}")


@pytest.mark.parametrize(("view", "first", "last", "size"), list(_clock_cases()))
def test_marker_on_the_clock(view, first, last, size):
    """Long axis 12 to 1, outflow 1 to 2, short axis about 4, left cranial 9, each within an hour; no source."""
    pose = standard_pose_of(size, HeartClass.NORMAL, view)
    hours = marker_clock_hours(pose, pose.z)

    assert (hours - first) % 12.0 <= (last - first) % 12.0


def test_clock_and_compass_agree_with_their_definition():
    """Right side: 3 = cranial; left side: 9 = cranial; 12 = dorsal on both."""
    animal = animal_of("dog 10 kg")
    right = standard_pose_of("dog 10 kg", HeartClass.NORMAL, "right_parasternal_long_axis_four_chamber")
    for beam, cranial_hours in ((np.array([0.0, 1.0, 0.0]), 3.0), (np.array([0.0, -1.0, 0.0]), 9.0)):
        to_head = replace(right, axes=np.column_stack([np.eye(3)[0], np.cross(beam, np.eye(3)[0]), beam]))
        to_back = replace(right, axes=np.column_stack([np.eye(3)[2], np.cross(beam, np.eye(3)[2]), beam]))

        assert marker_clock_hours(to_head, beam) == pytest.approx(cranial_hours)
        assert marker_clock_hours(to_back, beam) % 12.0 == pytest.approx(0.0, abs=1e-9)
    assert direction_word(inward_normals(animal.thorax.wall, right.origin_mm)).startswith("left")


@pytest.mark.parametrize("size", SIZES)
def test_planes_hold_their_landmarks(size):
    """Long-axis planes run through apex and valve, short-axis planes lie square to the ventricle's axis."""
    animal = animal_of(size)
    points, axes = animal_landmarks(animal, REST), animal_axes(animal, REST)
    k = animal.thorax.scale_ratio

    def off(view, name, places=points):
        pose = standard_pose_of(size, HeartClass.NORMAL, view)
        return abs(float((places[name] - pose.origin_mm) @ pose.y)) / k

    filling = animal_landmarks(animal, still(Still.EARLY_FILLING))
    assert off("right_parasternal_long_axis_four_chamber", Landmark.LV_APEX) < 1e-6
    assert off("right_parasternal_long_axis_four_chamber", Landmark.MITRAL_CENTRE) < 1e-6
    assert off("right_parasternal_long_axis_outflow", Landmark.AORTIC_CENTRE) < 2.0
    assert off("right_parasternal_long_axis_outflow", Landmark.MITRAL_SEPTAL_TIP, filling) < 2.5
    for view in STANDARD_VIEWS[3:6]:
        pose = standard_pose_of(size, HeartClass.NORMAL, view)
        assert abs(float(pose.y @ axes[Axis.LV_LONG])) > np.cos(np.radians(8.0))


@pytest.mark.parametrize(("size", "heart"), ALL_CASES)
def test_no_lung_or_rib_over_the_left_atrium(size, heart):
    """In the long axis nothing of the left atrium lies behind lung, rib or sternum."""
    assert _picture(size, heart, "right_parasternal_long_axis_four_chamber").hidden_fraction(Tissue.LA_CAVITY) < 0.02


@pytest.mark.parametrize("size", SIZES)
def test_atrial_septum_is_seen_in_four_chambers(size):
    """The atrial septum crosses the picture (THOMAS1993): 5 mm², half of its length at 1 mm thickness, is asked for."""
    picture = _picture(size, HeartClass.NORMAL, "right_parasternal_long_axis_four_chamber")

    assert picture.area_mm2(Tissue.ATRIAL_SEPTUM) >= 5.0


@pytest.mark.parametrize(("size", "heart"), ALL_CASES)
def test_chordae_are_seen_at_their_level(size, heart):
    """Threads too fine for the coarse picture: sampled at a fifth of a mm across the ventricle."""
    animal = animal_of(size, heart)
    pose = standard_pose_of(size, heart, "right_parasternal_short_axis_chordae")
    points = animal_landmarks(animal, REST)
    middle = pose.to_probe(points[Landmark.LV_CENTRE])
    reach = 0.6 * np.linalg.norm(points[Landmark.MITRAL_CENTRE] - points[Landmark.LV_CENTRE])
    across = np.arange(-reach, reach, 0.2)
    right, down = np.meshgrid(middle[0] + across, middle[2] + across)
    at = pose.to_patient(np.stack([right, np.zeros_like(right), down], axis=-1))
    x, y, z = (np.ascontiguousarray(at[..., i], dtype=np.float32) for i in range(3))

    assert (sample(animal, REST, x, y, z).tissue == Tissue.MITRAL_CHORDAE).any()


def test_unknown_view_is_named_with_the_known_ones():
    """The message lists what there is."""
    with pytest.raises(ValueError, match=r"no standard view is called 'four_chambers'.*subcostal_outflow"):
        standard_pose(animal_of("dog 10 kg"), "four_chambers")


@pytest.mark.parametrize("moment", [Still.EARLY_FILLING, Still.ATRIAL_KICK])
@pytest.mark.parametrize("size", SIZES)
def test_mitral_leaflets_are_two_arcs_through_most_of_filling(size, moment):
    """At the mitral level both leaflets are cut while blood flows in, and neither papillary muscle nor aorta."""
    view = "right_parasternal_short_axis_mitral_valve"
    animal = animal_of(size)
    picture = Polar(animal, standard_pose_of(size, HeartClass.NORMAL, view), depth_mm(animal, view), still(moment))

    # At the A peak the parietal leaflet, the shorter one, may just end above the plane.
    if moment is Still.EARLY_FILLING:
        assert picture.area_mm2(Tissue.MITRAL_PARIETAL_LEAFLET) >= LEAFLET
    assert picture.area_mm2(Tissue.MITRAL_SEPTAL_LEAFLET) >= LEAFLET
    assert picture.area_mm2(*PAPILLARY) < NO_PAPILLARY
    assert picture.area_mm2(Tissue.AORTA, Tissue.AORTIC_CUSP) < NO_CAVITY
