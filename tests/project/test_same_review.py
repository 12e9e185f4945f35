"""What a review finds is hashed whole: two readings have one hash only where nothing in them differs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fanlight.study import Box, Mode, ModeReading
from measure._hash_of import hash_of

READING = ModeReading(mode=Mode.COLOUR, probability=0.9, reasons=("seen",), per_mode=((Mode.COLOUR, 0.9),))


def test_equal_values_have_one_hash() -> None:
    assert hash_of((READING, np.arange(3))) == hash_of((replace(READING), np.arange(3)))


@pytest.mark.parametrize(
    "other",
    [
        replace(READING, probability=float(np.nextafter(0.9, 1.0))),
        replace(READING, mode=Mode.POWER),
        replace(READING, reasons=("seen", "")),
        replace(READING, per_mode=()),
        Box(row0=0, col0=0, row1=1, col1=1),
        None,
    ],
    ids=["last bit", "member", "one more item", "fewer items", "another kind", "nothing"],
)
def test_any_difference_shows(other: object) -> None:
    assert hash_of(other) != hash_of(READING)


def test_arrays_differ_by_number_kind_and_shape() -> None:
    arrays = [np.zeros(4, np.uint8), np.zeros(4, np.int8), np.zeros((2, 2), np.uint8), np.array([0, 0, 0, 1], np.uint8)]
    assert len({hash_of(array) for array in arrays}) == len(arrays)


def test_a_value_that_cannot_be_hashed_is_named() -> None:
    with pytest.raises(TypeError, match="got set"):
        hash_of({1, 2})
