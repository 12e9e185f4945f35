"""A training goes on only as it began, and says what stands against it; what needs PyTorch: training.check_resume."""

import json
import math
from pathlib import Path
from typing import Any

import pytest

from training.checkpoint import Place, place_of, share_of

RULES: dict[str, Any] = {"seed": 3, "seconds": 900.0, "steps": None, "batch": 64, "capacity": 60_000}
PLACE = Place(
    rules=RULES, steps=4000, spent_s=450.0, next_look=0.51, shards=("00000-00093-31.npz", "00001-00094-31.npz"),
    held=("09500-09593-31.npz",), cuts=(1200,),
)  # fmt: skip
FILE = Path("checkpoint.pt")


def test_a_place_comes_back_from_plain_values() -> None:
    kept = json.loads(json.dumps({"run": {"place": PLACE.kept()}}))

    assert place_of(kept, FILE, RULES) == PLACE


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"seed": 4}, r"--seed 3, not 4"),
        ({"seconds": 800.0}, r"--seconds 900.0, not 800.0"),
        ({"steps": 10}, r"--steps None, not 10"),
        ({"batch": 32, "capacity": 5}, r"--batch 64, not 32, --capacity 60000, not 5"),
    ],
)
def test_another_rule_is_named_and_refused(change: dict[str, Any], words: str) -> None:
    with pytest.raises(ValueError, match=rf"checkpoint\.pt began with {words}: say the same, or .*--warm-from"):
        place_of({"run": {"place": PLACE.kept()}}, FILE, {**RULES, **change})


def test_weights_alone_are_no_place_to_go_on_from() -> None:
    with pytest.raises(ValueError, match=r"checkpoint\.pt holds weights but not where .*--warm-from"):
        place_of({"mean": {}, "trainings": []}, FILE, RULES)


def test_a_run_that_is_over_is_not_gone_on_with() -> None:
    over = {"run": {"place": {**PLACE.kept(), "spent_s": 900.0}}}

    with pytest.raises(ValueError, match=r"come to its end after 4000 steps; .*--warm-from"):
        place_of(over, FILE, RULES)


def test_steps_count_where_they_are_given_else_time() -> None:
    assert share_of(RULES, 4000, 450.0) == pytest.approx(0.5)
    assert share_of({**RULES, "steps": 16_000, "seconds": math.inf}, 4000, 450.0) == pytest.approx(0.25)
