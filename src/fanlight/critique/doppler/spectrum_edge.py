"""The outer edge of a spectrum: whole in every beat, strong enough to be seen, and not bloomed."""

from __future__ import annotations

import cv2
import numpy as np

from fanlight.critique.accumulator import ClipContext, Family, judged, not_assessable
from fanlight.critique.applies import none_assessable
from fanlight.critique.doppler.confidence import UNMEASURED
from fanlight.critique.doppler.spectrum_beats import whole_beats
from fanlight.critique.doppler.spectrum_frames import Envelope, SpectrumFrames, spectrum_frames
from fanlight.critique.doppler.spectrum_ground import noise_shows
from fanlight.critique.doppler.spectrum_use import noise_share
from fanlight.study import ClipTime, Finding, Mode, PictureChunk

OPEN, FAINT, BLOOM = "spectrum_open_edge", "spectrum_faint", "spectrum_blooming"
_FEWEST_BEATS = 3
_SINGLE_OF = 5  # with fewer beats a single broken one may be an extrasystole or the end of a breath
# Where the signal's own brightness is read: tall columns, from above the walls' echoes to the edge.
_TALL_SHARE, _FROM_SHARE = 0.45, 0.2
_BRIGHT_PERCENTILE = 85.0  # of the signal: its strong line
_WHITE_LEVEL = 232.0  # smoothed: a solid white, not single white grains
_FEWEST_PX = 200


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
            return self._empty()
        return self._open(envelope, time), *self._light(envelope)

    def _empty(self) -> tuple[Finding, ...]:
        reason = "no signal stands out from the noise"
        if noise_shows(self._frames) is not False:
            return none_assessable(self._context, FAMILY, reason)
        faint = judged(
            self._context, FAMILY, FAINT, 0.0, confidence=UNMEASURED, uncertainty=0.04,
            note="neither signal nor noise shows on the strip: the gain is too low to tell whether anything flows",
        )  # fmt: skip
        return (
            not_assessable(self._context, FAMILY, OPEN, reason), faint,
            not_assessable(self._context, FAMILY, BLOOM, reason),
        )  # fmt: skip

    def _open(self, envelope: Envelope, time: ClipTime) -> Finding:
        assert self._frames.axes is not None
        beat_ms = self._frames.beat_ms(time)
        if beat_ms is None:
            reason = "the heart rate is not known, so beats are not told apart"
            return not_assessable(self._context, FAMILY, OPEN, reason)
        whole = whole_beats(self._frames, envelope, beat_ms / self._frames.axes.ms_per_px)
        if len(whole) < _FEWEST_BEATS:
            reason = f"{len(whole)} beats that clicks do not hide are on the strip, too few to compare"
            return not_assessable(self._context, FAMILY, OPEN, reason)
        if len(whole) < _SINGLE_OF and np.count_nonzero(~whole) == 1:
            reason = f"one of {len(whole)} beats is weaker: a longer strip would show whether that comes back"
            return not_assessable(self._context, FAMILY, OPEN, reason)
        return judged(
            self._context, FAMILY, OPEN, float(whole.mean()), confidence=UNMEASURED, uncertainty=0.5 / len(whole),
            note=f"the envelope is whole in {int(whole.sum())} of {len(whole)} beats",
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
        faint = self._faint(strong)
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

    def _faint(self, strong: float) -> Finding:
        """Where noise shows the gain is not low: a darker signal passes there, up to where it drowns."""
        shows = noise_shows(self._frames) is not False
        credit = self._context.criteria[FAINT].setting("beside_noise") if shows else 0.0
        ground = "noise shows beside it" if shows else "no noise shows beside it: there is room for more gain"
        return judged(
            self._context, FAMILY, FAINT, min(strong / 255.0 + credit, 1.0), confidence=UNMEASURED, uncertainty=0.04,
            note=f"the strong line stands {strong:.0f} of 255 grey levels above the ground; {ground}",
        )  # fmt: skip

    def _is_ground_grey(self) -> bool:
        assert self._frames.axes is not None
        noise = noise_share(self._frames.grey, self._frames.axes, self._frames.reach)
        return noise is not None and noise >= self._context.criteria[BLOOM].setting("grey_ground_share")


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


FAMILY = Family(name="doppler_spectrum_edge", version=3, start=_SpectrumEdge)
