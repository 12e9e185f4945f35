"""Values of one clip in one number: the mean over frames, its spread, and what makes up its error."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fanlight.measure.m_mode.spread import combined, mean_of_beats
from fanlight.measure.picture.placed import OnFrame

# How much beats usually differ, a share of the value (engineering judgement: as for M-mode; a volume goes with the
# third power of a length). A few frames tell little of it.
USUAL_SHARE = {0: 0.01, 1: 0.01, 3: 0.03}


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipMean:
    """The mean of a value over frames of one clip.

    Attributes
    ----------
    power : int
        Of the scale in it: 1 for a length, 3 for a volume, 0 for a ratio.
    placement : float
        What the placement of points adds to its error, one standard deviation.
    beats : float
        What the beats add.
    sd : float or None
        Between the frames, as it was; None for a single one.
    """

    value: float
    power: int
    placement: float
    beats: float
    sd: float | None
    frames: tuple[int, ...]
    is_mean: bool = True  # False: made of values of several frames, not their mean

    def error(self, mm_share: float) -> float:
        """Return one standard deviation of the mean: placement, beats and scale."""
        return combined(self.placement, self.beats, self.power * mm_share * self.value)

    def spread_words(self, unit: str) -> str:
        """Return over what the mean was taken, in words."""
        listed = ", ".join(str(frame + 1) for frame in self.frames)
        if len(self.frames) == 1 or not self.is_mean:
            return f"frame{'s' if len(self.frames) > 1 else ''} {listed}"
        sd = "" if self.sd is None else f", SD {self.sd:.2g} {'' if unit == '1' else unit}".rstrip()
        return f"mean of frames {listed}{sd}"


def mean_over_frames(values: Sequence[OnFrame], power: int) -> ClipMean:
    """Return the mean of one value a frame; of several on one frame the last counts.

    Raises
    ------
    ValueError
        If there is none.
    """
    by_frame = {item.frame: item for item in values}
    kept = [by_frame[frame] for frame in sorted(by_frame)]
    numbers = [item.value for item in kept]
    mean = mean_of_beats(numbers, USUAL_SHARE[power] * abs(sum(numbers) / max(len(numbers), 1)))
    return ClipMean(
        value=mean.value, power=power, beats=mean.error, sd=mean.sd, frames=tuple(item.frame for item in kept),
        placement=math.sqrt(sum(item.placement**2 for item in kept)) / len(kept),
    )  # fmt: skip


def combine(of_two: tuple[ClipMean, ClipMean], value: float, slopes: tuple[float, float], power: int = 0) -> ClipMean:
    """Return what follows from two means that err independently, by its derivatives.

    The scale takes itself out where both are measured in one clip and `power` is 0.
    """
    return ClipMean(
        value=value,
        power=power,
        placement=combined(*(slope * item.placement for slope, item in zip(slopes, of_two, strict=True))),
        beats=combined(*(slope * item.beats for slope, item in zip(slopes, of_two, strict=True))),
        sd=None,
        frames=tuple(sorted({*of_two[0].frames, *of_two[1].frames})),
        is_mean=False,
    )


def ratio_of(part: ClipMean, whole: ClipMean) -> ClipMean:
    """Return the ratio of two lengths of one clip."""
    value = part.value / whole.value
    return combine((part, whole), value, (1 / whole.value, -value / whole.value))


def share_lost(before: ClipMean, after: ClipMean) -> ClipMean:
    """Return by how much a size shrinks, percent: 100 (before − after) / before."""
    value = 100 * (before.value - after.value) / before.value
    return combine((before, after), value, (100 * after.value / before.value**2, -100 / before.value))
