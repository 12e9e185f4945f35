"""The chest: its wall holds the heart, its windows are open, and breathing shuts them."""

from dataclasses import replace
from itertools import pairwise

import array_api_strict
import numpy as np
import pytest

from fanlight.heart.animal import sample
from fanlight.heart.body_wall import skin_depth_mm, wall_depth_mm
from fanlight.heart.kinds import HeartClass
from fanlight.heart.landmarks import axes, landmarks
from fanlight.heart.lung import outside_notches_mm
from fanlight.heart.ribs import space_coordinate
from fanlight.heart.sample_heart import sample_heart
from fanlight.heart.skin import (
    SkinPlace,
    inward_normals,
    moved_along_space,
    place_of,
    point_at,
    points_at,
    way_between_mm,
)
from fanlight.heart.standard_poses import STANDARD_VIEWS, view_window
from fanlight.heart.thorax import REST, chest_labels, heart_shift_mm, sample_thorax
from fanlight.heart.thorax_fit import heart_surface_mm
from fanlight.heart.tissue import NOT_HEART, Tissue
from fanlight.heart.windows import Window, nearest_contact_mm
from fanlight.study import Landmark
from tests.heart.animals import ALL_CASES, SIZES, animal_of, standard_pose_of
from tests.heart.visible import Polar, depth_mm


def _heart_surface(animal):
    def tissue_at(at):
        x, y, z = (np.ascontiguousarray(at[..., i], dtype=np.float32) for i in range(3))
        return sample_heart(animal.anatomy, REST, x, y, z).tissue

    return heart_surface_mm(tissue_at, landmarks(animal.anatomy, REST), animal.thorax.scale_ratio)


def _line(animal, start, end, n=400, breath=0.0):
    at = start + np.linspace(0, 1, n)[:, None] * (end - start)
    x, y, z = (np.ascontiguousarray(at[:, i], dtype=np.float32) for i in range(3))
    return sample_thorax(animal.thorax, breath, x, y, z)


@pytest.mark.parametrize(("size", "heart"), ALL_CASES)
def test_chest_holds_the_whole_heart(size, heart):
    """No point of a healthy or dilated heart lies in the chest wall or behind the diaphragm."""
    animal = animal_of(size, heart)
    surface = _heart_surface(animal)
    depth = wall_depth_mm(animal.thorax.wall, *surface.T)
    tissue = sample_thorax(animal.thorax, 0.0, *surface.T.astype(np.float32)).tissue

    assert depth.min() > 0
    assert not np.isin(tissue, [Tissue.DIAPHRAGM, Tissue.LIVER, Tissue.OUTSIDE]).any()


@pytest.mark.parametrize(("size", "heart"), ALL_CASES)
@pytest.mark.parametrize(
    ("view", "least_mm", "most_mm"),
    [
        # At 10 kg. The asked-for depth is 6 to 12 mm in a 12 kg dog; half a probe's face more where the skin slopes.
        ("right_parasternal_short_axis_papillary_muscles", 5.0, 13.0),
        ("right_parasternal_short_axis_chordae", 5.0, 13.0),
        ("right_parasternal_long_axis_four_chamber", 5.0, 15.0),
        ("left_apical_four_chamber", 5.0, 17.0),  # the probe leans by 30 degrees or more: the way in is longer
    ],
)
def test_heart_lies_against_the_chest_wall(view, least_mm, most_mm, size, heart):
    """Along the beam the pericardium begins 6 to 12 mm under the skin, dilated hearts too; engineering judgement."""
    animal = animal_of(size, heart)
    pose = standard_pose_of(size, heart, view)
    way = np.arange(0.05, 40.0, 0.1)
    at = pose.origin_mm + way[:, None] * pose.z
    tissue = sample(animal, REST, *at.T.astype(np.float32)).tissue
    first = way[~np.isin(tissue, list(NOT_HEART))][0] / animal.thorax.scale_ratio

    assert least_mm <= first <= most_mm


@pytest.mark.parametrize(("size", "heart"), ALL_CASES)
def test_heart_rests_on_the_diaphragm(size, heart):
    """On the subcostal beam 9 mm of fat and dome (at 10 kg) part dome and heart at most; round a full sac more."""
    animal = animal_of(size, heart)
    pose = standard_pose_of(size, heart, "subcostal_outflow")
    k = animal.thorax.scale_ratio
    at = pose.origin_mm + np.arange(0.0, 120.0 * k, 0.1)[:, None] * pose.z
    tissue = sample(animal, REST, *at.T.astype(np.float32)).tissue
    heart_at = np.nonzero(~np.isin(tissue, list(NOT_HEART)))[0][0]
    dome_at = np.nonzero(np.isin(tissue[:heart_at], [Tissue.DIAPHRAGM, Tissue.LIVER]))[0][-1]

    assert 0.1 * (heart_at - dome_at) / k <= (13.0 if heart is HeartClass.EFFUSION else 9.0)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("window", [Window.RIGHT_PARASTERNAL, Window.LEFT_APICAL, Window.LEFT_CRANIAL])
def test_window_lies_in_its_spaces_beside_the_sternum(size, window):
    """Spaces as published: right 3 to 6, left apical 5 to 7, left cranial 3 to 4 (PIANTEDOSI, extract read)."""
    published = {
        Window.RIGHT_PARASTERNAL: (3, 6),
        Window.LEFT_APICAL: (5, 7),
        Window.LEFT_CRANIAL: (2, 4),  # one space forward as well: common practice, no source
    }
    animal = animal_of(size)
    thorax = animal.thorax
    contact = nearest_contact_mm(
        thorax.wall, thorax.ribs, window, landmarks(animal.anatomy, REST), axes(animal.anatomy, REST)
    )
    place = place_of(thorax.wall, thorax.ribs, contact)
    first, last = published[window]

    assert first <= int(np.floor(place.space)) <= last
    assert (contact[1] > thorax.wall.centre_y_mm) == (window is not Window.RIGHT_PARASTERNAL)
    assert place.depth_mm == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("window", list(Window))
def test_no_bone_under_the_middle_of_the_face(size, window):
    """Straight under a contact lie skin, muscle or cartilage, never rib or sternum."""
    animal = animal_of(size)
    thorax = animal.thorax
    contact = nearest_contact_mm(
        thorax.wall, thorax.ribs, window, landmarks(animal.anatomy, REST), axes(animal.anatomy, REST)
    )
    inward = inward_normals(thorax.wall, contact)
    tissue = _line(animal, contact, contact + inward * thorax.wall.thickness_mm).tissue

    assert not np.isin(tissue, [Tissue.RIB, Tissue.STERNUM]).any()
    assert (tissue == Tissue.CHEST_WALL).any()


def _free_of_lung(animal, view, breath):
    """Return the share of the heart in the fan of a standard view before which no lung lies."""
    pose = standard_pose_of(animal, HeartClass.NORMAL, view)
    beast = animal_of(animal)
    picture = Polar(beast, pose, depth_mm(beast, view), replace(REST, breath=breath))
    heart = ~np.isin(picture.tissue, list(NOT_HEART))
    lung = np.maximum.accumulate(picture.tissue == Tissue.LUNG, axis=0)
    return float(picture.pixel_mm2[heart & ~lung].sum() / picture.pixel_mm2[heart].sum())


LUNG_VIEWS = [view for view in STANDARD_VIEWS if view_window(view) is not Window.SUBCOSTAL]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("view", LUNG_VIEWS)
def test_quiet_breath_takes_an_edge_and_never_the_heart(view, size):
    """The window stays open through the first half of a breath in, and at its end a part of the heart is hidden.

    Engineering judgement, no source: a resting dog on a table with a cut-out loses an edge of the picture in
    inspiration, about 10 to 25 % at most contacts.
    """
    rest, quarter, half, full = (_free_of_lung(size, view, breath) for breath in (0.0, 0.25, 0.5, 1.0))

    assert rest > 0.8
    assert quarter > rest - 0.06
    assert half > rest - 0.13
    assert full > 0.5


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(
    "view",
    [
        "right_parasternal_long_axis_four_chamber",
        "right_parasternal_short_axis_mitral_valve",
        "right_parasternal_short_axis_aorta",
        "left_cranial_short_axis",
    ],
)
def test_deep_breath_goes_on_where_a_quiet_one_ends(view, size):
    """Panting and sighs (breath above 1) slide lung on over the window: a third of the heart is gone, or far more."""
    shares = [_free_of_lung(size, view, breath) for breath in (0.0, 1.0, 1.5, 2.5)]

    assert all(later < earlier + 0.03 for earlier, later in pairwise(shares[:3]))
    assert shares[-1] < 0.7 * shares[0]


@pytest.mark.parametrize("size", SIZES)
def test_clear_skin_round_the_standard_contacts(size):
    """At rest no lung lies under the wall within 10 mm (at 10 kg) of any standard contact, 15 mm of most."""
    animal = animal_of(size)
    thorax, k = animal.thorax, animal.thorax.scale_ratio
    clear = []
    for view in LUNG_VIEWS:
        pose = standard_pose_of(size, HeartClass.NORMAL, view)
        inward = inward_normals(thorax.wall, pose.origin_mm)
        first = np.cross(inward, [1.0, 0.0, 0.0])
        first /= np.linalg.norm(first)
        second = np.cross(inward, first)
        turns = np.radians(np.arange(0, 360, 15))[:, None, None]
        out = np.arange(0.0, 40.0, 0.5)[None, :, None] * k
        at = pose.origin_mm + inward * (thorax.wall.thickness_mm + k)
        at = at + out * (np.cos(turns) * first + np.sin(turns) * second)
        lung = outside_notches_mm(thorax.notches, 0.0, *np.moveaxis(at, -1, 0)) > 0.0
        clear.append(float(np.min(np.where(lung, out[..., 0], 40.0 * k)) / k))

    assert min(clear) >= 10.0
    assert np.median(clear) >= 15.0


@pytest.mark.parametrize(("size", "heart"), ALL_CASES)
def test_heart_does_not_press_into_the_wall_in_a_breath(size, heart):
    """Moved by the breath, the heart stays within a mm or two of the inner wall that it touches at rest."""
    animal = animal_of(size, heart)
    surface = _heart_surface(animal) + heart_shift_mm(animal.thorax, 1.0)

    assert wall_depth_mm(animal.thorax.wall, *surface.T).min() / animal.thorax.scale_ratio > -2.5


def test_breath_moves_heart_backwards_and_growing():
    """At the end of expiration the heart is where its landmarks say; a breath in draws it towards the tail."""
    thorax = animal_of("dog 10 kg").thorax

    assert np.all(heart_shift_mm(thorax, 0.0) == 0)
    assert heart_shift_mm(thorax, 1.0)[0] < heart_shift_mm(thorax, 0.5)[0] < 0


def test_layers_from_skin_to_lung_in_order():
    """From outside: nothing, wall with ribs, chest; away from the windows the chest is lung."""
    animal = animal_of("dog 10 kg")
    wall, ribs = animal.thorax.wall, animal.thorax.ribs
    on_rib = point_at(wall, ribs, SkinPlace(space=6.0, angle_deg=-110.0, depth_mm=-3.0))
    inward = inward_normals(wall, on_rib)
    tissue = _line(animal, on_rib, on_rib + 30.0 * inward).tissue
    seen = [Tissue(t) for t in tissue[np.insert(np.diff(tissue.astype(int)) != 0, 0, True)]]

    assert seen == [Tissue.OUTSIDE, Tissue.CHEST_WALL, Tissue.RIB, Tissue.CHEST_WALL, Tissue.LUNG]


def test_ribs_are_bone_above_and_cartilage_below():
    """Along one rib, bone changes to cartilage at the joint, and the sternum follows."""
    animal = animal_of("dog 10 kg")
    wall, ribs = animal.thorax.wall, animal.thorax.ribs
    angles = np.linspace(-100, 0, 200)
    at = points_at(wall, ribs, np.asarray(5.0), angles, np.asarray(0.6 * wall.thickness_mm))
    tissue = sample_thorax(animal.thorax, 0.0, *at.T.astype(np.float32)).tissue
    changes = [Tissue(t) for t in tissue[np.insert(np.diff(tissue.astype(int)) != 0, 0, True)]]

    assert changes == [Tissue.RIB, Tissue.CARTILAGE, Tissue.STERNUM]


def test_skin_places_and_points_are_each_others_inverse():
    """A place leads to its point and back, at any angle, space and depth."""
    thorax = animal_of("dog 10 kg").thorax
    rng = np.random.default_rng(5)
    for space, angle, depth in zip(
        rng.uniform(2, 9, 20), rng.uniform(-120, 120, 20), rng.uniform(-2, 4, 20), strict=True
    ):
        place = SkinPlace(space=space, angle_deg=angle, depth_mm=depth)
        point = point_at(thorax.wall, thorax.ribs, place)
        back = place_of(thorax.wall, thorax.ribs, point)

        assert (back.space, back.angle_deg, back.depth_mm) == pytest.approx((space, angle, depth), abs=1e-6)


def test_slide_runs_its_length_in_its_space_towards_the_back():
    """A slide of 12 mm: 12 mm of skin, same space, higher; the way back is as long."""
    thorax = animal_of("dog 10 kg").thorax
    start = SkinPlace(space=4.5, angle_deg=-45.0)
    end = moved_along_space(thorax.wall, thorax.ribs, start, 12.0)
    a, b = (point_at(thorax.wall, thorax.ribs, place) for place in (start, end))

    assert end.space == start.space
    assert b[2] > a[2]
    assert np.linalg.norm(b - a) == pytest.approx(12.0, rel=0.03)  # chord of a curved skin
    assert way_between_mm(thorax.wall, thorax.ribs, end, start.angle_deg) == pytest.approx(-12.0, abs=1e-9)


def test_slide_over_the_sternum_is_refused():
    """The message says what is possible."""
    thorax = animal_of("dog 10 kg").thorax
    with pytest.raises(ValueError, match="are possible"):
        moved_along_space(thorax.wall, thorax.ribs, SkinPlace(space=4.5, angle_deg=-10.0), -80.0)


def test_depth_under_the_skin_is_a_length():
    """Walking 5 mm straight in from the skin is 5 mm deeper, to 0.6 mm, worst where the wall is drawn in."""
    thorax = animal_of("dog 10 kg").thorax
    at = points_at(thorax.wall, thorax.ribs, np.asarray(4.5), np.linspace(-120, 120, 30), np.asarray(0.0))
    deeper = at + 5.0 * inward_normals(thorax.wall, at)

    assert skin_depth_mm(thorax.wall, *deeper.T) == pytest.approx(np.full(30, 5.0), rel=0.12)


def test_spaces_are_counted_from_the_head():
    """The space coordinate falls towards the head by one a rib pitch."""
    ribs = animal_of("dog 10 kg").thorax.ribs
    here = space_coordinate(ribs, np.asarray(0.0), np.asarray(0.0))
    ahead = space_coordinate(ribs, np.asarray(ribs.pitch_mm), np.asarray(0.0))

    assert here - ahead == pytest.approx(1.0)


@pytest.mark.parametrize("case", ["dog 10 kg", "cat 4 kg"])
def test_labels_of_many_moments_of_the_breath_are_those_of_each(case):
    """In wall, lung, fat, diaphragm and liver, from the end of expiration to a deep breath."""
    thorax = animal_of(case).thorax
    points = np.random.default_rng(5).uniform(-110, 110, (3, 20_000)).astype(np.float32) * np.float32(
        thorax.scale_ratio
    )
    breaths = [0.0, 0.02, 0.31, 1.0, 1.7]
    labels = chest_labels(thorax, breaths, *points)
    for breath, seen in zip(breaths, labels, strict=True):
        assert np.array_equal(seen, sample_thorax(thorax, breath, *points).tissue)
    assert (labels[0] != labels[-1]).sum() > 100
    assert {Tissue.LUNG, Tissue.FAT, Tissue.DIAPHRAGM, Tissue.LIVER, Tissue.RIB, Tissue.OUTSIDE} <= set(labels.flat)


def test_sampling_is_the_same_in_strict_array_code():
    """The array API's strict reference library gives the labels and coordinates of NumPy, in single precision."""
    thorax = animal_of("dog 10 kg").thorax
    points = np.random.default_rng(3).uniform(-90, 90, (3, 40, 25)).astype(np.float32)
    here = sample_thorax(thorax, 0.3, *points)
    there = sample_thorax(thorax, 0.3, *(array_api_strict.asarray(p) for p in points))

    assert np.array_equal(here.tissue, np.asarray(there.tissue))
    assert here.edge_mm.dtype == np.float32
    assert here.material_mm[0].dtype == np.float32
    np.testing.assert_allclose(here.edge_mm, np.asarray(there.edge_mm), atol=1e-3)
    for mine, theirs in zip(here.material_mm, there.material_mm, strict=True):
        np.testing.assert_allclose(mine, np.asarray(theirs), atol=1e-3)


def test_landmark_of_the_right_ventricle_lies_on_the_right():
    """The frame is the animal's: X cranial, Y left, Z dorsal."""
    points = landmarks(animal_of("dog 10 kg").anatomy, REST)

    assert points[Landmark.RV_CENTRE][1] < points[Landmark.LV_CENTRE][1]
    assert points[Landmark.LV_APEX][2] < points[Landmark.MITRAL_CENTRE][2]
