"""What the pixels and the words of a screen show of the mode: a few numbers between 0 and 1."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, fields

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames.colour_box import CHROMA_LEVEL, chroma, picture_mask
from fanlight.frames.painted import look_at
from fanlight.frames.polar import some_in_grey, to_beams
from fanlight.recognise.lasting_structure import lasting_structure
from fanlight.recognise.spectrum_signs import SpectrumSigns, look_for_spectrum, spectral_region_box
from fanlight.recognise.strip_look import PAINTED, StripLook, look_at_strip, time_strip
from fanlight.study import Box, Layout, Picture, ScreenText, Strip

_FRAMES_USED = 8
# The ground of a strip is a little off the empty screen, brighter or darker, and fills its rectangle (engineering
# judgement).
_GROUND_LEVELS, _GROUND_SHARE = 2, 0.85
_BESIDE_MODEL = ("lasting", "signs")  # fields that rules of their own read
_SLOW_CM_S = 30.0  # velocity scales of tissue Doppler stay below (common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class ModeFeatures:
    """Each 0 to 1 but `lasting`; 0 also where it could not be looked at."""

    fan: float  # confidence of the picture, where it is a fan
    strip: float  # confidence of the picture, where it is an upright rectangle
    colour: float  # share of the picture that is coloured, 1 from 4 % on
    two_sided: float  # how evenly reds and blues share the colour
    one_hue: float  # share of the colour that is red to yellow
    tinted: float  # the whole picture in one tint: a grey picture shown through a colour
    screen_colour: float  # share of the screen outside the picture that is coloured
    second_pane: float  # another area of like size beside the picture
    time_strip: float  # a wide strip below or instead of the picture
    sweeps: float  # change runs along the strip from frame to frame
    layered: float  # neighbouring columns of the strip alike, far beyond speckle
    baseline: float  # paint of the strip hangs on one row
    empty_strip: float  # share of the strip that is black
    filled_spectrum: float  # paint reaches evenly from the baseline to its end
    banded: float  # rows explain the picture: reverberation has no lateral structure
    fades: float  # nothing but noise below the bands
    beats: float  # the picture moves from frame to frame as structures do
    bright_page: float  # share of the screen that is white or one bright colour
    few_greys: float  # the screen uses few grey levels: drawings and text
    speed_word: float  # a sweep speed in mm/s is written
    velocity_word: float  # a velocity in cm/s or m/s is written
    slow_scale: float  # all written velocities are slow
    says_pw: float
    says_cw: float
    says_m_mode: float
    says_tissue: float
    lasting: float = 0.0  # grey levels by which structures beyond the near field stand out and last
    signs: SpectrumSigns = field(default_factory=SpectrumSigns)

    def as_row(self) -> tuple[float, ...]:
        """The values of the mode model in the order of the fields; of the others `mode` and `spectrum_kind` judge."""
        return tuple(float(getattr(self, name)) for name in feature_names())


def feature_names() -> tuple[str, ...]:
    """Return the names in the order of ``ModeFeatures.as_row``."""
    return tuple(item.name for item in fields(ModeFeatures) if item.name not in _BESIDE_MODEL)


def look_for_mode(layout: Layout, pixels: NDArray[np.uint8]) -> ModeFeatures:
    """Measure the features of the mode on the first frames.

    Parameters
    ----------
    layout : Layout
        With the picture, texts and boxes found before.
    pixels : ndarray of shape (frame, row, col) or (frame, row, col, 3)
    """
    used = np.unique(np.linspace(0, len(pixels) - 1, min(len(pixels), _FRAMES_USED)).astype(int))
    grey = some_in_grey(pixels, used)
    rows, cols = grey.shape[1:]
    picture = layout.picture
    inside = np.zeros((rows, cols), np.uint8) if picture is None else picture_mask(picture, rows, cols)
    screen = look_at(grey)
    colour, two_sided, one_hue, tinted, screen_colour = _colours(pixels, used, inside)
    others = _other_areas(screen.lift, PAINTED, inside, layout)
    pane = _second_pane(others, picture, inside)
    told = spectral_region_box(layout)
    # Tissue Doppler on a scale of blood paints a thin line, no area: there the believed region says where to look.
    grounds = _other_areas(screen.trace, _GROUND_LEVELS, inside, layout, _GROUND_SHARE)
    strip = time_strip(grounds, None, cols) or time_strip(others, picture, cols) or told
    look = look_at_strip(grey, strip) if strip is not None else StripLook(0.0, 0.0, 0.0, 0.0, 0.0)
    where = strip if told is None else told
    signs = SpectrumSigns() if where is None else look_for_spectrum(layout, pixels[used[-1]], grey[-1], where)
    banded, fades, beats, lasting = _picture_structure(grey, picture, layout.texts)
    counts = np.bincount(grey[0].ravel(), minlength=256) / grey[0].size
    words = " ".join(item.text for item in layout.texts)
    speeds, velocities, slow = _quantities(layout.texts)
    return ModeFeatures(
        fan=layout.picture_confidence if picture is not None and not isinstance(picture, Strip) else 0.0,
        strip=layout.picture_confidence if isinstance(picture, Strip) else 0.0,
        colour=colour,
        two_sided=two_sided,
        one_hue=one_hue,
        tinted=tinted,
        screen_colour=screen_colour,
        second_pane=pane,
        time_strip=0.0 if strip is None else min(1.0, strip.width_px / (0.5 * cols)),
        sweeps=look.sweeps,
        layered=look.layered,
        baseline=look.baseline,
        empty_strip=look.empty,
        filled_spectrum=look.filled,
        banded=banded,
        fades=fades,
        beats=beats,
        bright_page=float(counts[225:].sum()),
        few_greys=float(np.clip(1.0 - (counts > 2e-4).sum() / 64.0, 0.0, 1.0)),
        speed_word=speeds,
        velocity_word=velocities,
        slow_scale=slow,
        says_pw=float(bool(re.search(r"\bPW\b|\bpulsed\b", words))),
        says_cw=float(bool(re.search(r"\bCW\b", words))),
        says_m_mode=float(bool(re.search(r"\bM-? ?mode\b|\bMM\b", words, re.IGNORECASE))),
        says_tissue=float(bool(re.search(r"\bTDI\b|\btissue\b", words, re.IGNORECASE))),
        lasting=lasting,
        signs=signs,
    )


def _quantities(texts: tuple[ScreenText, ...]) -> tuple[float, float, float]:
    found = [q for item in texts for q in item.quantities]
    speeds = float(any(q.unit == "mm/s" for q in found))
    velocities = [abs(q.value) * (100.0 if q.unit == "m/s" else 1.0) for q in found if q.unit in ("cm/s", "m/s")]
    return speeds, float(bool(velocities)), float(bool(velocities) and max(velocities) <= _SLOW_CM_S)


def _colours(
    pixels: NDArray[np.uint8], used: NDArray[np.int64], inside: NDArray[np.uint8]
) -> tuple[float, float, float, float, float]:
    """Share coloured in the picture, evenness of red and blue, share of warm hues, one tint, colour elsewhere."""
    if pixels.ndim == 3:
        return 0.0, 0.0, 0.0, 0.0, 0.0
    every = [chroma(pixels[index]) for index in used]
    most = every[0].copy()
    for here in every[1:]:
        cv2.max(most, here, dst=most)
    # Hues are read in the frame with the most colour.
    amounts = [cv2.countNonZero(cv2.compare(here, float(CHROMA_LEVEL), cv2.CMP_GE) & (255 * inside)) for here in every]
    fullest = int(np.argmax(amounts))
    strongest = pixels[used[fullest]]
    area = int(inside.sum())
    coloured = (most >= CHROMA_LEVEL).astype(np.uint8)
    within = cv2.morphologyEx(coloured & inside, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    outside = float((coloured & (1 - inside)).sum()) / max(inside.size - area, 1)
    count = int(within.sum())
    if area == 0 or count < 20:
        return 0.0, 0.0, 0.0, 0.0, min(1.0, outside)
    values = strongest[(within > 0) & (every[fullest] >= CHROMA_LEVEL)].astype(np.int16)
    if len(values) == 0:
        return 0.0, 0.0, 0.0, 0.0, min(1.0, outside)
    red, green, blue = values[:, 0], values[:, 1], values[:, 2]
    reds = float(np.mean(red > blue + 20))
    blues = float(np.mean(blue > red + 20))
    warm = float(np.mean((red > blue + 20) & (red >= green)))
    bright = inside.astype(bool) & (cv2.cvtColor(strongest, cv2.COLOR_RGB2GRAY) > 50)
    tinted = float(((every[fullest] >= CHROMA_LEVEL) & bright).sum()) / max(int(bright.sum()), 1)
    return (
        min(1.0, count / area / 0.04),
        2.0 * min(reds, blues),
        warm * float(blues < 0.05),
        float(np.clip((tinted - 0.6) / 0.3, 0.0, 1.0)) * float(min(reds, blues) < 0.05),
        min(1.0, outside),
    )


def _other_areas(
    paint: NDArray[np.uint8], level: int, inside: NDArray[np.uint8], layout: Layout, least_share: float = 0.0
) -> list[Box]:
    """Painted areas outside the picture that are no words, bars or traces and fill such a share of their box."""
    shrink = max(1.0, max(paint.shape) / 320.0)
    size = (round(paint.shape[1] / shrink), round(paint.shape[0] / shrink))
    hits = cv2.compare(paint, float(level), cv2.CMP_GE)
    hits[cv2.dilate(inside, np.ones((7, 7), np.uint8)) > 0] = 0
    for box in (*(item.box for item in layout.texts), *([] if layout.ecg_box is None else [layout.ecg_box])):
        hits[max(box.row0, 0) : box.row1, max(box.col0, 0) : box.col1] = 0
    small = cv2.resize(hits, size, interpolation=cv2.INTER_AREA)
    mask = (small > 60).astype(np.uint8)
    # Traces of a spectrum are lines of speckle on a black ground: closing joins them along the time axis.
    mask = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((5, 9), np.uint8))
    mask = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((7, 5), np.uint8))
    count, _, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
    boxes = []
    for label in range(1, count):
        x, y, w, h, area = (int(v) for v in stats[label])
        if w * h >= 0.03 * mask.size and h >= 8 and area >= least_share * w * h:
            boxes.append(
                Box(
                    row0=int(y * shrink),
                    col0=int(x * shrink),
                    row1=min(int((y + h) * shrink), paint.shape[0]),
                    col1=min(int((x + w) * shrink), paint.shape[1]),
                )
            )
    return sorted(boxes, key=lambda box: -box.area_px)


def _second_pane(others: list[Box], picture: Picture | None, inside: NDArray[np.uint8]) -> float:
    """How far another area stands beside the picture, of like height and area."""
    if picture is None or not others:
        return 0.0
    ys, xs = np.nonzero(inside)
    if len(ys) == 0:
        return 0.0
    box = Box(row0=int(ys.min()), col0=int(xs.min()), row1=int(ys.max()) + 1, col1=int(xs.max()) + 1)
    best = 0.0
    for other in others:
        across = min(box.col1, other.col1) - max(box.col0, other.col0)
        down = min(box.row1, other.row1) - max(box.row0, other.row0)
        if across > 0.25 * min(box.width_px, other.width_px):
            continue
        alike = min(box.area_px, other.area_px) / max(box.area_px, other.area_px)
        best = max(best, alike * max(down, 0) / max(box.height_px, other.height_px))
    return best


def _without_words(
    beams: NDArray[np.float32], picture: Picture, texts: tuple[ScreenText, ...], rows: int, cols: int
) -> NDArray[np.float32]:
    """Words written on the picture are no echoes: each gives way to the mean of the rest of its depth."""
    written = np.zeros((rows, cols), np.uint8)
    for item in texts:
        written[max(item.box.row0 - 2, 0) : item.box.row1 + 2, max(item.box.col0 - 2, 0) : item.box.col1 + 2] = 255
    words = to_beams(written, picture, *beams.shape[1:]) > 0
    free = ~words
    if not words.any() or not free.any(axis=1).all():
        return beams
    rest = (beams * free).sum(axis=2, keepdims=True) / free.sum(axis=1)[None, :, None]
    return np.where(words, rest, beams).astype(np.float32)


def _picture_structure(
    grey: NDArray[np.uint8], picture: Picture | None, texts: tuple[ScreenText, ...]
) -> tuple[float, float, float, float]:
    """Banded, fades, beats, lasting: what tells a probe in the air from tissue."""
    if picture is None:
        return 0.0, 0.0, 0.0, 0.0
    beams = to_beams(grey, picture, 160, 96).astype(np.float32)
    beams = _without_words(beams, picture, texts, *grey.shape[1:])
    inner = np.log1p(beams[:, 4:, 6:-6])
    mean = inner.mean(axis=0)
    # Smooth speckle and noise away (3 % of the depth, 6 % of the width), keep structures.
    mean = cv2.blur(mean, (7, 5))
    around = mean - mean.mean()
    by_row = around.mean(axis=1, keepdims=True)
    banded = float((by_row**2).mean() / max(float((around**2).mean()), 1e-4))
    # Correlation of neighbouring beams, well apart, once the mean of each row is gone: structures have it, noise not.
    deep = (beams[:, 56:, 6:-6]).mean(axis=0)
    level = float(beams[:, :40].mean()) + 1e-3
    rest = deep - deep.mean(axis=1, keepdims=True)
    rest = cv2.blur(rest, (7, 7))
    fades = float(np.clip(1.0 - 6.0 * float(rest.std()) / level, 0.0, 1.0))
    lasting = lasting_structure(beams)
    if len(beams) < 3:
        return banded, fades, 0.0, lasting
    smooth = np.stack([cv2.blur(frame, (9, 9)) for frame in beams])
    moved = float(smooth.std(axis=0).mean()) / (float(smooth.mean()) + 1.0)
    return banded, fades, float(np.clip(moved / 0.12, 0.0, 1.0)), lasting
