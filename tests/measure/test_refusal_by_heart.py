"""How much more often diseased hearts are refused than normal ones, with its interval."""

from __future__ import annotations

import pytest
from scipy.stats import binomtest

from measure.refusal_by_heart import NORMAL, Asked, difference, table


def asked(heart: str, refused: int, of: int) -> list[Asked]:
    return [Asked(family="LA:Ao", ring="B", heart=heart, animal=k, refused=k < refused) for k in range(of)]


def test_the_interval_is_built_of_score_intervals_of_scipy() -> None:
    """56 of 70 against 48 of 80 is the paper's own example (0.0524 to 0.3339, from memory)."""
    more, low, high = difference(asked("a", 56, 70), asked("b", 48, 80))
    one, other = (binomtest(k, n).proportion_ci(method="wilson") for k, n in ((56, 70), (48, 80)))

    assert more == pytest.approx(0.2)
    assert low == pytest.approx(0.2 - ((0.8 - one.low) ** 2 + (other.high - 0.6) ** 2) ** 0.5, abs=5e-5)  # z of 1.96
    assert high == pytest.approx(0.2 + ((one.high - 0.8) ** 2 + (0.6 - other.low) ** 2) ** 0.5, abs=5e-5)
    assert (low, high) == pytest.approx((0.0524, 0.3339), abs=5e-5)


@pytest.mark.parametrize(
    ("normal", "diseased", "said"),
    [
        (asked(NORMAL, 0, 100), asked("lv_dilated", 50, 100), "| no |"),
        (asked(NORMAL, 0, 400), asked("lv_dilated", 0, 400), "| yes |"),
        (asked(NORMAL, 0, 20), asked("lv_dilated", 2, 20), "| no, not for certain |"),
        (asked(NORMAL, 2, 20), asked("lv_dilated", 2, 20), "| yes, not for certain |"),
        ([], asked("lv_dilated", 2, 20), "| not known |"),
    ],
)
def test_the_verdict_says_how_certain_it_is(normal: list[Asked], diseased: list[Asked], said: str) -> None:
    assert said in table([*normal, *diseased])
