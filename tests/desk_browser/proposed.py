"""Readings that name views and landmarks as the picture network does, from what the simulator knows."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from fanlight.reference.load import load_house
from fanlight.review.conclude import conclude
from fanlight.review.events import ClipFinished, Event, ReviewFinished
from fanlight.study import (
    NOT_KNOWN,
    Border,
    ClipReading,
    Cut,
    FoundLandmark,
    PictureReading,
    SpatialFormat,
    Structure,
    StructureSeen,
    ViewReading,
    ViewShare,
    ViewSource,
)
from tests.desk_browser.read_once import Read

SURE, NEXT = 0.93, 0.05  # shares of the true view and of another one
SPREAD_MM = 1.5
IN_PLANE_MM = 3.0  # a landmark this near the plane is seen in it
# Of the clip that is not sure: nearly every view must show the left ventricle whole.
CUT_VENTRICLE = StructureSeen(
    structure=Structure.LV_CAVITY.name, frames_share=1.0, area_share=0.1, sure_share=1.0, nearest=0.4, farthest=1.0,
    farthest_frame=0,
    cuts=(Cut(border=Border.FAR, share=0.3, frame=0, from_depth=1.0, to_depth=1.0, from_beam=0.4, to_beam=0.6),),
)  # fmt: skip
DOUBT = "the pixels say “right parasternal short axis, apex”, 97 %"


def propose(
    read: Read, truths: Mapping[int, Any], *, house: Path, unsure: int = 0, doubted: int = 0, spectra: bool = True
) -> Read:
    """Return a study's clips as if the network had named each rightly.

    Parameters
    ----------
    read : Read
    truths : mapping
        By number of the clip, what the simulator wrote of it.
    unsure, doubted : int
        Numbers of the clip that is not sure, and of the one that the file names and the pixels contradict; 0: none.
    spectra : bool
        Whether they are proposed too. A strip that was placed and taken back is read anew, and no network is here to
        propose it again: where a test does so, only the first of these readings would hold a proposal.
    """
    review = next(each.review for each in read.events if isinstance(each, ReviewFinished))
    others = sorted({truth["view"] for truth in truths.values()})
    readings = {}
    for item in sorted(clips_of(read), key=lambda each: each.clip.number):
        number = item.clip.number
        if not spectra and any(each.spatial_format == SpatialFormat.SPECTRAL for each in item.clip.regions):
            readings[number] = item
            continue
        told = _proposed(item, truths[number], others)
        if number == unsure:
            told = replace(told, view=replace(NOT_KNOWN, reason="not sure: two views are alike"), picture=_unsure(told))
        if number == doubted:
            told = replace(told, view=replace(told.view, source=ViewSource.VIEW_NAME, reason=DOUBT))
        readings[number] = told
    # Planes are told of these views, as the engine would: it reads on while a study is open, and a clip that was kept
    # without them would be asked about again.
    done = conclude(review.study, tuple(readings.values()), review.refused, load_house(house))
    events: list[Event] = []
    for event in read.events:
        match event:
            case ClipFinished(reading=reading):
                events.append(replace(event, reading=readings[reading.clip.number]))
            case ReviewFinished():
                events.append(replace(event, review=done))
            case _:
                events.append(event)
    return replace(read, events=tuple(events))


def clips_of(read: Read) -> tuple[ClipReading, ...]:
    """Return what the engine said of each clip by itself, in the order in which it came to them."""
    return tuple(event.reading for event in read.events if isinstance(event, ClipFinished))


def truths_of(files: Mapping[str, Path]) -> dict[int, Any]:
    """Return what is true of each clip, by its number."""
    truth = files["request.toml"].parent.parent / "truth"
    names = [name for name in sorted(files) if name.endswith(".dcm")]
    return {n: json.loads((truth / name).with_suffix(".json").read_text("utf-8")) for n, name in enumerate(names, 1)}


def _proposed(item: ClipReading, truth: Any, views: list[str]) -> ClipReading:
    other = next(view for view in views if view != truth["view"])
    shares = (ViewShare(view=truth["view"], probability=SURE), ViewShare(view=other, probability=NEXT))
    moments = truth["moments"]
    picture = PictureReading(
        frames=tuple(sorted({each["frame"] for each in moments})), views=shares, mirrored=0.01,
        landmarks=_found(moments, truth["picture"]["mm_per_px"]), network="as the simulator knows",
    )  # fmt: skip
    view = ViewReading(view=truth["view"], source=ViewSource.RECOGNISED, probability=SURE, valve=item.view.valve)
    return replace(item, view=view, picture=picture)


def _unsure(item: ClipReading) -> PictureReading:
    assert item.picture is not None
    first, second = item.picture.views
    views = (replace(first, probability=0.48), replace(second, probability=0.33), ViewShare(view="", probability=0.15))
    return replace(item.picture, views=views, structures=(CUT_VENTRICLE,), mirrored=0.96)


def _found(moments: Any, mm_per_px: float) -> tuple[FoundLandmark, ...]:
    return tuple(
        FoundLandmark(
            landmark=each["landmark"], frame=moment["frame"], point=(each["row_px"], each["col_px"]),
            spread_px=SPREAD_MM / mm_per_px, probability=0.9 if abs(each["off_plane_mm"]) < IN_PLANE_MM else 0.1,
        )
        for moment in moments[:2]  # end-diastole and end-systole
        for each in moment["landmarks"]
        if each["in_picture"]
    )  # fmt: skip
