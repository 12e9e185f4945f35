"""The chest: its wall holds the heart, its windows are open, and breathing shuts them."""

import array_api_strict
import numpy as np
import pytest

from fanlight.heart.body_wall import skin_depth_mm, wall_depth_mm
from fanlight.heart.landmark import Landmark
from fanlight.heart.landmarks import axes, landmarks
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
from fanlight.heart.thorax import REST, heart_shift_mm, sample_thorax
from fanlight.heart.thorax_fit import heart_surface_mm
from fanlight.heart.tissue import Tissue
from fanlight.heart.windows import Window, nearest_contact_mm
from tests.heart.animals import ALL_CASES, SIZES, animal_of


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
def test_heart_touches_the_wall_at_the_windows(size, heart):
    """At the right and left apical window little lies between heart and chest wall, with disease too."""
    animal = animal_of(size, heart)
    right, apical, _ = (gap / animal.thorax.scale_ratio for gap in animal.thorax.gaps_mm)

    assert 0 < right < 14  # mm at 10 kg: less than one and a half walls. Engineering judgement
    assert 0 < apical < 14


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


@pytest.mark.parametrize("window", [Window.RIGHT_PARASTERNAL, Window.LEFT_APICAL, Window.LEFT_CRANIAL])
def test_breathing_in_slides_lung_over_the_window(window):
    """Lung comes nearer to the contact with every tenth of a breath, and never leaves on the way in."""
    animal = animal_of("dog 10 kg")
    thorax = animal.thorax
    contact = nearest_contact_mm(
        thorax.wall, thorax.ribs, window, landmarks(animal.anatomy, REST), axes(animal.anatomy, REST)
    )
    around = contact + 20.0 * np.random.default_rng(7).normal(size=(4000, 3))
    x, y, z = around.T.astype(np.float32)
    nearest, share = [], []
    for breath in np.linspace(0, 1, 6):
        lung = sample_thorax(thorax, float(breath), x, y, z).tissue == Tissue.LUNG
        nearest.append(np.linalg.norm(around[lung] - contact, axis=-1).min())
        share.append(lung.mean())

    assert np.all(np.diff(nearest) <= 1e-6)
    assert nearest[-1] < 12.0 < nearest[0]
    assert share[-1] > 1.3 * share[0]


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
    """Walking 5 mm straight in from the skin is 5 mm deeper, to 5 %: a first-order distance, right near the wall."""
    thorax = animal_of("dog 10 kg").thorax
    at = points_at(thorax.wall, thorax.ribs, np.asarray(4.5), np.linspace(-120, 120, 30), np.asarray(0.0))
    deeper = at + 5.0 * inward_normals(thorax.wall, at)

    assert skin_depth_mm(thorax.wall, *deeper.T) == pytest.approx(np.full(30, 5.0), rel=0.05)


def test_spaces_are_counted_from_the_head():
    """The space coordinate falls towards the head by one a rib pitch."""
    ribs = animal_of("dog 10 kg").thorax.ribs
    here = space_coordinate(ribs, np.asarray(0.0), np.asarray(0.0))
    ahead = space_coordinate(ribs, np.asarray(ribs.pitch_mm), np.asarray(0.0))

    assert here - ahead == pytest.approx(1.0)


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
