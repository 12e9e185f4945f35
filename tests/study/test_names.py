"""One way to tell trainees and practices apart, wherever they are compared."""

from __future__ import annotations

import pytest

from fanlight.study import name_key

SAME = [
    pytest.param("T. Okafor", "t. okafor", id="capitals"),
    pytest.param("T. Okafor", "  T.   Okafor\t", id="spaces"),
    pytest.param("José Marín", "Jose\u0301 Mari\u0301n", id="Unicode canonical equivalence, UAX 15"),
    pytest.param("Straße", "STRASSE", id="full case folding, Unicode CaseFolding.txt: 00DF; F; 0073 0073"),
    pytest.param("T.\u00a0Okafor", "T. Okafor", id="no-break space"),
]
OTHER = [
    pytest.param("José Marín", "Jose Marin", id="accents are as written"),
    pytest.param("Okafor T.", "T. Okafor", id="order is as written"),
    pytest.param("T. Okafor", "T. Okafor-Lund", id="another name"),
    pytest.param("", "T. Okafor", id="nobody"),
]


@pytest.mark.parametrize(("one", "other"), SAME)
def test_one_person_however_it_is_typed(one: str, other: str) -> None:
    assert name_key(one) == name_key(other)


@pytest.mark.parametrize(("one", "other"), OTHER)
def test_two_persons_stay_two(one: str, other: str) -> None:
    assert name_key(one) != name_key(other)
