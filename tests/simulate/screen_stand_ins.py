"""Light stand-ins for what the heart and the machine make: a speckled sector, an ECG, an invented visit."""

from __future__ import annotations

from datetime import date, datetime

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.simulate.dicom.patient_facts import ExaminationFacts, PatientFacts, PersonName, Practice
from fanlight.simulate.screen.ecg_strip import EcgStrip
from fanlight.simulate.screen.screen import paint, paint_m_mode, place_sector, strip_box
from fanlight.simulate.screen.screen_facts import ScreenFacts
from fanlight.simulate.screen.screen_layout import Layout
from fanlight.simulate.screen.screen_truth import Placed, Screen
from fanlight.study import Species

RATE_BPM = 120.0
RR_MS = 60_000.0 / RATE_BPM


def speckle(rng: np.random.Generator, frames: int, height: int, width: int) -> NDArray[np.uint8]:
    """A dark cavity that beats in speckled tissue, as large as a box."""
    field = rng.normal(size=(2, height, width)).astype(np.float32)
    envelope = np.hypot(*(cv2.GaussianBlur(part, (0, 0), 2.0, sigmaY=1.2) for part in field))
    envelope /= envelope.mean()
    down, across = np.mgrid[0:height, 0:width]
    out = np.empty((frames, height, width), np.uint8)
    for index in range(frames):
        beat = np.sin(2 * np.pi * index / 14)
        size = 1 + 0.12 * beat
        away = np.hypot((down / height - 0.5) / (0.2 * size), (across / width - 0.5) / (0.16 * size))
        level = np.where(away < 1, 5.0, 75.0) * np.roll(envelope, round(2 * beat), axis=0)
        out[index] = np.clip(level + np.abs(rng.normal(0, 3, level.shape)), 1, 255)
    return out


def noise(rng: np.random.Generator, frames: int, height: int, width: int) -> NDArray[np.uint8]:
    """Grain without a heart: enough where only places matter."""
    return rng.integers(1, 255, (frames, height, width), dtype=np.uint8)


def ecg(first_ms: float = -6000.0, last_ms: float = 4000.0, step_ms: float = 4.0) -> EcgStrip:
    """Sharp waves at whole multiples of RR_MS, with smaller ones between."""
    times = np.arange(first_ms, last_ms, step_ms)
    since = np.mod(times, RR_MS)
    mv = np.zeros_like(times)
    for middle, width, height in ((0, 8, 1.2), (RR_MS, 8, 1.2), (20, 7, -0.25), (210, 28, 0.25), (410, 18, 0.12)):
        mv += height * np.exp(-(((since - middle) / width) ** 2))
    r_times = np.arange(np.ceil(first_ms / RR_MS), np.floor(last_ms / RR_MS)) * RR_MS
    return EcgStrip(
        mv=mv.astype(np.float32), first_ms=first_ms, step_ms=step_ms, r_times_ms=tuple(float(r) for r in r_times)
    )


def facts(**changed: object) -> ScreenFacts:
    """What a screen says in these tests."""
    values: dict[str, object] = {
        "depth_mm": 120.0,
        "frequency_mhz": 5.2,
        "gain_db": 4.0,
        "dynamic_range_db": 60.0,
        "frame_rate_hz": 58.0,
        "harmonics": True,
        "focus_mm": 70.0,
        "heart_rate_bpm": RATE_BPM,
        "mechanical_index": 0.92,
        "practice": "Otterwhistle Small Animal Practice",
        "animal": "Tumbleweed",
        "owner": "Brindlecombe",
        "case_number": "OT-20417",
        "at": datetime(2025, 10, 23, 10, 42, 17),
        "view": "Right parasternal long axis, left ventricular outflow",
    }
    return ScreenFacts(**(values | changed))  # type: ignore[arg-type]


def times_of(frames: int, step_ms: float = 40.0) -> tuple[float, ...]:
    """Even frame times from 0."""
    return tuple(index * step_ms for index in range(frames))


def two_d(
    layout: Layout,
    rng: np.random.Generator,
    frames: int = 2,
    *,
    depth_mm: float = 120.0,
    face_radius_mm: float = 0.0,
    half_deg: float = 38.0,
    beating: bool = False,
    **options: object,
) -> Screen:
    """A painted 2-D clip: grain, or a beating cavity in speckled tissue."""
    placed = placed_on(layout, depth_mm=depth_mm, face_radius_mm=face_radius_mm, half_deg=half_deg)
    picture = (speckle if beating else noise)(rng, frames, placed.box.height_px, placed.box.width_px)
    given: dict[str, object] = {"times_ms": times_of(frames), "ecg": ecg()}
    said = facts(depth_mm=depth_mm, focus_mm=0.6 * depth_mm)
    return paint(layout, picture, placed, said, **(given | options))  # type: ignore[arg-type]


def placed_on(
    layout: Layout, *, depth_mm: float = 120.0, face_radius_mm: float = 0.0, half_deg: float = 38.0, guide: bool = False
) -> Placed:
    """A symmetric sector on a screen."""
    return place_sector(
        layout,
        left_deg=-half_deg,
        right_deg=half_deg,
        face_radius_mm=face_radius_mm,
        depth_mm=depth_mm,
        as_guide=guide,
    )


def m_mode(layout: Layout, rng: np.random.Generator, frames: int = 1, **options: object) -> Screen:
    """A painted M-mode: the guide stands still, the strip is grain."""
    placed, box = placed_on(layout, guide=True), strip_box(layout)
    given: dict[str, object] = {
        "cursor_deg": -4.0,
        "ms_per_px": 4.0,
        "times_ms": times_of(frames),
        "ecg": ecg(),
    }
    return paint_m_mode(
        layout,
        noise(rng, 1, placed.box.height_px, placed.box.width_px),
        placed,
        noise(rng, frames, box.height_px, box.width_px),
        facts(sweep_mm_s=50.0),
        **(given | options),  # type: ignore[arg-type]
    )


def visit(**changed: object) -> ExaminationFacts:
    """An invented visit."""
    patient = PatientFacts(
        animal_name="Tumbleweed",
        case_number="OT-20417",
        species=Species.DOG,
        breed="Whippet",
        breed_code=("76351004", "Whippet dog"),
        sex="female",
        neutered=True,
        birth_date=date(2018, 3, 2),
        weight_kg=12.4,
        responsible=PersonName(family="Brindlecombe", given="Wren"),
    )
    values: dict[str, object] = {
        "practice": Practice(name="Otterwhistle Small Animal Practice", place="Otterwhistle"),
        "patient": patient,
        "trainee": PersonName(family="Fenwright", given="Ivo"),
        "mentor": PersonName(family="Quillan", given="Maren"),
        "began_at": datetime(2025, 10, 23, 10, 42, 17),
        "seed": 7,
    }
    return ExaminationFacts(**(values | changed))  # type: ignore[arg-type]
