"""Spectra drawn without a machine, with one thing wrong at a time, and how they are judged."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext
from fanlight.critique.doppler.spectrum_use import FAMILY
from fanlight.reference.criteria import read_family
from fanlight.study import Box, Clip, Finding, Layout, Mode, ModeReading, Patient, PictureChunk, Region, RegionReading
from tests.critique.doppler.colour_clips import HOUSE, TIME

BOX = Box(row0=100, col0=40, row1=400, col1=640)
BEAT_MS, MS_PER_PX = 600.0, 2.5


@dataclass(frozen=True, kw_only=True)
class Spectrum:
    """What is drawn; the defaults are a good pulsed spectrum of inflow: two waves a beat."""

    peak_cm_s: float = 80.0
    scale_cm_s: float = 100.0  # half of the height, with the baseline in the middle
    baseline: float = 0.6  # share of the height above it
    noise: float = 0.0  # share of pixels lit by noise
    filter_cm_s: float = 8.0
    ms_per_px: float = MS_PER_PX
    has_guide: bool = True
    clicks_ms: float = 0.0  # three a beat, so long each
    wraps: bool = True  # sampled: what passes an end comes in at the other


def strip(drawn: Spectrum, seed: int = 0) -> tuple[NDArray[np.uint8], Region]:
    """Return a screen with a strip, and its region."""
    rng = np.random.default_rng(seed)
    rows, cols = BOX.height_px, BOX.width_px
    zero = round(drawn.baseline * rows)
    cm_s = 2.0 * drawn.scale_cm_s / rows
    t = (np.arange(cols) * drawn.ms_per_px) % BEAT_MS
    early = np.where(t < 160, np.sin(np.pi * np.clip(t, 0, 160) / 160), 0.0)
    late = np.where((t > 300) & (t < 400), 0.65 * np.sin(np.pi * (np.clip(t, 300, 400) - 300) / 100), 0.0)
    peak = drawn.peak_cm_s * np.maximum(early, late)
    screen = np.zeros((480, 680), np.uint8)
    levels = np.zeros((rows, cols))
    for col in range(cols):
        low = drawn.filter_cm_s
        if peak[col] <= low:
            continue
        for v in np.arange(low, peak[col], cm_s / 2):
            row = zero - 1 - int(v / cm_s)
            row = row % rows if drawn.wraps else row
            if 0 <= row < rows:
                levels[row, col] = 120 + 100 * rng.random()
    if drawn.clicks_ms:
        for at in (170.0, 290.0, 410.0):
            inside = (t >= at) & (t < at + drawn.clicks_ms)
            levels[:, inside] = 110 + 100 * rng.random((rows, int(inside.sum())))
    noisy = rng.random((rows, cols)) < drawn.noise
    levels[noisy] = np.maximum(levels[noisy], 40 + 60 * rng.random(int(noisy.sum())))
    levels[min(zero, rows - 1)] = 200
    screen[BOX.row0 : BOX.row1, BOX.col0 : BOX.col1] = np.clip(levels, 0, 255)
    region = Region(
        spatial_format=3, data_type=3, box=BOX, unit_x=4, unit_y=7, delta_x=drawn.ms_per_px / 1000.0, delta_y=-cm_s,
        reference_col_px=0.0, reference_row_px=float(zero), reference_value_x=0.0, reference_value_y=0.0,
    )  # fmt: skip
    return screen, region


def judge(
    drawn: Spectrum,
    mode: Mode = Mode.PULSED_WAVE,
    *,
    trusted: bool = True,
    seed: int = 0,
    beat_ms: float | None = BEAT_MS,
) -> dict[str, Finding]:
    """Show a drawn spectrum to the family."""
    screen, region = strip(drawn, seed)
    regions = [RegionReading(region=region, trusted=trusted, reason="drawn")]
    if drawn.has_guide:
        guide = replace(region, spatial_format=1, data_type=1, box=Box(row0=0, col0=200, row1=90, col1=400))
        regions.append(RegionReading(region=guide, trusted=True, reason="drawn"))
    layout = Layout(
        rows=480, cols=680, picture=None, picture_confidence=0.0, picture_reason="not looked for", scale=None,
        scale_reason="not asked", regions=tuple(regions),
    )  # fmt: skip
    file = Clip(
        key="drawn", number=1, name="drawn.dcm", container="DICOM", rows=480, cols=680, n_frames=1, is_colour=False
    )
    working = FAMILY.start(
        ClipContext(
            clip=file, patient=Patient(), layout=layout, mode=ModeReading(mode=mode, probability=1.0, reasons=()),
            criteria=read_family(HOUSE, FAMILY.name),
        )
    )  # fmt: skip
    working.add(PictureChunk(first=0, pixels=screen[None], grey=screen[None], beams=None))
    return {item.criterion: item for item in working.finish(replace(TIME, beat_period_ms=beat_ms))}
