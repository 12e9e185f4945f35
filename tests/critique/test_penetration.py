"""Loss of echo with depth."""

import pytest

from fanlight.critique.penetration import FAMILY
from fanlight.study import Verdict
from tests.critique.series import finding, rises, values


def test_more_loss_gives_a_larger_value() -> None:
    assert rises(values(FAMILY, "far_field_loss", "far_loss_db_cm", (0, 1, 2, 3, 4, 5)))


def test_a_lost_far_field_stays_missed_however_black_it_gets() -> None:
    for loss in (6, 9, 14):
        assert finding(FAMILY, "far_field_loss", far_loss_db_cm=loss).verdict is Verdict.MISSED


@pytest.mark.parametrize("cavity", [0.35, 0.9])
def test_the_size_of_the_chambers_does_not_count(cavity: float) -> None:
    assert finding(FAMILY, "far_field_loss", cavity_share=cavity, atrium_share=0.6 * cavity).verdict is Verdict.MET


def test_text_in_the_picture_does_not_count() -> None:
    plain, text = finding(FAMILY, "far_field_loss").value, finding(FAMILY, "far_field_loss", overlay=True).value

    assert text == pytest.approx(plain, abs=0.05)
