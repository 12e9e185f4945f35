"""Figures of the picture network, on records made by hand."""

from typing import Any

import numpy as np
import pytest

from measure import _recognition_figures as figures
from training.label_sets import LANDMARKS, Structure, views

N = len(views())


def record(true: int, said: int, sure: float, kind: str = "displaced", **more: Any) -> dict[str, Any]:
    shares, answer = np.zeros(N + 1), np.full(N + 1, (1 - sure) / N)
    shares[true], answer[said] = 1.0, sure
    base = {
        "seed": 1, "kind": kind, "view": views()[min(true, N - 1)], "heart": "normal", "species": "dog",
        "weight_kg": 12.0, "unit_mm": 30.0, "shares": list(shares), "said": list(answer), "frame_said": list(answer),
        "said_second": None, "turned": False, "mirrored": 0.0, "mirrored_flipped": 1.0, "said_flipped": list(answer),
        "said_upset": list(np.eye(N + 1)[N]), "phase_off": [0.0], "landmarks": [],
        "lv_mm": None, "overlap": [[0, 0, 0]] * len(Structure),
    }  # fmt: skip
    return base | more


def test_hits_count_clear_clips_only() -> None:
    unclear = record(3, 4, 0.9)
    unclear["shares"] = [0.0] * (N + 1)
    unclear["shares"][3] = unclear["shares"][4] = 0.5

    assert figures.hits([record(1, 1, 0.9), record(2, 5, 0.6), record(N, N, 0.9), unclear]) == (2, 3)


def test_a_steady_clip_is_asked_for_the_view_that_the_hand_was_after() -> None:
    standard = record(4, 4, 0.9, "standard")
    standard["shares"] = list(np.eye(N + 1)[5] * 0.6 + np.eye(N + 1)[4] * 0.4)

    assert figures.truth(standard) == 4
    assert figures.is_asked(standard)


def test_a_second_training_is_held_beside_the_first_only_where_it_was_asked() -> None:
    alone = figures.top_one_table({"B": [record(1, 1, 0.9)]})
    second = record(1, 1, 0.9) | {"said_second": list(np.eye(N + 1)[2])}
    both = figures.top_one_table({"B": [second, record(1, 1, 0.9) | {"said_second": list(np.eye(N + 1)[1])}]})

    assert "second training" not in alone
    assert "| all, a second training with other seeds | 50.0 % (9.5–90.5), n 2 |" in both
    assert "| both trainings say the same | 50.0 % (9.5–90.5), n 2 |" in both


def test_planes_turned_half_round_are_counted_apart() -> None:
    over = record(1, 1, 0.9, "off") | {"turned": True, "mirrored": 0.8}
    table = figures.odd_table({"B": [over, record(N, N, 0.9, "off"), record(2, 2, 0.9, "standard")]})

    assert "| probe turned half round, still clear: named as the view | 100.0 % (20.7–100.0), n 1 |" in table
    assert "| probe turned half round: marker said to be at the other side | 100.0 % (20.7–100.0), n 1 |" in table


def test_coverage_counts_views_above_the_limit_and_wrong_ones_of_all() -> None:
    records = [record(1, 1, 0.97), record(2, 3, 0.85), record(N, N, 0.99), record(4, 4, 0.55)]
    row = next(line for line in figures.coverage_table({"B": records}).splitlines() if line.startswith("| 0.80"))

    assert "| 50.0 % |" in row  # two of four are proposed
    assert "50.0 % (9.5–90.5), n 2" in row  # of them one is right; Wilson's interval of one in two
    assert "25.0 % (4.6–69.9), n 4" in row


def test_calibration_error_is_the_gap_between_sure_and_right() -> None:
    records = [record(1, 1, 0.85), record(1, 1, 0.85), record(1, 2, 0.85), record(1, 1, 0.35)]

    assert figures.calibration_error(records) == pytest.approx((3 * (0.85 - 2 / 3) + (1 - 0.35)) / 4)


def test_the_spread_factor_makes_normal_errors_fit_their_spread() -> None:
    rng = np.random.default_rng(0)
    errors = np.hypot(*rng.normal(0.0, 0.5, (2, 20_000)))  # standard deviation half of what is stated below
    rows = [[0, 1, 0.9, float(error), 1.0] for error in errors]

    assert figures.spread_factor([record(1, 1, 0.9, landmarks=rows)]) == pytest.approx(0.5, abs=0.01)


def test_landmark_words_count_found_missed_and_made_up() -> None:
    rows = [[2, 1, 0.9, 3.0, 1.0], [2, 1, 0.1, 9.0, 1.0], [2, 0, 0.8, 5.0, 1.0]]
    words = figures.landmark_words("B", [record(1, 1, 0.9, landmarks=rows)], 1.0)

    assert "1 of 2 landmarks" in words
    assert "(50 %); 50 % of those said to be there lie further off" in words
    assert "median 3.0 mm" in words
    assert "10.0 % and 10.0 %" in words
    assert LANDMARKS[2].value in figures.landmark_table({"B": [record(1, 1, 0.9, landmarks=rows)]})


def test_overlap_is_dice() -> None:
    overlap = [[0, 0, 0]] * len(Structure)
    overlap[Structure.AORTA] = [10, 6, 4]
    table = figures.structure_table({"B": [record(1, 1, 0.9, overlap=overlap)]})

    assert "| aorta | 0.50 |" in table
    assert "| liver | – |" in table
