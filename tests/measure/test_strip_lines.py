"""Where strips were measured, laid on their pictures: held to the tissue and to the formulas that are drawn there."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from fanlight.frames.doppler.spectrum import SpectralAxes
from fanlight.measure.areas import areas_of
from fanlight.measure.doppler.case import Signal
from fanlight.measure.doppler.read import ReadSpectrum, read_spectrum
from fanlight.measure.doppler.values import measure_spectrum
from fanlight.measure.from_strip import StripCase, measure_strip
from fanlight.measure.m_mode import MModeStrip
from fanlight.measure.read_out import read_out
from fanlight.measure.strip_lines import Place, StripLines, read_lines
from fanlight.measure.strip_lines.m_mode import OnPicture, mitral_lines
from fanlight.measure.strip_lines.spectrum import spectrum_lines
from fanlight.measure.valve_strip import measure_mitral
from fanlight.reference.load import load_house
from fanlight.simulate.clip.ring import Ring
from fanlight.study import (
    Box,
    Layout,
    MarkedAxis,
    MarkedDistance,
    MarkKind,
    Mode,
    PhysicalUnit,
    Region,
    RegionReading,
    SpatialFormat,
    StripAxis,
    Valve,
    ViewReading,
    ViewSource,
)
from measure._m_mode_strips import DrawnStrip, draw_strip, true_distances
from measure._valve_strips import VIEWS, draw_mitral_strip
from tests.measure import test_from_strip as spectra
from tests.measure.drawn_spectra import Drawing, case_of, half_sines, triangles
from tests.measure.m_mode import test_on_screen as screens
from tests.measure.m_mode.drawn_strip import MM_PER_ROW, MS_PER_COL
from tests.measure.test_spectral_inflow import A_CM_S, E_CM_S, ONSETS_MS, R_MS, filling

HOUSE = load_house()
CHORDAE = "right_parasternal_short_axis_chordae"
SEED = 301  # ring A: a normal dog of 8 kg
ROW0, COL0 = 30, 50
WITHIN_SD = 3.0  # of the value's own uncertainty: 1 of 370 lies beyond (normal distribution)
ONE_PX = 1.0


def _view(key: str = CHORDAE) -> ViewReading:
    return ViewReading(view=key, source=ViewSource.MENTOR)


def _layout(drawn: DrawnStrip, screen: NDArray[np.uint8]) -> Layout:
    rows, cols = drawn.levels.shape
    region = Region(
        spatial_format=SpatialFormat.M_MODE, data_type=1, unit_x=PhysicalUnit.SECONDS, unit_y=PhysicalUnit.CM,
        box=Box(row0=ROW0, col0=COL0, row1=ROW0 + rows, col1=COL0 + cols), delta_x=drawn.ms_per_col / 1000,
        delta_y=drawn.mm_per_row / 10,
    )  # fmt: skip
    return Layout(
        rows=screen.shape[0], cols=screen.shape[1], picture=None, picture_confidence=0.0, picture_reason="",
        scale=None, scale_reason="", regions=(RegionReading(region=region, trusted=True, reason=""),),
    )  # fmt: skip


@pytest.fixture(scope="module")
def drawn() -> DrawnStrip:
    return draw_strip(SEED, Ring.A)


@pytest.fixture(scope="module")
def on_screen(drawn: DrawnStrip) -> StripCase:
    """A simulated strip on a larger picture; it has no ECG."""
    screen = np.zeros((drawn.levels.shape[0] + 90, drawn.levels.shape[1] + 110), np.uint8)
    screen[ROW0 : ROW0 + drawn.levels.shape[0], COL0 : COL0 + drawn.levels.shape[1]] = drawn.levels
    return StripCase(pixels=screen, frame=4, layout=_layout(drawn, screen), mode=Mode.M_MODE, view=_view())


def _at(lines: StripLines, name: str, cols: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the row of a line at columns of the picture, NaN where it is not seen."""
    rows = np.full(len(cols), np.nan)
    for course in lines.courses:
        if course.name == name and course.is_seen:
            own = np.asarray(course.points)
            inside = (cols >= own[0, 1]) & (cols <= own[-1, 1])
            rows[inside] = np.interp(cols[inside], own[:, 1], own[:, 0])
    return rows


def test_borders_lie_on_the_tissue_of_a_simulated_heart(drawn: DrawnStrip, on_screen: StripCase) -> None:
    """The middle column of each border errs by less than 1 mm; the tissue is the simulator's own, along the cursor."""
    lines = read_lines(on_screen, HOUSE)
    cols = np.arange(drawn.levels.shape[1], dtype=np.float64) + COL0

    assert lines.frame == 4
    for k, name in enumerate(("septum_start", "septum_end", "endocardium")):
        off_mm = (_at(lines, name, cols) - (drawn.true_rows[k] + ROW0 - 0.5)) * drawn.mm_per_row
        assert np.isfinite(off_mm).mean() > 0.5
        assert np.nanmedian(np.abs(off_mm)) < 1.0


def test_pairs_are_as_long_as_the_tissue_within_what_they_say(drawn: DrawnStrip, on_screen: StripCase) -> None:
    """Both diameters of each beat, held to the tissue of that beat."""
    true = true_distances(drawn)
    lines = read_lines(on_screen, HOUSE)
    diameters = [item for item in lines.places if item.quantity in ("lvidd", "lvids") and not item.reason]

    assert diameters
    for item in diameters:
        (upper, col), (lower, same) = item.points
        assert col == same
        assert item.value == pytest.approx((lower - upper) * drawn.mm_per_row, abs=0.02)
        assert item.uncertainty is not None
        # By its own motion the strip tells beats; the truth counts them from R waves: the nearest of both.
        nearest = min(abs(beat[item.quantity] - float(item.value or 0)) for beat in true if beat)
        assert nearest < WITHIN_SD * item.uncertainty


def test_the_numbers_are_those_of_the_measurement(on_screen: StripCase) -> None:
    """The mean over the pairs that count is the value, and its uncertainty stands beside each."""
    lines = read_lines(on_screen, HOUSE)
    for item in measure_strip(on_screen, HOUSE):
        mine = [place for place in lines.places if place.quantity == item.name and item.name]
        if item.value is not None and mine:
            assert np.mean([place.value for place in mine if not place.reason]) == pytest.approx(item.value)
            assert {place.uncertainty for place in mine} == {item.uncertainty}


def test_a_mark_in_the_place_of_a_pair_reads_the_same(on_screen: StripCase) -> None:
    """What a mentor takes hold of begins at the engine's number: depth of a line on an M-mode."""
    areas = areas_of(on_screen.layout, None, ())
    for item in read_lines(on_screen, HOUSE).places:
        depth = read_out(item.kind.value, item.points, areas).values[0]
        if not item.reason:
            assert (depth.name, depth.unit) == ("depth", "mm")
            assert depth.value == pytest.approx(item.value, abs=0.02)


@pytest.mark.parametrize("base", [screens.BOX.row1 - 5, screens.BOX.row0 + 52], ids=["ECG at the foot", "at the top"])
def test_lines_lie_on_the_picture_beside_an_ecg_and_a_gap(base: int) -> None:
    """What the cut left out does not shift them: both sides of the cavity lie where they were drawn."""
    screen = screens.drawn_screen(base)
    screen[screens.BOX.row0 : screens.BOX.row1, screens.BOX.col0 + 90 : screens.BOX.col0 + 100] = 0
    case = StripCase(pixels=screen, frame=0, layout=screens._layout(), mode=Mode.M_MODE, view=_view())
    lines = read_lines(case, HOUSE)
    heart = screens.HEART

    (pair, *_) = [item for item in lines.places if item.quantity == "lvidd"]
    upper_mm = 8.0 + heart.right_cavity + heart.septum  # as `borders_mm` draws it in end-diastole
    assert pair.points[0][0] == pytest.approx(screens.ROW0 - 0.5 + upper_mm / MM_PER_ROW, abs=2 * ONE_PX)
    first_after = next(start for start in heart.starts_ms if start > 100 * MS_PER_COL)
    assert pair.points[0][1] == pytest.approx(screens.COL0 + first_after / MS_PER_COL, abs=2 * ONE_PX)


def test_a_beat_that_is_left_out_says_so() -> None:
    """A black bar over the free wall in one systole: its pairs do not count, the others do."""
    screen = screens.drawn_screen()
    at = screens.COL0 + round((screens.HEART.starts_ms[1] + 0.4 * screens.HEART.beat_ms) / MS_PER_COL)
    low = screens.ROW0 + round(26 / MM_PER_ROW)
    screen[low : screens.BOX.row1, at - 12 : at + 13] = 40
    lines = read_lines(
        StripCase(pixels=screen, frame=0, layout=screens._layout(), mode=Mode.M_MODE, view=_view()), HOUSE
    )
    by_beat = {item.beat: item for item in lines.places if item.quantity == "lvids"}

    assert by_beat[2].reason
    assert by_beat[2].value is None
    assert by_beat[1].reason == by_beat[3].reason == ""
    assert any(not course.is_seen for course in lines.courses)


def test_a_plain_picture_with_marked_axes_has_its_lines() -> None:
    """Two points of each scale are enough; without them the reason says so."""
    case = StripCase(
        pixels=screens.drawn_screen(), frame=0, layout=screens.PLAIN, mode=Mode.M_MODE, view=_view(),
        depth=MarkedDistance(
            start=(screens.ROW0 + 10, screens.COL0 + 5), end=(screens.ROW0 + 310, screens.COL0 + 5),
            distance_mm=300 * MM_PER_ROW,
        ),
        marked=(
            MarkedAxis(
                axis=StripAxis.TIME, start=(screens.ROW0 + 5, screens.COL0 + 10),
                end=(screens.ROW0 + 5, screens.COL0 + 310), amount=300 * MS_PER_COL,
            ),
        ),
    )  # fmt: skip
    (pair, *_) = [item for item in read_lines(case, HOUSE).places if item.quantity == "lvidd"]
    assert pair.value == pytest.approx(screens.HEART.cavity, rel=0.03)

    bare = read_lines(replace(case, depth=None, marked=()), HOUSE)
    assert (bare.courses, bare.places) == ((), ())
    assert "mark two points of its depth" in bare.reason


def test_a_mode_without_a_strip_is_a_wrong_use(on_screen: StripCase) -> None:
    with pytest.raises(ValueError, match="has no strip to measure"):
        read_lines(replace(on_screen, mode=Mode.TWO_D), HOUSE)


def test_the_mitral_leaflet_is_drawn_where_its_distance_ends() -> None:
    """EPSS of a simulated animal: each pair is as long as the tissue of its beat, within 1.5 mm of one beat."""
    drawn = draw_mitral_strip(304, Ring.A, VIEWS[0])
    strip = MModeStrip(
        levels=drawn.levels, mm_per_row=drawn.mm_per_row, ms_per_col=drawn.ms_per_col, r_times_ms=drawn.r_times_ms
    )
    lines = mitral_lines(measure_mitral(strip), OnPicture(strip, 0, 0), 0, HOUSE)
    pairs = [item for item in lines.places if item.quantity == "epss"]

    assert pairs
    for item in pairs:
        (upper, col), (lower, _) = item.points
        assert (lower - upper) * drawn.mm_per_row == pytest.approx(drawn.true_mm[item.beat - 1], abs=1.5)
        assert _at(lines, "leaflet", np.array([col]))[0] == pytest.approx(lower, abs=ONE_PX)
    assert {course.words for course in lines.courses} == {"left side of the septum", "mitral leaflet"}


def _read(drawing: Drawing, valve: Valve, signal: Signal, mode: Mode = Mode.PULSED_WAVE, **more: Any) -> ReadSpectrum:
    found = read_spectrum(case_of(drawing, valve, signal, mode, **more))
    assert not isinstance(found, str)
    return found


def _speed(axes: SpectralAxes, row: float) -> float:
    return (axes.baseline_row_px - row) * axes.cm_s_per_px


def _kept(lines: StripLines, name: str) -> list[Place]:
    return [item for item in lines.places if item.quantity == name and not item.reason]


def test_an_outflow_has_peak_outline_and_rise_of_each_beat() -> None:
    """Half sines of 110 cm/s in 220 ms: the peak in their middle; 2/π · peak · length of the outline (calculus)."""
    axes = spectra.AXES
    lines = read_lines(spectra._case(), HOUSE)
    peaks, outlines = _kept(lines, "aortic_vmax"), _kept(lines, "aortic_vti")

    assert len(peaks) == len(outlines) == len(_kept(lines, "aortic_acceleration_time")) == 3
    assert peaks[0].label == "aortic Vmax"
    areas = areas_of(spectra._layout(), None, ())
    for item, outline, onset_ms in zip(peaks, outlines, (150.0, 750.0, 1350.0), strict=True):
        ((row, col),) = item.points
        assert item.uncertainty is not None
        assert _speed(axes, row) / 100 == pytest.approx(-1.10, abs=WITHIN_SD * item.uncertainty)
        assert (col - axes.box.col0) * axes.ms_per_px == pytest.approx(onset_ms + 110, abs=20)
        said = {each.name: each.value for each in read_out("trace", outline.points, areas).values}
        assert said["velocity-time integral"] == pytest.approx(outline.value, rel=0.02)
        assert outline.value == pytest.approx(110 * 0.220 * 2 / np.pi, rel=0.07)
        assert read_out("point", item.points, areas).values[0].value == pytest.approx(
            -100 * float(item.value or 0), abs=0.1
        )
    rise = _kept(lines, "aortic_acceleration_time")[0]
    times = {each.name: each.value for each in read_out("line", rise.points, areas).values}
    assert times["time"] == pytest.approx(rise.value, abs=0.1)


def test_the_envelope_lies_on_the_formula() -> None:
    """Between a fifth and nine tenths of a wave, within 8 % of its peak of the half sine that was drawn."""
    axes, lines = spectra.AXES, read_lines(spectra._case(), HOUSE)
    times = np.arange(190.0, 340.0, 5.0)
    rows = _at(lines, "away", axes.box.col0 + times / axes.ms_per_px - 0.5)
    true = -110.0 * np.sin(np.pi * (times - 150.0) / 220.0)

    assert np.isfinite(rows).all()
    assert np.abs((axes.baseline_row_px - rows) * axes.cm_s_per_px - true).max() < 0.08 * 110


def test_an_inverted_display_is_followed() -> None:
    """Turned over, with the file's word for it, peaks lie above the baseline."""
    read = _read(Drawing(waves=[half_sines(110, 220, (150, 750, 1350))]), Valve.AORTIC, Signal.FORWARD)
    turned = replace(read.case, axes=replace(read.case.axes, is_inverted=True))
    again = read_spectrum(turned)
    assert not isinstance(again, str)
    peaks = _kept(spectrum_lines(again, 0, HOUSE), "aortic_vmax")

    assert len(peaks) == 3
    assert all(item.points[0][0] < turned.axes.baseline_row_px for item in peaks)


def test_an_inflow_has_e_a_and_the_fall_of_e() -> None:
    """E and A of PEREIRA2009; the fall was drawn to last 90 ms and ends on the baseline."""
    read = _read(filling(), Valve.MITRAL, Signal.FORWARD, r_times_ms=R_MS)
    lines, axes = spectrum_lines(read, 0, HOUSE), read.case.axes

    assert len(_kept(lines, "mitral_e")) == len(_kept(lines, "mitral_a")) >= 2
    for name, true in (("mitral_e", E_CM_S), ("mitral_a", A_CM_S)):
        for item in _kept(lines, name):
            assert item.uncertainty is not None
            assert _speed(axes, item.points[0][0]) == pytest.approx(true, abs=100 * WITHIN_SD * item.uncertainty)
    for item in _kept(lines, "mitral_e_deceleration_time"):
        assert item.points[1][0] == pytest.approx(axes.baseline_row_px, abs=0.01)
        end_ms = (item.points[1][1] - axes.box.col0 + 0.5) * axes.ms_per_px
        assert min(abs(end_ms - (onset + 150)) for onset in ONSETS_MS) < 15


def _spans_ms(lines: StripLines, name: str, axes: SpectralAxes) -> list[tuple[float, float]]:
    """Return first and last moment of each line of a quantity; all lie on the baseline."""
    found = _kept(lines, name)
    assert all(row == pytest.approx(axes.baseline_row_px, abs=0.01) for item in found for row, _ in item.points)
    starts, ends = ([(item.points[k][1] - axes.box.col0 + 0.5) * axes.ms_per_px for item in found] for k in (0, 1))
    for item, start, end in zip(found, starts, ends, strict=True):
        assert item.value == pytest.approx(end - start, abs=0.1)
    return list(zip(starts, ends, strict=True))


def test_an_outflow_shows_how_long_it_lasts() -> None:
    """Half sines of 220 ms from 150, 750 and 1350 ms on: feet within 15 ms, on the baseline."""
    spans = _spans_ms(read_lines(spectra._case(), HOUSE), "aortic_ejection_time", spectra.AXES)

    assert len(spans) == 3
    for (start, end), onset_ms in zip(spans, (150.0, 750.0, 1350.0), strict=True):
        assert (start, end) == pytest.approx((onset_ms, onset_ms + 220), abs=15)


def test_an_inflow_shows_how_long_a_lasts() -> None:
    """Their mean is the number of the list."""
    read = _read(filling(), Valve.MITRAL, Signal.FORWARD, r_times_ms=R_MS)
    spans = _spans_ms(spectrum_lines(read, 0, HOUSE), "mitral_a_duration", read.case.axes)
    value = next(item.value for item in measure_spectrum(read.case) if item.name == "mitral_a_duration")

    assert len(spans) >= 2
    assert np.mean([end - start for start, end in spans]) == pytest.approx(value, abs=0.1)


@pytest.mark.parametrize("valve", [Valve.MITRAL, Valve.AORTIC])
def test_relaxation_lies_between_outflow_and_inflow(valve: Valve) -> None:
    """Outflow ends 60 ms before each inflow (as drawn); the mean over the lines is the number of the list."""
    waves = [
        half_sines(-90, 150, [onset - 210 for onset in (*ONSETS_MS[1:], 2100)]), triangles(E_CM_S, 60, 90, ONSETS_MS)
    ]  # fmt: skip
    read = _read(Drawing(waves=waves, scale_cm_s=130, span_ms=2300), valve, Signal.FORWARD, r_times_ms=R_MS)
    spans = _spans_ms(spectrum_lines(read, 0, HOUSE), "ivrt", read.case.axes)
    value = next(item.value for item in measure_spectrum(read.case) if item.name == "ivrt")

    assert len(spans) == len(ONSETS_MS) - 1
    assert np.mean([end - start for start, end in spans]) == pytest.approx(value, abs=0.1)
    for (start, end), onset_ms in zip(spans, ONSETS_MS[1:], strict=True):
        assert (start, end) == pytest.approx((onset_ms - 60, onset_ms), abs=15)


def test_fused_waves_say_so_at_each_wave() -> None:
    """They are drawn, and none counts."""
    onsets = tuple(range(100, 2200, 300))
    read = _read(
        Drawing(waves=[half_sines(90, 120, onsets)], scale_cm_s=120, span_ms=2300), Valve.MITRAL, Signal.FORWARD,
        r_times_ms=[onset - 140 for onset in onsets],
    )  # fmt: skip
    lines = spectrum_lines(read, 0, HOUSE)

    assert lines.places
    assert all("E and A are fused" in item.reason for item in lines.places)
    assert "E and A are fused" in lines.reason


def test_of_a_jet_the_highest_counts_and_the_others_say_so() -> None:
    """Of leaks of 300, 360 and 330 cm/s, one a beat."""
    waves = [half_sines(-peak, 220, (onset,)) for peak, onset in ((300, 150), (360, 750), (330, 1350))]
    read = _read(
        Drawing(waves=waves, scale_cm_s=500, is_filled=True), Valve.TRICUSPID, Signal.LEAK, Mode.CONTINUOUS_WAVE
    )
    lines = spectrum_lines(read, 0, HOUSE)

    (best,) = _kept(lines, "tr_vmax")
    assert best.beat == 2
    assert {item.reason for item in lines.places if item.beat != 2} == {"of a jet the highest envelope counts"}


def test_an_open_envelope_is_dashed_and_does_not_count() -> None:
    """Flow of 260 cm/s on a scale of 200: what runs out of the strip has no peak."""
    read = _read(
        Drawing(waves=[half_sines(-260, 220, (150, 750, 1350))], is_filled=True), Valve.TRICUSPID, Signal.LEAK,
        Mode.CONTINUOUS_WAVE,
    )  # fmt: skip
    lines = spectrum_lines(read, 0, HOUSE)

    assert all(item.reason for item in lines.places)
    assert "at least" in lines.reason
    assert any(not course.is_seen for course in lines.courses if course.name == "away")


def test_a_ring_has_its_three_waves_on_both_sides() -> None:
    """S' above, E' and A' below the baseline."""
    up = half_sines(9, 160, [onset - 200 for onset in ONSETS_MS])
    down = [half_sines(-8, 90, ONSETS_MS), half_sines(-6, 90, [onset + 200 for onset in ONSETS_MS])]
    drawing = Drawing(waves=[up, *down], scale_cm_s=15, span_ms=2300, least_band_cm_s=0.4)
    read = _read(drawing, Valve.MITRAL, Signal.ANNULUS, Mode.TISSUE_DOPPLER, r_times_ms=R_MS)
    lines, axes = spectrum_lines(read, 0, HOUSE), read.case.axes

    for name, true in (("mitral_annulus_s", 9), ("mitral_annulus_e", -8), ("mitral_annulus_a", -6)):
        (first, *_) = _kept(lines, name)
        assert first.kind is MarkKind.POINT
        assert _speed(axes, first.points[0][0]) == pytest.approx(true, rel=0.12)


def test_a_leaflet_among_a_rings_waves_does_not_count() -> None:
    """A' of 80 ms in two beats; in the third a leaflet swings for 36 ms, 24 ms of them above its half (2/3)."""
    onsets = (*ONSETS_MS[1:], 2100)
    up = half_sines(9, 160, [onset - 200 for onset in onsets])
    late = [onset + 220 for onset in onsets]
    down = [half_sines(-8, 90, onsets), half_sines(-6, 80, late[:-1]), half_sines(-9, 36, late[-1:])]
    drawing = Drawing(waves=[up, *down], scale_cm_s=15, span_ms=2800, least_band_cm_s=0.4)
    read = _read(drawing, Valve.MITRAL, Signal.ANNULUS, Mode.TISSUE_DOPPLER, r_times_ms=R_MS)
    lines = spectrum_lines(read, 0, HOUSE)
    value = next(item.value for item in measure_spectrum(read.case) if item.name == "mitral_annulus_a")

    drawn = [item for item in lines.places if item.quantity == "mitral_annulus_a"]
    assert ["as a leaflet swings" in item.reason for item in drawn] == [False, False, True]
    assert np.mean([item.value for item in _kept(lines, "mitral_annulus_a")]) == pytest.approx(value, abs=0.01)


def test_where_most_of_a_rings_waves_are_a_leaflets_a_wall_among_them_says_so() -> None:
    """A leaflet swings in two beats for 36 ms, 24 of them above its half (2/3); A' of 80 ms in the third."""
    onsets = (*ONSETS_MS[1:], 2100)
    up = half_sines(9, 160, [onset - 200 for onset in onsets])
    late = [onset + 220 for onset in onsets]
    down = [half_sines(-8, 90, onsets), half_sines(-9, 36, late[:-1]), half_sines(-6, 80, late[-1:])]
    drawing = Drawing(waves=[up, *down], scale_cm_s=15, span_ms=2800, least_band_cm_s=0.4)
    lines = spectrum_lines(_read(drawing, Valve.MITRAL, Signal.ANNULUS, Mode.TISSUE_DOPPLER, r_times_ms=R_MS), 0, HOUSE)

    drawn = [item.reason for item in lines.places if item.quantity == "mitral_annulus_a"]
    assert [reason.startswith("the wave stays above half") for reason in drawn] == [True, True, False]
    assert drawn[2].startswith("at least half of such waves on this strip swing as a leaflet")


def test_a_weak_beat_of_inflow_does_not_count() -> None:
    """E and A at half their speed in the first of two whole beats, below the 70 % of the page."""
    waves = [
        triangles(share * speed, 60, 90, (onset + late,))
        for share, onset in zip((1.0, 0.5, 1.0), ONSETS_MS, strict=True)  # the first onset lies in no whole beat
        for speed, late in ((80.0, 0), (60.0, 230))
    ]
    read = _read(Drawing(waves=waves, scale_cm_s=100, span_ms=2300), Valve.MITRAL, Signal.FORWARD, r_times_ms=R_MS)
    lines = spectrum_lines(read, 0, HOUSE)

    for name in ("mitral_e", "mitral_a", "mitral_a_duration"):
        drawn = [item for item in lines.places if item.quantity == name]
        assert ["less than 70 % of the fastest" in item.reason for item in drawn] == [True, False]


def test_a_spectrum_without_a_scale_says_what_is_missing() -> None:
    lines = read_lines(spectra._case(layout=spectra._layout(has_region=False)), HOUSE)

    assert (lines.courses, lines.places) == ((), ())
    assert lines.reason == (
        "the file does not say where the spectrum lies on the screen; "
        "mark two points of its time scale, two of its velocity scale, and its baseline"
    )
