"""Focal depth from the speckle itself: how wide speckles are, side to side, at each depth."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import cv2
import numpy as np
import scipy.fft
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext, Family, judged
from fanlight.critique.applies import has_colour_overlay, none_assessable, why_not_picture
from fanlight.critique.beam_moments import FrameSampler, coloured_samples, on_screen
from fanlight.frames.polar import to_beams
from fanlight.study import ClipTime, Evidence, Finding, PictureChunk, Polyline, Sector, Side

KEY = "focal_depth"
# Finer than the shared beams: the narrowest speckle must span several samples.
FINE_DEPTHS, FINE_BEAMS = 192, 512
ENOUGH_FRAMES = 8
# Depth bands, as shares of the displayed depth. The first tenth is left out: the face of a phased array is painted with
# too few pixels to show a speckle.
BAND_EDGES = np.linspace(0.10, 0.94, 22)
# A sample shows speckle of tissue when its smoothed level lies between these shares of the range: neither cut off at
# black nor burnt out, both of which would change its shape.
SPECKLE_FROM, SPECKLE_TO = 0.16, 0.85
# Blocks that speckle is looked at in (depth samples x beam samples): several speckles wide, smaller than structures.
BLOCK_DEPTHS, BLOCK_BEAMS = 9, 96
# Patches of a few speckles; a patch this far from the mean of its block holds a border (speckle alone keeps a patch of
# four or five speckles within about a tenth).
PATCH_DEPTHS, PATCH_BEAMS = 7, 25
BORDER_CONTRAST = 0.3
# Share of a band that must show speckle, and number of bands needed for a fit.
LEAST_SPECKLE_SHARE = 0.06
FEWEST_BANDS = 8
# Physics: log-compressed Rayleigh envelopes have a standard deviation of 5.57 dB whatever the gain. A display shows 40
# to 90 dB over 255 levels, so full speckle spreads 16 to 36 levels; resampling takes up to a fifth of that. Less is
# speckle that was averaged away (compounding, speckle reduction), and its width then tells of the filter, not the beam.
LEAST_SPECKLE_SPREAD_LEVELS = 12.0
# Candidate focal depths, as shares of the displayed depth; further away than 1.6 no fit can tell.
CANDIDATES = np.geomspace(0.06, 1.6, 90)
# Fits within this factor of the best residual belong to the interval: the chi-squared step of 1 for one parameter,
# scaled by the residual variance (see `fit_focus`).
ONE_SIGMA = 1.0
# The fit must beat "no focus at all" (a beam that only spreads) by this factor in residual sum, or nothing is said.
# With dynamic receive focusing the focus of what is sent hardly shows, and borders pass for it (simulated clips, ring
# A: up to 2.3 with the wrong focus).
LEAST_GAIN_RATIO = 2.5


@dataclass(frozen=True, slots=True, kw_only=True)
class FocusFit:
    """Focal depth as a share of the displayed depth, with the interval of one standard deviation."""

    depth: float
    low: float
    high: float
    better_than_none_ratio: float  # residual of a beam without a focus divided by the fit's


def fit_focus(
    depth: NDArray[np.float64], width: NDArray[np.float64], weight: NDArray[np.float64], face: float = 0.0
) -> FocusFit:
    """Fit the width of a focused beam to measured speckle widths.

    Parameters
    ----------
    depth : ndarray of shape (N,)
        Depth below the face, any unit.
    width : ndarray of shape (N,)
        Lateral correlation length there, any unit.
    weight : ndarray of shape (N,)
        Trust in each width (number of independent speckles).
    face : float
        Distance of the face from the apex in the unit of `depth`; scan lines diverge from the apex, and painting
        between them widens speckle in proportion to the distance from it.

    Notes
    -----
    Model: ``width^2 = a^2 (z + face)^2 + b^2 (z / zf - 1)^2``. The first term is diffraction (lambda z / D) together
    with the spacing of the scan lines, the second the geometric spread of the aperture away from the focus, softened
    by dynamic receive focusing. For each candidate zf the two amplitudes follow by non-negative least squares on
    relative errors; the interval holds the candidates whose residual rises by less than one unit of its own variance.
    The estimate leans on the depths above the focus: where the focus lies below the picture only a lower limit comes.
    """
    target = width**2
    scale = np.sqrt(weight / weight.mean()) / target
    diverging = (depth + face) ** 2
    residuals = np.empty(len(CANDIDATES))
    for index, zf in enumerate(CANDIDATES):
        residuals[index] = _residual(np.stack([diverging, (depth / zf - 1.0) ** 2], axis=1), target, scale)
    without = _residual(diverging[:, None], target, scale)
    best = int(np.argmin(residuals))
    variance = residuals[best] / max(1, len(depth) - 3)
    inside = np.flatnonzero(residuals <= residuals[best] + ONE_SIGMA * variance)
    low, high = CANDIDATES[max(0, inside[0] - 1)], CANDIDATES[min(len(CANDIDATES) - 1, inside[-1] + 1)]
    return FocusFit(
        depth=float(CANDIDATES[best]),
        low=float(low),
        high=float(high),
        better_than_none_ratio=float(without / max(residuals[best], 1e-12)),
    )


def _residual(columns: NDArray[np.float64], target: NDArray[np.float64], scale: NDArray[np.float64]) -> float:
    """Weighted sum of squares left by the best non-negative combination of one or two columns."""
    scaled, goal = columns * scale[:, None], target * scale
    best = float(goal @ goal)
    if columns.shape[1] == 2:
        both, *_ = np.linalg.lstsq(scaled, goal, rcond=None)
        if (both >= 0).all():
            return float(np.sum((scaled @ both - goal) ** 2))
    for column in scaled.T:
        amount = max(0.0, float(column @ goal) / max(float(column @ column), 1e-12))
        best = min(best, float(np.sum((amount * column - goal) ** 2)))
    return best


class SpeckleWidths:
    """Lateral autocovariance of tissue speckle in each depth band, gathered over some frames."""

    N_LAGS = 48  # of 512 beams: wider correlation is structure
    PADDED = 576  # beams and room for the lags, so that no row wraps around into itself

    def __init__(self) -> None:
        n_bands = len(BAND_EDGES) - 1
        self._speckle_power = np.zeros((n_bands, self.PADDED // 2 + 1))
        self._mask_power = np.zeros((n_bands, self.PADDED // 2 + 1))
        self._spreads: list[float] = []

    def add(self, beams: NDArray[np.uint8], usable: NDArray[np.bool_]) -> None:
        """Take in one frame, shape (FINE_DEPTHS, FINE_BEAMS)."""
        level = beams.astype(np.float32)
        size = (BLOCK_BEAMS, BLOCK_DEPTHS)
        smooth = cv2.blur(level, size)
        # Borders spread wider than speckle: leave out the neighbourhood of patches unlike their block.
        patch = cv2.blur(level, (PATCH_BEAMS, PATCH_DEPTHS))
        border = (np.abs(patch - smooth) > BORDER_CONTRAST * smooth).astype(np.uint8)
        border = cv2.dilate(border, np.ones((PATCH_DEPTHS, PATCH_BEAMS), np.uint8))
        good = usable & (smooth > SPECKLE_FROM * 255) & (smooth < SPECKLE_TO * 255) & (border == 0)
        good &= (level > 2) & (level < 253)
        speckle = np.where(good, level - smooth, 0.0).astype(np.float32)
        mask = good.astype(np.float32)
        rows = np.round(BAND_EDGES * beams.shape[0]).astype(int)
        for start, stop in itertools.pairwise(rows):
            if mask[start:stop].mean() < LEAST_SPECKLE_SHARE:
                speckle[start:stop] = 0.0
                mask[start:stop] = 0.0
        inside = slice(rows[0], rows[-1])
        for power, part in ((self._speckle_power, speckle), (self._mask_power, mask)):
            spectrum = scipy.fft.rfft(part[inside], self.PADDED, axis=1)
            power += np.add.reduceat(spectrum.real**2 + spectrum.imag**2, rows[:-1] - rows[0], axis=0)
        self._note_spread(speckle, mask, size)

    def _note_spread(self, speckle: NDArray[np.float32], mask: NDArray[np.float32], size: tuple[int, int]) -> None:
        known = cv2.blur(mask, size)
        full = known > 0.6
        if np.count_nonzero(full) < 500:  # of 98 304 samples
            return
        variance = cv2.blur(speckle * speckle, size)[full] / known[full]
        self._spreads.append(float(np.sqrt(np.median(variance))))

    def spread_levels(self) -> float:
        """Median standard deviation of the speckle within a block, in grey levels; 0 where none was seen."""
        return float(np.median(self._spreads)) if self._spreads else 0.0

    def widths(self) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
        """Return band indices, lag in beam samples at which the correlation falls to one half, and speckle counts."""
        pairs = scipy.fft.irfft(self._mask_power, self.PADDED, axis=1)[:, : self.N_LAGS]
        covariance = scipy.fft.irfft(self._speckle_power, self.PADDED, axis=1)[:, : self.N_LAGS] / np.maximum(pairs, 1)
        bands, width = [], []
        for band in range(len(BAND_EDGES) - 1):
            if pairs[band, 0] < 300 or covariance[band, 0] <= 0:
                continue
            fall = covariance[band] / covariance[band, 0]
            below = np.flatnonzero(fall < 0.5)
            if len(below) == 0 or below[0] == 0:
                continue
            last = int(below[0])
            bands.append(band)
            width.append(last - (0.5 - fall[last]) / (fall[last - 1] - fall[last]))
        index, length = np.asarray(bands, np.int64), np.asarray(width)
        return index, length, pairs[index, 0] / np.maximum(length, 1) if len(index) else length


class _Focus:
    def __init__(self, context: ClipContext) -> None:
        self._context = context
        self._reason = why_not_picture(context)
        self._widths = SpeckleWidths()
        self._sampler = FrameSampler(context.clip.n_frames, ENOUGH_FRAMES)
        self._n_frames = 0

    def add(self, chunk: PictureChunk) -> None:
        picture = self._context.layout.picture
        if self._reason or picture is None:
            return
        for place in self._sampler.pick(chunk):
            if self._n_frames >= ENOUGH_FRAMES:
                return
            beams = to_beams(chunk.grey[place], picture, FINE_DEPTHS, FINE_BEAMS)
            shared = on_screen(picture, self._context.layout.rows, self._context.layout.cols)
            if has_colour_overlay(self._context) and chunk.pixels.ndim == 4:
                colour = coloured_samples(chunk.pixels[place], picture).astype(np.uint8)
                shared = shared & ~cv2.dilate(colour, np.ones((5, 5), np.uint8)).astype(np.bool_)
            fine = cv2.resize(shared.astype(np.uint8), (FINE_BEAMS, FINE_DEPTHS), interpolation=cv2.INTER_NEAREST)
            self._widths.add(beams, fine.astype(np.bool_))
            self._n_frames += 1

    def finish(self, time: ClipTime) -> tuple[Finding, ...]:
        del time
        if self._reason:
            return none_assessable(self._context, FAMILY, self._reason)
        bands, width, weight = self._widths.widths()
        if len(bands) < FEWEST_BANDS:
            return none_assessable(self._context, FAMILY, "too little speckle of tissue was found along the depth")
        if self._widths.spread_levels() < LEAST_SPECKLE_SPREAD_LEVELS:
            return none_assessable(
                self._context,
                FAMILY,
                "speckle was smoothed (compounding, speckle reduction or compression), so its width tells nothing",
            )
        picture = self._context.layout.picture
        assert picture is not None
        centre = 0.5 * (BAND_EDGES[bands] + BAND_EDGES[bands + 1])
        face = picture.near_px / picture.depth_px if isinstance(picture, Sector) else 0.0
        # Width across the beam in shares of the depth; in a strip the samples do not diverge.
        across = width * (centre + face) if isinstance(picture, Sector) else width
        fit = fit_focus(centre, across, weight, face)
        if fit.better_than_none_ratio < LEAST_GAIN_RATIO:
            return none_assessable(self._context, FAMILY, "speckle widens evenly with depth: no focus stands out")
        spread = 0.5 * (fit.high - fit.low)
        limit = self._context.criteria[KEY].setting("largest_uncertainty_fraction")
        if spread > limit and fit.low < 1.0:
            return none_assessable(
                self._context, FAMILY, f"the focus could lie anywhere from {fit.low:.0%} to {fit.high:.0%} of the depth"
            )
        band = self._context.criteria[KEY].band
        side = band.judge(fit.depth)[1]
        if side is not Side.INSIDE and {band.judge(end)[1] for end in (fit.low, fit.high)} != {side}:
            return none_assessable(self._context, FAMILY, "the fit reaches into the band: it cannot be called a fault")
        return (self._judge(fit, spread),)

    def _judge(self, fit: FocusFit, spread: float) -> Finding:
        picture = self._context.layout.picture
        assert picture is not None
        depth_mm = self._context.layout.depth_mm
        note = f"speckle is narrowest for its depth at {min(fit.depth, 1.0):.0%} of the displayed depth"
        if depth_mm is not None:
            note += f" ({fit.depth * depth_mm:.0f} mm, between {fit.low * depth_mm:.0f} and {fit.high * depth_mm:.0f})"
            tag_mm = self._context.clip.tags.focus_depth_mm
            if tag_mm is not None:
                agrees = fit.low * depth_mm <= tag_mm <= fit.high * depth_mm
                note += (
                    f"; the file states a focus at {tag_mm:.0f} mm, which {'agrees' if agrees else 'does not agree'}"
                )
        arc = tuple(picture.point(min(1.0, fit.depth), float(b)) for b in np.linspace(0, 1, 13))
        return judged(
            self._context,
            FAMILY,
            KEY,
            fit.depth,
            confidence=float(np.clip(1.0 - 2.0 * spread, 0.2, 0.85)),
            uncertainty=spread,
            evidence=(Evidence(shape=Polyline(points=arc), label="focus"),),
            note=note,
        )


FAMILY = Family(name="focus", version=2, start=_Focus)
