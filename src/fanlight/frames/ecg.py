"""The ECG on the screen: where it is, and in which frame each R wave is drawn."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames.ecg_line import EcgLine, find_line, line_rows, picture_mask
from fanlight.frames.ecg_pen import Drawing, LongStrip, lay_out
from fanlight.frames.r_waves import RWaves, find_r_waves
from fanlight.study import Box, FrameTimes, Picture, PictureChunk, ScreenText

_MAX_BAND_ROWS = 254
_MARK_CHANGE = 60  # of 255: a marker that comes or goes changes its pixels by more; compression noise by less
_MAX_HOLE_PX = 8  # columns without ink: soft edges leave a few, the gap before a pen is wider
_MAX_BEAT_BPM = 400.0  # faster than any heart of a cat in tachycardia (common practice, no source)
_MIN_BEAT_BPM = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class EcgReading:
    """R waves read off the screen. `reason` says what was read, or why nothing could be."""

    box: Box | None  # of the trace; None: no trace on the screen
    r_frames: tuple[float, ...]  # inside the clip, fractional
    rr_frames: tuple[float, ...]  # every interval seen, also of beats drawn before the clip began
    confidence: float  # 0 to 1, of the R waves
    reason: str


# A heart rate or a lead name may stand over a trace; a title bar or a row of settings covers far more of its width.
_MOST_WORDS = 0.25  # engineering judgement


def is_line_of_words(box: Box, texts: Iterable[ScreenText]) -> bool:
    """Return whether what looked like a trace is text: strokes of letters rise and fall as sharply as R waves.

    Parameters
    ----------
    box : Box
        Of the supposed trace.
    texts : iterable of ScreenText
        What was read on the screen; only where it stands counts.
    """
    covered = np.zeros(box.width_px, bool)
    for item in texts:
        rows = min(item.box.row1, box.row1) - max(item.box.row0, box.row0)
        if rows >= 0.5 * item.box.height_px:
            covered[max(item.box.col0 - box.col0, 0) : max(item.box.col1 - box.col0, 0)] = True
    return float(covered.mean()) > _MOST_WORDS


class EcgTrace:
    """Reads one clip's ECG: `start` with the first frames, `add` every chunk (these too), `finish`.

    `follow` starts with the trace that was found in the first frames before.
    """

    def __init__(self) -> None:
        self._line: EcgLine | None = None
        self._band = (0, 0)
        self._beside: NDArray[np.uint8] | None = None  # 255 where no picture lies
        self._before: list[NDArray[np.uint8]] | None = None
        self._top: list[NDArray[np.int16]] = []
        self._bottom: list[NDArray[np.int16]] = []
        self._marks: list[NDArray[np.bool_]] = []

    @property
    def box(self) -> Box | None:
        """Where the trace was found at the start."""
        return None if self._line is None else self._line.box

    def start(self, pixels: NDArray[np.uint8], picture: Picture | None) -> None:
        """Look for a trace in the first frames, shape (frame, row, col[, 3])."""
        self.follow(find_line(pixels, picture), picture, *pixels.shape[1:3])

    def follow(self, line: EcgLine | None, picture: Picture | None, rows: int, cols: int) -> None:
        """Start with the trace that was found in the first frames, or with none; rows and columns of a frame."""
        self._line = line
        if self._line is None:
            return
        box = self._line.box
        pad = max(box.height_px // 2, 12)  # taller beats and marks under the trace may come later in the clip
        row0, row1 = max(box.row0 - pad, 0), min(box.row1 + pad, rows)
        if row1 - row0 > _MAX_BAND_ROWS:
            middle = (box.row0 + box.row1) // 2
            row0 = max(middle - _MAX_BAND_ROWS // 2, 0)
            row1 = min(row0 + _MAX_BAND_ROWS, rows)
        self._band = (row0, row1)
        self._beside = np.asarray(cv2.bitwise_not(picture_mask(picture, rows, cols, 5))[row0:row1], np.uint8)

    def add(self, chunk: PictureChunk) -> None:
        """Take in some frames."""
        line = self._line
        if line is None or self._beside is None:
            return
        row0, row1 = self._band
        for frame in chunk.pixels:
            band = frame[row0:row1]
            channels = [np.asarray(c, np.uint8) for c in cv2.split(band)] if band.ndim == 3 else [band.copy()]
            top, bottom = line_rows(channels, line, None if line.over_picture else self._beside)
            self._top.append(top)
            self._bottom.append(bottom)
            self._marks.append(self._changed_columns(channels))
            self._before = channels

    def _changed_columns(self, channels: list[NDArray[np.uint8]]) -> NDArray[np.bool_]:
        """Columns in which anything beside the picture changed since the frame before."""
        if self._before is None or self._beside is None:
            return np.zeros(channels[0].shape[1], np.bool_)
        change = cv2.absdiff(channels[0], self._before[0])
        for now, before in zip(channels[1:], self._before[1:], strict=True):
            change = cv2.max(change, cv2.absdiff(now, before))
        # `max` of an array of bytes takes a sixth of the time that `cv2.reduce` takes.
        return np.asarray(cv2.bitwise_and(change, self._beside).max(axis=0) > _MARK_CHANGE, np.bool_)

    def finish(self, times: FrameTimes) -> EcgReading:
        """Return the R waves. The times only guard against beats that no heart can make."""
        if self._line is None or not self._top:
            return _nothing(None, "no thin line with sharp regular deflections was found on the screen")
        box = self._line.box
        top, bottom, marks = np.stack(self._top), np.stack(self._bottom), np.stack(self._marks)
        keep = _own_columns(top, bottom, box)
        bottom = np.where(keep[None, :], bottom, -1).astype(np.int16)
        top = np.where(keep[None, :], top, -1).astype(np.int16)
        strip = lay_out(top, bottom, marks)
        if strip is None:
            return _nothing(box, "a trace was found at the start of the clip only")
        waves = find_r_waves(strip.top, strip.bottom)
        if not waves.at_px:
            return _nothing(box, "a trace is on the screen, but no R wave stands out in it")
        if strip.drawing is Drawing.STILL:
            return _nothing(box, f"{len(waves.at_px)} R waves are on the screen, but {strip.drawing}")
        return _reading(box, strip, waves, times, len(top))


def _nothing(box: Box | None, reason: str) -> EcgReading:
    return EcgReading(box=box, r_frames=(), rr_frames=(), confidence=0.0, reason=reason)


def _own_columns(top: NDArray[np.int16], bottom: NDArray[np.int16], box: Box) -> NDArray[np.bool_]:
    """Columns of the trace: those found at the start, and those beside it in which the ink comes or moves."""
    there = bottom >= 0
    alive = ((np.ptp(top, axis=0) > 0) | (np.ptp(bottom, axis=0) > 0)) & there.any(axis=0)
    keep = np.array(alive, np.bool_)
    keep[box.col0 : box.col1] = True
    return keep


def _unbroken_intervals(
    at_px: tuple[float, ...], frames: NDArray[np.float64], rows: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Steps between neighbouring R waves with no hole between them in which a further one may have stood."""
    holes = [int(np.isnan(rows[int(a) : int(b)]).sum()) for a, b in pairwise(at_px)]
    return np.asarray(np.diff(frames)[np.asarray(holes, np.int64) <= _MAX_HOLE_PX], np.float64)


def _reading(box: Box, strip: LongStrip, waves: RWaves, times: FrameTimes, n_frames: int) -> EcgReading:
    """Turn places along the strip into frames and say how sure they are."""
    frames = np.interp(waves.at_px, np.arange(len(strip.frame_of_px)), strip.frame_of_px)
    intervals = _unbroken_intervals(waves.at_px, frames, strip.top)
    inside = frames[(frames >= -0.5) & (frames <= n_frames - 0.5)]
    rate = times.rate_hz if not times.doubts else None
    if rate is not None and len(intervals):
        bpm = 60.0 * rate / float(np.median(intervals))
        if not _MIN_BEAT_BPM <= bpm <= _MAX_BEAT_BPM:
            return _nothing(
                box, f"the deflections of the trace would mean {bpm:.0f} beats a minute: not taken as R waves"
            )
    clear = min(max((waves.contrast_ratio - 1.0) / 2.0, 0.0), 1.0)  # three times steeper than all else: clear
    even = min(max(1.3 - waves.spread_ratio, 0.0), 1.0)
    alone = 0.6 if len(waves.at_px) < 2 else 1.0  # one wave alone has no second to agree with
    confidence = round(strip.support_fraction * (0.35 + 0.65 * clear) * even * alone, 3)
    words = f"{len(inside)} R waves read from the trace ({strip.drawing})"
    return EcgReading(
        box=box,
        r_frames=tuple(float(np.clip(f, 0, n_frames - 1)) for f in inside),
        rr_frames=tuple(float(v) for v in intervals),
        confidence=confidence,
        reason=words,
    )
