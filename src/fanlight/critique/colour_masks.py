"""Colour on the heart's muscle, where no blood flows: told from the network's masks of the frames that it was shown.

The families of colour tell tissue by what is bright whenever it is not coloured; muscle that colour never leaves has no
such moment, and the network knows it by its place in the heart.
"""

from __future__ import annotations

from fanlight.critique.accumulator import ClipContext, Family
from fanlight.critique.applies import none_assessable
from fanlight.critique.mask_shapes import UNWEIGHED, Seen, area_shape
from fanlight.study import ClipTime, Evidence, Finding, Mode, Picture, PictureChunk, PictureReading

NAME = "colour_masks"
OVER_MUSCLE = "colour_over_muscle"
FEWEST_FRAMES = 3  # of the six that the network is shown (engineering judgement)


class _ColourMasks:
    def __init__(self, context: ClipContext) -> None:
        self._context = context

    def add(self, chunk: PictureChunk) -> None:
        """Nothing: the network looks at the frames."""

    def finish(self, _: ClipTime) -> tuple[Finding, ...]:
        if self._context.mode.mode is not Mode.COLOUR:
            return ()
        return none_assessable(self._context, FAMILY, UNWEIGHED)


FAMILY = Family(name=NAME, version=1, start=_ColourMasks)


def over_muscle(seen: PictureReading, picture: Picture) -> Seen | str:
    """Return how much of the muscle among the colour is painted, or why that is not known."""
    colour = seen.colour
    if colour is None:
        return "colour was not looked at beside the masks of this clip: its pixels are grey, or it was read before that"
    if colour.frames < FEWEST_FRAMES:
        return "the clip shows no colour, or the network surely saw too little of the heart's muscle among it"
    note = (
        f"of the muscle that the network saw among the colour, {100 * colour.share:.0f} % is painted in half of "
        f"{colour.frames} frames"
    )
    if colour.share == 0.0:
        return Seen(value=0.0, note=note, evidence=())
    shape = Evidence(shape=area_shape(picture, colour), label="colour on muscle", frame=colour.frame)
    return Seen(value=colour.share, note=note, evidence=(shape,))
