"""Motion with streams held, against the motion asked for anew."""

from dataclasses import replace

import numpy as np
import pytest

from fanlight.heart.blood.blood_field import OPENINGS
from fanlight.heart.held_leaflets import VALVES, with_leaflets
from fanlight.heart.held_motion import Alike, hold_streams, motions_between, rest_places
from fanlight.heart.kinds import HeartClass
from fanlight.heart.layout import layout
from fanlight.heart.left_ventricle import base_motion
from fanlight.heart.sample_heart import sample_heart
from fanlight.heart.solid_motion import solid_velocities
from fanlight.heart.tissue import BLOOD, Tissue
from fanlight.heart.warp import undone
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.clip.shifted import generator_of
from fanlight.study import Species
from tests.heart.blood.bodies import body_of, whole_beat

HEARTS = [
    (Species.DOG, 12.0, HeartClass.NORMAL), (Species.DOG, 30.0, HeartClass.MITRAL_DISEASE),
    (Species.DOG, 12.0, HeartClass.THICK_WALLS), (Species.DOG, 12.0, HeartClass.RIGHT_OVERLOAD),
    (Species.CAT, 4.0, HeartClass.NORMAL),
]  # fmt: skip
SPAN_MS = 30.0

MITRAL = [int(Tissue.MITRAL_SEPTAL_LEAFLET), int(Tissue.MITRAL_PARIETAL_LEAFLET)]


def scattered(body, moment, n=3000):
    """Points all over the heart, and what lies there."""
    rng = np.random.default_rng(4)
    unit, frame = body.animal.anatomy.sizes.unit_mm, body.animal.anatomy.frame
    own = rng.uniform(-1.2, 1.8, (n, 3)) * unit
    at = (own @ np.stack([frame.long, frame.front, frame.depth])).astype(np.float32).T.copy()
    tissue = sample_heart(body.animal.anatomy, moment.state, *moment.in_heart(*at, np)).tissue
    return at, tissue


def held_at(body, shape, moment, at, tissue, span_ms):
    """Streams held at one moment, in the shape of the heart at another."""
    along, rests = rest_places([moment], tuple(at))
    alike = Alike(heart=layout(shape.anatomy, shape.state), at_ms=shape.at_ms, n_moments=1)
    solid = solid_velocities([moment], rests, tissue[None])
    return hold_streams(body, [alike], [moment], along, rests, tissue[None], solid, [span_ms])[0]


def between(body, first, last, moment, at, tissue):
    """Motion at a moment between two of which streams are held."""
    along, rests = rest_places([moment], tuple(at))
    solid = solid_velocities([moment], rests, tissue[None])
    return motions_between(body, [(first, last)], [moment], tuple(at), along, rests[0], tissue[None], solid)[0]


@pytest.mark.parametrize(("species", "weight_kg", "heart"), HEARTS)
def test_at_the_time_of_a_shape_nothing_is_lost(species, weight_kg, heart):
    """All over the heart, in systole and diastole: streams, jets, muscle and leaflets as asked for anew."""
    body = body_of(species, weight_kg, heart)
    _, beat = whole_beat(body)
    seen, fastest = set(), 0.0
    for share in (0.08, 0.3, 0.55, 0.95):
        time_ms = beat.onset_ms + share * beat.rr_ms
        moment = body.moment(time_ms)
        at, tissue = scattered(body, moment)
        span_ms = (time_ms - SPAN_MS, time_ms + SPAN_MS)
        first = held_at(body, moment, moment, at, tissue, span_ms)
        later = body.moment(time_ms + SPAN_MS)
        last = held_at(body, later, later, at, tissue, span_ms)
        held = between(body, first, last, moment, at, tissue)
        anew = body(time_ms, at[0], at[1], at[2], tissue)
        seen |= set(tissue.tolist())
        fastest = max(fastest, float(np.abs(anew.velocity_mm_s).max()))

        for motion in (held, first.motion):
            assert np.abs(np.stack(motion.velocity_mm_s) - np.stack(anew.velocity_mm_s)).max() < 0.05  # mm/s
            assert np.abs(motion.unsteady_mm_s - anew.unsteady_mm_s).max() < 0.05
    assert fastest > 500.0
    assert {int(Tissue.RV_WALL), int(Tissue.SEPTUM), int(Tissue.MITRAL_SEPTAL_LEAFLET)} <= seen
    assert len(seen & {int(kind) for kind in BLOOD}) > 8


def test_moments_of_one_shape_keep_their_own_flow_and_walls():
    """Held together, two moments move as each held alone: flow, muscle and what carries them are their own."""
    body = body_of(Species.DOG, 12.0, HeartClass.NORMAL)
    _, beat = whole_beat(body)
    times_ms = [beat.onset_ms + share * beat.rr_ms for share in (0.3, 0.55)]
    moments = [body.moment(time_ms) for time_ms in times_ms]
    spans_ms = [(time_ms - SPAN_MS, time_ms + SPAN_MS) for time_ms in times_ms]
    at, tissue = scattered(body, moments[0])
    along, rests = rest_places(moments, tuple(at))
    there = np.stack([tissue, tissue])
    alike = Alike(heart=layout(moments[0].anatomy, moments[0].state), at_ms=moments[0].at_ms, n_moments=2)
    solid = solid_velocities(moments, rests, there)
    together = hold_streams(body, [alike], moments, along, rests, there, solid, spans_ms)
    for moment, span_ms, both in zip(moments, spans_ms, together, strict=True):
        alone = held_at(body, moments[0], moment, at, tissue, span_ms)

        assert np.abs(np.stack(both.motion.velocity_mm_s) - np.stack(alone.motion.velocity_mm_s)).max() < 0.05
    assert np.abs(solid[0] - solid[1]).max() > 10.0


def test_moment_told_by_another_has_its_streams_and_its_own_flow():
    """Bit for bit: where the points lie as at another moment of the shape, they need not be asked for again."""
    body = body_of(Species.DOG, 30.0, HeartClass.MITRAL_DISEASE)
    _, beat = whole_beat(body)
    early, late = (body.moment(beat.onset_ms + share * beat.rr_ms) for share in (0.2, 0.3))
    moments = [replace(late, at_ms=each.at_ms) for each in (early, late, early)]  # one place, flows of two times
    spans_ms = [(m.at_ms - body.start_ms - SPAN_MS, m.at_ms - body.start_ms + SPAN_MS) for m in moments]
    at, tissue = scattered(body, moments[0])
    (along, rests), there = rest_places(moments, tuple(at)), np.stack([tissue] * 3)
    solid = solid_velocities(moments, rests, there)
    shape = Alike(heart=layout(late.anatomy, late.state), at_ms=late.at_ms, n_moments=3)
    asked = body, [shape], moments, along, rests, there, solid, spans_ms
    each = hold_streams(*asked)
    told = hold_streams(*asked, np.array([1, 1, 1]))

    for one, other in zip(each, told, strict=True):
        assert np.array_equal(np.stack(one.motion.velocity_mm_s), np.stack(other.motion.velocity_mm_s))
        assert np.array_equal(one.motion.unsteady_mm_s, other.motion.unsteady_mm_s)
        assert one.field.keys() == other.field.keys()
    assert np.abs(np.stack(told[0].motion.velocity_mm_s) - np.stack(told[1].motion.velocity_mm_s)).max() > 10.0


def test_shapes_held_together_give_what_each_gives_alone():
    """Bit for bit: lines of all streams are drawn together, the points of each shape stay its own."""
    body = body_of(Species.DOG, 30.0, HeartClass.MITRAL_DISEASE)
    _, beat = whole_beat(body)
    moments = [body.moment(beat.onset_ms + share * beat.rr_ms) for share in (0.3, 0.33, 0.7, 0.9)]
    spans_ms = [(m.at_ms - body.start_ms - SPAN_MS, m.at_ms - body.start_ms + SPAN_MS) for m in moments]
    at, tissue = scattered(body, moments[0])
    (along, rests), there = rest_places(moments, tuple(at)), np.stack([tissue] * 4)
    solid = solid_velocities(moments, rests, there)
    shapes = [
        Alike(heart=layout(moments[k].anatomy, moments[k].state), at_ms=moments[k].at_ms, n_moments=n)
        for k, n in ((0, 2), (2, 1), (3, 1))
    ]
    together = hold_streams(body, shapes, moments, along, rests, there, solid, spans_ms)
    for shape, mine in zip(shapes, (slice(0, 2), slice(2, 3), slice(3, 4)), strict=True):
        own = (rests[0][mine], rests[1][mine], rests[2][mine])
        alone = hold_streams(body, [shape], moments[mine], along[mine], own, there[mine], solid[mine], spans_ms[mine])
        for one, other in zip(together[mine], alone, strict=True):
            assert np.array_equal(np.stack(one.motion.velocity_mm_s), np.stack(other.motion.velocity_mm_s))
            assert np.array_equal(one.motion.unsteady_mm_s, other.motion.unsteady_mm_s)


@pytest.mark.parametrize("ring", [Ring.A, Ring.C])
def test_places_of_many_moments_are_those_of_each(ring):
    """Bit for bit, of a heart that is bent (ring C) too: as the slicing itself has them."""
    animal = generator_of(ring, Species.DOG, 12.0, np.random.default_rng(3)).shape(
        body_of(Species.DOG, 12.0, HeartClass.NORMAL).animal
    )
    body = replace(body_of(Species.DOG, 12.0, HeartClass.NORMAL), animal=animal)
    _, beat = whole_beat(body)
    moments = [body.moment(beat.onset_ms + share * beat.rr_ms) for share in (0.02, 0.3, 0.6, 0.9)]
    at, _ = scattered(body, moments[0])
    along, rests = rest_places(moments, tuple(at))
    for k, moment in enumerate(moments):
        x, y, z = moment.in_heart(at[0], at[1], at[2], np)
        if animal.anatomy.warp is not None:
            x, y, z = undone(animal.anatomy.warp, x, y, z)
        a, b, c = animal.anatomy.frame.coordinates(x, y, z)
        rest = base_motion(animal.anatomy, moment.state).to_rest(a, np)
        for many, one in zip((along, *rests), (a, rest, b, c), strict=True):
            assert np.array_equal(many[k], one)
    assert (animal.anatomy.warp is None) == (ring is Ring.A)


def test_flow_counts_at_the_very_moment():
    """Twice the flow through every opening: twice the velocity that blood has beyond what carries it."""
    body = body_of(Species.DOG, 12.0, HeartClass.NORMAL)
    _, beat = whole_beat(body)
    time_ms = beat.onset_ms + 0.55 * beat.rr_ms
    moment = body.moment(time_ms)
    at, tissue = scattered(body, moment)
    held = held_at(body, moment, moment, at, tissue, (time_ms, time_ms + 1.0))

    def motion(factor):
        flows = {name: getattr(body.flows, name) * factor for name in OPENINGS}
        changed = type(body)(
            animal=body.animal, circulation=body.circulation, beats=body.beats, start_ms=body.start_ms,
            flows=type(body.flows)(**{f: getattr(body.flows, f) for f in body.flows.__slots__} | flows),
        )  # fmt: skip
        return np.stack(between(changed, held, held, moment, at, tissue).velocity_mm_s)

    none, once, twice = (motion(factor) for factor in (0.0, 1.0, 2.0))
    blood = np.isin(tissue, [int(kind) for kind in BLOOD])

    assert np.abs(once - none)[:, blood].max() > 300.0
    assert np.allclose((twice - none)[:, blood], 2 * (once - none)[:, blood], atol=0.5)
    assert np.allclose(twice[:, ~blood], none[:, ~blood])


def test_leaflets_are_laid_where_they_are():
    """On labels from which the leaflets were taken away, they come back where the whole heart has them."""
    body = body_of(Species.DOG, 12.0, HeartClass.NORMAL)
    _, beat = whole_beat(body)
    moments = [body.moment(beat.onset_ms + share * beat.rr_ms) for share in (0.02, 0.45, 0.6, 0.9)]
    held, places, grounds, tissues = [], [], [], []
    for moment in moments:
        at, tissue = scattered(body, moment, n=150_000)
        ground = np.where(np.isin(tissue, MITRAL), np.uint8(Tissue.LV_CAVITY), tissue)
        held.append(held_at(body, moment, moment, at, ground, (moment.at_ms, moment.at_ms + 1.0)))
        places.append(rest_places([moment], tuple(at))[1])
        grounds.append(ground)
        tissues.append(tissue)
    a, b, c = (np.concatenate([p[i] for p in places]) for i in range(3))
    ground, there = np.stack(grounds), np.stack(tissues)

    laid = with_leaflets(held, moments, (a, b, c), ground, [tuple(VALVES)] * 3 + [("tricuspid",)])

    for k in range(3):
        leaflet = np.isin(there[k], MITRAL)
        assert leaflet.sum() > 20
        assert (laid[k][leaflet] == there[k][leaflet]).mean() > 0.97
    assert not np.isin(laid[3], MITRAL).any()  # nobody asked for it
    assert np.isin(there[3], MITRAL).sum() > 20
