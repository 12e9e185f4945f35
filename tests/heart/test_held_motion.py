"""Motion with streams held, against the motion asked for anew."""

import numpy as np
import pytest

from fanlight.heart.blood.blood_field import OPENINGS
from fanlight.heart.held_motion import VALVES, hold_streams, motion_between, rest_places, with_leaflets
from fanlight.heart.kinds import HeartClass
from fanlight.heart.layout import layout
from fanlight.heart.sample_heart import sample_heart
from fanlight.heart.solid_motion import solid_velocities
from fanlight.heart.tissue import BLOOD, Tissue
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
    along, rests = rest_places(moment, tuple(at))
    a, b, c = (part[None] for part in rests)
    heart = layout(shape.anatomy, shape.state)
    solid = solid_velocities([moment], (a, b, c), tissue[None])
    return hold_streams(body, heart, shape.at_ms, [moment], along[None], (a, b, c), tissue[None], solid, [span_ms])[0]


def between(body, first, last, moment, at, tissue):
    """Motion at a moment between two of which streams are held."""
    along, rests = rest_places(moment, tuple(at))
    a, b, c = (part[None] for part in rests)
    solid = solid_velocities([moment], (a, b, c), tissue[None])[0]
    return motion_between(body, first, last, moment, tuple(at), along, rests[0], tissue, solid)


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
    placed = [rest_places(moment, tuple(at)) for moment in moments]
    along, there = np.stack([now for now, _ in placed]), np.stack([tissue, tissue])
    a, b, c = (np.stack([p[i] for _, p in placed]) for i in range(3))
    heart = layout(moments[0].anatomy, moments[0].state)
    solid = solid_velocities(moments, (a, b, c), there)
    together = hold_streams(body, heart, moments[0].at_ms, moments, along, (a, b, c), there, solid, spans_ms)
    for moment, span_ms, both in zip(moments, spans_ms, together, strict=True):
        alone = held_at(body, moments[0], moment, at, tissue, span_ms)

        assert np.abs(np.stack(both.motion.velocity_mm_s) - np.stack(alone.motion.velocity_mm_s)).max() < 0.05
    assert np.abs(solid[0] - solid[1]).max() > 10.0


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
        places.append(rest_places(moment, tuple(at))[1])
        grounds.append(ground)
        tissues.append(tissue)
    a, b, c = (np.stack([p[i] for p in places]) for i in range(3))
    ground, there = np.stack(grounds), np.stack(tissues)

    laid = with_leaflets(held, moments, (a, b, c), ground, [tuple(VALVES)] * 3 + [("tricuspid",)])

    for k in range(3):
        leaflet = np.isin(there[k], MITRAL)
        assert leaflet.sum() > 20
        assert (laid[k][leaflet] == there[k][leaflet]).mean() > 0.97
    assert not np.isin(laid[3], MITRAL).any()  # nobody asked for it
    assert np.isin(there[3], MITRAL).sum() > 20
