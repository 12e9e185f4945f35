"""The command line says where the probe stood, a line a clip, and nothing when it is to be quiet."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.cli.stand_words import say_stands
from fanlight.reference.load import load_house
from fanlight.study import ClipStand, EitherMovement, LandmarksBy, ProbeOffset, StandLeftOut, WindowStand
from tests.report.sample import sample_review

TILT = ProbeOffset(
    movement="tilt", unit="deg", mean=-9.0, low=-13.0, high=-5.0, limit=3.0, plus_probability=0.0,
    minus_probability=0.97,
)  # fmt: skip
PAIR = EitherMovement(
    first="slide", first_sense=1, first_probability=0.7, second="rock", second_sense=-1, second_probability=0.4,
    probability=0.96,
)  # fmt: skip


def _stand(clip: ClipStand, left: tuple[StandLeftOut, ...] = ()) -> WindowStand:
    return WindowStand(
        window="right_parasternal", clips=(clip,), place=(), left_out=left, has_settled=True, method="x/1", rests_on="x"
    )


def test_movement_range_and_either_or_are_printed(capsys: pytest.CaptureFixture[str]) -> None:
    review = sample_review()
    first, second = (item.clip.key for item in review.readings[:2])
    clip = ClipStand(
        clip=first, view="right_parasternal_long_axis_four_chamber", given_by=LandmarksBy.PERSON, n_landmarks=8,
        offsets=(TILT,), pairs=(PAIR,), none_probability=0.0, misfit_ratio=0.6,
    )  # fmt: skip
    stand = _stand(clip, (StandLeftOut(clip=second, reason="it has no scale"),))
    say_stands(replace(review, stands=(stand,)), load_house(), is_quiet=False)

    said = " ".join(capsys.readouterr().out.split())
    assert "where the probe stood, clip 1: very likely tilted" in said
    assert "by 5° to 13°" in said
    assert "either too far dorsal in its space or rocked too far away from the marker" in said
    assert "where the probe stood, clip 2: not told: it has no scale" in said


def test_quiet_says_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    say_stands(sample_review(), load_house(), is_quiet=True)

    assert capsys.readouterr().out == ""
