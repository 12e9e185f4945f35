"""How the valve parts the colour box: by a person's marks, else by the engine's own landmarks, as a doubtful finding.

A person's marks go first and stand alone. Proposals that were kept unmoved are no marks here (`plane/kept.py`): they
lie where the network put them, and what the network found is asked itself. It is asked only of a clip whose view is
named or proposed, since landmarks are found on pictures of other things too, and only of the valve that is named or
that alone carries colour in that view. How it held beside a person's marks stands in docs/accuracy.md.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from fanlight.critique.doppler.colour_split import FAMILY, KEY, UNMARKED, share_before, with_split
from fanlight.critique.doppler.valve_plane import ValvePlane, valve_plane
from fanlight.reference.recognition import read_recognition_limits
from fanlight.reference.views import View, read_views
from fanlight.study import (
    ClipReading,
    Criterion,
    DrawnMark,
    Evidence,
    Finding,
    House,
    MarkKind,
    PictureReading,
    Polyline,
    Rung,
    Sector,
    Side,
    Valve,
    Verdict,
)

BY_ENGINE = "by the engine's landmarks, not confirmed"  # how such a finding begins
# Less than by a person's marks, which enter no letter by themselves either (engineering judgement): that ring A would
# let these in is told by eleven animals, of which it also chose how the two ends of a beat are weighed.
SURE = 0.3
_HALF_PX = 20.0  # of the line that shows the plane: long enough to be seen, short of the box's sides
_NO_TELLING = "the engine's own landmarks do not tell it"


@dataclass(frozen=True, slots=True, kw_only=True)
class SplitRules:
    """Rows of the House that this goes by."""

    criterion: Criterion
    views: dict[str, View]
    landmark_from: float  # probability from which on a landmark is taken

    @classmethod
    def of(cls, house: House, criterion: Criterion) -> SplitRules:
        """Return what a House says beside the row of the criterion."""
        landmark_from = read_recognition_limits(house).landmark_from
        return cls(criterion=criterion, views=read_views(house), landmark_from=landmark_from)


def with_box_split(reading: ClipReading, drawn: Iterable[DrawnMark], rules: SplitRules) -> ClipReading:
    """Return a reading in which it is told how the valve parts the colour box; the very same where nothing changes.

    What a person decided stays, and what marks told before, unless these tell it anew. Nothing is added to a clip of
    which it was not asked, or whose box has no drawn outline.

    Parameters
    ----------
    reading : ClipReading
        With the view and valve in which the clip lies; `picture` None: the network is not heard.
    drawn : iterable of DrawnMark
        What a person set on the clip (`set_by_hand`).
    rules : SplitRules
        Of the House.
    """
    drawn = tuple(drawn)
    findings = tuple(_told(item, reading, drawn, rules) if _is_ours(item) else item for item in reading.findings)
    return reading if findings == reading.findings else replace(reading, findings=findings)


def _is_ours(item: Finding) -> bool:
    """Whether a finding is the engine's, on which nobody decided, of a clip whose box has a drawn outline."""
    is_of_box = item.criterion == KEY and item.source.stage == f"critique.{FAMILY.name}" and item.confidence < 1.0
    return is_of_box and any(isinstance(each.shape, Polyline) for each in item.evidence)


def _told(item: Finding, reading: ClipReading, drawn: tuple[DrawnMark, ...], rules: SplitRules) -> Finding:
    blank = replace(
        item, value=None, verdict=Verdict.NOT_ASSESSABLE, side=Side.INSIDE, confidence=0.0, uncertainty=None, frames=(),
        evidence=item.evidence[:1], reason=UNMARKED,
    )  # fmt: skip
    by_person = _by_marks(blank, reading, drawn, rules)
    if by_person.verdict is not Verdict.NOT_ASSESSABLE:
        return by_person
    if item.verdict is not Verdict.NOT_ASSESSABLE and not item.reason.startswith(BY_ENGINE):
        return item  # by marks that came with the study
    if reading.picture is None:
        return by_person
    found = _by_network(blank, reading, reading.picture, rules)
    if isinstance(found, Finding):
        return found
    return replace(by_person, reason=f"{by_person.reason}; {_NO_TELLING}: {found}")


def _by_marks(blank: Finding, reading: ClipReading, drawn: tuple[DrawnMark, ...], rules: SplitRules) -> Finding:
    (told,) = with_split(replace(reading, findings=(blank,)), drawn, rules.criterion).findings
    return told


def _by_network(blank: Finding, reading: ClipReading, picture: PictureReading, rules: SplitRules) -> Finding | str:
    """Return the finding by the landmarks of the network, or why there is none."""
    if picture.reason:
        return picture.reason
    valve = _valve(reading, rules)
    if not isinstance(valve, Valve):  # a valve is a word itself
        return valve
    stretch = reading.layout.picture.col_stretch if isinstance(reading.layout.picture, Sector) else 1.0
    planes: dict[int, ValvePlane] = {}
    for frame in sorted({each.frame for each in picture.landmarks}):
        plane = valve_plane(_points(picture, frame, rules.landmark_from), valve, stretch)
        if isinstance(plane, ValvePlane):
            planes[frame] = plane
    if not planes:
        return f"at neither end of the beat is the {valve} valve placed with {rules.landmark_from:g} or more"
    box = blank.evidence[0].shape
    assert isinstance(box, Polyline)
    shares = _shares(box, tuple(planes.values()), stretch)
    inside = [share for share in shares if share is not None]
    # A valve that leaves the box within the beat is outside it; else the middle of its travel counts.
    before = sum(inside) / len(inside) if len(inside) == len(shares) else 0.0
    value = min(before, 1 - before)
    verdict, side = rules.criterion.band.judge(value)
    words = _words(shares, valve, is_directed=all(plane.is_directed for plane in planes.values()))
    return replace(
        blank, value=value, verdict=verdict, side=side, confidence=SURE, frames=tuple(planes),
        uncertainty=max(0.03, (max(inside) - min(inside)) / 2) if inside else 0.03,
        evidence=(*blank.evidence, *(_line(frame, plane, stretch) for frame, plane in planes.items())),
        reason=f"{BY_ENGINE}: {words}; mark both hinges of its leaflets, and your marks tell it",
    )  # fmt: skip


def _shares(box: Polyline, planes: tuple[ValvePlane, ...], col_stretch: float) -> list[float | None]:
    """Return the share of the box on one and the same side of each plane, the one before the valve where it is told."""
    way = next((plane for plane in planes if plane.is_directed), planes[0]).normal
    found: list[float | None] = []
    for plane in planes:
        share = share_before(box, plane, col_stretch)
        is_turned = plane.normal[0] * way[0] + plane.normal[1] * way[1] < 0
        found.append(1 - share if share is not None and is_turned else share)
    return found


def _valve(reading: ClipReading, rules: SplitRules) -> Valve | str:
    """Return the valve that is named, or the only one whose colour the view carries; else why none is taken."""
    if not reading.view.view:
        return "no view of this clip is named or proposed"
    if reading.view.valve is not None:
        return reading.view.valve
    view = rules.views.get(reading.view.view)
    valves = () if view is None else view.valves_at(Rung.COLOUR)
    return valves[0] if len(valves) == 1 else "name the valve that the box was laid for"


def _points(picture: PictureReading, frame: int, landmark_from: float) -> tuple[DrawnMark, ...]:
    """Return the landmarks of one frame that are sure enough, in the shape in which marks come."""
    return tuple(
        DrawnMark(kind=MarkKind.POINT, frame=frame, points=(item.point,), landmark=item.landmark)
        for item in picture.landmarks
        if item.frame == frame and item.probability >= landmark_from
    )


def _line(frame: int, plane: ValvePlane, col_stretch: float) -> Evidence:
    (row, col), (down, across) = plane.middle, plane.normal
    ends = tuple((row - side * _HALF_PX * across, col + side * _HALF_PX * down / col_stretch) for side in (-1.0, 1.0))
    return Evidence(shape=Polyline(points=ends), label=f"{plane.valve} valve, as the engine finds it", frame=frame)


def _words(shares: list[float | None], valve: Valve, *, is_directed: bool) -> str:
    told = [f"{100 * share:.0f} %" for share in shares if share is not None]
    if not told:
        return f"the {valve} valve lies outside the box"
    if len(told) < len(shares):
        return f"the {valve} valve leaves the box within the beat"
    on = f"before the {valve} valve, by flow that goes forward" if is_directed else f"on one side of the {valve} valve"
    at = "the ends" if len(told) > 1 else "one end"
    return f"at {at} of the beat {' and '.join(dict.fromkeys(told))} of the box's length lie {on}"
