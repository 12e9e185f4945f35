"""Write a painted screen as a DICOM ultrasound object: still or clip, with true regions and veterinary attributes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from pydicom.dataset import Dataset

from fanlight.simulate.patient_facts import ExaminationFacts
from fanlight.study import Region


class Coding(StrEnum):
    """How the pixels are stored."""

    JPEG = "JPEG baseline"
    RLE = "run lengths"
    PLAIN = "uncompressed"


class ImageMode(StrEnum):
    """Fourth value of Image Type (0008,0008) for ultrasound, PS3.3 C.8.5.6.1.1: modes as a sum of bits."""

    TWO_D = "0001"
    M_MODE = "0003"  # 2-D (guide picture) and M-mode


@dataclass(frozen=True, slots=True, kw_only=True)
class ViewTags:
    """What a labelled study says about its view; an unlabelled one says nothing."""

    name: str  # View Name (0008,2127)
    code: tuple[str, str, str] | None = None  # value, scheme, meaning for the View Code Sequence (0054,0220)
    modifiers: tuple[tuple[str, str, str], ...] = ()  # for the View Modifier Code Sequence (0054,0222)
    stage_name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClipFacts:
    """One still or clip as the console stores it."""

    number: int  # Instance Number, from 1
    frames: NDArray[np.uint8]  # (frame, row, col) or (frame, row, col, 3) RGB
    regions: tuple[Region, ...]
    times_ms: tuple[float, ...]  # of each frame, the first 0
    since_start: timedelta  # when in the examination the first frame was taken
    mode: ImageMode = ImageMode.TWO_D
    heart_rate_bpm: float | None = None
    r_wave_times_ms: tuple[float, ...] = ()
    focus_depth_mm: float | None = None
    depth_mm: float | None = None
    transducer_type: str = "SECTOR_PHASED"  # or "CURVED LINEAR"
    frequency_mhz: float | None = None
    mechanical_index: float | None = None
    view: ViewTags | None = None  # only for labelled studies


def clip_dataset(clip: ClipFacts, examination: ExaminationFacts, coding: Coding = Coding.JPEG) -> Dataset:
    """Return the whole object, pixels included, ready to be written."""
    raise NotImplementedError


def write_clip(path: Path, clip: ClipFacts, examination: ExaminationFacts, coding: Coding = Coding.JPEG) -> Path:
    """Write one still or clip as a DICOM file; a file that is there already is replaced."""
    raise NotImplementedError
