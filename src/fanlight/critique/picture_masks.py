"""Chambers cut off, reach of the heart, lung over a chamber: told from what a reading keeps of the network's masks.

The clip's own pass only says that the masks were not weighed yet: which chambers a picture must show hangs on its view,
and that may be recognised or named after the pass. When both are there the findings are worked out from the reading
alone, without its frames. What the network saw is a proposal, so every finding says that it was the network.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

from fanlight.critique.accumulator import ClipContext, Family
from fanlight.critique.applies import none_assessable
from fanlight.critique.colour_masks import NAME as COLOUR_NAME
from fanlight.critique.colour_masks import OVER_MUSCLE, over_muscle
from fanlight.critique.mask_confidence import confidence_of
from fanlight.critique.mask_shapes import UNWEIGHED, Seen, arc, border_evidence
from fanlight.reference.chambers import ViewChambers, read_chambers
from fanlight.reference.criteria import read_family
from fanlight.reference.views import read_views
from fanlight.study import (
    HEART,
    Border,
    ClipReading,
    ClipTime,
    Criterion,
    Cut,
    Evidence,
    Finding,
    House,
    Mode,
    Picture,
    PictureChunk,
    Side,
    Structure,
    StructureSeen,
    Verdict,
    ViewReading,
    ViewSource,
)

NAME = "picture_masks"
CUT, REACH, COVERED = "chamber_cut", "heart_reach", "chamber_covered"
HANGS_ON_VIEW = (CUT, COVERED)
STAGES = (f"critique.{NAME}", f"critique.{COLOUR_NAME}")
ASKED_MODES = (Mode.TWO_D, Mode.COLOUR)
EDGES = (Border.LEFT, Border.RIGHT, Border.NEAR, Border.FAR)
# All engineering judgement, tried on ring A. Below these the network is not sure enough of a picture, or of a chamber,
# for anything to be said; a chamber of fewer pixels than that has no outline to speak of.
MOST_UNSURE = 0.35  # of the picture
LEAST_SURE = 0.6  # of the pixels that may be the chamber
LEAST_AREA = 0.01  # of the picture
LEAST_FRAMES = 0.5  # of the frames
LEAST_HEART = 0.03  # of the picture: less is no picture of a heart
UNCERTAINTY = 0.04  # of all values: about one pixel of a mask in the depth, two in an outline


class _PictureMasks:
    def __init__(self, context: ClipContext) -> None:
        self._context = context

    def add(self, chunk: PictureChunk) -> None:
        """Nothing: the network looks at the frames."""

    def finish(self, _: ClipTime) -> tuple[Finding, ...]:
        if self._context.mode.mode not in ASKED_MODES:
            return ()
        return none_assessable(self._context, FAMILY, UNWEIGHED)


FAMILY = Family(name=NAME, version=1, start=_PictureMasks)


@dataclass(frozen=True, slots=True, kw_only=True)
class MaskTables:
    """What the House says of all this."""

    criteria: Mapping[str, Criterion]
    chambers: Mapping[str, ViewChambers]
    titles: Mapping[str, str]  # of views


def read_mask_tables(house: House) -> MaskTables:
    """Return the tables that the findings rest on."""
    return MaskTables(
        criteria={**read_family(house, NAME), **read_family(house, COLOUR_NAME)},
        chambers=read_chambers(house),
        titles={key: view.title for key, view in read_views(house).items()},
    )


def with_masks(reading: ClipReading, tables: MaskTables) -> ClipReading:
    """Return a reading with its masks weighed. What was told before, or by a person, stays; nothing is added."""
    return _told(reading, tables, lambda item: item.reason == UNWEIGHED)


def for_another_view(reading: ClipReading, view: ViewReading, tables: MaskTables) -> ClipReading:
    """Return the engine's own reading with its masks weighed for the view that a person left it in; "" for none."""
    if view.view == reading.view.view or reading.picture is None:
        return reading
    return replace(_told(replace(reading, view=view), tables, lambda _: True), view=reading.view)


def _told(reading: ClipReading, tables: MaskTables, is_meant: Callable[[Finding], bool]) -> ClipReading:
    meant = [item.source.stage in STAGES and is_meant(item) for item in reading.findings]
    if reading.picture is None or not any(meant):
        return reading
    findings = tuple(
        _weighed(item, reading, tables) if is_one else item
        for item, is_one in zip(reading.findings, meant, strict=True)
    )
    return replace(reading, findings=findings)


def _weighed(found: Finding, reading: ClipReading, tables: MaskTables) -> Finding:
    """Return one finding anew."""
    picture = reading.layout.picture
    seen: Seen | str = why_silent(reading)
    if not seen and picture is not None:
        seen = _CRITERIA[found.criterion](reading, picture, tables)
    if isinstance(seen, str):
        return replace(
            found, value=None, uncertainty=None, verdict=Verdict.NOT_ASSESSABLE, side=Side.INSIDE, confidence=0.0,
            frames=(), evidence=(), reason=seen or "no picture was found on the screen",
        )  # fmt: skip
    verdict, side = tables.criteria[found.criterion].band.judge(seen.value)
    return replace(
        found, value=seen.value, uncertainty=UNCERTAINTY, verdict=verdict, side=side,
        confidence=confidence_of(found.criterion, reading), evidence=seen.evidence, reason=seen.note,
        frames=tuple(sorted({item.frame for item in seen.evidence if item.frame is not None})),
    )  # fmt: skip


def why_silent(reading: ClipReading) -> str:
    """Return why masks tell nothing of a clip at all, "" when they may."""
    picture = reading.picture
    if picture is None:
        return UNWEIGHED
    if picture.reason:
        return picture.reason
    if not picture.structures and not picture.unsure_share:
        return "no masks were kept of this clip: it was read by an earlier version"
    if not picture.structures or picture.unsure_share > MOST_UNSURE:
        return (
            f"the network is sure of no structure in {100 * picture.unsure_share:.0f} % of the picture, "
            "so nothing rests on its masks"
        )
    return ""


def _cut_off(reading: ClipReading, picture: Picture, tables: MaskTables) -> Seen | str:
    return _at_borders(reading, picture, tables, EDGES)


def _covered(reading: ClipReading, picture: Picture, tables: MaskTables) -> Seen | str:
    return _at_borders(reading, picture, tables, (Border.HIDDEN,))


def _at_borders(reading: ClipReading, picture: Picture, tables: MaskTables, borders: tuple[Border, ...]) -> Seen | str:
    """Return how much of the outline of the chamber that lies worst is on these borders, or why that is not known."""
    view, is_lung = reading.view, Border.HIDDEN in borders
    if not view.view:
        return "the view is not known, and with it which chambers the picture must show"
    row = tables.chambers.get(view.view)
    wanted = () if row is None else row.clear if is_lung else row.whole
    if not wanted:
        return f"{tables.titles.get(view.view, view.view)}: no chamber is asked for here"
    sure = {kind: found for kind in wanted if (found := sure_of(reading, kind)) is not None}
    unsure = [kind.value for kind in wanted if kind not in sure]
    doubt = f"it did not surely see the {' and the '.join(unsure)}" if unsure else ""
    if not sure:
        return f"the network saw this picture, but {doubt}"
    worst = max(sure, key=lambda kind: share_on(sure[kind], borders))
    value = share_on(sure[worst], borders)
    criterion = tables.criteria[COVERED if is_lung else CUT]
    if unsure and criterion.band.judge(value)[0] is Verdict.MET:
        return f"{_whole(sure, is_lung=is_lung)}, but {doubt}"
    cuts = [cut for cut in sure[worst].cuts if cut.border in borders]
    said = _words(worst, cuts) if cuts else _whole(sure, is_lung=is_lung)
    note = f"{said}; {_taken_for(view, tables)}" + (f"; {doubt}" if doubt else "")
    evidence = tuple(border_evidence(picture, cut, f"{worst.value}: {cut.border.value}") for cut in cuts)
    return Seen(value=value, note=note, evidence=evidence)


def _whole(kinds: Iterable[Structure], *, is_lung: bool) -> str:
    names = " and the ".join(kind.value for kind in kinds)
    return f"the network saw the {names} {'free of lung and bone' if is_lung else 'whole'}"


def _words(kind: Structure, cuts: list[Cut]) -> str:
    shares = [f"{100 * cut.share:.0f} %" for cut in cuts]
    shares[0] += f" of the outline of the {kind.value}"
    places = (f"{share} {_PLACES[cut.border]}" for share, cut in zip(shares, cuts, strict=True))
    return f"the network saw {' and '.join(places)}"


_PLACES = {border: f"on the {border.value} of the picture" for border in EDGES} | {
    Border.HIDDEN: "end at lung or bone before it"
}


def _taken_for(view: ViewReading, tables: MaskTables) -> str:
    title = tables.titles.get(view.view, view.view)
    if view.source is ViewSource.RECOGNISED:
        return f"taken for {title}, as recognised ({100 * view.probability:.0f} %)"
    return f"judged as {title}"


def _reach(reading: ClipReading, picture: Picture, _: MaskTables) -> Seen | str:
    heart = [found for kind in HEART if (found := sure_of(reading, kind, least_area=0.0)) is not None]
    if sum(item.area_share for item in heart) < LEAST_HEART:
        return "the network surely saw too little of a heart in this picture"
    last = max(heart, key=lambda item: item.farthest)
    note = f"the network saw the heart reach its far border with the {Structure[last.structure].value}"
    depth_mm = reading.layout.depth_mm
    if depth_mm is not None:
        note += f", at {last.farthest * depth_mm:.0f} of {depth_mm:.0f} mm"
    label = "far border of the heart, as the network saw it"
    shape = Evidence(shape=arc(picture, last.farthest), label=label, frame=last.farthest_frame)
    return Seen(value=last.farthest, note=note, evidence=(shape,))


def _over_muscle(reading: ClipReading, picture: Picture, _: MaskTables) -> Seen | str:
    return over_muscle(reading.picture, picture) if reading.picture else UNWEIGHED


_CRITERIA: dict[str, Callable[[ClipReading, Picture, MaskTables], Seen | str]] = {
    CUT: _cut_off,
    REACH: _reach,
    COVERED: _covered,
    OVER_MUSCLE: _over_muscle,
}


def sure_of(reading: ClipReading, kind: Structure, least_area: float = LEAST_AREA) -> StructureSeen | None:
    """Return what is kept of a structure, None where the network was not sure that it saw it."""
    for item in reading.picture.structures if reading.picture else ():
        if item.structure == kind.name:
            enough = item.area_share >= least_area and item.frames_share >= LEAST_FRAMES
            return item if enough and item.sure_share >= LEAST_SURE else None
    return None


def share_on(seen: StructureSeen, borders: tuple[Border, ...]) -> float:
    """Return the share of a structure's outline that lies on these borders together."""
    return min(1.0, sum((cut.share for cut in seen.cuts if cut.border in borders), 0.0))
