"""The simplified Bernoulli equation against numbers that textbooks print."""

from __future__ import annotations

import pytest

from fanlight.heart.blood.bernoulli import gradient_mmhg, jet_m_s


# Textbook steps of tricuspid jets and the pressures that stand beside them (WARE6, severity of pulmonary hypertension:
# 2.9 to 3.5 m/s with 35 to 50 mmHg, 3.6 to 4.3 with 51 to 75, seen): 4 v² of each speed.
@pytest.mark.parametrize(("speed", "pressure"), [(2.9, 35.0), (3.5, 50.0), (3.6, 51.0), (4.3, 75.0)])
def test_steps_of_a_textbook(speed: float, pressure: float) -> None:
    assert gradient_mmhg(speed) == pytest.approx(pressure, abs=2.0)
    assert jet_m_s(pressure) == pytest.approx(speed, abs=0.1)


def test_factor_is_half_the_density_of_blood() -> None:
    # 1/2 · 1060 kg/m³ · (1 m/s)² = 530 Pa; 1 mmHg = 133.322 Pa (physics)
    assert gradient_mmhg(1.0) == pytest.approx(530.0 / 133.322, rel=0.01)


def test_speed_before_a_narrow_place_counts() -> None:
    assert gradient_mmhg(jet_m_s(50.0, 1.5), 1.5) == pytest.approx(50.0)
    assert jet_m_s(50.0, 1.5) > jet_m_s(50.0)


def test_a_rise_of_pressure_makes_no_jet() -> None:
    with pytest.raises(ValueError, match="pressure drop of 0 mmHg or more, got -3"):
        jet_m_s(-3.0)
