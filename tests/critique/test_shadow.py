"""Rib shadow and poor contact."""

import pytest

from fanlight.critique.shadow import FAMILY
from fanlight.study import Verdict
from tests.critique.series import finding


@pytest.mark.parametrize("share", [0.05, 0.1, 0.2, 0.35])
def test_the_width_of_a_rib_shadow_is_measured(share: float) -> None:
    """Tolerance: two beams of 128 at either side."""
    rib = finding(FAMILY, "rib_shadow", shadow_share=share, shadow_at=0.4)

    assert rib.value == pytest.approx(share, abs=0.03)
    assert finding(FAMILY, "poor_contact", shadow_share=share, shadow_at=0.4).value == 0.0


@pytest.mark.parametrize("ring_down", [True, False])
@pytest.mark.parametrize("share", [0.1, 0.2, 0.35])
def test_the_width_of_a_lifted_edge_is_measured(share: float, ring_down: bool) -> None:
    lifted = finding(FAMILY, "poor_contact", lifted_share=share, lifted_ring_down=ring_down)

    assert lifted.value == pytest.approx(share, abs=0.03)
    assert finding(FAMILY, "rib_shadow", lifted_share=share, lifted_ring_down=ring_down).value == 0.0


def test_a_shadow_at_the_edge_is_still_a_rib() -> None:
    assert finding(FAMILY, "rib_shadow", shadow_share=0.3, shadow_at=1.0).verdict is Verdict.MISSED


def test_the_wedge_is_drawn_where_it_lies() -> None:
    rib = finding(FAMILY, "rib_shadow", shadow_share=0.12, shadow_at=0.25)

    assert len(rib.evidence) == 1
    assert rib.evidence[0].label == "rib shadow"


@pytest.mark.parametrize("cavity", [0.3, 0.9])
def test_a_chamber_is_not_a_shadow(cavity: float) -> None:
    assert finding(FAMILY, "rib_shadow", cavity_share=cavity, atrium_share=0.7 * cavity).value == 0.0


def test_low_gain_is_not_a_shadow() -> None:
    assert finding(FAMILY, "rib_shadow", gain_db=-14).value == 0.0


def test_a_shadow_of_10_db_is_too_weak_to_be_seen() -> None:
    """Stated limit: less than about 12 dB is not told from anatomy."""
    assert finding(FAMILY, "rib_shadow", shadow_share=0.12, shadow_db=-10).value == 0.0
