"""Small pictures of simulated clips to look at: a sector with ruler, focus and marker, and SIMULATED beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import Animal
from fanlight.heart.cycle import Still, still_time_ms
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.clip.film import Film, shoot_times
from fanlight.simulate.clip.picture import Take, take_2d
from fanlight.simulate.machine.scan_convert import fitted_sector, scan_convert

Grey = NDArray[np.uint8]

WATERMARK = "SIMULATED"
_TEXT, _MARK = 150, 200  # grey levels of words and marks
_HEAD_PX, _SIDE_PX, _GAP_PX = 12, 12, 4  # above the sector, beside it, between panels


def film_of_moments(animal: Animal, setting: ClipSetting, moments: Sequence[Still], *, start_ms: float = 0.0) -> Film:
    """Return a film of a few moments of one beat: of four beats the one that begins nearest to full expiration."""
    film = shoot_times(
        animal, replace(setting, recording=replace(setting.recording, beats=4.0, is_still=False)), start_ms=start_ms
    )
    begun = [i for i, beat in enumerate(film.beats) if 0 <= beat.onset_ms - start_ms <= film.times_ms[-1]]
    at = min(begun, key=lambda i: (film.state_at(film.beats[i].onset_ms - start_ms).breath, i))
    times = tuple(still_time_ms(animal.rhythm, film.beats, at, moment) - start_ms for moment in moments)
    return replace(film, times_ms=times, states=tuple(film.state_at(t) for t in times))


def take_moments(animal: Animal, setting: ClipSetting, moments: Sequence[Still], seed: int) -> Take:
    """Return one picture a moment. The seed draws speckle and noise."""
    return take_2d(animal, setting, film_of_moments(animal, setting, moments), np.random.default_rng(seed))


def _word(image: Grey, text: str, row: int, col: int, level: int = _TEXT) -> None:
    cv2.putText(image, text, (col, row), cv2.FONT_HERSHEY_SIMPLEX, 0.3, level, 1, cv2.LINE_AA)


def sector_panel(take: Take, setting: ClipSetting, index: int, *, rows: int, cols: int, head: str = "") -> Grey:
    """Return one frame as a panel of this size: a mark at every centimetre, a wedge at the focus, a dot for the marker.

    Parameters
    ----------
    take : Take
        Beams of the clip.
    setting : ClipSetting
        Tells the depth, the focus and whether the picture is mirrored.
    index : int
        Which frame; -1 is the last.
    rows, cols : int
        Size of the panel, px.
    head : str
        Words above the sector, beside SIMULATED.
    """
    inner_rows, inner_cols = rows - _HEAD_PX, cols - 2 * _SIDE_PX
    one = replace(take.beams, levels=take.beams.levels[[index]])
    sector = fitted_sector(one, rows=inner_rows, cols=inner_cols, margin_px=2)
    panel = np.zeros((rows, cols), np.uint8)
    panel[_HEAD_PX:, _SIDE_PX : cols - _SIDE_PX] = scan_convert(one, sector, rows=inner_rows, cols=inner_cols)[0]
    console = setting.console
    px_per_mm = sector.depth_px / console.depth_mm
    face_row = _HEAD_PX + sector.apex_row_px + sector.near_px
    edge = cols - 2
    for cm in range(int(console.depth_mm // 10) + 1):
        row = round(face_row + 10 * cm * px_per_mm)
        if row < rows:
            panel[row, edge - (6 if cm % 5 == 0 else 3) : edge] = _MARK
    focus_row = round(face_row + min(console.focus_mm, console.depth_mm) * px_per_mm)
    if focus_row < rows - 3:
        wedge = np.array([[edge - 8, focus_row], [edge - 1, focus_row - 3], [edge - 1, focus_row + 3]], np.int32)
        cv2.fillPoly(panel, [wedge], _TEXT)
    dot_col = 4 if setting.recording.is_mirrored else cols - 5
    cv2.circle(panel, (dot_col, _HEAD_PX + 6), 3, 255, -1, cv2.LINE_AA)
    _word(panel, WATERMARK, 9, 2)
    _word(panel, head, 9, 72)
    return panel


def clip_strip(take: Take, ms_shown: float, *, rows: int, cols: int) -> Grey:
    """Return the middle line of a clip over time, as its frames come; black once the clip has ended."""
    levels = take.beams.levels
    times = np.asarray(take.beams.times_ms)
    step_ms = float(np.diff(times).mean()) if len(times) > 1 else ms_shown
    at_ms = (np.arange(cols) + 0.5) / cols * ms_shown
    frame = np.searchsorted(times - times[0], at_ms, side="right") - 1
    line = np.asarray(levels[:, :, levels.shape[2] // 2])
    strip = cv2.resize(line, (rows, len(line)), interpolation=cv2.INTER_AREA)[frame].T.copy()
    strip[:, at_ms > times[-1] - times[0] + step_ms] = 0
    return np.asarray(strip, np.uint8)


def note_panel(text: str, *, rows: int, cols: int) -> Grey:
    """Return a panel that says in words why there is no picture."""
    panel = np.full((rows, cols), 30, np.uint8)
    width = max(8, (cols - 12) // 6)
    words, lines = text.split(), [""]
    for word in words:
        if len(lines[-1]) + len(word) >= width:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    _word(panel, WATERMARK, 9, 2)
    for number, line in enumerate(lines):
        _word(panel, line, 30 + 13 * number, 6)
    return panel


def beside(panels: Sequence[Grey]) -> Grey:
    """Return panels side by side."""
    return _joined(panels, axis=1)


def below(panels: Sequence[Grey]) -> Grey:
    """Return panels one below the other."""
    return _joined(panels, axis=0)


def _joined(panels: Sequence[Grey], *, axis: int) -> Grey:
    largest = max(panel.shape[1 - axis] for panel in panels)
    parts: list[Grey] = []
    for panel in panels:
        pad = [(0, 0)] * panel.ndim
        pad[1 - axis] = (0, largest - panel.shape[1 - axis])
        pad[axis] = (0, _GAP_PX)
        parts.append(np.pad(panel, pad))
    joined = np.concatenate(parts, axis=axis)
    return np.ascontiguousarray(joined[:, :-_GAP_PX] if axis else joined[:-_GAP_PX])


def jpeg_below(image: NDArray[np.uint8], most_bytes: int, *, least_quality: int = 25) -> bytes:
    """Return the image as JPEG of the best quality that stays below a size; smaller in pixels where none does."""
    while True:
        for quality in range(85, least_quality - 1, -4):
            data = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, quality, cv2.IMWRITE_JPEG_OPTIMIZE, 1])[1]
            if data.size <= most_bytes:
                return bytes(data)
        size = (round(image.shape[1] * 0.9), round(image.shape[0] * 0.9))
        image = np.asarray(cv2.resize(image, size, interpolation=cv2.INTER_AREA), np.uint8)
