"""The beats of a strip from one R wave to the next, and which of them count."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from fanlight.measure.m_mode.strip import MModeStrip
from fanlight.measure.m_mode.tissue_map import TissueMap, map_tissue
from fanlight.measure.rhythm import judge_rhythm

NO_ECG = "no R waves are read on the strip, so that the parts of a beat cannot be told apart; store it with its ECG"
NO_BEAT = "no whole beat lies on the strip"
_LEAST_ROWS, _LEAST_COLS = 48, 32  # fewer hold no heart, or no beat


@dataclass(frozen=True, slots=True, kw_only=True)
class StripBeat:
    """One whole beat, from R wave to R wave; `left_out` says why it does not count."""

    number: int  # from 1, as they stand on the strip
    start_ms: float  # from the middle of the first column
    length_ms: float
    left_out: str = ""

    @property
    def end_ms(self) -> float:
        """When the next beat begins."""
        return self.start_ms + self.length_ms


@dataclass(frozen=True, slots=True, kw_only=True)
class StripBeats:
    """The whole beats of a strip and what their rhythm asks of a mean."""

    beats: tuple[StripBeat, ...]
    note: str

    @property
    def counted(self) -> tuple[StripBeat, ...]:
        """The beats that their rhythm leaves in."""
        return tuple(beat for beat in self.beats if not beat.left_out)


def beats_by_r_waves(strip: MModeStrip) -> StripBeats | str:
    """Return the whole beats, or why there are none: ectopic and following ones are left out (`measure.rhythm`)."""
    if not strip.r_times_ms:
        return NO_ECG
    ends = list(pairwise(strip.r_times_ms))
    if not ends:
        return NO_BEAT
    rhythm = judge_rhythm([end - start for start, end in ends])
    beats = tuple(
        StripBeat(number=number, start_ms=start, length_ms=end - start, left_out=left_out)
        for number, ((start, end), left_out) in enumerate(zip(ends, rhythm.left_out, strict=True), start=1)
    )
    return StripBeats(beats=beats, note=rhythm.note)


def tissue_and_beats(strip: MModeStrip) -> tuple[TissueMap, StripBeats] | str:
    """Return what every strip through a valve is read by, or why it cannot be read."""
    rows, cols = strip.levels.shape
    if rows < _LEAST_ROWS or cols < _LEAST_COLS:
        return f"the strip has {rows} rows and {cols} columns; at least {_LEAST_ROWS} and {_LEAST_COLS} are needed"
    tissue = map_tissue(strip)
    if isinstance(tissue, str):
        return tissue
    beats = beats_by_r_waves(strip)
    return beats if isinstance(beats, str) else (tissue, beats)
