"""A beam whose shape is held for some moments, against the same beam asked for anew at each of them.

Compared is what a spectrum would show in the mean over many draws: a bell for each place about its velocity, as wide as
window, passage and turbulence spread it, as high as its echo is loud. One draw says less: its speckle is another.
"""

from dataclasses import replace

import numpy as np
import pytest

from fanlight.heart.cycle import state_at
from fanlight.heart.kinds import HeartClass
from fanlight.heart.left_ventricle import base_motion
from fanlight.heart.standard_poses import standard_pose
from fanlight.heart.tissue import MYOCARDIUM, Tissue
from fanlight.simulate.machine.animal_scene import scene_of
from fanlight.simulate.machine.console import default_console
from fanlight.simulate.machine.probe import default_probe
from fanlight.simulate.spectral.spectral_alike import ALIKE, PLACED_MM, placed_alike, shaped_alike
from fanlight.simulate.spectral.spectral_beam import places_of
from fanlight.simulate.spectral.spectral_body import SpectralBody
from fanlight.simulate.spectral.spectral_hold import HeldBeam, Sliced
from fanlight.simulate.spectral.spectral_hold import body_of as animal_in
from fanlight.simulate.spectral.spectral_setting import SpectralSetting, highest_scale_cm_s
from fanlight.simulate.spectral.spectrum import resolution_cm_s
from fanlight.study import Mode, Species
from tests.heart.blood.bodies import body_of

VIEW, FIRST_MS, LAST_MS, STEP_MS = "left_apical_four_chamber", 300.0, 900.0, 10.0
ROWS = 481
AS_LOUD = 0.02  # of a usual column's highest: what belongs to the envelope
LEAST_LOUD = 0.05  # of a usual column's highest: columns that show anything
TIED_DB = 0.05
DOG, CAT = (Species.DOG, 12.0), (Species.CAT, 4.0)


def setting_of(mode, console):
    depth, frequency = 0.6 * console.depth_mm, 0.65 * console.frequency_mhz
    pulsed = SpectralSetting(
        mode=Mode.PULSED_WAVE, frequency_mhz=frequency, gate_depth_mm=depth,
        scale_cm_s=highest_scale_cm_s(depth, 2.0, frequency),
    )  # fmt: skip
    if mode is Mode.CONTINUOUS_WAVE:
        return replace(pulsed, mode=mode, scale_cm_s=600.0, wall_filter_cm_s=30.0)
    return pulsed if mode is Mode.PULSED_WAVE else replace(pulsed, mode=mode, scale_cm_s=20.0)


def before(animal, heart, mode):
    """What both beams are made of, and their setting."""
    species, weight_kg = animal
    body = body_of(species, weight_kg, heart)
    probe = default_probe(weight_kg)
    console = default_console(probe, species, weight_kg)
    pose, scene = standard_pose(body.animal, VIEW), scene_of(body.animal)
    state = state_at(body.animal.rhythm, body.beats, FIRST_MS)

    def muscle(setting):
        """Share of the gate that lies in muscle."""
        gate = places_of(probe, console, setting, np.random.default_rng(1)).points_mm
        x, y, z = pose.to_patient(np.asarray(gate, np.float64)).astype(np.float32).T.copy()
        tissue = scene.moving(state, x, y, z).tissue
        return float(np.isin(tissue, [int(kind) for kind in MYOCARDIUM]).mean())

    setting = setting_of(mode, console)
    if mode is Mode.TISSUE_DOPPLER:
        setting = max((replace(setting, cursor_deg=cursor) for cursor in np.arange(-24.0, 25.0, 4.0)), key=muscle)
        assert muscle(setting) > 0.7
    places = places_of(probe, console, setting, np.random.default_rng(1))

    def make(span_ms=None, pose_at=lambda _: pose):
        return SpectralBody(
            scene, body, places, setting, lambda t: state_at(body.animal.rhythm, body.beats, t), pose_at,
            span_ms=span_ms,
        )  # fmt: skip

    return make, setting


def expected(met, setting, rows_cm_s):
    """Power over velocity at one moment."""
    passage = 0.25 * met.transits_hz * 77.0 / (1e3 * setting.frequency_mhz)  # cm/s for so many passages a second
    spread = np.sqrt((met.unsteady_mm_s / 10) ** 2 + (resolution_cm_s(setting) / 1.67) ** 2 + passage**2)
    off = (rows_cm_s[:, None] - met.towards_mm_s / 10) / spread
    power = (met.amplitude**2 / spread * np.exp(-0.5 * off**2)).sum(axis=1)
    if setting.has_low_pass:
        return power
    return power / (1 + (setting.wall_filter_cm_s / np.maximum(np.abs(rows_cm_s), 1e-3)) ** 12)


def columns(body, setting, rows_cm_s):
    """What the strip would show, (row, column): its window spans about two moments."""
    each = np.stack([expected(body.at(t), setting, rows_cm_s) for t in np.arange(FIRST_MS, LAST_MS, STEP_MS)], axis=1)
    return (each[:, :-2] + 2 * each[:, 1:-1] + each[:, 2:]) / 4


@pytest.mark.parametrize("mode", [Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE, Mode.TISSUE_DOPPLER])
@pytest.mark.parametrize(
    ("animal", "heart"),
    [
        (DOG, HeartClass.NORMAL),
        (DOG, HeartClass.MITRAL_DISEASE),
        (DOG, HeartClass.RIGHT_OVERLOAD),
        (CAT, HeartClass.NORMAL),
    ],
)
def test_held_shape_shows_what_every_moment_shows(animal, heart, mode):
    """Envelope and mode within 1 % of the fastest and power within half a decibel in the mean; peaks within 1.5 %."""
    make, setting = before(animal, heart, mode)
    rows_cm_s = np.linspace(-setting.scale_cm_s, setting.scale_cm_s, ROWS)
    anew = columns(make(), setting, rows_cm_s)
    held = columns(make((FIRST_MS, LAST_MS)), setting, rows_cm_s)
    highest = np.median(anew.max(axis=0))
    loud = anew.max(axis=0) > LEAST_LOUD * highest

    def edge(density, sign):
        beyond = (density > AS_LOUD * highest) & (sign * rows_cm_s > 0)[:, None]
        return np.where(beyond, np.abs(rows_cm_s)[:, None], 0).max(axis=0)

    fastest = max(edge(anew, sign).max() for sign in (1, -1))
    modes = held.argmax(axis=0)
    mode_off = np.abs(rows_cm_s[modes] - rows_cm_s[anew.argmax(axis=0)])[loud]
    # where two velocities are all but equally strong, either is the mode
    tied = 10 * np.log10(anew.max(axis=0) / anew[modes, np.arange(len(modes))])[loud] < TIED_DB
    off_db = np.abs(10 * np.log10(held.sum(axis=0) / anew.sum(axis=0)))[loud]

    assert loud.sum() > 10
    for sign in (1, -1):
        assert np.abs(edge(held, sign) - edge(anew, sign)).mean() < 0.01 * fastest
        assert edge(held, sign).max() == pytest.approx(edge(anew, sign).max(), abs=0.015 * fastest)
    assert np.where(tied, 0.0, mode_off).mean() < 0.01 * fastest
    assert off_db.mean() < 0.5


def test_chest_asked_for_many_breaths_at_once_is_that_of_each():
    """Bit for bit: a chest that can only be asked for one moment of the breath after the other gives the same."""
    body = body_of(Species.DOG, 12.0, HeartClass.NORMAL)
    probe, pose = default_probe(12.0), standard_pose(body.animal, VIEW)
    console, scene = default_console(probe, Species.DOG, 12.0), scene_of(body.animal)
    setting, asked, still = setting_of(Mode.CONTINUOUS_WAVE, console), [], scene.still
    assert still is not None

    def one_by_one(breath, *points):
        asked.append(breath)
        return still(breath, *points)

    def met(scene):
        places = places_of(probe, console, setting, np.random.default_rng(1))
        held = SpectralBody(
            scene, body, places, setting, lambda t: state_at(body.animal.rhythm, body.beats, t), lambda _: pose,
            span_ms=(FIRST_MS, LAST_MS),
        )  # fmt: skip
        return held.at_all(np.arange(FIRST_MS, LAST_MS, STEP_MS).tolist())

    for many, single in zip(met(scene), met(replace(scene, still=one_by_one)), strict=True):
        assert np.array_equal(many.courses, single.courses)
        assert np.array_equal(many.matter, single.matter)
    assert len(asked) == len(set(asked)) > 5


@pytest.mark.parametrize(("mode", "shown"), [(Mode.PULSED_WAVE, True), (Mode.CONTINUOUS_WAVE, False)])
def test_leaflets_pass_a_gate_and_no_continuous_wave(mode, shown):
    """The cat's mitral leaflets swing near the gate; a continuous wave, which has none, is not asked more often."""
    make, _ = before(CAT, HeartClass.NORMAL, mode)
    met = make((FIRST_MS, LAST_MS)).at_all(np.arange(FIRST_MS, LAST_MS, STEP_MS).tolist())

    assert np.isfinite([each.leaflet_off_mm for each in met]).any() == shown


def test_only_an_animal_is_held():
    """A motion that tells of no animal has no shape to hold."""
    body = body_of(Species.DOG, 12.0, HeartClass.NORMAL)

    assert animal_in(lambda *_: None) is None
    assert animal_in(body) == (body, 0.0)


def held_beam(slice_at=None, last_ms=900.0):
    """A beam before a dog over one beat and more, and what the dog shows at its points."""
    body = body_of(Species.DOG, 12.0, HeartClass.NORMAL)
    scene, pose = scene_of(body.animal), standard_pose(body.animal, VIEW)
    along = np.stack([np.zeros(200), np.zeros(200), np.linspace(5.0, 90.0, 200)], axis=-1)
    points = tuple(pose.to_patient(along).astype(np.float32).T.copy())

    def shown(time_ms):
        seen = scene.moving(state_at(body.animal.rhythm, body.beats, time_ms + body.start_ms), *points)
        return Sliced(moving=seen.tissue, seen=seen.tissue, edge_mm=seen.edge_mm)

    return HeldBeam(body, 0.0, points, 150, slice_at(shown) if slice_at else shown, lambda _: None, 0.0, last_ms), shown


def test_moments_told_by_one_have_its_shape_and_its_place():
    """Walls, leaflets, breath and base differ no more than they may; a quarter of the moments is saved at least."""
    body = body_of(Species.CAT, 4.0, HeartClass.NORMAL)
    moments = [body.moment(t) for t in np.arange(0.0, 1500.0, 10.0)]
    groups = shaped_alike(moments)
    told_by = placed_alike(moments, groups)

    for k, one in told_by.items():
        first, other = moments[k], moments[one]
        down = [base_motion(m.anatomy, m.state).descent_mm for m in (first, other)]
        assert one in groups[k]
        assert np.abs(np.subtract(first.shift_mm, other.shift_mm)).max() < 1.001 * PLACED_MM
        assert abs(down[0] - down[1]) < 1.001 * PLACED_MM
        for name, share in ALIKE.items():
            assert abs(getattr(first.state, name) - getattr(other.state, name)) < 2.001 * share  # both are near a third
    assert told_by.keys() == set(range(len(moments)))
    assert len(set(told_by.values())) < 0.75 * len(moments)


def test_heart_is_sliced_less_often_than_asked_for_and_lies_where_it_lies():
    """At nine places in ten and more the label is that of a slice of its own, whatever breath and base have moved."""
    asked = []

    def counted(shown):
        def slice_at(time_ms):
            asked.append(time_ms)
            return shown(time_ms)

        return slice_at

    beam, shown = held_beam(counted)
    times = np.arange(0.0, 900.0, 10.0)
    same = [float((beam.at(t)[0].moving == shown(t).moving).mean()) for t in times]

    assert len(asked) == 2  # at both ends of the breath, to see that nothing hides the heart
    assert min(same) > 0.9
    assert np.mean(same) > 0.98


def test_heart_that_something_hides_is_asked_for_at_each_moment():
    """Lung in the way moves with the breath and not with the heart: what is hidden then is hidden now."""

    def behind_lung(shown):
        def slice_at(time_ms):
            whole = shown(time_ms)
            hidden = np.arange(len(whole.moving)) < 100 + time_ms / 20
            left = np.where(hidden, Tissue.OUTSIDE, whole.moving).astype(np.uint8)
            return Sliced(moving=left, seen=left, edge_mm=whole.edge_mm)

        return slice_at

    beam, shown = held_beam(behind_lung)

    for t in (0.0, 200.0, 640.0):
        np.testing.assert_array_equal(beam.at(t)[0].moving, behind_lung(shown)(t).moving)


def test_many_moments_are_told_as_each_alone():
    """Asked for together, at shapes and between them, in any order: the same labels and velocities."""
    times_ms = [0.0, 503.3, 10.0, 123.0, 126.7, 500.0]
    beam, alone = held_beam()[0], held_beam()[0]

    together = beam.at_all(times_ms)

    for time_ms, (sliced, motion) in zip(times_ms, together, strict=True):
        one, moves = alone.at(time_ms)
        np.testing.assert_array_equal(sliced.moving, one.moving)
        np.testing.assert_allclose(motion.velocity_mm_s, moves.velocity_mm_s, atol=0.05)


def test_one_moment_alone_is_held_too():
    """A span of no length: its moment is told at any time, as a longer span tells it."""
    beam, _ = held_beam(last_ms=0.0)
    longer, _ = held_beam(last_ms=20.0)
    sliced, motion = longer.at(0.0)

    for time_ms in (0.0, 5.0):
        np.testing.assert_array_equal(beam.at(time_ms)[0].moving, sliced.moving)
        np.testing.assert_allclose(beam.at(time_ms)[1].velocity_mm_s, motion.velocity_mm_s, atol=0.01)


def test_span_that_ends_before_it_begins_is_refused():
    """Both ends are named."""
    with pytest.raises(ValueError, match=r"from its first moment to its last, got 0 ms to -10 ms; swap them"):
        held_beam(last_ms=-10.0)
