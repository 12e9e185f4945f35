"""The fast path: one beat of one clip, without screen and without file, for work that asks one criterion at a time.

What the engine would have read from the file and the screen (place of the picture, scale, mode, times) is given as it
truly is, so that a criterion is asked about the picture and not about the reading of screens.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames.polar import to_beams
from fanlight.heart.animal import Animal
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.clip.film import Film, shoot_times
from fanlight.simulate.clip.picture import take_2d
from fanlight.simulate.machine.scan_convert import fitted_sector, scan_convert
from fanlight.simulate.machine.tissue_echo import EchoTable
from fanlight.study import (
    BeatSource,
    Clip,
    ClipTags,
    ClipTime,
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

ROWS, COLS = 480, 640
MARGIN_PX = 8


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OneBeat:
    """A short clip and everything that the engine would know of it before it looks at the picture."""

    setting: ClipSetting
    film: Film
    frames: NDArray[np.uint8]  # (frame, row, col)
    clip: Clip
    patient: Patient
    layout: Layout
    mode: ModeReading
    time: ClipTime

    @property
    def picture(self) -> Sector:
        """Where the picture lies in the frames."""
        assert isinstance(self.layout.picture, Sector)
        return self.layout.picture

    def chunks(self, size: int = 32) -> Iterator[PictureChunk]:
        """Yield the frames as the engine shows them to a criterion family."""
        for first in range(0, len(self.frames), size):
            grey = self.frames[first : first + size]
            yield PictureChunk(first=first, pixels=grey, grey=grey, beams=to_beams(grey, self.picture))


def one_beat(
    animal: Animal,
    setting: ClipSetting,
    rng: np.random.Generator,
    *,
    start_ms: float = 0.0,
    rows: int = ROWS,
    cols: int = COLS,
    beats: float = 1.0,
    rate_hz: float | None = None,
    table: EchoTable | None = None,
) -> OneBeat:
    """Return a clip of one beat.

    Parameters
    ----------
    animal : Animal
        Who is scanned.
    setting : ClipSetting
        A 2-D clip: `steady.steady_setting`, with `faults.apply` laid over it. Its own length is not looked at, its
        export (size, JPEG) is.
    rng : Generator
        Draws scatterers and noise.
    start_ms : float
        When in the animal's rhythm the clip begins.
    rows, cols : int
        Size of the picture; the sector fills it.
    beats : float
        Length, for criteria that need more than one beat.
    rate_hz : float, optional
        Frames a second, by default what the console stores.
    table : EchoTable, optional
        Other tissues, for ring C.

    Raises
    ------
    ValueError
        If the setting is an M-mode.
    """
    if setting.mode is not Mode.TWO_D:
        raise ValueError(f"the fast path makes 2-D clips, not {setting.mode}; use picture.screen_of")
    recording = replace(setting.recording, beats=beats, is_still=False)
    film = shoot_times(animal, replace(setting, recording=recording), start_ms=start_ms, rate_hz=rate_hz)
    take = take_2d(animal, setting, film, rng, table=table)
    sector = fitted_sector(take.beams, rows=rows, cols=cols, margin_px=MARGIN_PX)
    frames = scan_convert(take.beams, sector, rows=rows, cols=cols)
    mm_per_px = setting.console.depth_mm / sector.depth_px
    frames, sector, mm_per_px = _exported(frames, sector, mm_per_px, setting)
    return OneBeat(
        setting=setting,
        film=film,
        frames=frames,
        clip=_clip(setting, frames),
        patient=Patient(species=animal.species, weight_kg=animal.weight_kg),
        layout=Layout(
            rows=frames.shape[1],
            cols=frames.shape[2],
            picture=sector,
            picture_confidence=1.0,
            picture_reason="simulated",
            scale=Scale(
                mm_per_row_px=mm_per_px,
                mm_per_col_px=mm_per_px,
                source=ScaleSource.REGION,
                uncertainty_fraction=0.0,
                witnesses=(),
            ),
            scale_reason="simulated",
        ),
        mode=ModeReading(mode=Mode.TWO_D, probability=1.0, reasons=("simulated",)),
        time=_time(film),
    )


def _exported(
    frames: NDArray[np.uint8], sector: Sector, mm_per_px: float, setting: ClipSetting
) -> tuple[NDArray[np.uint8], Sector, float]:
    ratio, quality = setting.recording.scale_ratio, setting.recording.jpeg_quality
    if ratio != 1.0:
        size = (round(frames.shape[2] * ratio), round(frames.shape[1] * ratio))
        kind = cv2.INTER_CUBIC if ratio > 1 else cv2.INTER_AREA
        frames = np.stack([cv2.resize(frame, size, interpolation=kind) for frame in frames])
        sector = replace(
            sector,
            apex_row_px=(sector.apex_row_px + 0.5) * ratio - 0.5,
            apex_col_px=(sector.apex_col_px + 0.5) * ratio - 0.5,
            near_px=sector.near_px * ratio,
            far_px=sector.far_px * ratio,
        )
        mm_per_px /= ratio
    if quality is not None:
        coded = (cv2.imencode(".jpg", frame, [cv2.IMWRITE_JPEG_QUALITY, quality])[1] for frame in frames)
        frames = np.stack([np.asarray(cv2.imdecode(data, cv2.IMREAD_GRAYSCALE), np.uint8) for data in coded])
    return frames, sector, mm_per_px


def _clip(setting: ClipSetting, frames: NDArray[np.uint8]) -> Clip:
    console = setting.console
    return Clip(
        key="simulated",
        number=1,
        name="simulated.dcm",
        container="DICOM",
        rows=frames.shape[1],
        cols=frames.shape[2],
        n_frames=len(frames),
        is_colour=False,
        tags=ClipTags(focus_depth_mm=console.focus_mm, depth_of_field_mm=console.depth_mm),
    )


def _time(film: Film) -> ClipTime:
    per_beat = film.rr_ms * film.rate_hz / 1000
    onsets = film.onsets_ms
    return ClipTime(
        times=FrameTimes(times_ms=film.times_ms, source=TimeSource.FRAME_TIME),
        beat_source=BeatSource.R_WAVE_TAG,
        r_frames=tuple(t * film.rate_hz / 1000 for t in onsets),
        beat_period_frames=per_beat,
        beat_period_ms=film.rr_ms,
        heart_rate_bpm=60_000.0 / film.rr_ms,
        complete_beats=len(film.times_ms) / per_beat,
        end_diastole_frames=tuple(round(t * film.rate_hz / 1000) for t in onsets),
        confidence=1.0,
        has_ecg=True,
    )
