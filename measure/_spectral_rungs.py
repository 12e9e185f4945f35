"""Spectra of simulated animals, read as the engine reads a still, beside what is true of them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames.doppler.spectrum import SpectralAxes, find_axes
from fanlight.frames.doppler.strip_beats import strip_r_columns
from fanlight.measure.doppler.case import Signal, SpectrumCase
from fanlight.measure.doppler.values import measure_spectrum
from fanlight.simulate.clip.doppler_setting import DopplerClip, wraps
from fanlight.simulate.clip.film import Film
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.clip.spectral_clip import motion_before
from fanlight.simulate.dicom.dicom_pixels import USUAL_JPEG_QUALITY
from fanlight.simulate.machine.console import GreyMap
from fanlight.simulate.screen.ecg_trace import r_wave_times_ms
from fanlight.simulate.screen.screen_spectral import SpectralScreen
from fanlight.study import Layout, Mode, RegionReading
from measure._doppler_bench import PLACES, Bench, Rung, draw_bench, steady_rung
from measure._doppler_clips import Camera
from measure._spectral_expected import Asked, expected_values
from measure._spectral_truth import TrueFlow, true_flow

GAIN_DB = 6.0  # at most, up or down: what a mentor may still let pass
CONSOLES = 6  # that show each spectrum, one after another
MODES = (Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE, Mode.TISSUE_DOPPLER)


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One value of one spectrum."""

    seed: int
    heart: str
    species: str
    mode: str
    valve: str
    signal: str
    gain_db: float
    wraps: bool  # what is looked for truly runs out of the strip
    name: str
    value: float | None
    uncertainty: float | None
    truth: float | None  # None: the beat does not have it
    reason: str


def answers_of(seed: int, ring: Ring) -> list[dict[str, object]]:
    """Return all answers of an animal, as rows to keep."""
    bench = draw_bench(seed, ring)
    found: list[Answer] = []
    for rung in _rungs(bench):
        found += _of_rung(bench, rung)
    return [asdict(item) for item in found]


def _rungs(bench: Bench) -> Iterator[Rung]:
    """Yield every spectrum that a steady hand gets of this animal."""
    index = 0
    for mode in MODES:
        for view, valve in PLACES[mode]:
            rung = steady_rung(bench, index, view, valve, mode)
            index += 1
            if rung is not None:
                yield rung


def _of_rung(bench: Bench, rung: Rung) -> list[Answer]:
    """Return the answers of one beam, shown by several consoles; what the beam hears is asked of the animal once.

    The picture beside the strip is left out, since nothing here reads it.
    """
    camera = Camera(bench, rung)
    rng = np.random.default_rng([bench.seed, rung.index, 41])
    found: list[Answer] = []
    expected: dict[str, float] | None = None  # hangs on the beam, not on the console
    for _ in range(CONSOLES):
        clip, gain_db = _varied(rung.steady, rng)
        screen, film = camera.spectrum(clip)
        axes = _axes(screen)
        if expected is None:
            expected = _expected(bench, clip, film, axes.box.width_px * axes.ms_per_px)
        found += _answers(bench, clip, gain_db, _measured(screen, axes, clip), expected)
    return found


def _varied(clip: DopplerClip, rng: np.random.Generator) -> tuple[DopplerClip, float]:
    """Return a spectrum as another console would show it: grey map, range, reject and gain; and the gain, dB."""
    machine = replace(
        clip.doppler.spectral, grey_map=tuple(GreyMap)[int(rng.integers(len(GreyMap)))],
        dynamic_range_db=float(rng.uniform(35, 55)), reject_fraction=float(rng.uniform(0, 0.15)),
    )  # fmt: skip
    gain_db = float(rng.uniform(-GAIN_DB, GAIN_DB))
    machine = replace(machine, gain_db=machine.gain_db + gain_db)
    return replace(clip, doppler=replace(clip.doppler, machine=machine, has_guide=False)), gain_db


def _axes(screen: SpectralScreen) -> SpectralAxes:
    rows, cols = screen.frames.shape[1:3]
    readings = tuple(RegionReading(region=region, trusted=True, reason="simulated") for region in screen.regions)
    layout = Layout(
        rows=rows, cols=cols, picture=None, picture_confidence=0.0, picture_reason="", scale=None, scale_reason="",
        regions=readings,
    )  # fmt: skip
    axes = find_axes(layout)
    if isinstance(axes, str):
        raise RuntimeError(f"a screen of the simulator has no axes: {axes}")
    return axes


def _measured(screen: SpectralScreen, axes: SpectralAxes, clip: DopplerClip) -> dict[str, tuple[object, ...]]:
    """Return the values of a still by name, read from what a JPEG export leaves of it."""
    pixels = _compressed(screen.frames[-1])
    waves = strip_r_columns(pixels, axes.box)
    case = SpectrumCase(
        grey=np.asarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY), np.uint8) if pixels.ndim == 3 else pixels, axes=axes,
        mode=clip.doppler.mode, valve=clip.doppler.valve, signal=Signal(clip.doppler.sought.value),
        r_times_ms=None if isinstance(waves, str) else [(w - axes.box.col0) * axes.ms_per_px for w in waves],
    )  # fmt: skip
    return {item.name: (item.value, item.uncertainty, item.reason) for item in measure_spectrum(case)}


def _compressed(frame: NDArray[np.uint8]) -> NDArray[np.uint8]:
    _, code = cv2.imencode(".jpg", frame[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, USUAL_JPEG_QUALITY])
    back = cv2.imdecode(code, cv2.IMREAD_COLOR)
    if back is None:
        raise RuntimeError("a JPEG that was just written cannot be read")
    return np.ascontiguousarray(back[..., ::-1], np.uint8)


def _expected(bench: Bench, clip: DopplerClip, film: Film, span_ms: float) -> dict[str, float]:
    animal = bench.subject.animal
    flow: TrueFlow = true_flow(clip, motion_before(animal, bench.circulation, film, span_ms), span_ms)
    r_times = tuple(t - film.start_ms for t in r_wave_times_ms(animal.rhythm, film.beats))
    return expected_values(
        Asked(
            flow=flow, r_times_ms=r_times, valve=clip.doppler.valve, signal=Signal(clip.doppler.sought.value),
            mode=clip.doppler.mode,
        )
    )  # fmt: skip


def _answers(
    bench: Bench, clip: DopplerClip, gain_db: float, found: dict[str, tuple[object, ...]], expected: dict[str, float]
) -> Iterator[Answer]:
    doppler, animal = clip.doppler, bench.subject.animal
    heard = bench.flow.heard(clip.clip, doppler.spectral).along_cm_s
    for name in sorted({*found, *expected}):
        value, uncertainty, reason = found.get(name, (None, None, "not asked"))
        yield Answer(
            seed=bench.seed, heart=animal.heart.value, species=animal.species.value, mode=doppler.mode.value,
            valve=doppler.valve.value, signal=doppler.sought.value, gain_db=gain_db,
            wraps=wraps(doppler.spectral, heard), name=name, value=_number(value), uncertainty=_number(uncertainty),
            truth=expected.get(name), reason=str(reason),
        )  # fmt: skip


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, float | int) else None
