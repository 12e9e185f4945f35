"""Screens of every mode with a known truth. All layouts, words and colours are invented here."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.study import Box, Mode, Quantity, ScreenText, Sector
from tests.frames.screens import curved, linear, phased, screen, speckle


@dataclass(frozen=True, kw_only=True)
class ModeScreen:
    """Pixels, the words on them, and the mode that was drawn."""

    mode: Mode
    pixels: NDArray[np.uint8]  # (frame, row, col, 3)
    texts: tuple[ScreenText, ...] = ()


def _word(text: str, row: int, col: int, *quantities: tuple[float, str]) -> ScreenText:
    return ScreenText(
        text=text,
        box=Box(row0=row, col0=col, row1=row + 12, col1=col + 9 * len(text)),
        confidence=0.95,
        quantities=tuple(Quantity(value=value, unit=unit) for value, unit in quantities),
        is_technical=True,
    )


def _picture(rng: np.random.Generator, rows: int, cols: int, n: int, **how: object) -> NDArray[np.uint8]:
    kind = int(rng.integers(0, 4))
    picture = (
        phased(rows, cols, width_deg=float(rng.uniform(55, 95)), tilt_deg=float(rng.uniform(-8, 8)))
        if kind < 2
        else curved(rows, cols)
        if kind == 2
        else linear(rows, cols)
    )
    return screen(
        rng, picture, rows, cols, n_frames=n, layout=int(rng.integers(0, 3)), gain=float(rng.uniform(0.15, 1.3)),
        **{"noise": float(rng.uniform(0.5, 5)), **how},  # type: ignore[arg-type]
    ).pixels  # fmt: skip


def _flow(rng: np.random.Generator, pixels: NDArray[np.uint8], *, power: bool) -> None:
    """Colour patches on the picture, pulsing, in place."""
    n, rows, cols, _ = pixels.shape
    yy, xx = np.mgrid[0:rows, 0:cols].astype(np.float32)
    at = (rows * rng.uniform(0.4, 0.6), cols * rng.uniform(0.42, 0.55))
    size = rows * rng.uniform(0.05, 0.14)
    grain = speckle(rng, rows, cols, 2.0, 2.0)
    for index in range(n):
        strength = 0.4 + 0.6 * abs(np.sin(2 * np.pi * index / 11))
        for sign, shift in ((1, 0.0), (-1, 1.5 * size)):
            away = np.hypot(yy - at[0], xx - at[1] - shift) / size
            here = (away < 1) & (grain > 0.4)
            level = np.clip(255 * strength * (1.1 - 0.5 * away), 60, 255)[here]
            if power:
                colour = np.stack([level, 0.55 * level * (level > 140), 0.05 * level], axis=1)
            elif sign > 0:
                colour = np.stack([level, 0.6 * level * (level > 190), 10 + 0 * level], axis=1)
            else:
                colour = np.stack([10 + 0 * level, 0.6 * level * (level > 190), level], axis=1)
            pixels[index][here] = colour.astype(np.uint8)


def _spectrum(rng: np.random.Generator, width: int, height: int, *, filled: bool, both: bool) -> NDArray[np.float32]:
    """A strip of velocities over time: repeating envelopes on a baseline."""
    time = np.arange(width)
    period = rng.uniform(0.15, 0.4) * width
    phase = np.mod(time / period + rng.uniform(), 1.0)
    envelope = np.exp(-(((phase - 0.3) / 0.13) ** 2)) + 0.6 * np.exp(-(((phase - 0.7) / 0.09) ** 2))
    base = round(height * rng.uniform(0.25, 0.75))
    towards = rng.uniform() < 0.5
    room = base if towards else height - base
    reach = envelope * room * rng.uniform(0.5, 0.9)
    rows = np.arange(height)[:, None]
    up = (base - rows) if towards else (rows - base)
    inside = (up > 2) & (up < reach)
    level = np.where(inside, 150.0 if filled else 40 + 130 * np.clip(up / np.maximum(reach, 1), 0, 1) ** 2, 0.0)
    if both:
        level = np.where((-up > 2) & (-up < 0.4 * reach), 110.0, level)
    strip = level * speckle(rng, height, width, 1.2, 0.9) + np.abs(rng.normal(0, rng.uniform(0.5, 4), level.shape))
    strip[base - 1 : base + 1] = 130
    return np.asarray(strip, np.float32)


def _tissue(rng: np.random.Generator, width: int, height: int) -> NDArray[np.float32]:
    """A strip of tissue Doppler: one thick smooth band that swings about the baseline, three waves a beat."""
    time = np.arange(width)
    period = rng.uniform(0.15, 0.4) * width
    phase = np.mod(time / period + rng.uniform(), 1.0)
    waves = ((0.2, 0.08, 1.0), (0.55, 0.05, -rng.uniform(0.7, 1.2)), (0.82, 0.04, -rng.uniform(0.3, 1.0)))
    speed = sum(size * np.exp(-(((phase - at) / wide) ** 2)) for at, wide, size in waves)
    sign = 1.0 if rng.uniform() < 0.5 else -1.0
    base = round(height * rng.uniform(0.42, 0.58))
    middle = base - sign * speed * 0.36 * height
    rows = np.arange(height)[:, None]
    thick = rng.uniform(0.03, 0.06) * height
    level = 190.0 * np.exp(-(((rows - middle) / thick) ** 2))
    strip = level * (0.5 + 0.5 * speckle(rng, height, width, 3.0, 12.0)) + np.abs(rng.normal(0, 2.0, level.shape))
    strip[base - 1 : base + 1] = 130
    return np.asarray(strip, np.float32)


def _draw_cursor(
    frame: NDArray[np.uint8], rng: np.random.Generator, guide: Sector, mode: Mode, ink: tuple[int, int, int]
) -> None:
    """Lay a dashed cursor over a guide, with a gate or a ring on it."""
    angle = np.radians(rng.uniform(-18, 18))
    along, across = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])

    def line(start: NDArray[np.float64], end: NDArray[np.float64]) -> None:
        ends = [(round(float(p[1])), round(float(p[0]))) for p in (start, end)]
        cv2.line(frame, ends[0], ends[1], ink, 1, cv2.LINE_AA)

    apex = np.array([guide.apex_row_px, guide.apex_col_px])
    at = rng.uniform(0.4, 0.8) * guide.far_px
    dash = rng.uniform(3, 8)
    for start in np.arange(guide.near_px, guide.far_px - dash, 2 * dash):
        if abs(start + dash / 2 - at) > 8:
            line(apex + start * along, apex + (start + dash) * along)
    if mode is Mode.M_MODE:
        return
    if mode is Mode.CONTINUOUS_WAVE:
        middle = apex + at * along
        cv2.circle(
            frame, (round(float(middle[1])), round(float(middle[0]))), int(rng.integers(4, 7)), ink, 1, cv2.LINE_AA
        )
        return
    half, gap = rng.uniform(5, 9), rng.uniform(2, 5)
    for side in (-1, 1):
        middle = apex + (at + side * gap) * along
        line(middle - half * across, middle + half * across)


def _m_mode(rng: np.random.Generator, width: int, height: int) -> NDArray[np.float32]:
    """A strip of depth over time: layers that move with the beat."""
    time = np.arange(width)
    period = rng.uniform(0.15, 0.4) * width
    beat = 0.5 - 0.5 * np.cos(2 * np.pi * time / period)
    depth = np.linspace(0, 1, height)
    walls = ((0.0, 0.15, 0.0), (0.2, 0.28, 0.03), (0.33, 0.36, 0.06), (0.6, 0.72, -0.07), (0.72, 1.0, -0.03))
    column = speckle(rng, height, 1, 1.2, 1.0)[:, :1] * np.ones((1, width), np.float32)
    column = 0.5 * column + 0.5 * speckle(rng, height, width, 1.2, 2.5)
    strip = np.full((height, width), 6.0, np.float32)
    for first, last, move in walls:
        top, bottom = first + move * beat, last + move * beat
        strip[(depth[:, None] >= top) & (depth[:, None] < bottom)] = rng.uniform(60, 140)
    return np.asarray(strip * column, np.float32)


def _strip_screen(
    rng: np.random.Generator,
    rows: int,
    cols: int,
    n: int,
    strip: NDArray[np.float32],
    guide: bool,
    box: Box,
    mode: Mode,
) -> NDArray[np.uint8]:
    """Lay a strip on a screen, swept or scrolled where there are frames, with or without a guiding picture above."""
    pixels = np.zeros((n, rows, cols, 3), np.uint8)
    if guide:
        small = Sector(
            apex_row_px=0.04 * rows, apex_col_px=0.5 * cols, left_deg=-38.0, right_deg=38.0, near_px=4.0,
            far_px=0.38 * rows,
        )  # fmt: skip
        still = screen(rng, small, rows, cols, n_frames=1, layout=3, gain=0.8).pixels
        pixels[:] = still
        if rng.uniform() < 0.8:
            ink = ((230, 180, 90), (110, 170, 230), (140, 190, 120), (220, 220, 80))[int(rng.integers(4))]
            for frame in pixels:
                _draw_cursor(frame, np.random.default_rng(round(1e6 * strip.mean())), small, mode, ink)
    scroll = rng.uniform() < 0.4
    start = int(rng.integers(0, box.width_px))
    for index in range(n):
        step = 5 * index
        if scroll:
            shown = np.roll(strip, -step, axis=1)
        else:
            shown = strip.copy()
            pen = (start + step) % box.width_px
            shown = np.concatenate([strip[:, : pen + 1], np.roll(strip, 37, axis=1)[:, pen + 1 :]], axis=1)
            shown[:, pen : pen + 5] = 0
        pixels[index, box.row0 : box.row1, box.col0 : box.col1] = np.clip(shown, 0, 255).astype(np.uint8)[..., None]
    return pixels


def _report(rng: np.random.Generator, rows: int, cols: int) -> NDArray[np.uint8]:
    white = rng.uniform() < 0.6
    page = np.full((1, rows, cols, 3), 250 if white else 0, np.uint8)
    ink = (20, 20, 30) if white else (220, 220, 210)
    for row in range(40, rows - 20, int(rng.integers(18, 34))):
        text = " ".join(
            "".join(chr(97 + int(c)) for c in rng.integers(0, 26, 7)) for _ in range(int(rng.integers(2, 6)))
        )
        cv2.putText(page[0], text, (int(rng.integers(10, 60)), row), cv2.FONT_HERSHEY_SIMPLEX, 0.5, ink, 1, cv2.LINE_AA)
    if rng.uniform() < 0.5:
        row = int(rng.integers(60, rows - 160))
        cv2.rectangle(page[0], (cols // 2, row), (cols - 30, row + 120), (90, 130, 200), -1)
    return page


def _photograph(rng: np.random.Generator, rows: int, cols: int) -> NDArray[np.uint8]:
    """Smooth shapes and shades over the whole frame, as of a camera or a radiograph."""
    grey_only = rng.uniform() < 0.4
    out = np.zeros((rows, cols, 3), np.float32)
    for channel in range(3):
        field = np.zeros((rows, cols), np.float32)
        for size in (90.0, 30.0, 8.0):
            part = cv2.GaussianBlur(rng.normal(size=(rows, cols)).astype(np.float32), (0, 0), size)
            field += part / part.std() * size
        out[..., channel] = 128 + 50 * field / field.std()
    if grey_only:
        out[:] = out[..., :1]
    return np.clip(out + rng.normal(0, 2, out.shape), 0, 255).astype(np.uint8)[None]


def draw_mode(
    rng: np.random.Generator, mode: Mode, *, words: bool = True, rows: int = 360, cols: int = 480
) -> ModeScreen:
    """Draw one screen of this mode; `words`: whether the text reader found the words that name it."""
    n = 1 if rng.uniform() < 0.35 else 8
    texts: list[ScreenText] = [_word("Fr 31 Hz", 40, 4, (31.0, "Hz"))]
    if mode is Mode.TWO_D:
        pixels = _picture(rng, rows, cols, n, shadow=(0.0, 0.25) if rng.uniform() < 0.3 else None)
        if rng.uniform() < 0.15:
            pixels = (pixels * np.array([1.0, 0.8, 0.45])).astype(np.uint8)  # the same picture shown in a brown tint
    elif mode in (Mode.COLOUR, Mode.POWER):
        pixels = _picture(rng, rows, cols, n)
        _flow(rng, pixels, power=mode is Mode.POWER)
        if mode is Mode.COLOUR:
            texts += [_word("72 cm/s", 60, cols - 80, (72.0, "cm/s")), _word("-72", 150, cols - 80)]
    elif mode is Mode.NO_CONTACT:
        clean = bool(rng.uniform() < 0.5)  # no noise near the probe, a dark floor, amplified noise far down
        pixels = _picture(
            rng, rows, cols, n, air=True, floor=int(rng.integers(0, 3)),
            noise=0.0 if clean else float(rng.uniform(1, 4)), far_noise=float(rng.choice([0.0, 6.0, 25.0])),
        )  # fmt: skip
    elif mode is Mode.DUAL:
        left = screen(rng, phased(rows, cols // 2, width_deg=62), rows, cols // 2, n_frames=n, layout=3).pixels
        right = screen(rng, phased(rows, cols // 2, width_deg=62), rows, cols // 2, n_frames=n, layout=3).pixels
        pixels = np.concatenate([left, right], axis=2)
    elif mode is Mode.NOT_ECHO:
        pixels = _report(rng, rows, cols) if rng.uniform() < 0.6 else _photograph(rng, rows, cols)
        texts = []
    else:
        guide = bool(rng.uniform() < 0.6)
        box = Box(
            row0=round((0.5 if guide else 0.12) * rows), col0=round(rng.uniform(0.03, 0.12) * cols),
            row1=round(0.93 * rows), col1=round(rng.uniform(0.88, 0.97) * cols),
        )  # fmt: skip
        if mode is Mode.M_MODE:
            strip = _m_mode(rng, box.width_px, box.height_px)
            texts += [_word("50 mm/s", rows - 16, 200, (50.0, "mm/s")), _word("M-mode", 20, 4)]
        else:
            continuous = mode is Mode.CONTINUOUS_WAVE
            strip = (
                _tissue(rng, box.width_px, box.height_px)
                if mode is Mode.TISSUE_DOPPLER
                else _spectrum(rng, box.width_px, box.height_px, filled=continuous, both=rng.uniform() < 0.4)
            )
            top = 15.0 if mode is Mode.TISSUE_DOPPLER else float(rng.uniform(300, 600)) if continuous else 120.0
            texts += [
                _word("75 mm/s", rows - 16, 200, (75.0, "mm/s")),
                _word(f"{top:.0f} cm/s", box.row0, cols - 70, (top, "cm/s")),
            ]
            names = {Mode.PULSED_WAVE: "PW", Mode.CONTINUOUS_WAVE: "CW", Mode.TISSUE_DOPPLER: "TDI"}
            texts.append(_word(names[mode], 20, 4))
        pixels = _strip_screen(rng, rows, cols, n, strip, guide, box, mode)
    # The reader misses a word now and then.
    kept = tuple(item for item in texts if words and rng.uniform() < 0.8)
    return ModeScreen(mode=mode, pixels=np.ascontiguousarray(pixels), texts=kept)
