"""Time in a clip: beats, frames a beat, ECG, rhythm, repeated frames, and a probe that wanders."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import Accumulator, ClipContext, Family, judged, not_assessable
from fanlight.critique.applies import why_not_picture
from fanlight.critique.steadiness import THUMB, Steadiness, measure_steadiness
from fanlight.frames.beats import rr_variation_ratio
from fanlight.study import (
    MODE_WORDS,
    Band,
    BeatSource,
    ClipTime,
    Criterion,
    Evidence,
    Finding,
    Mode,
    PictureChunk,
    Point,
    Polyline,
    Side,
    Source,
    Verdict,
)

ECG_KEY = "ecg_present"
_STILL = "a still has no beats"
_WITNESS_CONFIDENCE = 0.5  # beats counted from a written heart rate, which may be seconds old


class TimeCriteria:
    """Sees one clip once; keeps a coarse picture of each frame (4 kB) for the drift."""

    def __init__(self, context: ClipContext) -> None:
        self._context = context
        self._thumbs: list[NDArray[np.uint8]] = []
        self._n_frames = 0

    def add(self, chunk: PictureChunk) -> None:
        """Take in some frames."""
        self._n_frames += len(chunk)
        if chunk.beams is not None and not self._context.clip.is_still:
            self._thumbs += [
                np.asarray(cv2.resize(frame, (THUMB, THUMB), interpolation=cv2.INTER_AREA), np.uint8)
                for frame in chunk.beams
            ]

    def finish(self, time: ClipTime) -> tuple[Finding, ...]:
        """Return one finding for each criterion of the family."""
        ecg = self._ecg(time)
        if self._context.clip.is_still:
            keys = [key for key in self._context.criteria if key != ECG_KEY]
            return (ecg, *(self._cannot(key, _STILL) for key in keys))
        steadiness = self._steadiness(time)
        return (
            self._beats(time),
            self._frames_per_beat(time),
            self._frame_rate(time),
            ecg,
            self._rhythm(time),
            self._drift(steadiness),
            self._plane(steadiness),
            self._frozen(time),
        )

    def _cannot(self, key: str, reason: str) -> Finding:
        return not_assessable(self._context, FAMILY, key, reason)

    def _why_no_beats(self) -> str:
        """Why beats are not asked of this clip, or ""."""
        mode = self._context.mode.mode
        if mode in (Mode.NO_CONTACT, Mode.NOT_ECHO):
            return f"{MODE_WORDS[mode]}: nothing that beats is shown"
        if mode is not None and not mode.is_moving_picture and mode not in (Mode.DUAL, Mode.TISSUE_DOPPLER):
            return f"on a strip of {MODE_WORDS[mode]} the beats lie side by side; they are not counted in frames"
        return ""

    def _counted_beats(self, time: ClipTime) -> tuple[float | None, float, str]:
        """Whole beats, how sure, and a note. Falls back to a written heart rate where nothing else tells."""
        tolerance = self._context.criteria["beats_in_clip"].setting("tolerance_beats")
        if time.beat_period_frames:
            # three and a half beats hold three whole ones even where only three R waves, two intervals, are seen
            by_length = np.floor(self._n_frames / time.beat_period_frames + tolerance)
            between_r = max(len(time.r_frames) - 1, 0)
            return float(max(by_length, between_r)), time.confidence, f"counted from: {time.beat_source.value}"
        bpm, duration_ms = self._written_bpm(), _duration_ms(time)
        if bpm is not None and duration_ms is not None:
            beats = float(np.floor(duration_ms * bpm / 60000.0 + tolerance))
            return beats, _WITNESS_CONFIDENCE, f"from the written heart rate of {bpm:g} bpm and the length of the clip"
        return None, 0.0, ""

    def _written_bpm(self) -> float | None:
        """The heart rate that the file or the screen states, if they state one."""
        if self._context.clip.tags.heart_rate_bpm:
            return self._context.clip.tags.heart_rate_bpm
        found = [q.value for text in self._context.layout.texts for q in text.quantities if q.unit == "bpm"]
        return found[0] if len(found) == 1 else None

    def _beats(self, time: ClipTime) -> Finding:
        key = "beats_in_clip"
        if reason := self._why_no_beats():
            return self._cannot(key, reason)
        beats, confidence, note = self._counted_beats(time)
        if beats is None:
            return self._cannot(key, _no_beats(time))
        criterion = self._context.criteria[key]
        finding = judged(self._context, FAMILY, key, beats, confidence=confidence, note=note, evidence=self._ecg_box())
        variation = self._rr_variation(time)
        if variation is not None and variation > criterion.setting("irregular_rr_variation_ratio"):
            band = Band(
                met_low=criterion.setting("irregular_met_beats"), border_low=criterion.setting("irregular_border_beats")
            )
            return _judged_by(finding, band, f"{note}; the beats come unevenly, so more of them are asked for")
        return finding

    def _frames_per_beat(self, time: ClipTime) -> Finding:
        key = "frames_per_beat"
        if reason := self._why_no_beats():
            return self._cannot(key, reason)
        new_share = 1.0 - len(time.frozen_frames) / max(self._n_frames, 1)
        note = "" if not time.frozen_frames else f"{len(time.frozen_frames)} repeated frames are not counted"
        if time.beat_period_frames:
            value = time.beat_period_frames * new_share
            return judged(self._context, FAMILY, key, value, confidence=time.confidence, note=note)
        bpm, rate_hz = self._written_bpm(), _trusted_rate_hz(time)
        if bpm is not None and rate_hz is not None:
            words = f"from the written heart rate of {bpm:g} bpm" + (f"; {note}" if note else "")
            value = 60.0 * rate_hz * new_share / bpm
            return judged(self._context, FAMILY, key, value, confidence=_WITNESS_CONFIDENCE, note=words)
        return self._cannot(key, _no_beats(time))

    def _frame_rate(self, time: ClipTime) -> Finding:
        key = "frame_rate_hz"
        if reason := self._why_no_beats():
            return self._cannot(key, reason)
        rate_hz = _trusted_rate_hz(time)
        if rate_hz is None:
            doubts = "; ".join(time.times.doubts)
            return self._cannot(key, f"the frame times are doubted: {doubts}" if doubts else "no frame times are told")
        new_share = 1.0 - len(time.frozen_frames) / max(self._n_frames, 1)
        finding = judged(self._context, FAMILY, key, rate_hz * new_share, note=time.times.source.value)
        if self._context.mode.mode in (Mode.COLOUR, Mode.POWER, Mode.TISSUE_DOPPLER):
            criterion = self._context.criteria[key]
            band = Band(border_low=criterion.setting("colour_border_hz"), met_low=criterion.setting("colour_met_hz"))
            return _judged_by(finding, band, f"{finding.reason}; colour needs more pulses, so less is asked for")
        return finding

    def _ecg(self, time: ClipTime) -> Finding:
        if self._context.mode.mode is Mode.NOT_ECHO:
            return self._cannot(ECG_KEY, "not an ultrasound picture")
        if time.has_ecg is None:
            return self._cannot(ECG_KEY, time.ecg_reason or "whether an ECG runs along could not be judged")
        return judged(
            self._context,
            FAMILY,
            ECG_KEY,
            1.0 if time.has_ecg else 0.0,
            confidence=0.9 if time.has_ecg else 0.7,
            evidence=self._ecg_box(),
            note=time.ecg_reason,
        )

    def _ecg_box(self) -> tuple[Evidence, ...]:
        box = self._context.layout.ecg_box
        return () if box is None else (Evidence(shape=box, label="ECG"),)

    def _rr_variation(self, time: ClipTime) -> float | None:
        """Variation of the intervals between R waves, where there are enough of them."""
        fewest = int(self._context.criteria["rhythm_regular"].setting("fewest_intervals"))
        intervals = tuple(float(v) for v in np.diff(time.r_frames))
        return rr_variation_ratio(intervals) if len(intervals) >= fewest else None

    def _rhythm(self, time: ClipTime) -> Finding:
        key = "rhythm_regular"
        if reason := self._why_no_beats():
            return self._cannot(key, reason)
        if time.beat_source not in (BeatSource.R_WAVE_TAG, BeatSource.ECG_TRACE):
            return self._cannot(key, "evenness is judged from R waves; none were read")
        variation = self._rr_variation(time)
        if variation is None or not time.beat_period_frames:
            return self._cannot(key, f"{max(len(time.r_frames) - 1, 0)} intervals are too few to speak of a rhythm")
        # an R wave is placed to about a third of a frame; two of them bound each interval
        blur = float(np.sqrt(2.0) * 0.3 / time.beat_period_frames)
        return judged(
            self._context, FAMILY, key, min(variation, 1.0), confidence=time.confidence, uncertainty=blur,
            evidence=self._ecg_box(), note="respiratory sinus arrhythmia is normal in dogs" if variation > 0.1 else "",
        )  # fmt: skip

    def _steadiness(self, time: ClipTime) -> Steadiness | str:
        if reason := why_not_picture(self._context) or ("" if self._thumbs else "the picture was not found"):
            return reason
        return measure_steadiness(np.stack(self._thumbs), time.beat_period_frames)

    def _drift(self, steadiness: Steadiness | str) -> Finding:
        key = "probe_drift"
        if isinstance(steadiness, str):
            return self._cannot(key, steadiness)
        across, along = steadiness.across_fraction, steadiness.along_fraction
        if across is None or along is None:
            return self._cannot(key, steadiness.reason)
        changed_below = self._context.criteria["plane_held"].band.border_low
        if steadiness.alike_ratio is not None and changed_below is not None and steadiness.alike_ratio < changed_below:
            return self._cannot(key, "the plane itself changes; a shift between two planes is no drift")
        sideways = abs(across) >= abs(along)
        value = max(abs(across), abs(along))
        words = ("right" if across > 0 else "left") if sideways else ("down" if along > 0 else "up")
        return judged(
            self._context, FAMILY, key, value, confidence=0.8, uncertainty=steadiness.spread_fraction,
            evidence=self._arrow(across, along),
            note=f"toward the {words} of the screen" if sideways else f"{words}ward",
        )  # fmt: skip

    def _arrow(self, across: float, along: float) -> tuple[Evidence, ...]:
        """From where the middle of the picture was to where it went."""
        picture = self._context.layout.picture
        if picture is None:
            return ()
        start: Point = picture.point(0.5 - along / 2, 0.5 - across / 2)
        end: Point = picture.point(0.5 + along / 2, 0.5 + across / 2)
        return (Evidence(shape=Polyline(points=(start, end)), label="drift"),)

    def _plane(self, steadiness: Steadiness | str) -> Finding:
        key = "plane_held"
        if isinstance(steadiness, str):
            return self._cannot(key, steadiness)
        if steadiness.alike_ratio is None:
            return self._cannot(key, steadiness.reason)
        last = (0, self._n_frames - 1)
        return judged(self._context, FAMILY, key, steadiness.alike_ratio, confidence=0.6, frames=last)

    def _frozen(self, time: ClipTime) -> Finding:
        key = "frozen_frames"
        if self._n_frames < 2:
            return self._cannot(key, "fewer than two frames could be read")
        share = len(time.frozen_frames) / (self._n_frames - 1)
        return judged(self._context, FAMILY, key, share, confidence=0.9, frames=time.frozen_frames)


def _judged_by(finding: Finding, band: Band, note: str) -> Finding:
    """The same value against another band."""
    assert finding.value is not None
    verdict, side = band.judge(finding.value)
    return replace(finding, band=band, verdict=verdict, side=side, reason=note)


def _no_beats(time: ClipTime) -> str:
    return "no beats could be told apart: " + ("; ".join(time.reasons) or "nothing speaks of them")


def _trusted_rate_hz(time: ClipTime) -> float | None:
    """Frame rate, unless the times are doubted and no written heart rate bears them out."""
    if time.times.doubts and time.beat_period_ms is None:
        return None
    return time.times.rate_hz


def _duration_ms(time: ClipTime) -> float | None:
    rate_hz = _trusted_rate_hz(time)
    return None if rate_hz is None else 1000.0 * len(time.times.times_ms) / rate_hz


def _start(context: ClipContext) -> Accumulator:
    return TimeCriteria(context)


FAMILY = Family(name="time", version=1, start=_start)


def study_ecg_finding(findings: Iterable[Finding], criterion: Criterion) -> Finding:
    """Return the study's one finding about the ECG: the share of its clips that show one.

    Parameters
    ----------
    findings : iterable of Finding
        Findings of any criteria on all clips; only those of "ecg_present" count.
    criterion : Criterion
        The row "ecg_present".

    Notes
    -----
    The single clips' findings carry the places of the traces; a letter says this one only.
    """
    own = [f for f in findings if f.criterion == ECG_KEY and f.clip]
    told = [f for f in own if f.value is not None and f.verdict is not Verdict.NOT_ASSESSABLE]
    source = own[0].source if own else Source(stage="critique.time", version=FAMILY.version)
    if not told:
        return Finding(
            criterion=ECG_KEY, clip="", value=None, unit=criterion.unit, band=criterion.band,
            verdict=Verdict.NOT_ASSESSABLE, side=Side.INSIDE, confidence=0.0,
            reason="no clip of this study shows whether an ECG was attached", source=source,
        )  # fmt: skip
    with_ecg = sum(1 for f in told if f.value)
    share = with_ecg / len(told)
    verdict, side = criterion.band.judge(share)
    return Finding(
        criterion=ECG_KEY, clip="", value=share, unit=criterion.unit, band=criterion.band, verdict=verdict, side=side,
        confidence=min(f.confidence for f in told), reason=f"{with_ecg} of {len(told)} clips show an ECG",
        source=source,
    )  # fmt: skip
