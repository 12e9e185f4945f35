"""Bars of velocity, plain and with a tint of turbulence across them, drawn without the machine's own maps.

That maps of velocity and variance mix green into both halves, or run towards it, is common practice, no source.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from fanlight.frames.doppler.colour_bar import find_colour_bar
from fanlight.frames.doppler.colour_velocity import colour_tables, velocity_shares
from tests.critique.doppler.colour_clips import tinted

Image = NDArray[np.float64]
HEIGHT, TOP, LEFT = 140, 60, 60
SPEED = np.linspace(1.0, -1.0, HEIGHT)[:, None]


def ramp(speed: Image) -> Image:
    """Red and blue, pure up to 0.6 of the scale, then yellow and cyan, (..., 3)."""
    size = np.abs(speed)[..., None]
    strong, light, none = 60 + 195 * size, 400 * np.clip(size - 0.6, 0, None), 0 * size
    up, down = np.concatenate([strong, light, none], axis=-1), np.concatenate([none, light, strong], axis=-1)
    return np.where((speed >= 0)[..., None], up, down)


def plain(width: int) -> tuple[Image, Image]:
    """Return a bar, and how far across each of its columns lies."""
    return np.repeat(ramp(SPEED), width, axis=1), np.linspace(0, 1, width)[None, :, None]


def on_screen(bar: Image, quality: int | None = None, at: int = LEFT) -> NDArray[np.uint8]:
    frame = np.zeros((HEIGHT + 2 * TOP, 160, 3), np.uint8)
    frame[TOP : TOP + HEIGHT, at : at + bar.shape[1]] = np.clip(bar, 0, 255).astype(np.uint8)
    if quality is None:
        return frame
    code = cv2.imencode(".jpg", frame[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])[1]
    return np.ascontiguousarray(cv2.imdecode(code, cv2.IMREAD_COLOR)[..., ::-1])


@pytest.mark.parametrize("width", [5, 7, 9, 11, 13, 16, 24])
def test_compression_of_a_plain_bar_is_no_tint(width: int) -> None:
    """Chroma is kept for two pixels at once: the black beside a narrow bar runs into it."""
    bars = [
        find_colour_bar(on_screen(plain(width)[0], quality, LEFT + off), None)
        for quality in (50, 70, 85, 95) for off in range(8)
    ]  # fmt: skip
    found = [bar for bar in bars if bar is not None]
    assert len(found) >= len(bars) / 2
    assert [bar.scatter for bar in found] == [None] * len(found)


def test_shade_and_light_at_the_rim_are_no_tint() -> None:
    for width in (12, 16, 24):
        bar, across = plain(width)
        rim = np.ones(bar.shape, np.bool_) & (np.arange(width) >= width - 3)[None, :, None]
        for shown in (bar * (1 - 0.6 * across), np.where(rim, 0.5 * bar, bar), np.where(rim, 0.5 * bar + 127, bar)):
            found = find_colour_bar(on_screen(shown), None)
            assert found is not None
            assert found.scatter is None


@pytest.mark.parametrize("is_turned", [False, True])
@pytest.mark.parametrize("kind", ["runs to green", "runs to green whole", "green is added", "half of it"])
def test_green_across_the_bar_is_a_tint(kind: str, is_turned: bool) -> None:
    bar, across = plain(20)
    if kind == "green is added":
        shown = bar + 0.7 * across * np.array([0.0, 255.0, 0.0])
    else:
        tints = {"runs to green": across, "runs to green whole": across / 0.7, "half of it": np.round(across)}
        shown = tinted(bar.astype(np.uint8), tints[kind][..., 0]).astype(np.float64)
    found = find_colour_bar(on_screen(shown[:, ::-1] if is_turned else shown, 85), None)
    assert found is not None
    assert found.zero_row_px == pytest.approx(TOP + HEIGHT / 2, abs=2)
    _, table = colour_tables(found)
    assert table is not None
    rows = slice(15, 45)  # fast flow of the upper half
    asked = np.clip(np.stack([bar[rows, 0], shown[rows, -1]])[:, None], 0, 255).astype(np.uint8)
    laminar, turbulent = velocity_shares(asked, table)[:, 0]
    assert np.nanmedian(laminar) < 0.3
    assert np.nanmedian(turbulent) > 0.7
