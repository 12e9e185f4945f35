"""How the figures of the page on spectral values are counted."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from fanlight.heart.rhythm import beats
from fanlight.heart.tissue import BLOOD, MYOCARDIUM, NOT_HEART, Tissue
from fanlight.measure.doppler.case import Signal
from fanlight.simulate.clip.film import STRIP_LEAD_MS
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.screen.ecg_trace import r_wave_times_ms
from fanlight.study import Mode, Valve
from measure._confidently_wrong import is_confidently_wrong
from measure._criterion_clips import draw_subject
from measure._m_mode_table import main_table
from measure._spectral_clock import true_relaxations
from measure._spectral_expected import Asked, expected_values
from measure._spectral_ring import NO_WALL, as_muscle
from measure._spectral_rungs import Answer
from measure._spectral_table import VALUES, tables, tolerance_of
from measure._spectral_truth import STEP_MS, TrueFlow

RIGHT = Answer(
    seed=0, heart="normal", species="dog", mode="pulsed_wave", valve="aortic", signal="forward flow", gain_db=0.0,
    wraps=False, name="aortic_vmax", value=1.0, uncertainty=0.02, truth=1.0, reason="",
)  # fmt: skip


def cells(answers: list[Answer], table: str = "spectral-values") -> list[str]:
    """Return the cells of the first line of a table."""
    return [cell.strip() for cell in tables({"A": answers})[table].splitlines()[2].strip("|").split("|")]


@pytest.mark.parametrize(
    ("value", "uncertainty", "wrong"),
    [
        pytest.param(1.10, 0.02, "1", id="10 % off at a stated 2 %: five deviations"),
        pytest.param(1.07, 0.02, "0", id="7 % off: 3.5 deviations, less than twice the half of the band"),
        pytest.param(1.02, 0.004, "0", id="five deviations, but within the 3 % that are the target"),
    ],
)
def test_confident_and_wrong_is_both(value: float, uncertainty: float, wrong: str) -> None:
    """More than twice the half-band of 1.96 deviations, and more than the target."""
    line = cells([replace(RIGHT, value=value, uncertainty=uncertainty)])

    assert line[10].startswith("100 %" if wrong == "1" else "0 %")


def test_the_m_mode_table_counts_in_the_same_way() -> None:
    """A diameter 10 % off at a stated 3 % is 3.3 deviations: outside its band, and not confidently wrong."""
    records = [
        {"ecg": {"lvidd": {"true": 30.0, "value": value, "uncertainty": 0.9}}, "heart": "normal"}
        for value in (33.0, 34.0)
    ]
    line = main_table({"A": [_filled(record) for record in records]}, "ecg").splitlines()[2]

    assert line.split("|")[-2].strip().startswith("50 %")
    assert not is_confidently_wrong(off=0.1, in_deviations=3 / 0.9, tolerance=0.03)


def _filled(record: dict[str, Any]) -> dict[str, Any]:
    names = ("lvids", "ivsd", "ivss", "lvwd", "lvws", "fractional_shortening", "heart_rate")
    none = {name: {"true": None, "value": None, "uncertainty": None} for name in names}
    return record | {"ecg": record["ecg"] | none}


def test_numbers_given_without_a_truth_are_counted() -> None:
    """A number where the beat has no such value is named beside the figures, and so is its absence."""
    made_up = replace(RIGHT, truth=None)

    assert cells([RIGHT, made_up, replace(made_up, value=None)])[-1] == "1 of 2"
    assert cells([RIGHT])[-1] == "–"
    assert cells([made_up])[-1] == "1 of 1"


def test_numbers_on_flow_that_runs_out_are_counted() -> None:
    """They enter no figure of the first table and have a table of their own."""
    out = replace(RIGHT, wraps=True, value=2.0)

    assert cells([RIGHT, out])[2] == "1"
    assert cells([RIGHT, out, replace(out, value=None)], "spectral-values-open")[2:] == ["2", "1", "1"]


def test_each_value_has_a_target() -> None:
    """Velocities 3 %, integrals 5 %: the project's own."""
    assert tolerance_of("aortic_vmax") == tolerance_of("mitral_annulus_s") == 0.03
    assert tolerance_of("aortic_vti") == 0.05
    assert all(0.03 <= tolerance_of(name) <= 0.10 for name, _ in VALUES)


@pytest.mark.parametrize(
    ("leak_until_ms", "inflow_cm_s", "expected_ms"),
    [
        pytest.param(200, 75, 60, id="as the valves do"),
        pytest.param(255, 75, 60, id="a leak runs away until the inflow begins and moves no valve"),
        pytest.param(200, 20, None, id="the beam hears no inflow"),
    ],
)
def test_the_relaxation_is_that_of_the_valves(
    leak_until_ms: float, inflow_cm_s: float, expected_ms: float | None
) -> None:
    """Ejection ends 200 ms after R and filling begins 60 ms later, whatever runs away in between (formula)."""
    times = np.arange(-2000.0, 0.0, STEP_MS) + STEP_MS / 2
    r_ms = np.arange(-1900.0, 0.0, 600.0)

    def waves(peak: float, after_ms: float, length_ms: float) -> NDArray[np.float64]:
        part = (times[:, None] - r_ms[None] - after_ms) / length_ms
        return np.asarray((peak * np.sin(np.pi * np.clip(part, 0, 1))).sum(axis=1), np.float64)

    asked = Asked(
        flow=TrueFlow(
            times_ms=times, away_cm_s=waves(90, 50, leak_until_ms - 50), towards_cm_s=waves(inflow_cm_s, 260, 110)
        ),
        r_times_ms=tuple(float(beat) for beat in r_ms), valve=Valve.MITRAL, signal=Signal.FORWARD,
        mode=Mode.PULSED_WAVE, relaxations=tuple((float(beat) + 200, float(beat) + 260) for beat in r_ms),
    )  # fmt: skip

    assert expected_values(asked).get("ivrt") == expected_ms


def test_an_animal_relaxes_as_long_as_its_rhythm_says() -> None:
    """From 3 % of the outflow's peak to 3 % of E's: the rhythm's own time and a few milliseconds of both feet."""
    rhythm = draw_subject(1, Ring.A).animal.rhythm
    film = beats(rhythm, draw_subject(1, Ring.A).start_ms + 3 * rhythm.rr_ms, lead_ms=STRIP_LEAD_MS + 2 * rhythm.rr_ms)
    r_ms = tuple(at - 500.0 for at in r_wave_times_ms(rhythm, film))

    spans = true_relaxations(1, Ring.A, r_ms)

    assert np.median([opens - shuts for shuts, opens in spans]) == pytest.approx(rhythm.relaxation_ms + 8, abs=4)
    with pytest.raises(RuntimeError, match="draw its stills again"):
        true_relaxations(1, Ring.A, r_ms[1:])


def test_spectra_of_one_animal_do_not_make_a_share_surer() -> None:
    """Six spectra of one animal tell as much as one; of six animals they tell more."""
    one = cells([RIGHT] * 6)
    six = cells([replace(RIGHT, seed=seed) for seed in range(6)])

    assert one[2:5] == ["6", "1", cells([RIGHT])[4]]
    assert six[2:5] == ["6", "6", "100 % (61–100)"]  # 1 / (1 + 1.96**2 / 6), E. B. Wilson (1927)


def test_of_a_ring_only_walls_of_the_heart_count() -> None:
    """Muscle and the atria's walls do; blood, leaflets, fluid about the heart and what lies beyond it do not."""
    walls = {*MYOCARDIUM, Tissue.LA_WALL, Tissue.RA_WALL, Tissue.ATRIAL_SEPTUM, Tissue.AORTIC_WALL}

    assert not walls & set(NO_WALL)
    assert {*BLOOD, *NOT_HEART, Tissue.EFFUSION, Tissue.TRICUSPID_LEAFLET, Tissue.MITRAL_CHORDAE} <= set(NO_WALL)


def test_a_leaflet_counts_as_muscle_of_its_own_side() -> None:
    """The tricuspid ring moves with the right ventricle's wall and not with the septum."""
    labels = np.array(
        [Tissue.TRICUSPID_LEAFLET, Tissue.MITRAL_SEPTAL_LEAFLET, Tissue.MITRAL_PARIETAL_LEAFLET, Tissue.RA_WALL],
        np.uint8,
    )

    assert as_muscle(labels).tolist() == [Tissue.RV_WALL, Tissue.SEPTUM, Tissue.SEPTUM, Tissue.RA_WALL]
    assert labels[0] == Tissue.TRICUSPID_LEAFLET
