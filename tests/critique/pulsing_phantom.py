"""A beating picture with a known truth: period, drift, ECG on the screen, frame times. All styles are invented here."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames.polar import to_beams, to_grey
from fanlight.study import Box, Clip, ClipTags, FrameTimes, Layout, PictureChunk, ScreenText, Sector, TimeSource

# Radius of the heart over one beat, 1 at end-diastole (phase 0, the R wave): ejection, filling, rest, atrial kick.
# Invented, after the usual shape of a volume curve (common practice, no source). The least value is end-systole.
PHASES = (0.0, 0.08, 0.22, 0.36, 0.46, 0.60, 0.82, 0.93, 1.0)
RADII = (1.0, 0.97, 0.84, 0.76, 0.86, 0.94, 0.95, 1.0, 1.0)
END_SYSTOLE_PHASE = 0.36

STYLES = ("sweep", "overwrite", "scroll", "line_marker", "dot_marker", "under_marker", "growing", "still")


@dataclass(frozen=True, kw_only=True)
class Pulsing:
    """Pixels and the truth that they were drawn from."""

    pixels: NDArray[np.uint8]  # (frame, row, col, 3), or (frame, row, col) for a grey screen
    sector: Sector
    clip: Clip
    layout: Layout
    r_frames: tuple[float, ...]  # inside the clip
    period_frames: float
    end_systole_frames: tuple[float, ...]
    ecg_rows: tuple[int, int] | None

    def chunks(self, size: int = 32) -> Iterator[PictureChunk]:
        """The clip as the stages are shown it."""
        for first in range(0, len(self.pixels), size):
            pixels = self.pixels[first : first + size]
            grey = to_grey(pixels)
            yield PictureChunk(first=first, pixels=pixels, grey=grey, beams=to_beams(grey, self.sector))


def heart_radius(phase: NDArray[np.float64]) -> NDArray[np.float64]:
    """Radius of the heart at these phases (0 to 1), smooth and periodic."""
    fine = np.arange(0, 1, 1 / 400)
    curve = np.interp(fine, PHASES, RADII)
    kernel = np.ones(9) / 9
    curve = np.convolve(np.concatenate([curve[-8:], curve, curve[:8]]), kernel, "same")[8:-8]
    return np.asarray(np.interp(np.mod(phase, 1.0), np.append(fine, 1.0), np.append(curve, curve[0])))


def ecg_millivolt(phase: NDArray[np.float64], *, t_height: float = 0.25, inverted: bool = False) -> NDArray[np.float64]:
    """A P wave, a QRS complex and a T wave at phase 0; R is about 1."""
    wrapped = np.mod(phase + 0.5, 1.0) - 0.5
    waves = ((-0.17, 0.025, 0.12), (-0.022, 0.008, -0.15), (0.0, 0.011, 1.0), (0.025, 0.01, -0.25))
    signal = sum(height * np.exp(-0.5 * ((wrapped - at) / width) ** 2) for at, width, height in waves)
    signal = signal + t_height * np.exp(-0.5 * ((wrapped - 0.30) / 0.04) ** 2)
    return np.asarray(-signal if inverted else signal)


def _speckle(rng: np.random.Generator, rows: int, cols: int, grain_px: float) -> NDArray[np.float32]:
    field = rng.normal(size=(2, rows, cols)).astype(np.float32)
    real, imag = (cv2.GaussianBlur(part, (0, 0), grain_px) for part in field)
    envelope = np.hypot(real, imag)
    return np.asarray(envelope / envelope.mean(), np.float32)


def _beat_starts(rr_frames: tuple[float, ...], first_r_frame: float, n_frames: int) -> NDArray[np.float64]:
    starts = [first_r_frame]
    index = 0
    while starts[-1] < n_frames + 400:
        starts.append(starts[-1] + rr_frames[index % len(rr_frames)])
        index += 1
    before = [first_r_frame - rr_frames[0] * k for k in range(400, 0, -1) if first_r_frame - rr_frames[0] * k > -2000]
    return np.asarray(before + starts)


def pulsing(
    rng: np.random.Generator,
    *,
    n_frames: int = 90,
    rr_frames: tuple[float, ...] = (24.0,),
    first_r_frame: float = 5.3,
    rows: int = 480,
    cols: int = 640,
    corner: tuple[int, int] = (0, 0),
    gain: float = 1.0,
    noise: float = 8.0,
    beating: bool = True,
    drift_fraction: float = 0.0,
    breathing_fraction: float = 0.0,
    breathing_period_frames: float = 70.0,
    sweep_to_other_plane: float = 0.0,
    static_clutter: bool = False,
    flow_colour: bool = False,
    ecg: str | None = None,
    ecg_colour: tuple[int, int, int] = (60, 230, 70),
    ecg_over_picture: bool = False,
    ecg_height_px: int = 40,
    ecg_px_per_frame: float = 3.3,
    ecg_inverted: bool = False,
    ecg_t_height: float = 0.25,
    ecg_cols: tuple[int, int] = (60, 580),
    repeat_every: int = 0,
    rate_hz: float = 40.0,
    doubts: tuple[str, ...] = (),
    bpm_text: float | None = None,
    grey_screen: bool = False,
) -> Pulsing:
    """Draw a clip.

    Shares (`drift_fraction`, `breathing_fraction`) are of the width of the picture at the depth of the heart.
    `repeat_every` = 5 repeats every fifth frame in place of a new one; `sweep_to_other_plane` = 1 ends the
    clip in a wholly different texture and shape.
    """
    sector = Sector(
        apex_row_px=30.0 + corner[0],
        apex_col_px=cols / 2 + corner[1],
        left_deg=-38.0,
        right_deg=38.0,
        near_px=8.0,
        far_px=rows * 0.72,
    )
    yy, xx = np.mgrid[0:rows, 0:cols].astype(np.float32)
    radius = np.hypot(yy - sector.apex_row_px, xx - sector.apex_col_px)
    angle = np.degrees(np.arctan2(xx - sector.apex_col_px, yy - sector.apex_row_px))
    inside = (radius >= sector.near_px) & (radius <= sector.far_px) & (abs(angle) <= 38.0)

    centre = (sector.apex_row_px + 0.55 * sector.far_px, sector.apex_col_px)
    width_px = 2 * 0.55 * sector.far_px * np.tan(np.radians(38.0))
    base = 0.20 * sector.far_px
    heart_grey, other_grey = (_heart_sprite(rng, rows, cols, centre, base, shape) for shape in (1.0, 0.55))
    tissue = 45.0 * _speckle(rng, rows, cols, 2.0)

    times = np.arange(n_frames, dtype=np.float64)
    if repeat_every:
        times = times - (np.mod(times, repeat_every) == repeat_every - 1)
    starts = _beat_starts(rr_frames, first_r_frame, n_frames)
    frames = np.zeros((n_frames, rows, cols, 3), np.uint8)
    clutter = 90.0 * _speckle(rng, rows, cols, 3.0) * (radius < 0.18 * sector.far_px) if static_clutter else None
    noise_field: NDArray[np.float32] | None = None
    for index, now in enumerate(times):
        phase = float(np.interp(now, starts, np.arange(len(starts))))
        scale = float(heart_radius(np.asarray(phase))) if beating else 1.0
        across = drift_fraction * now / max(n_frames - 1, 1) * width_px
        across += breathing_fraction * width_px * np.sin(2 * np.pi * now / breathing_period_frames)
        matrix = np.asarray(
            [[scale, 0, centre[1] * (1 - scale) + across], [0, scale, centre[0] * (1 - scale)]], np.float32
        )
        share = sweep_to_other_plane * now / max(n_frames - 1, 1)
        sprite = heart_grey if share == 0 else (1 - share) * heart_grey + share * other_grey
        moved = cv2.warpAffine(sprite, matrix, (cols, rows), borderValue=-1.0)
        behind = cv2.warpAffine(tissue, np.asarray([[1, 0, across], [0, 1, 0]], np.float32), (cols, rows), borderMode=4)
        picture = np.where(moved >= 0, moved, behind)
        if clutter is not None:
            picture = np.maximum(picture, clutter)
        fresh = not repeat_every or index == 0 or times[index] != times[index - 1]
        if fresh or noise_field is None:
            noise_field = rng.normal(0, noise, size=(rows, cols)).astype(np.float32)
        level = np.clip((picture + noise_field) * gain, 0, 255) * inside
        frames[index] = level[..., None].astype(np.uint8)
        if flow_colour:
            flow = inside & (np.hypot(yy - centre[0], xx - centre[1] - across) < 0.5 * base * scale)
            strength = 120 + 100 * np.sin(2 * np.pi * phase)
            frames[index][flow] = (int(strength), 30, 20) if strength > 120 else (20, 40, int(240 - strength))

    ecg_rows = None
    if ecg is not None:
        ecg_rows = _draw_ecg(
            frames, times, starts, ecg, ecg_colour, (ecg_over_picture, ecg_height_px, ecg_px_per_frame),
            ecg_cols, ecg_inverted, ecg_t_height, corner,
        )  # fmt: skip
    pixels = to_grey(frames) if grey_screen else frames
    real = starts[(starts >= 0) & (starts <= n_frames - 1)]
    ends = starts[:-1] + END_SYSTOLE_PHASE * np.diff(starts)
    texts: tuple[ScreenText, ...] = ()
    if bpm_text is not None:
        from fanlight.study import Quantity

        texts = (
            ScreenText(
                text=f"{bpm_text:g} bpm",
                box=Box(row0=rows - 20, col0=cols - 90, row1=rows - 6, col1=cols - 10),
                confidence=0.95,
                quantities=(Quantity(value=bpm_text, unit="bpm"),),
                is_technical=True,
            ),
        )
    clip = Clip(
        key="phantom", number=1, name="phantom", container="phantom", rows=rows, cols=cols, n_frames=n_frames,
        is_colour=not grey_screen,
        times=FrameTimes(
            times_ms=tuple(1000.0 * i / rate_hz for i in range(n_frames)), source=TimeSource.FRAME_TIME, doubts=doubts
        ),
        tags=ClipTags(),
    )  # fmt: skip
    layout = Layout(
        rows=rows, cols=cols, picture=sector, picture_confidence=1.0, picture_reason="drawn", scale=None,
        scale_reason="a phantom has none", texts=texts,
    )  # fmt: skip
    return Pulsing(
        pixels=pixels,
        sector=sector,
        clip=clip,
        layout=layout,
        r_frames=tuple(float(r) for r in real),
        period_frames=float(np.mean(rr_frames)),
        end_systole_frames=tuple(float(e) for e in ends if 0 <= e <= n_frames - 1),
        ecg_rows=ecg_rows,
    )


def _heart_sprite(
    rng: np.random.Generator, rows: int, cols: int, centre: tuple[float, float], base: float, shape: float
) -> NDArray[np.float32]:
    """Bright wall with speckle round a dark cavity; -1 outside the heart."""
    yy, xx = np.mgrid[0:rows, 0:cols].astype(np.float32)
    away = np.hypot((yy - centre[0]) / shape, (xx - centre[1]) * shape) / base
    speckle = _speckle(rng, rows, cols, 2.0)
    sprite = np.where(away < 0.72, 6.0 * speckle, 110.0 * speckle)
    if shape != 1.0:
        bar = abs((yy - centre[0]) + (xx - centre[1])) < 0.25 * base
        sprite = np.where(bar, 120.0 * speckle, sprite)
    return np.where(away <= 1.0, sprite, -1.0).astype(np.float32)


def _draw_ecg(
    frames: NDArray[np.uint8],
    times: NDArray[np.float64],
    starts: NDArray[np.float64],
    style: str,
    colour: tuple[int, int, int],
    place: tuple[bool, int, float],
    columns: tuple[int, int],
    inverted: bool,
    t_height: float,
    corner: tuple[int, int],
) -> tuple[int, int]:
    """Draw one trace over all frames and return the rows it takes."""
    over_picture, height, speed = place
    rows = frames.shape[1]
    base_row = (int(rows * 0.66) if over_picture else int(rows * 0.92)) + corner[0]
    col0, col1 = columns[0] + corner[1], columns[1] + corner[1]
    width = col1 - col0

    def row_at(time: NDArray[np.float64]) -> NDArray[np.float64]:
        phase = np.interp(time, starts, np.arange(len(starts)))
        return base_row - height * ecg_millivolt(phase, t_height=t_height, inverted=inverted)

    def paint(frame: NDArray[np.uint8], cols_px: NDArray[np.float64], time: NDArray[np.float64]) -> None:
        if len(cols_px) > 1:
            points = np.stack([cols_px, row_at(time)], axis=1)
            cv2.polylines(frame, [np.round(points * 8).astype(np.int32)], False, colour, 1, cv2.LINE_AA, 3)

    def fine(start: float, stop: float) -> NDArray[np.float64]:
        return np.arange(start, stop, 0.25)

    started = times[0] - 0.4 * width / speed  # the pen stands at 40 % of the strip when the clip begins
    for frame, now in zip(frames, times, strict=True):
        pen = (now - started) * speed
        if style in ("sweep", "overwrite"):
            at, gap = pen % width, (22.0 if style == "sweep" else 2.0)
            paint(frame, col0 + fine(0, at), now - (at - fine(0, at)) / speed)
            old = fine(at + gap, width)
            paint(frame, col0 + old, now - (at + width - old) / speed)
            if style == "overwrite":
                dot = (round(col0 + at), round(float(row_at(np.asarray(now)))))
                cv2.circle(frame, dot, 3, colour, -1)
        elif style == "scroll":
            paint(frame, col0 + fine(0, width), now - (width - fine(0, width)) / speed)
        elif style == "growing":
            at = min((now - times[0]) * speed + 30.0, width)
            paint(frame, col0 + fine(0, at), now - (at - fine(0, at)) / speed)
        else:  # the whole trace of the clip stands still
            still_speed = 0.94 * width / max(times[-1] - times[0], 1.0)
            lead = 0.03 * width
            paint(frame, col0 + fine(0, width), times[0] + (fine(0, width) - lead) / still_speed)
            at = lead + (now - times[0]) * still_speed
            here = round(col0 + at)
            if style == "line_marker":
                cv2.line(frame, (here, base_row - height - 6), (here, base_row + 14), (235, 235, 235), 1)
            elif style == "dot_marker":
                cv2.circle(frame, (here, round(float(row_at(np.asarray(now))))), 4, (240, 60, 60), -1)
            elif style == "under_marker":
                tip = np.asarray([[here, base_row + 12], [here - 4, base_row + 19], [here + 4, base_row + 19]])
                cv2.fillPoly(frame, [tip.astype(np.int32)], (240, 200, 40))
            elif style != "still":
                raise ValueError(f"no ECG style {style!r}; styles: {', '.join(STYLES)}")
    return base_row - height - 6, base_row + 20
