"""A heart in speckle, painted as a console paints it, with every fault under a knob and the truth beside the frames.

What is honest about it: the echo is a complex Gaussian field (fully developed speckle), multiplied by tissue
strength, filtered with a point-spread whose lateral width follows the aperture and focus (PHYSICS below),
attenuated, joined by electronic noise, detected, log-compressed and scan-converted onto a screen. What it is not:
the anatomy is ellipses, the wall does not thicken by itself, blood is weak speckle that changes from frame to frame.

PHYSICS: lateral width = sqrt((lambda z / D)^2 + (D |z - zf| / zf)^2), diffraction and geometric spread of a focused
aperture; a log-compressed Rayleigh envelope has a standard deviation of 5.57 dB.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext, Family
from fanlight.frames.polar import to_beams, to_grey
from fanlight.reference.criteria import read_family
from fanlight.reference.load import load_house
from fanlight.study import (
    BeatSource,
    Clip,
    ClipTags,
    ClipTime,
    Finding,
    FrameTimes,
    Layout,
    Mode,
    ModeReading,
    Patient,
    PictureChunk,
    Scale,
    ScaleSource,
    Sector,
    TimeSource,
)

SPEED_MM_US = 1.54  # mean speed of sound in soft tissue, mm per microsecond
N_DEPTHS, N_BEAMS = 400, 320  # native grid of the field
HOUSE = load_house()


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """Animal, console, faults and screen of one phantom clip. Shares are of displayed depth or width."""

    # animal
    chest_mm: float = 9.0
    heart_depth_share: float = 0.52  # of the reference depth
    heart_half_depth_share: float = 0.33
    heart_half_width_deg: float = 27.0
    cavity_share: float = 0.62  # of the heart's own axes
    atrium_share: float = 0.35
    effusion_mm: float = 0.0
    tissue_offset_db: float = 0.0  # myocardium against chest wall
    body_depth_mm: float = 90.0  # depth that would suit this animal
    beat_frames: float = 14.0
    # console
    depth_mm: float = 90.0
    width_deg: float = 76.0
    frequency_mhz: float = 5.0
    aperture_mm: float = 14.0
    focus_mm: float = 50.0
    gain_db: float = 0.0
    dynamic_range_db: float = 55.0
    gamma: float = 1.0
    tgc_db: tuple[float, ...] = (0.0,) * 8
    far_loss_db_cm: float = 0.0
    looks: int = 1  # independent views averaged: compounding
    smoothing_px: float = 0.0  # speckle reduction
    n_lines: int = 160
    # probe and patient
    shadow_share: float = 0.0  # of the width
    shadow_at: float = 0.5
    shadow_db: float = -35.0
    lifted_share: float = 0.0  # of the width, at the right edge
    lifted_ring_down: bool = True
    clutter_db: float = -90.0
    clutter_mm: float = 15.0
    lung_share: float = 0.0
    lung_at: float = 0.8
    lung_lines: bool = True  # repeating bands; otherwise a veil
    lung_breath_frames: float = 40.0
    near_loss_db: float = 0.0
    # screen
    rows: int = 480
    cols: int = 640
    apex_row: float = 30.0
    apex_col: float = 320.0
    near_px: float = 8.0
    far_px: float = 420.0
    col_stretch: float = 1.0
    overlay: bool = False
    jpeg_quality: int | None = None
    scale_factor: float = 1.0
    scale_kind: int = cv2.INTER_LINEAR
    with_scale: bool = True
    n_frames: int = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class Phantom:
    """Frames on a screen, and what is true of them."""

    setting: Setting
    frames: NDArray[np.uint8]
    picture: Sector
    tags: ClipTags = field(default_factory=ClipTags)
    mode: Mode = Mode.TWO_D


def healthy(rng: np.random.Generator) -> Setting:
    """A scan without a console fault: animal, console and screen drawn at random, disease included."""
    body = float(rng.uniform(40, 160))
    frequency = float(np.interp(body, (40, 160), (7.5, 3.0)) * rng.uniform(0.9, 1.15))
    far = float(rng.uniform(330, 430))
    return Setting(
        chest_mm=body * float(rng.uniform(0.07, 0.12)),
        heart_depth_share=float(rng.uniform(0.48, 0.54)),
        heart_half_depth_share=float(rng.uniform(0.30, 0.35)),
        heart_half_width_deg=float(rng.uniform(24, 34)),
        cavity_share=float(rng.uniform(0.45, 0.85)),  # thick walls to a dilated chamber
        atrium_share=float(rng.uniform(0.2, 0.6)),
        effusion_mm=body * float(rng.choice([0.0, 0.0, 0.0, 0.0, 0.05, 0.12])),
        tissue_offset_db=float(rng.uniform(-4, 2)),
        body_depth_mm=body,
        beat_frames=float(rng.uniform(10, 22)),
        depth_mm=body * float(rng.uniform(0.97, 1.12)),
        width_deg=float(rng.uniform(62, 84)),
        frequency_mhz=frequency,
        aperture_mm=float(rng.uniform(11, 18)) * math.sqrt(body / 90),
        focus_mm=body * float(rng.uniform(0.42, 0.68)),
        gain_db=float(rng.uniform(-4, 5)),
        dynamic_range_db=float(rng.uniform(50, 65)),
        gamma=float(rng.uniform(0.85, 1.2)),
        tgc_db=tuple(rng.normal(0, 0.7, 8)),
        far_loss_db_cm=float(rng.uniform(0, 6)) / (body / 10),
        n_lines=int(rng.integers(110, 220)),
        apex_row=float(rng.uniform(15, 40)),
        apex_col=float(rng.uniform(280, 360)),
        near_px=float(rng.choice([4.0, 8.0, 40.0])),
        far_px=far,
        overlay=bool(rng.random() < 0.5),
    )


def _blur_lateral(white: NDArray[np.complex64], fwhm_beams: NDArray[np.float64]) -> NDArray[np.complex64]:
    """Filter each row with a Gaussian of its own width and keep unit variance."""
    sigma = np.maximum(fwhm_beams, 0.3) / 2.355
    freq = np.fft.fftfreq(white.shape[1])
    transfer = np.exp(-2 * np.pi**2 * sigma[:, None] ** 2 * freq[None, :] ** 2).astype(np.float32)
    out = np.fft.ifft(np.fft.fft(white, axis=1) * transfer, axis=1)
    return np.asarray(out / np.sqrt(np.mean(transfer**2, axis=1))[:, None], np.complex64)


def _white(rng: np.random.Generator, rows: int, cols: int) -> NDArray[np.complex64]:
    pair = rng.standard_normal((2, rows, cols), np.float32)
    return np.asarray((pair[0] + 1j * pair[1]) / math.sqrt(2), np.complex64)


def _db(value: NDArray[np.float64] | float) -> NDArray[np.float64]:
    return np.asarray(10 ** (np.asarray(value) / 20))


def beam_width_mm(z_mm: NDArray[np.float64], setting: Setting) -> NDArray[np.float64]:
    """Lateral width of the beam at each depth below the face."""
    lam = SPEED_MM_US / setting.frequency_mhz
    spread = setting.aperture_mm * np.abs(z_mm - setting.focus_mm) / setting.focus_mm
    # the factor 0.35: dynamic receive focusing softens the geometric spread of a one-way beam (engineering judgement)
    return np.asarray(np.hypot(lam * z_mm / setting.aperture_mm, 0.35 * spread))


def _picture(setting: Setting) -> Sector:
    return Sector(
        apex_row_px=setting.apex_row,
        apex_col_px=setting.apex_col,
        left_deg=-setting.width_deg / 2,
        right_deg=setting.width_deg / 2,
        near_px=setting.near_px,
        far_px=setting.far_px,
        col_stretch=setting.col_stretch,
    )


def _polar_frames(setting: Setting, rng: np.random.Generator) -> NDArray[np.float32]:
    """Grey levels 0 to 1 on the native grid (frame, depth, beam)."""
    s = setting
    rows, cols = N_DEPTHS, N_BEAMS
    z_mm = (np.arange(rows) + 0.5) / rows * s.depth_mm
    theta = np.radians((np.arange(cols) + 0.5) / cols * s.width_deg - s.width_deg / 2)
    radius0_mm = s.near_px * s.depth_mm / (s.far_px - s.near_px)
    radius = z_mm + radius0_mm
    x = radius[:, None] * np.sin(theta)[None, :]
    z = radius[:, None] * np.cos(theta)[None, :] - radius0_mm
    lam = SPEED_MM_US / s.frequency_mhz
    width_mm = beam_width_mm(z_mm, s)
    fwhm_beams = width_mm / (radius * np.radians(s.width_deg) / cols)
    axial_sigma = max(lam / 2.355 / (s.depth_mm / rows), 0.4)

    centre = s.heart_depth_share * s.body_depth_mm
    half_z = s.heart_half_depth_share * s.body_depth_mm
    half_x = math.tan(math.radians(s.heart_half_width_deg)) * centre
    still = _white(rng, rows, cols)
    heart_white = _white(rng, rows, cols)
    clutter_white = _blur_lateral(_white(rng, rows, cols), np.full(rows, 14.0))
    noise_db = -46 + 10 * z_mm / s.depth_mm
    tgc = np.interp(z_mm / s.depth_mm, (np.arange(8) + 0.5) / 8, s.tgc_db)
    gain_rows = tgc - s.far_loss_db_cm * np.maximum(z_mm - 0.2 * s.body_depth_mm, 0) / 10
    noise_rows = noise_db + tgc
    gain_rows = gain_rows - s.near_loss_db * np.clip(1.6 - 8 * z_mm / s.depth_mm, 0, 1)
    beam = (np.arange(cols) + 0.5) / cols
    mask_db = np.zeros((rows, cols))
    if s.shadow_share > 0:
        inside = np.abs(beam - s.shadow_at) < s.shadow_share / 2
        mask_db[np.ix_(z_mm > 0.6 * s.chest_mm, inside)] += s.shadow_db
    ring = np.zeros((rows, cols))
    if s.lifted_share > 0:
        lifted = beam > 1 - s.lifted_share
        mask_db[:, lifted] -= 45
        if s.lifted_ring_down:
            bands = _db(8 - 5.0 * z_mm) * (0.55 + 0.45 * np.cos(2 * np.pi * z_mm / 1.2))
            ring[:, lifted] = bands[:, None]
    frames = np.empty((s.n_frames, rows, cols), np.float32)
    for index in range(s.n_frames):
        phase = 2 * np.pi * index / s.beat_frames
        systole = 0.5 * (1 - math.cos(phase))
        shift_mm = 0.03 * s.body_depth_mm * math.sin(phase)
        zc = centre + shift_mm
        u, v = x / half_x, (z - zc) / half_z
        rho = np.sqrt(u**2 + v**2)
        squeeze = 1 - 0.22 * systole
        cavity = np.sqrt(((u + 0.28) / (0.62 * s.cavity_share * 1.25)) ** 2 + (v / s.cavity_share) ** 2) < squeeze
        atrium = np.sqrt(((u - 0.52) / s.atrium_share) ** 2 + ((v - 0.12) / (s.atrium_share * 1.25)) ** 2) < (
            1 + 0.1 * systole
        )
        in_heart = rho < 1
        effusion = (rho >= 1) & (rho < 1 + s.effusion_mm / half_z) & (z > s.chest_mm)
        level = np.full((rows, cols), -7.0 + s.tissue_offset_db)
        level[z > zc + half_z] = -9.0 + s.tissue_offset_db
        level[z < s.chest_mm] = 1.0
        level[in_heart & (z >= s.chest_mm)] = s.tissue_offset_db
        rim = 1 + s.effusion_mm / half_z
        level[(np.abs(rho - rim - 0.03) < 0.03) & (v > 0.25)] = 13.0 + s.tissue_offset_db
        blood = ((cavity | atrium) & in_heart & (z >= s.chest_mm)) | effusion
        valve_v = -0.1 + 0.45 * systole * (u - 0.15)
        valve = in_heart & (np.abs(v - valve_v) < 0.02) & (np.abs(u - 0.15) < 0.2)
        moving = (rho < rim + 0.08) & (z >= s.chest_mm)
        rows_shift = round(shift_mm / s.depth_mm * rows + 6 * systole)
        amplitude = _db(level)
        source = np.where(moving, np.roll(heart_white, (rows_shift, round(4 * systole)), (0, 1)), still) * amplitude
        source = np.where(blood, _white(rng, rows, cols) * float(_db(-38.0)), source)
        source = np.where(valve, 1.5 * np.roll(heart_white, rows_shift, 0), source).astype(np.complex64)
        envelope = np.zeros((rows, cols))
        for look in range(s.looks):
            seen = (
                source if look == 0 else (source * np.exp(2j * np.pi * rng.random((rows, cols)))).astype(np.complex64)
            )
            kernel = (1, 2 * math.ceil(4 * axial_sigma) + 1)
            blurred = cv2.GaussianBlur(seen.real, kernel, 0.1, sigmaY=axial_sigma) + 1j * cv2.GaussianBlur(
                seen.imag, kernel, 0.1, sigmaY=axial_sigma
            )
            blurred = blurred * math.sqrt(2 * math.sqrt(math.pi) * axial_sigma)
            echo = np.asarray(_blur_lateral(blurred.astype(np.complex64), fwhm_beams), np.complex128)
            echo = echo * _db(gain_rows)[:, None] * _db(mask_db)
            if s.clutter_db > -80:
                profile = _db(s.clutter_db) / (1 + np.exp((z_mm - s.clutter_mm) / (0.08 * s.clutter_mm)))
                echo = echo + clutter_white * profile[:, None]
            if s.lung_share > 0:
                echo = _with_lung(echo, s, z_mm, beam, index, rng)
            echo = echo + ring * float(_db(0.0))
            echo = echo + _white(rng, rows, cols) * _db(noise_rows)[:, None]
            envelope += np.abs(echo)
        envelope /= s.looks
        if s.smoothing_px > 0:
            calm = cv2.GaussianBlur(cv2.medianBlur(envelope.astype(np.float32), 5), (0, 0), s.smoothing_px)
            envelope = np.asarray(calm, np.float64)
        level_db = 20 * np.log10(np.maximum(envelope, 1e-6)) + s.gain_db + 2.5  # 2.5 dB: mean of a log Rayleigh
        frames[index] = np.clip(level_db / s.dynamic_range_db + 0.42, 0, 1) ** s.gamma
    return frames


def _with_lung(
    echo: NDArray[np.complex128], s: Setting, z_mm: NDArray[np.float64], beam: NDArray[np.float64], index: int,
    rng: np.random.Generator,
) -> NDArray[np.complex128]:  # fmt: skip
    """Cover some beams with lung: a bright line and its repeats, or a veil; the edge moves with the breath."""
    breath = 0.5 * (1 - math.cos(2 * np.pi * index / s.lung_breath_frames))
    share = s.lung_share * (1.0 if s.lung_lines else breath)
    inside = np.abs(beam - s.lung_at) < share / 2
    pleura_mm = 1.15 * s.chest_mm + (0.02 * s.body_depth_mm * breath if s.lung_lines else 0)
    below = z_mm > pleura_mm
    lung = np.zeros(len(z_mm))
    if s.lung_lines:
        for repeat in range(1, 12):
            lung += _db(16.0 - 5.0 * repeat) * np.exp(-(((z_mm - repeat * pleura_mm) / (0.012 * s.body_depth_mm)) ** 2))
        lung += _db(-32.0) * below
    else:
        lung += below * _db(4.0 - 8.0 * (z_mm - pleura_mm) / s.depth_mm)
    veil = _blur_lateral(_white(rng, *echo.shape), np.full(len(z_mm), 6.0))
    textured = lung[:, None] * (veil if not s.lung_lines else 0.85 + 0.3 * veil)
    keep = np.where(below, 0.02, 1.0)[:, None]
    return np.asarray(np.where(inside[None, :], echo * keep + textured, echo))


def _scan_convert(polar: NDArray[np.float32], s: Setting) -> NDArray[np.uint8]:
    row, col = np.mgrid[0 : s.rows, 0 : s.cols].astype(np.float32)
    dx = (col - s.apex_col) * s.col_stretch
    dz = row - s.apex_row
    radius = np.hypot(dx, dz)
    angle = np.degrees(np.arctan2(dx, np.maximum(dz, 1e-3)))
    depth = (radius - s.near_px) / (s.far_px - s.near_px)
    beam = angle / s.width_deg + 0.5
    inside = (depth >= 0) & (depth < 1) & (beam >= 0) & (beam < 1) & (dz > 0)
    lines = cv2.resize(polar.transpose(1, 2, 0), (s.n_lines, N_DEPTHS), interpolation=cv2.INTER_LINEAR).reshape(
        N_DEPTHS, s.n_lines, -1
    )
    out = np.zeros((polar.shape[0], s.rows, s.cols), np.uint8)
    map_x = (beam * s.n_lines - 0.5).astype(np.float32)
    map_y = (depth * N_DEPTHS - 0.5).astype(np.float32)
    for index in range(polar.shape[0]):
        grey = cv2.remap(
            np.ascontiguousarray(lines[:, :, index]), map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
        out[index] = np.where(inside, np.round(255 * grey), 0).astype(np.uint8)
    return out


def _overlay(frames: NDArray[np.uint8], s: Setting) -> None:
    for frame in frames:
        cv2.putText(frame, "5 MHz 12 cm", (8, 30), cv2.FONT_HERSHEY_SIMPLEX, 0.5, 220, 1)
        middle = (int(s.apex_col) - 30, int(s.apex_row + 0.8 * s.far_px))
        cv2.putText(frame, "rest", middle, cv2.FONT_HERSHEY_SIMPLEX, 0.5, 255, 1)
        for tick in range(10):
            row = int(s.apex_row + s.near_px + tick * 0.1 * (s.far_px - s.near_px))
            cv2.line(frame, (s.cols - 20, row), (s.cols - 12, row), 200, 1)


def make(setting: Setting, rng: np.random.Generator) -> Phantom:
    """Paint the clip.

    Returns
    -------
    Phantom
        Frames of shape (frame, row, col), the sector they lie in, and the setting as the truth.
    """
    frames = _scan_convert(_polar_frames(setting, rng), setting)
    if setting.overlay:
        _overlay(frames, setting)
    picture = _picture(setting)
    if setting.scale_factor != 1.0:
        k = setting.scale_factor
        size = (round(setting.cols * k), round(setting.rows * k))
        frames = np.stack([cv2.resize(f, size, interpolation=setting.scale_kind) for f in frames])
        picture = replace(
            picture,
            apex_row_px=(picture.apex_row_px + 0.5) * k - 0.5,
            apex_col_px=(picture.apex_col_px + 0.5) * k - 0.5,
            near_px=picture.near_px * k,
            far_px=picture.far_px * k,
        )
    if setting.jpeg_quality is not None:
        options = [cv2.IMWRITE_JPEG_QUALITY, setting.jpeg_quality]
        coded = (cv2.imencode(".jpg", frame, options)[1] for frame in frames)
        frames = np.stack([np.asarray(cv2.imdecode(buffer, cv2.IMREAD_GRAYSCALE), np.uint8) for buffer in coded])
    return Phantom(setting=setting, frames=np.ascontiguousarray(frames, np.uint8), picture=picture)


def context_of(phantom: Phantom, family: Family) -> ClipContext:
    """What the engine would know of the phantom before its frames are shown."""
    s = phantom.setting
    n, rows, cols = phantom.frames.shape[:3]
    mm = s.depth_mm / phantom.picture.depth_px
    scale = Scale(
        mm_per_row_px=mm,
        mm_per_col_px=mm * s.col_stretch,
        source=ScaleSource.REGION,
        uncertainty_fraction=0.01,
        witnesses=(),
    )
    return ClipContext(
        clip=Clip(
            key="phantom", number=1, name="phantom.dcm", container="DICOM", rows=rows, cols=cols, n_frames=n,
            is_colour=phantom.frames.ndim == 4, tags=phantom.tags,
        ),
        patient=Patient(),
        layout=Layout(
            rows=rows, cols=cols, picture=phantom.picture, picture_confidence=0.95, picture_reason="phantom",
            scale=scale if s.with_scale else None, scale_reason="phantom",
        ),
        mode=ModeReading(mode=phantom.mode, probability=1.0, reasons=("phantom",)),
        criteria=read_family(HOUSE, family.name),
    )  # fmt: skip


def time_of(phantom: Phantom) -> ClipTime:
    """Times at 40 frames a second, with the beat that the phantom was made with."""
    n = phantom.frames.shape[0]
    return ClipTime(
        times=FrameTimes(times_ms=tuple(25.0 * i for i in range(n)), source=TimeSource.FRAME_TIME),
        beat_source=BeatSource.MOTION,
        beat_period_frames=phantom.setting.beat_frames,
        beat_period_ms=25.0 * phantom.setting.beat_frames,
        complete_beats=n / phantom.setting.beat_frames,
        confidence=0.9,
    )


def judge(phantom: Phantom, family: Family, chunk_size: int = 16) -> dict[str, Finding]:
    """Show the phantom to one family as the engine would, and return its findings by criterion."""
    work = family.start(context_of(phantom, family))
    for first in range(0, phantom.frames.shape[0], chunk_size):
        pixels = phantom.frames[first : first + chunk_size]
        grey = to_grey(pixels)
        work.add(PictureChunk(first=first, pixels=pixels, grey=grey, beams=to_beams(grey, phantom.picture)))
    return {finding.criterion: finding for finding in work.finish(time_of(phantom))}
