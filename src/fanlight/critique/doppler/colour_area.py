"""How much of the sector the colour box takes: a large box costs pictures a second and lowers the scale."""

from __future__ import annotations

from fanlight.critique.accumulator import ClipContext, Family, judged, not_assessable
from fanlight.critique.applies import none_assessable
from fanlight.critique.doppler.colour_frames import colour_frames
from fanlight.critique.doppler.confidence import UNMEASURED
from fanlight.study import ClipTime, Evidence, Finding, PictureChunk, Polyline, Verdict

KEY = "colour_box_share"
BOX_LABEL = "colour box"


class _ColourArea:
    def __init__(self, context: ClipContext) -> None:
        self._context = context
        self._frames = colour_frames(context)

    def add(self, chunk: PictureChunk) -> None:
        if not self._frames.why_not:
            self._frames.read(chunk)

    def finish(self, _: ClipTime) -> tuple[Finding, ...]:
        if not self._frames.is_asked:
            return ()
        if self._frames.why_not:
            return none_assessable(self._context, FAMILY, self._frames.why_not)
        picture, outline = self._context.layout.picture, self._frames.outline()
        assert picture is not None
        if outline is None:
            return (not_assessable(self._context, FAMILY, KEY, "there is no colour in this picture"),)
        share = outline.area_share(picture)
        if not outline.is_drawn and self._context.criteria[KEY].band.judge(share)[0] is Verdict.MET:
            # Colour need not reach the rim of its box: what is painted is a lower bound, and a bound clears nobody.
            reason = (
                f"no drawn outline of the box was found; colour was painted in {100 * share:.0f} % of the picture, and "
                "the box is as large or larger"
            )
            return (not_assessable(self._context, FAMILY, KEY, reason),)
        shape = Polyline(points=outline.points(picture), closed=True)
        note = (
            "from the outline of the box that is drawn on the screen"
            if outline.is_drawn
            else "from where colour was painted, no drawn outline was found: the box itself is as large or larger"
        )
        label, uncertainty = (BOX_LABEL, 0.01) if outline.is_drawn else ("colour", 0.02)
        return (
            judged(
                self._context, FAMILY, KEY, share, confidence=UNMEASURED, uncertainty=uncertainty,
                evidence=(Evidence(shape=shape, label=label),), note=note,
            ),
        )  # fmt: skip


FAMILY = Family(name="doppler_colour_area", version=2, start=_ColourArea)
