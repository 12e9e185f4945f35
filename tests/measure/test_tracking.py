"""Marks followed through pictures whose motion is known."""

from __future__ import annotations

import math
from dataclasses import replace

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from fanlight.measure.followed_mark import follow_mark, wanted_frames
from fanlight.measure.shapes import Pixel
from fanlight.measure.tracking import follow
from fanlight.reference.load import load_house
from fanlight.reference.tracking import TrackSettings, read_track_settings

MM = 0.3
N = 24


@pytest.fixture(scope="module")
def settings() -> TrackSettings:
    return read_track_settings(load_house())


def speckle(seed: int = 3, size: int = 260) -> NDArray[np.float32]:
    """Fully developed speckle: the size of a circular Gaussian field (Goodman: its amplitude is Rayleigh spread)."""
    rng = np.random.default_rng(seed)
    field = [cv2.GaussianBlur(rng.normal(size=(size, size)).astype(np.float32), (0, 0), 2.0) for _ in range(2)]
    amplitude = np.hypot(*field)
    return np.asarray(255 * np.clip(amplitude / np.percentile(amplitude, 99), 0, 1), np.float32)


def warped(picture: NDArray[np.float32], matrix: NDArray[np.float64]) -> NDArray[np.uint8]:
    """The picture after a motion of its points, (x, y) to matrix · (x, y, 1)."""
    moved = cv2.warpAffine(picture, matrix, picture.shape[::-1], flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT)
    return np.asarray(np.clip(np.rint(moved), 0, 255), np.uint8)


def shift(dx: float, dy: float) -> NDArray[np.float64]:
    return np.array([[1, 0, dx], [0, 1, dy]], np.float64)


def turn(degrees: float, zoom: float = 1.0, about: float = 130.0) -> NDArray[np.float64]:
    return np.asarray(cv2.getRotationMatrix2D((about, about), degrees, zoom), np.float64)


def mapped(matrix: NDArray[np.float64], point: tuple[float, float]) -> tuple[float, float]:
    x, y = matrix @ (point[1], point[0], 1.0)
    return float(y), float(x)


def test_a_known_shift_is_followed_to_a_tenth_of_a_pixel(settings: TrackSettings) -> None:
    """One beat of 24 frames on a circle of 6 pixels, ends where it began."""
    picture = speckle()
    ways = [shift(6 * math.cos(2 * math.pi * k / N) - 6, 6 * math.sin(2 * math.pi * k / N)) for k in range(N + 2)]
    frames = np.stack([warped(picture, way) for way in ways])
    start = (120.3, 140.8)

    track = follow(frames, [start], 0, settings, mm_per_px=MM, period_frames=N)

    point = track.points[0]
    true = [mapped(way, start) for way in ways]
    off = [math.dist(a, b) for a, b in zip(point.points, true, strict=True)]
    assert max(off) < 0.1
    assert point.drift_px is not None
    assert point.drift_px < 0.1
    assert all(error >= miss for error, miss in zip(point.error_px, off, strict=True))


@pytest.mark.parametrize("marked", [0, 9, 20])
def test_rotation_and_stretch_are_followed_from_any_frame(settings: TrackSettings, marked: int) -> None:
    """Tissue turns by 12 degrees and shortens by a tenth, there and back."""
    picture = speckle(5)
    ways = [turn(12 * math.sin(math.pi * k / N) ** 2, 1 - 0.1 * math.sin(math.pi * k / N) ** 2) for k in range(N + 2)]
    frames = np.stack([warped(picture, way) for way in ways])
    at_rest = [(100.0, 95.0), (160.0, 170.0)]
    line = tuple(mapped(ways[marked], point) for point in at_rest)

    found = follow_mark(
        frames, "line", line, marked, settings, pixel=Pixel(down=MM, across=MM), period_frames=float(N), first=7
    )

    assert (found.first, found.marked, found.stopped) == (7, 7 + marked, ())
    assert found.points[marked] == line
    true = [math.dist(mapped(way, at_rest[0]), mapped(way, at_rest[1])) * MM for way in ways]
    curve = found.curves[0]
    assert (curve.name, curve.unit) == ("length", "mm")
    assert curve.errors[marked] == 0
    for value, error, truth in zip(curve.values, curve.errors, true, strict=True):
        assert value == pytest.approx(truth, abs=MM)  # one pixel
        assert abs(value - truth) <= error + 1e-9
    assert abs(curve.smallest_frame - 7 - N / 2) <= 1


def test_the_area_of_a_ring_that_shrinks(settings: TrackSettings) -> None:
    """Zoomed by z, an area is z² times as large (geometry)."""
    picture = speckle(8)
    zooms = [1 - 0.15 * math.sin(math.pi * k / N) ** 2 for k in range(N + 2)]
    frames = np.stack([warped(picture, turn(0, zoom)) for zoom in zooms])
    ring = tuple((130 + 45 * math.sin(t), 130 + 45 * math.cos(t)) for t in np.linspace(0, 2 * math.pi, 60)[:-1])

    found = follow_mark(frames, "trace", ring, 0, settings, pixel=Pixel(down=MM, across=MM), period_frames=float(N))

    area = next(curve for curve in found.curves if curve.name == "area")
    assert area.unit == "mm²"
    for value, error, zoom in zip(area.values, area.errors, zooms, strict=True):
        assert value == pytest.approx(area.values[0] * zoom**2, rel=0.02)
        assert abs(value - area.values[0] * zoom**2) <= error + 1e-9


def test_noise_is_not_followed_and_says_so(settings: TrackSettings) -> None:
    """Every frame is another picture: nothing can be followed, and the track must know."""
    frames = np.stack([warped(speckle(seed), shift(0, 0)) for seed in range(30, 45)])

    found = follow_mark(frames, "line", ((100.0, 100.0), (150.0, 160.0)), 5, settings, pixel=Pixel(down=MM, across=MM))

    assert len(found.stopped) == 2
    assert "beyond frame" in found.stopped[0]
    assert len(found.points) < 8
    assert found.drift is None


def test_an_empty_picture_shows_no_motion_and_a_probe_that_slides_shows_as_drift(settings: TrackSettings) -> None:
    """Speckle that slides by 0.4 pixels a frame and never comes back is followed, and drift tells that it did not."""
    picture = speckle(4)
    frames = np.stack([warped(picture, shift(0.4 * k, 0)) for k in range(N + 2)])

    track = follow(frames, [(130.0, 100.0)], 0, settings, mm_per_px=MM, period_frames=float(N))

    assert track.points[0].drift_px == pytest.approx(0.4 * N, abs=0.2)
    assert track.points[0].error_px[N] > 0.4 * N


def test_without_a_beat_the_error_is_taken_larger(settings: TrackSettings) -> None:
    picture = speckle(4)
    frames = np.stack([warped(picture, shift(math.sin(k), 0)) for k in range(8)])
    closed = follow(frames, [(130.0, 100.0)], 0, settings, mm_per_px=MM, period_frames=2 * math.pi)
    opened = follow(frames, [(130.0, 100.0)], 0, settings, mm_per_px=MM)

    assert opened.points[0].drift_px is None
    assert opened.points[0].error_px[1] > closed.points[0].error_px[1]


def test_not_calibrated_gives_pixels(settings: TrackSettings) -> None:
    frames = np.stack([warped(speckle(4), shift(0, 0.5 * k)) for k in range(4)])

    found = follow_mark(frames, "line", ((100.0, 100.0), (100.0, 150.0)), 0, settings)

    assert (found.unit, found.curves[0].unit) == ("px", "px")
    assert found.curves[0].values[3] == pytest.approx(50, abs=0.3)


@pytest.mark.parametrize(
    ("n", "marked", "period", "wanted"),
    [(100, 40, 23.5, (15, 65)), (50, 40, 23.5, (15, 49)), (300, 150, None, (90, 210)), (5, 0, 90.0, (0, 4))],
)
def test_a_beat_on_and_a_beat_back_are_followed(
    settings: TrackSettings, n: int, marked: int, period: float | None, wanted: tuple[int, int]
) -> None:
    assert wanted_frames(n, marked, period, settings) == wanted


def test_points_and_frames_that_are_not_there_are_refused(settings: TrackSettings) -> None:
    frames = np.zeros((3, 50, 60), np.uint8)
    with pytest.raises(ValueError, match=r"on the picture of 50 × 60 pixels, got \(50, 2\)"):
        follow(frames, [(50.0, 2.0)], 0, settings)
    with pytest.raises(ValueError, match="one of the 3 frames, got 3"):
        follow(frames, [(5.0, 2.0)], 3, settings)


def test_settings_of_a_house_are_checked() -> None:
    house = load_house()
    rows = {**house.table("tracking")["settings"], "error_factor": 0}
    own = replace(house, tables={**house.tables, "tracking": {"settings": rows}})

    with pytest.raises(ValueError, match=r"tracking.settings.error_factor must be above 0, got 0"):
        read_track_settings(own)
