"""Stills of spectra of simulated animals, as an export leaves them, beside what is true of them: what costs.

Nothing here reads a picture, so that a change of the reading needs no drawing again.
"""

from __future__ import annotations

import pickle
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.simulate.clip.doppler_setting import DopplerClip, wraps
from fanlight.simulate.clip.film import Film
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.clip.spectral_clip import motion_before
from fanlight.simulate.dicom.dicom_pixels import USUAL_JPEG_QUALITY
from fanlight.simulate.machine.console import GreyMap
from fanlight.simulate.screen.ecg_trace import r_wave_times_ms
from fanlight.simulate.screen.screen_spectral import SpectralScreen
from fanlight.study import Mode, Region, SpatialFormat
from measure._doppler_bench import PLACES, Bench, Rung, draw_bench, steady_rung
from measure._doppler_clips import Camera
from measure._spectral_truth import TrueFlow, true_flow

GAIN_DB = 6.0  # at most, up or down: what a mentor may still let pass
CONSOLES = 6  # that show each spectrum, one after another
MODES = (Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE, Mode.TISSUE_DOPPLER)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Still:
    """One spectrum as a console exports it, and what its beam truly hears."""

    seed: int
    heart: str
    species: str
    mode: str
    valve: str
    signal: str
    gain_db: float
    wraps: bool  # what is looked for truly runs out of the strip
    jpeg: bytes  # the whole screen
    regions: tuple[Region, ...]  # what the file says of it
    flow: TrueFlow
    r_times_ms: tuple[float, ...]  # as the times of the flow, in the strip and about it

    @property
    def pixels(self) -> NDArray[np.uint8]:
        """The screen, (row, col, RGB)."""
        back = cv2.imdecode(np.frombuffer(self.jpeg, np.uint8), cv2.IMREAD_COLOR)
        if back is None:
            raise RuntimeError(f"the JPEG of a still of animal {self.seed} cannot be read; draw it again")
        return np.ascontiguousarray(back[..., ::-1], np.uint8)


def stills_of(seed: int, ring: Ring) -> list[Still]:
    """Return every spectrum that a steady hand gets of this animal, by several consoles."""
    bench = draw_bench(seed, ring)
    return [still for rung in _rungs(bench) for still in _of_rung(bench, rung)]


def kept_stills(path: Path, draw: Callable[[], list[Still]]) -> list[Still]:
    """Return the stills that lie there; where none do, those that are drawn, which then lie there."""
    if path.is_file():
        found: list[Still] = pickle.loads(path.read_bytes())  # written below, by this script
        return found
    stills = draw()
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_suffix(".part")
    part.write_bytes(pickle.dumps(stills, protocol=5))
    part.rename(path)
    return stills


def _rungs(bench: Bench) -> Iterator[Rung]:
    index = 0
    for mode in MODES:
        for view, valve in PLACES[mode]:
            rung = steady_rung(bench, index, view, valve, mode)
            index += 1
            if rung is not None:
                yield rung


def _of_rung(bench: Bench, rung: Rung) -> Iterator[Still]:
    """Yield the stills of one beam; what it hears hangs on no console and is asked of the animal once.

    The picture beside the strip is left out, since nothing here reads it.
    """
    camera, animal = Camera(bench, rung), bench.subject.animal
    rng = np.random.default_rng([bench.seed, rung.index, 41])
    heard: tuple[TrueFlow, tuple[float, ...]] | None = None
    for _ in range(CONSOLES):
        clip, gain_db = _varied(rung.steady, rng)
        doppler = clip.doppler
        screen, film = camera.spectrum(clip)
        if heard is None:
            heard = _heard(bench, clip, film, _span_ms(screen))
        along_cm_s = bench.flow.heard(clip.clip, doppler.spectral).along_cm_s
        yield Still(
            seed=bench.seed, heart=animal.heart.value, species=animal.species.value, mode=doppler.mode.value,
            valve=doppler.valve.value, signal=doppler.sought.value, gain_db=gain_db,
            wraps=wraps(doppler.spectral, along_cm_s), jpeg=_exported(screen.frames[-1]), regions=screen.regions,
            flow=heard[0], r_times_ms=heard[1],
        )  # fmt: skip


def _varied(clip: DopplerClip, rng: np.random.Generator) -> tuple[DopplerClip, float]:
    """Return a spectrum as another console would show it: grey map, range, reject and gain; and the gain, dB."""
    machine = replace(
        clip.doppler.spectral, grey_map=tuple(GreyMap)[int(rng.integers(len(GreyMap)))],
        dynamic_range_db=float(rng.uniform(35, 55)), reject_fraction=float(rng.uniform(0, 0.15)),
    )  # fmt: skip
    gain_db = float(rng.uniform(-GAIN_DB, GAIN_DB))
    machine = replace(machine, gain_db=machine.gain_db + gain_db)
    return replace(clip, doppler=replace(clip.doppler, machine=machine, has_guide=False)), gain_db


def _span_ms(screen: SpectralScreen) -> float:
    (region,) = (region for region in screen.regions if region.spatial_format == SpatialFormat.SPECTRAL)
    assert region.delta_x is not None
    return region.box.width_px * 1000.0 * region.delta_x


def _heard(bench: Bench, clip: DopplerClip, film: Film, span_ms: float) -> tuple[TrueFlow, tuple[float, ...]]:
    """Return how fast what the beam hears runs, and when the heart beats."""
    animal = bench.subject.animal
    flow = true_flow(clip, motion_before(animal, bench.circulation, film, span_ms), span_ms)
    return flow, tuple(t - film.start_ms for t in r_wave_times_ms(animal.rhythm, film.beats))


def _exported(frame: NDArray[np.uint8]) -> bytes:
    _, code = cv2.imencode(".jpg", frame[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, USUAL_JPEG_QUALITY])
    return bytes(code)
