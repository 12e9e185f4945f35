"""Stills of spectra of simulated animals, read as the engine reads a still, beside what is true of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass, replace

import cv2
import numpy as np

from fanlight.frames.doppler.spectrum import SpectralAxes, find_axes
from fanlight.frames.doppler.strip_beats import strip_r_columns
from fanlight.measure.doppler.case import Signal, SpectrumCase
from fanlight.measure.doppler.values import measure_spectrum
from fanlight.study import Layout, Mode, RegionReading, Valve
from measure._spectral_expected import Asked, expected_values
from measure._spectral_stills import Still
from measure._spectral_truth import TrueFlow

Spans = tuple[tuple[float, float], ...]  # from when to when, ms, in the times of a still


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


def answers_of(
    stills: Sequence[Still], ring_of: Callable[[Still], TrueFlow], relaxations_of: Callable[[Still], Spans]
) -> list[dict[str, object]]:
    """Return all answers of an animal's stills, as rows to keep.

    Parameters
    ----------
    stills : sequence of Still
        With what their beams hear.
    ring_of, relaxations_of : callable
        How fast the wall runs at the ring of a still of tissue Doppler, and when the left ventricle relaxes: what the
        heart does and no beam hears alone.
    """
    rows = []
    for still in stills:
        flow = ring_of(still) if Mode(still.mode) is Mode.TISSUE_DOPPLER else still.flow
        rows += [asdict(item) for item in _answers(replace(still, flow=flow), relaxations_of(still))]
    return rows


def case_of(still: Still) -> SpectrumCase:
    """Return a still as the engine is asked of it."""
    pixels = still.pixels
    rows, cols = pixels.shape[:2]
    axes = _axes(still, rows, cols)
    waves = strip_r_columns(pixels, axes.box)
    return SpectrumCase(
        grey=np.asarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY), np.uint8), axes=axes, mode=Mode(still.mode),
        valve=Valve(still.valve), signal=Signal(still.signal),
        r_times_ms=None if isinstance(waves, str) else [(w - axes.box.col0) * axes.ms_per_px for w in waves],
    )  # fmt: skip


def _axes(still: Still, rows: int, cols: int) -> SpectralAxes:
    readings = tuple(RegionReading(region=region, trusted=True, reason="simulated") for region in still.regions)
    layout = Layout(
        rows=rows, cols=cols, picture=None, picture_confidence=0.0, picture_reason="", scale=None, scale_reason="",
        regions=readings,
    )  # fmt: skip
    axes = find_axes(layout)
    if isinstance(axes, str):
        raise RuntimeError(f"a screen of the simulator has no axes: {axes}")
    return axes


def _expected(still: Still, relaxations: Spans) -> dict[str, float]:
    return expected_values(
        Asked(
            flow=still.flow, r_times_ms=still.r_times_ms, valve=Valve(still.valve), signal=Signal(still.signal),
            mode=Mode(still.mode), relaxations=relaxations,
        )
    )  # fmt: skip


def _answers(still: Still, relaxations: Spans) -> Iterator[Answer]:
    found, expected = {item.name: item for item in measure_spectrum(case_of(still))}, _expected(still, relaxations)
    for name in sorted({*found, *expected}):
        item = found.get(name)
        yield Answer(
            seed=still.seed, heart=still.heart, species=still.species, mode=still.mode, valve=still.valve,
            signal=still.signal, gain_db=still.gain_db, wraps=still.wraps, name=name,
            value=None if item is None else _number(item.value),
            uncertainty=None if item is None else _number(item.uncertainty), truth=expected.get(name),
            reason="not asked" if item is None else item.reason,
        )  # fmt: skip


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, float | int) else None
