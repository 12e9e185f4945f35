"""The outer edge of a spectrum: whole in every beat, strong enough to be seen, and not bloomed."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext, Family, judged, not_assessable
from fanlight.critique.applies import none_assessable
from fanlight.critique.doppler.confidence import UNMEASURED
from fanlight.critique.doppler.spectrum_frames import Envelope, SpectrumFrames, spectrum_frames
from fanlight.critique.doppler.spectrum_use import noise_share
from fanlight.study import ClipTime, Finding, Mode, PictureChunk

OPEN, FAINT, BLOOM = "spectrum_open_edge", "spectrum_faint", "spectrum_blooming"
_FEWEST_BEATS = 3
_WHOLE_SHARE = 0.5  # of the usual height of a beat: with less its envelope is not whole (engineering judgement)
_HIGH_COLUMNS = 4  # so many of a beat reach its height: fewer are specks of noise
_CLICKED_SHARE = 0.08  # of a beat: a click may cover its peak then
# Where the signal's own brightness is read: tall columns, from above the walls' echoes to the edge.
_TALL_SHARE, _FROM_SHARE = 0.45, 0.2
_BRIGHT_PERCENTILE = 85.0  # of the signal: its strong line
_WHITE_LEVEL = 232.0  # smoothed: a solid white, not single white grains
_FEWEST_PX = 200
_FEWEST_BEAT_PX = 8  # narrower beats have no shape (engineering judgement)


class _SpectrumEdge:
    def __init__(self, context: ClipContext) -> None:
        self._context = context
        self._frames = spectrum_frames(context)

    def add(self, chunk: PictureChunk) -> None:
        self._frames.add(chunk)

    def finish(self, time: ClipTime) -> tuple[Finding, ...]:
        frames = self._frames
        if not frames.is_asked:
            return ()
        if frames.why_not:
            return none_assessable(self._context, FAMILY, frames.why_not)
        envelope = frames.envelope
        if envelope is None:
            return none_assessable(self._context, FAMILY, "no signal stands out from the noise")
        return self._open(envelope, time), *self._light(envelope)

    def _open(self, envelope: Envelope, time: ClipTime) -> Finding:
        assert self._frames.axes is not None
        beat_ms = self._frames.beat_ms(time)
        if beat_ms is None:
            reason = "the heart rate is not known, so beats are not told apart"
            return not_assessable(self._context, FAMILY, OPEN, reason)
        heights = beat_heights(envelope, self._frames.clicks, beat_ms / self._frames.axes.ms_per_px)
        if len(heights) < _FEWEST_BEATS:
            reason = f"{len(heights)} whole beats without a click over their peak are on the strip, too few to compare"
            return not_assessable(self._context, FAMILY, OPEN, reason)
        usual = float(np.percentile(heights, 75.0))
        whole = heights >= _WHOLE_SHARE * usual
        return judged(
            self._context, FAMILY, OPEN, float(whole.mean()), confidence=UNMEASURED, uncertainty=0.5 / len(heights),
            note=f"the envelope is whole in {int(whole.sum())} of {len(heights)} beats",
        )  # fmt: skip

    def _light(self, envelope: Envelope) -> tuple[Finding, Finding]:
        light = signal_light(self._frames, envelope)
        if light is None:
            reason = "too little signal stands above the echoes of the walls"
            return (
                not_assessable(self._context, FAMILY, FAINT, reason),
                not_assessable(self._context, FAMILY, BLOOM, reason),
            )
        strong, white = light
        by_nature = self._context.criteria[BLOOM].setting("continuous_white_share")
        mode = self._context.mode.mode
        faint = judged(
            self._context, FAMILY, FAINT, strong / 255.0, confidence=UNMEASURED, uncertainty=0.04,
            note=f"the strong line stands {strong:.0f} of 255 grey levels above the ground",
        )  # fmt: skip
        if mode is None:
            reason = "pulsed or continuous wave is not known, and they are white to a different share"
            return faint, not_assessable(self._context, FAMILY, BLOOM, reason)
        if mode is Mode.TISSUE_DOPPLER:
            reason = "asked of blood flow: the thick bright band of tissue is its own"
            return faint, not_assessable(self._context, FAMILY, BLOOM, reason)
        # Continuous wave is white by nature where its signal is strong; over a grey ground it is the gain.
        by_gain = mode is Mode.PULSED_WAVE or self._is_ground_grey()
        bloom = white if by_gain else max(white - by_nature, 0.0)
        return faint, judged(
            self._context, FAMILY, BLOOM, bloom, confidence=UNMEASURED, uncertainty=0.03,
            note=f"{100 * white:.0f} % of the signal is solid white",
        )  # fmt: skip

    def _is_ground_grey(self) -> bool:
        assert self._frames.axes is not None
        noise = noise_share(self._frames.grey, self._frames.axes, self._frames.reach)
        return noise is not None and noise >= self._context.criteria[BLOOM].setting("grey_ground_share")


def beat_heights(
    envelope: Envelope, clicks: NDArray[np.bool_], beat_px: float
) -> NDArray[np.float64]:  # fmt: skip
    """Return how high the signal stands in each whole beat, px; beats in which a click may hide the peak are left out.

    Beats are counted from the right end, wherever they begin: each stretch as long as a beat holds one peak.
    """
    out = []
    if beat_px < _FEWEST_BEAT_PX:
        return np.zeros(0)
    for k in range(int(len(envelope.reach_px) / beat_px)):
        stop = len(envelope.reach_px) - round(k * beat_px)
        part = slice(max(stop - round(beat_px), 0), stop)
        if clicks[part].mean() <= _CLICKED_SHARE:
            out.append(float(np.sort(envelope.reach_px[part])[-_HIGH_COLUMNS]))
    return np.asarray(out, np.float64)


def signal_light(frames: SpectrumFrames, envelope: Envelope) -> tuple[float, float] | None:
    """Return how far the strong line stands above the ground, grey levels, and which share of the signal is white."""
    assert frames.axes is not None
    box = frames.axes.box
    strip = frames.grey[box.row0 : box.row1, box.col0 : box.col1]
    smooth = cv2.GaussianBlur(strip, (0, 0), sigmaX=1.6, sigmaY=1.6).astype(np.float64)
    zero = int(np.clip(round(frames.axes.baseline_row_px - box.row0), 0, len(smooth)))
    side = smooth[:zero][::-1] if envelope.is_up else smooth[zero:]
    rows = np.arange(len(side))[:, None]
    inside = (rows >= _FROM_SHARE * envelope.top_px) & (rows < envelope.reach_px[None, :])
    inside &= envelope.tall(_TALL_SHARE)[None, :]
    levels = side[inside]
    if len(levels) < _FEWEST_PX:
        return None
    strong = float(np.percentile(levels, _BRIGHT_PERCENTILE)) - frames.reach.quiet_level
    return strong, float((levels >= _WHITE_LEVEL).mean())


FAMILY = Family(name="doppler_spectrum_edge", version=2, start=_SpectrumEdge)
