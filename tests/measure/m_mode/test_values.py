"""Numbers of drawn strips, and how sure they are."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fanlight.measure.m_mode import Border, Borders, MModeStrip, Seen, find_borders, measure_m_mode
from fanlight.measure.m_mode.beat_distances import DISTANCES, measure_distance
from fanlight.measure.m_mode.beats import Beats, find_beats
from fanlight.measure.m_mode.spread import combined, mean_of_beats
from fanlight.reference.load import HouseFileError, load_house
from fanlight.reference.m_mode import MModeSettings, read_m_mode_settings
from fanlight.study import House, Measurement
from tests.measure.m_mode.drawn_strip import Ventricle, strip_of

TARGET_SHARE = 0.03  # what M-mode diameters are held to
WALL_MM = 0.4
HEART = Ventricle()
TRUE_MM = {
    "lvidd": HEART.cavity,
    "lvids": HEART.cavity * (1 - HEART.shortening),
    "ivsd": HEART.septum,
    "ivss": HEART.septum * (1 + HEART.thickening),
    "lvwd": HEART.wall,
    "lvws": HEART.wall * (1 + HEART.thickening),
}


def _by_name(measurements: tuple[Measurement, ...]) -> dict[str, Measurement]:
    return {item.name or item.label: item for item in measurements}


@pytest.mark.parametrize("with_ecg", [True, False], ids=["ECG", "no ECG"])
def test_drawn_sizes_are_measured(with_ecg: bool, settings: MModeSettings) -> None:
    """Diameters to 3 %, walls to 0.4 mm, all within their stated band."""
    found = _by_name(measure_m_mode(strip_of(HEART, with_ecg=with_ecg), settings).measurements)

    for name, true_mm in TRUE_MM.items():
        item = found[name]
        assert item.value is not None
        assert item.uncertainty is not None
        within_mm = TARGET_SHARE * true_mm if name.startswith("lvid") else WALL_MM
        assert item.value == pytest.approx(true_mm, abs=within_mm)
        assert abs(item.value - true_mm) <= 3 * item.uncertainty
        assert item.unit == "mm"
    assert found["fractional_shortening"].value == pytest.approx(100 * HEART.shortening, abs=2.0)
    assert found["heart rate on the strip"].value == pytest.approx(60_000 / HEART.beat_ms, rel=0.02)


def test_each_value_says_how_it_was_taken(settings: MModeSettings) -> None:
    """Convention, beats, timing, clip and frame."""
    reading = measure_m_mode(strip_of(HEART), settings, Seen(clip="IM7", frame=2))
    lvidd = _by_name(reading.measurements)["lvidd"]

    assert lvidd.method.startswith("M-mode, leading edge to leading edge/1; mean of beats 1, 2, 3 of 3, SD ")
    assert lvidd.method.endswith("timed by R waves")
    assert (lvidd.clip, lvidd.frames, lvidd.given_by) == ("IM7", (2,), "engine")


def test_the_scale_takes_part_in_lengths_and_not_in_ratios(settings: MModeSettings) -> None:
    """GUM 5.1.2: a scale that errs by 2 % adds 2 % of a length in quadrature; a ratio of lengths does not feel it."""
    sure = _by_name(measure_m_mode(strip_of(HEART), settings).measurements)
    unsure = _by_name(measure_m_mode(strip_of(HEART, mm_share=0.02), settings).measurements)

    assert sure["lvidd"].value is not None
    assert sure["lvidd"].uncertainty is not None
    expected = combined(sure["lvidd"].uncertainty, 0.02 * sure["lvidd"].value)
    assert unsure["lvidd"].uncertainty == pytest.approx(expected)
    assert unsure["fractional_shortening"].uncertainty == sure["fractional_shortening"].uncertainty


def test_teichholz_is_given_only_when_the_house_asks(settings: MModeSettings) -> None:
    """norms_worked.csv C01: 4.7 and 2.3 cm give 82.3 %; the formula itself is tested with the formulas."""
    asked = replace(settings, with_teichholz=True)

    assert "ejection_fraction" not in _by_name(measure_m_mode(strip_of(HEART), settings).measurements)
    ejected = _by_name(measure_m_mode(strip_of(HEART), asked).measurements)["ejection_fraction"]
    volume = [7 * d**3 / (2.4 + d) for d in (TRUE_MM["lvidd"] / 10, TRUE_MM["lvids"] / 10)]
    assert ejected.value == pytest.approx(100 * (1 - volume[1] / volume[0]), abs=3)


def test_no_ventricle_gives_reasons_and_no_number(settings: MModeSettings) -> None:
    """Every value has the reason in its place."""
    noise = np.random.default_rng(0).integers(0, 256, (300, 300)).astype(np.uint8)
    reading = measure_m_mode(MModeStrip(levels=noise, mm_per_row=0.2, ms_per_col=4.0), settings)

    assert len(reading.measurements) == 8
    assert all(item.value is None and item.reason for item in reading.measurements)


def test_one_beat_is_less_sure_than_many() -> None:
    """The usual spread stands in for what few beats do not show, and Student's t for how few they are."""
    one, many = mean_of_beats([20.0], 0.3), mean_of_beats([20.0] * 6, 0.3)

    assert one.sd is None
    assert many.sd == 0
    assert one.error > 2 * many.error > 0
    # n = 1: three degrees of freedom of the usual spread; t(0.975, 3) = 3.182 (any table of Student's t).
    assert one.error == pytest.approx(3.182 / 1.96 * 0.3, rel=1e-3)


def test_a_wide_spread_outweighs_the_usual_one() -> None:
    """With many beats the error is that of their own mean: SD / root n, widened by t."""
    values = list(np.random.default_rng(1).normal(20, 2, 400))

    assert mean_of_beats(values, 0.2).error == pytest.approx(np.std(values, ddof=1) / 20, rel=0.02)


def test_no_beat_has_no_mean() -> None:
    """A caller's mistake."""
    with pytest.raises(ValueError, match="at least one beat"):
        mean_of_beats([], 0.3)


@pytest.mark.parametrize(
    ("part", "key", "value", "message"),
    [
        ("borders", "septum_share", [0.3, 0.1], "m_mode.borders.septum_share must be a smaller and a larger share"),
        ("borders", "step_ms", 0, "m_mode.borders.step_ms must be above 0, got 0"),
        ("limits", "least_contrast", True, "m_mode.limits.least_contrast must be above 0, got True"),
        ("values", "with_teichholz", 1, "m_mode.values.with_teichholz must be true or false, got 1"),
        (
            "limits",
            "ectopic_share",
            0.8,
            "m_mode.limits.ectopic_share: no such row; take it out, rows are ",
        ),
    ],
)
def test_settings_of_a_house_are_checked(part: str, key: str, value: object, message: str) -> None:
    """The row at fault is named."""
    house = load_house()
    table = house.table("m_mode")
    own = House({**house.tables, "m_mode": {**table, part: {**table[part], key: value}}})

    with pytest.raises(ValueError, match=message):
        read_m_mode_settings(own)


def test_a_table_without_a_row_is_refused() -> None:
    """What is missing, and the remedy."""
    house = load_house()
    table = house.table("m_mode")
    short = {key: value for key, value in table["limits"].items() if key != "least_margin"}

    with pytest.raises(ValueError, match="m_mode lacks least_margin; write them as in the shipped table"):
        read_m_mode_settings(House({**house.tables, "m_mode": {**table, "limits": short}}))


def test_a_row_of_another_name_in_a_house_file_names_file_and_rows(tmp_path: Path) -> None:
    """A group's own file: file, row, and the rows that there are."""
    own = tmp_path / "house.toml"
    own.write_text("[m_mode.limits]\nleast_contarst = 0.3\n", "utf-8")

    with pytest.raises(HouseFileError, match=r"house\.toml, m_mode\.limits\.least_contarst: no such row\. Rows "):
        load_house(own)


def _read(settings: MModeSettings, *, with_ecg: bool = True) -> tuple[MModeStrip, Borders, Beats]:
    strip = strip_of(HEART, with_ecg=with_ecg)
    borders = find_borders(strip, settings)
    assert not isinstance(borders, str)
    beats = find_beats(strip, *_courses_mm(strip, borders))
    assert not isinstance(beats, str)
    return strip, borders, beats


def test_the_moment_of_end_diastole_takes_part_without_an_ecg(settings: MModeSettings) -> None:
    """The largest diameter is timed worse than an R wave; what changes meanwhile is less sure, in diastole alone."""
    strip, borders, told = _read(settings)
    _, _, own = _read(settings, with_ecg=False)
    late = replace(told, diastole_timing_ms=own.diastole_timing_ms)

    for distance in DISTANCES:
        sure, unsure = (
            measure_distance(distance, strip, borders, each, settings).placement_mm for each in (told, late)
        )
        assert unsure == sure if distance.in_systole else unsure > sure


def test_a_blurred_epicardium_makes_the_free_wall_less_sure(settings: MModeSettings) -> None:
    """LVWd and LVWs feel a blur of 1.5 mm; what does not end at the epicardium does not."""
    strip, borders, beats = _read(settings)
    blur_mm = borders.blur_mm.copy()
    blur_mm[Border.EPICARDIUM] = 1.5
    blurred = replace(borders, blur_mm=blur_mm)

    for distance in DISTANCES:
        sharp, dull = (measure_distance(distance, strip, each, beats, settings) for each in (borders, blurred))
        if distance.lower is Border.EPICARDIUM:
            assert dull.placement_mm > sharp.placement_mm + 0.1
        else:
            assert dull.placement_mm == sharp.placement_mm


def _courses_mm(strip: MModeStrip, borders: Borders) -> tuple[np.ndarray, np.ndarray]:
    rows = borders.rows * strip.mm_per_row
    return rows[Border.ENDOCARDIUM] - rows[Border.SEPTUM_END], rows[Border.ENDOCARDIUM]
