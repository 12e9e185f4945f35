"""Parts of the reading of spectra: path, beats, clicks, axes that a person marked."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from scipy.sparse import lil_matrix
from scipy.sparse.csgraph import dijkstra

from fanlight.frames.doppler.marked_axes import AxesError, axes_from_marks
from fanlight.measure.doppler.beats import beats_from_r, regular
from fanlight.measure.doppler.breadth import read_breadth
from fanlight.measure.doppler.case import Signal, SpectrumCase
from fanlight.measure.doppler.clicks import runs
from fanlight.measure.doppler.marked_axes import error_of_marks
from fanlight.measure.doppler.path import PathCost, cheapest_path
from fanlight.measure.doppler.read import read_spectrum
from fanlight.measure.doppler.side import Side
from fanlight.measure.doppler.values import measure_spectrum
from fanlight.measure.doppler.wave import Wave
from fanlight.study import Box, MarkedAxis, Mode, StripAxis, Valve
from tests.measure.drawn_spectra import Drawing, case_of, draw, half_sines

STRIP = Box(row0=100, col0=50, row1=400, col1=850)
MARKS = (
    MarkedAxis(axis=StripAxis.TIME, start=(410, 50), end=(410, 450), amount=1000),
    MarkedAxis(axis=StripAxis.VELOCITY, start=(150, 40), end=(250, 40), amount=100),
    MarkedAxis(axis=StripAxis.BASELINE, start=(250, 50), end=(250, 850), amount=0),
)


def test_path_is_the_cheapest_by_dijkstra():
    """The path costs as much as the shortest way through the same grid, as scipy's Dijkstra finds it."""
    rng = np.random.default_rng(3)
    costs = rng.random((9, 12))
    cost = PathCost(inside_px=2, outside_px=2, bend=0.11, step_px=2, leap_px=5, beyond=0.5, beyond_px=3)

    path = cheapest_path(costs, cost)

    rows, cols = costs.shape
    graph = lil_matrix((rows * cols + 1, rows * cols + 1))
    for row in range(rows):
        graph[rows * cols, row * cols] = costs[row, 0]
        for col in range(cols - 1):
            for other in range(rows):
                apart = abs(other - row)
                most = cost.leap_px if 0 in (row, other) else cost.step_px
                if apart <= most:
                    graph[row * cols + col, other * cols + col + 1] = costs[other, col + 1] + cost.bend * apart
    ways = dijkstra(graph.tocsr(), indices=rows * cols)
    shortest = min(ways[row * cols + cols - 1] for row in range(rows))
    own = costs[path, np.arange(cols)].sum() + cost.bend * np.abs(np.diff(path)).sum()
    assert own == pytest.approx(shortest)


def test_beats_lie_whole_between_r_waves():
    """Beats that begin before the strip or end behind it are none; the last R wave still begins a systole."""
    found = beats_from_r([-100, 400, 900, 1400, 1900], strip_ms=2000)

    assert [(beat.start_ms, beat.end_ms) for beat in found.beats] == [(400, 900), (900, 1400), (1400, 1900)]
    assert found.begun[-1].start_ms == 1900
    assert found.rate_bpm == pytest.approx(120)


def test_premature_beat_spoils_three_intervals():
    """The beat cut short, the premature one and the one after the pause do not count."""
    times = np.asarray([0, 500, 1000, 1300, 2000, 2500, 3000], float)

    assert regular(times).tolist() == [True, True, False, False, False, True]


def test_sinus_arrhythmia_is_no_ectopy():
    """Intervals that swing by a fifth with the breath all count."""
    times = np.cumsum([0, 500, 560, 620, 560, 500, 460])

    assert regular(times.astype(float)).all()


def test_runs_are_half_open():
    """Start is in, end is not."""
    assert runs(np.asarray([True, False, True, True])) == [(0, 1), (2, 4)]


def test_marks_make_axes_with_their_error():
    """1000 ms over 400 px and 100 cm/s over 100 px; each scale errs by √2 pixels over its length."""
    axes, error = axes_from_marks(MARKS, STRIP), error_of_marks(MARKS)

    assert (axes.ms_per_px, axes.cm_s_per_px, axes.baseline_row_px) == (2.5, 1.0, 250)
    assert error.velocity_share == pytest.approx(2**0.5 / 100)
    assert error.time_share == pytest.approx(2**0.5 / 400)
    assert error.baseline_px == 1.0


@pytest.mark.parametrize("missing", range(3))
def test_missing_mark_is_named_with_remedy(missing):
    """The message says which mark lacks and what to mark."""
    marks = [mark for k, mark in enumerate(MARKS) if k != missing]

    with pytest.raises(AxesError, match=f"{MARKS[missing].axis.value} is missing; mark "):
        axes_from_marks(marks, STRIP)


def test_mark_given_twice_is_refused():
    """Nobody said which of two counts."""
    with pytest.raises(AxesError, match="velocity is marked 2 times; keep one"):
        axes_from_marks((*MARKS, MARKS[1]), STRIP)


def test_baseline_of_another_strip_is_refused():
    """A baseline far off the strip belongs to something else."""
    far = MarkedAxis(axis=StripAxis.BASELINE, start=(900, 50), end=(900, 60), amount=0)

    with pytest.raises(AxesError, match="marked at row 900, the strip spans rows 100 to 400"):
        axes_from_marks((*MARKS[:2], far), STRIP)


def test_plain_picture_measures_as_a_file_does_only_less_surely():
    """The same picture with marked axes gives the same velocity, with the error of the marks on top."""
    grey, axes = draw(Drawing(waves=[half_sines(-120, 180, (100, 600, 1100, 1600))]))
    row = axes.baseline_row_px
    marks = (
        MarkedAxis(axis=StripAxis.TIME, start=(5, 12), end=(5, 412), amount=400 * axes.ms_per_px),
        MarkedAxis(axis=StripAxis.VELOCITY, start=(row, 5), end=(row + 75, 5), amount=75 * axes.cm_s_per_px),
        MarkedAxis(axis=StripAxis.BASELINE, start=(row, 12), end=(row, 400), amount=0),
    )
    marked, error = axes_from_marks(marks, axes.box), error_of_marks(marks)
    case = SpectrumCase(
        grey=grey, axes=axes, mode=Mode.PULSED_WAVE, valve=Valve.AORTIC, signal=Signal.FORWARD,
        r_times_ms=(60, 560, 1060, 1560),
    )  # fmt: skip

    plain = measure_spectrum(case)[0]
    by_hand = measure_spectrum(dataclasses.replace(case, axes=marked, axis_error=error))[0]

    assert by_hand.value == pytest.approx(plain.value)
    assert plain.uncertainty is not None
    assert by_hand.uncertainty is not None
    assert by_hand.uncertainty > plain.uncertainty


def test_case_refuses_what_no_machine_shows():
    """Tissue Doppler shows the ring; a strip lies on its picture."""
    grey, axes = draw(Drawing(waves=[half_sines(-120, 180, (100,))], span_ms=400))

    with pytest.raises(ValueError, match="tissue Doppler shows the annulus"):
        SpectrumCase(grey=grey, axes=axes, mode=Mode.TISSUE_DOPPLER, valve=Valve.MITRAL, signal=Signal.FORWARD)
    with pytest.raises(ValueError, match="leaves the picture"):
        SpectrumCase(
            grey=grey[:50], axes=axes, mode=Mode.PULSED_WAVE, valve=Valve.MITRAL, signal=Signal.FORWARD
        )  # fmt: skip


def test_angle_is_a_note_and_no_correction():
    """An angle of 20 degrees in the picture changes no value; the reason says that the speed is at least 6 % more."""
    grey, axes = draw(Drawing(waves=[half_sines(-120, 180, (100, 600, 1100, 1600))]))
    case = SpectrumCase(grey=grey, axes=axes, mode=Mode.PULSED_WAVE, valve=Valve.AORTIC, signal=Signal.FORWARD)

    plain = measure_spectrum(case)[0]
    aslant = measure_spectrum(dataclasses.replace(case, beam_angle_deg=20.0))[0]

    assert aslant.value == plain.value
    assert "6 % more at the 20 degrees" in aslant.reason


def test_breadth_does_not_leap_when_the_gain_is_turned_by_a_hair():
    """Through all grey levels of the dense signal, a level more moves the velocity by less than half a percent."""
    rows, height_px, ground = 200, 120.0, 20.0
    away = (np.arange(rows) + 0.5) / height_px - 0.93
    fall = np.where(away < 0, 1.0, np.exp(-0.5 * (away / 0.05) ** 2))  # a bell's outer half (formula)
    ratios = []
    for body in np.arange(120.0, 255.5, 1.0):
        levels = np.repeat((ground + (body - ground) * fall)[:, None], 40, axis=1)
        side = Side(levels=levels, smooth=levels, ground=ground, body=body, first_px=0.5)
        found = read_breadth(side, np.full(40, height_px), np.ones(40, bool), np.zeros(40))
        assert found is not None
        ratios.append(found.ratio)

    assert np.abs(np.diff(ratios)).max() < 0.005


def test_breadth_stays_within_what_a_band_can_be():
    """A fall so gentle that it points back to half the velocity is misread: never more than a quarter is taken off."""
    rows, height_px = 200, 120.0
    levels = np.repeat(np.linspace(250, 20, rows)[:, None], 40, axis=1)
    side = Side(levels=levels, smooth=levels, ground=20.0, body=250.0, first_px=0.5)

    found = read_breadth(side, np.full(40, height_px), np.ones(40, bool), np.zeros(40))

    assert found is not None
    assert 0.75 <= found.ratio <= 1.0


@pytest.mark.parametrize(
    ("name", "lost_percent"), [("vmax", 6), ("peak_gradient", 13), ("mean_gradient", 13), ("vti", 6)]
)
def test_angle_stands_on_all_that_follows_from_a_speed(name, lost_percent):
    """At 20 degrees speed and integral miss 6 %, a gradient 11.7 % and so is 13 % more: 1/cos² (identity)."""
    grey, axes = draw(Drawing(waves=[half_sines(-120, 180, (100, 600, 1100, 1600))]))
    case = SpectrumCase(
        grey=grey, axes=axes, mode=Mode.PULSED_WAVE, valve=Valve.AORTIC, signal=Signal.FORWARD, beam_angle_deg=20.0
    )
    found = {item.name: item for item in measure_spectrum(case)}[f"aortic_{name}"]

    word = {"vmax": "speed", "vti": "integral"}.get(name, "gradient")
    assert f"so the {word} is at least this: {lost_percent} % more" in found.reason


def test_flanks_do_not_broaden_the_band():
    """A column on a flank sums up many velocities: short waves, which are nearly all flank, tell the same band."""

    def ratio(length_ms: float) -> float:
        found = []
        for seed in (1, 2, 3):
            waves = half_sines(80, length_ms, (150, 800, 1450))
            case = case_of(
                Drawing(waves=[waves], scale_cm_s=100, seed=seed), Valve.MITRAL, Signal.FORWARD, r_times_ms=None
            )
            read = read_spectrum(case)
            assert not isinstance(read, str)
            assert read.towards.breadth is not None
            found.append(read.towards.breadth.ratio)
        return float(np.mean(found))

    assert ratio(80) == pytest.approx(ratio(260), abs=0.005)


@pytest.mark.parametrize("top_ms", [20.0, 22.0, 25.0])
def test_time_above_half_the_peak_does_not_hang_on_where_columns_lie(top_ms: float):
    """A triangle of 10 cm/s over 40 ms lies above its half for 20 ms (identity), in columns of 5 ms too."""
    times = np.concatenate([[top_ms - 20.0], np.arange(10.0, 40.0, 5.0), [top_ms], [top_ms + 20.0]])
    times = np.unique(times[(times >= top_ms - 20.0) & (times <= top_ms + 20.0)])
    wave = Wave(
        times_ms=times, velocity_cm_s=10.0 - np.abs(times - top_ms) / 2, peak_cm_s=10.0, peak_ms=top_ms,
        onset_ms=float(times[0]), end_ms=float(times[-1]), is_open=False, open_reason="", is_clicked=False,
        strength=1.0, step_share=0.0, ragged_share=0.0, clicked_share=0.0,
    )  # fmt: skip

    assert wave.half_length_ms == pytest.approx(20.0, abs=1e-9)
