"""Lung over the heart: a bright line with its repeats, or a grey veil that comes and goes with the breath."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext, Family, judged
from fanlight.critique.applies import none_assessable, why_not_picture
from fanlight.critique.beam_moments import BLACK_LEVEL, FrameSampler
from fanlight.critique.tissue import rows_between
from fanlight.study import ClipTime, Evidence, Finding, PictureChunk, Polyline

KEY = "lung_cover"
N_GROUPS = 16
# Depths in which the repeats of the lung line are looked for; the veil begins below the chest wall.
FROM, TO = 0.06, 0.88
VEIL_FROM, VEIL_TO, VEIL_BANDS = 0.25, 0.92, 8
# Repeats follow at the depth of the lung's surface below the skin; it lies between these shares of the displayed depth.
SPACING_FROM, SPACING_TO = 0.06, 0.32
# What is slower than this share of the depth is shading, not a line.
SHADING_SHARE = 0.14
# Lines of lung run straight across the beams and repeat: neighbouring beams share this much of their variation, and the
# profile resembles itself one spacing deeper by this much (engineering judgement; speckle gives 0.1 to 0.3 and 0.1).
LEAST_LIKENESS = 0.5
LEAST_REPEAT = 0.45
LEAST_SECOND_REPEAT = 0.2
SLACK_DEPTHS = 5  # samples of 256 by which the first line may miss the spacing
# Share of the frames in which a group must show the lines: lung covers it for part of each breath only.
LEAST_FRAMES_SHARE = 0.2
# A veil brightens a whole beam at once, a heart does not: mean correlation over time between the depths of a beam, and
# size of the common change in grey levels (engineering judgement). Below the noise level a depth does not change.
NOISE_LEVELS = 3.0
LEAST_COMMON_SHARE = 0.4
LEAST_VEIL_LEVELS = 6.0
# Behind lung nothing beats: walls that lie across the beams at even distances look like a line and its repeats, but the
# beams that show them change from frame to frame. Share of the liveliest beams' change, and grey levels below which
# nothing beats however little the rest does (engineering judgement).
QUIET_RATIO, QUIET_LEVELS = 0.5, 2.5
LIVELIEST_PERCENTILE = 90.0
# Frames from which a change over time can be told.
FEWEST_FRAMES = 8
ENOUGH_FRAMES = 64
ENOUGH_FOR_LINES = 21


class _Lung:
    def __init__(self, context: ClipContext) -> None:
        self._context = context
        self._reason = why_not_picture(context)
        self._sampler = FrameSampler(context.clip.n_frames, ENOUGH_FRAMES)
        self._lines_step = max(1, min(context.clip.n_frames, ENOUGH_FRAMES) // ENOUGH_FOR_LINES)
        self._lines: list[NDArray[np.bool_]] = []
        self._series: list[NDArray[np.float32]] = []
        self._brightest = 0.0

    def add(self, chunk: PictureChunk) -> None:
        if self._reason or chunk.beams is None:
            return
        for place in self._sampler.pick(chunk):
            beams = chunk.beams[place]
            if len(self._series) % self._lines_step == 0:
                self._lines.append(groups_with_lines(beams))
            self._series.append(levels_by_depth(beams))
            self._brightest = max(self._brightest, float(self._series[-1].max()))

    def finish(self, time: ClipTime) -> tuple[Finding, ...]:
        if self._reason:
            return none_assessable(self._context, FAMILY, self._reason)
        if not self._lines or self._brightest < BLACK_LEVEL:
            return none_assessable(self._context, FAMILY, "there is no echo in the picture")
        series, beat = np.asarray(self._series), self._beat(time)
        lines = (np.mean(self._lines, axis=0) >= LEAST_FRAMES_SHARE) & quiet_groups(series)
        # Within one beat a veil is not told from the beat.
        can_change = len(series) >= FEWEST_FRAMES + (beat if beat > 1 else 0)
        veiled = groups_with_veil(without_beats(series, beat)) if can_change else np.zeros(N_GROUPS, np.bool_)
        covered = without_lone_groups(lines | veiled)
        words = []
        if (covered & lines).any():
            words.append("a bright line with its repeats")
        if (covered & veiled).any():
            words.append("a veil that comes and goes")
        if not can_change:
            words.append("a veil cannot be told in a still or a single beat")
        return (
            judged(
                self._context,
                FAMILY,
                KEY,
                float(covered.mean()),
                confidence=0.75 if can_change else 0.5,
                uncertainty=1 / N_GROUPS,
                evidence=self._evidence(covered),
                note="; ".join(words),
            ),
        )

    def _beat(self, time: ClipTime) -> int:
        """Frames of the series that one beat spans; 1 where the beat is not known."""
        period = time.beat_period_frames
        return 1 if period is None else max(1, round(period / self._sampler.step))

    def _evidence(self, covered: NDArray[np.bool_]) -> tuple[Evidence, ...]:
        picture = self._context.layout.picture
        assert picture is not None
        edges = np.flatnonzero(np.diff(np.concatenate([[0], covered.view(np.int8), [0]])))
        shapes = []
        for first, stop in zip(edges[::2], edges[1::2], strict=True):
            across = np.linspace(first / N_GROUPS, stop / N_GROUPS, 7)
            top = [picture.point(SPACING_FROM, float(b)) for b in across]
            bottom = [picture.point(1.0, float(b)) for b in across[::-1]]
            shapes.append(Evidence(shape=Polyline(points=(*top, *bottom), closed=True), label="lung"))
        return tuple(shapes)


def groups_with_lines(beams: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """Return which groups of beams of one frame, shape (depth, beam), show a line and its repeats."""
    n_depths, n_beams = beams.shape
    level = cv2.blur(beams.astype(np.float32), (1, 3))
    level = level - cv2.blur(level, (1, 2 * round(SHADING_SHARE * n_depths / 2) + 1))
    lines = level[rows_between(n_depths, FROM, TO)].reshape(-1, N_GROUPS, n_beams // N_GROUPS)
    profile = lines.mean(axis=2)
    own = lines.var(axis=0).mean(axis=1)
    likeness = profile.var(axis=0) / np.maximum(own, 1.0)
    centred = profile - profile.mean(axis=0)
    energy = np.maximum((centred**2).sum(axis=0), 1.0)
    size = 2 * len(centred)
    spectrum = np.fft.rfft(centred, size, axis=0)
    repeat = np.fft.irfft(np.abs(spectrum) ** 2, size, axis=0)[: len(centred)] / energy
    # the overlap shrinks with the lag: make up for it, up to the longest spacing
    lags = slice(round(SPACING_FROM * n_depths), round(SPACING_TO * n_depths))
    overlap = 1 - np.arange(len(centred)) / len(centred)
    fair = repeat[lags] / overlap[lags, None]
    # A repeat is a second peak: the resemblance must first fall away. It must come again at twice the spacing, and the
    # first line lies one spacing below the skin, for the sound runs to and fro between skin and lung.
    fell = np.minimum.accumulate(repeat[: lags.stop], axis=0)[lags] < 0.1
    twice = repeat[2 * np.arange(lags.start, lags.stop)] / overlap[2 * np.arange(lags.start, lags.stop), None]
    first = cv2.dilate(centred.astype(np.float32), np.ones((2 * SLACK_DEPTHS + 1, 1), np.uint8))
    at_skin_distance = first[np.arange(lags.start, lags.stop) - round(FROM * n_depths)] > 0.8 * centred.std(axis=0)
    fits = fell & (twice > LEAST_SECOND_REPEAT) & at_skin_distance
    best = np.where(fits, fair, 0.0).max(axis=0)
    return np.asarray((likeness > LEAST_LIKENESS) & (best > LEAST_REPEAT) & (own > BLACK_LEVEL**2))


def levels_by_depth(beams: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Return mean grey levels, shape (group, depth band), below the chest wall."""
    rows = rows_between(beams.shape[0], VEIL_FROM, VEIL_TO)
    return np.asarray(cv2.resize(beams[rows], (N_GROUPS, VEIL_BANDS), interpolation=cv2.INTER_AREA).T, np.float32)


def groups_with_veil(series: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Return which groups brighten and darken over their whole depth at once; series has shape (frame, group, band)."""
    change = (series - series.mean(axis=0)).astype(np.float64)
    covariance = np.einsum("tgi,tgj->gij", change, change) / len(series)
    spread = np.sqrt(np.einsum("gii->gi", covariance) + NOISE_LEVELS**2)
    correlation = covariance / (spread[:, :, None] * spread[:, None, :])
    others = correlation.sum(axis=(1, 2)) - np.einsum("gii->g", correlation)
    alike = others / (VEIL_BANDS * (VEIL_BANDS - 1))
    together = change.mean(axis=2).var(axis=0)
    return np.asarray((alike > LEAST_COMMON_SHARE) & (together > LEAST_VEIL_LEVELS**2))


def without_beats(series: NDArray[np.float32], beat: int) -> NDArray[np.float32]:
    """Return the running mean over one beat, so that only slower change is left; short series stay as they are."""
    if beat < 2 or len(series) < beat + FEWEST_FRAMES:
        return series
    total = np.cumsum(np.concatenate([np.zeros_like(series[:1]), series]), axis=0)
    return np.asarray((total[beat:] - total[:-beat]) / beat, np.float32)


def quiet_groups(series: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Return which groups hardly change from frame to frame; all of them in a still."""
    if len(series) < FEWEST_FRAMES:
        return np.ones(N_GROUPS, np.bool_)
    steps = np.sqrt(np.mean(np.diff(series, axis=0) ** 2, axis=(0, 2)))
    liveliest = float(np.percentile(steps, LIVELIEST_PERCENTILE))
    return np.asarray(steps < max(QUIET_RATIO * liveliest, QUIET_LEVELS))


def without_lone_groups(covered: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return the groups that have a covered neighbour: lung is wider than one sixteenth of the picture."""
    padded = np.concatenate([[False], covered, [False]])
    return np.asarray(covered & (padded[:-2] | padded[2:]))


FAMILY = Family(name="lung", version=2, start=_Lung)
