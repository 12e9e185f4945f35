"""Shapes of one heart side by side, against each of them alone."""

from dataclasses import dataclass

import array_api_compat.numpy as xp
import numpy as np
import pytest

from fanlight.heart.kinds import HeartClass
from fanlight.heart.layout import layout
from fanlight.heart.sample_heart import painted
from fanlight.heart.side_by_side import for_any, least, most, side_by_side
from fanlight.study import Species
from tests.heart.blood.bodies import body_of, whole_beat

BORDER_MM = 0.001  # rounding of 32 bits at 100 mm, times ten: closer to a border either side may come out
NEAR_MM = 2.0  # further off, distances are merely large


@dataclass(frozen=True)
class Part:
    size_mm: float
    ends: tuple[tuple[float, float], ...]
    name: str = "part"


@pytest.mark.parametrize(
    ("species", "weight_kg", "heart"),
    [
        (Species.DOG, 12.0, HeartClass.NORMAL), (Species.DOG, 30.0, HeartClass.MITRAL_DISEASE),
        (Species.DOG, 12.0, HeartClass.RIGHT_OVERLOAD), (Species.CAT, 4.0, HeartClass.NORMAL),
    ],
)  # fmt: skip
def test_hearts_side_by_side_are_painted_as_each_alone(species, weight_kg, heart):
    """All over a beat, two rows of places a moment: the same labels, and borders as far away."""
    body = body_of(species, weight_kg, heart)
    _, beat = whole_beat(body)
    moments = [body.moment(beat.onset_ms + share * beat.rr_ms) for share in np.linspace(0.01, 0.97, 12)]
    hearts = [layout(moment.anatomy, moment.state) for moment in moments]
    rows = [k for k in range(len(hearts)) for _ in range(2)]
    size_mm = body.animal.anatomy.sizes.unit_mm * np.float32(1)
    places = np.random.default_rng(5).uniform(-1.2, 1.8, (3, len(rows), 1500)).astype(np.float32) * size_mm
    together = painted(side_by_side(hearts, rows), tuple(places), xp, shape_a_row=True)
    seen = set()
    for i, k in enumerate(rows):
        alone = painted(hearts[k], tuple(places[:, i : i + 1]), xp)
        other = alone.tissue[0] != together.tissue[i]
        near = (alone.edge[0] < NEAR_MM) & ~other
        off_mm = np.abs(together.edge[i][near] - alone.edge[0][near])
        seen |= set(alone.tissue[0].tolist())

        assert other.mean() < 0.002
        assert (alone.edge[0][other] < BORDER_MM).all()
        # a part that only another row meets may lie nearer than anything that this row's own windows show
        assert (off_mm > BORDER_MM).mean() < 0.02
    assert len(seen) > 20


def test_what_all_share_stays_a_number_and_what_differs_is_a_column():
    """Nested parts too; rows may ask a shape more than once."""
    shapes = [Part(1.0, ((0.0, 2.0), (5.0, 6.0))), Part(1.0, ((0.0, 3.0), (5.0, 7.0)))]

    joined = side_by_side(shapes, [0, 0, 1])

    assert joined.size_mm == 1.0
    assert joined.ends[0][0] == 0.0
    np.testing.assert_array_equal(joined.ends[0][1], [[2.0], [2.0], [3.0]])
    np.testing.assert_array_equal(joined.ends[1][1], [[6.0], [6.0], [7.0]])


def test_shapes_of_different_kinds_are_refused():
    """A name is no number."""
    with pytest.raises(ValueError, match="differ in numbers only, got 'part' beside others"):
        side_by_side([Part(1.0, ()), Part(1.0, (), name="other")], [0, 1])


def test_least_and_most_are_taken_row_by_row():
    """Of numbers one number; of columns, or both, a column."""
    column = np.asarray([[1.0], [4.0]], np.float32)

    assert (least(3.0, 2.0), most(3.0, 2.0)) == (2.0, 3.0)
    np.testing.assert_array_equal(least(column, 2.0), [[1.0], [2.0]])
    np.testing.assert_array_equal(most(2.0, column), [[2.0], [4.0]])
    assert for_any(column > 3.0)
    assert not for_any(column > 5.0)
    assert for_any(2.0 > 1.0)
