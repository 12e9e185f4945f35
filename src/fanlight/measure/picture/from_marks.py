"""What a person's marks on one clip give to measure by: named landmarks, lines and traces, each on its scaled part."""

from __future__ import annotations

import re
from collections.abc import Iterable

from fanlight.measure.areas import HAND_PX, UNKNOWN, Area, AreaKind, area_at, areas_of
from fanlight.measure.marked import GIVEN_BY
from fanlight.measure.picture.placed import Given, Grid, Placed
from fanlight.measure.picture.sizes import BY_KEY, LENGTHS, PARTS, SIZES, VOLUMES
from fanlight.measure.shapes import Pixel
from fanlight.reference.quantities import match_quantity
from fanlight.study import Clip, DrawnMark, FileMarks, House, Layout, MarkKind, Sector

_HOW = "marked by hand"
_TAIL = re.compile(r"[,;(]")  # what stands behind tells how it was taken
_HINGES = {hinge.name: size.key for size in SIZES for hinge in size.hinges}


def given_by_hand(marks: FileMarks, layout: Layout, clip: Clip, house: House) -> tuple[tuple[Given, Grid], ...]:
    """Return the marks of a clip that say what they are, by the parts of the screen on which they lie.

    Parameters
    ----------
    marks : FileMarks
        A line or trace is a quantity by its label: words of the quantity, alone or before a comma or bracket. A line
        with a hinge's landmark is the ring of that valve. All else measures nothing here.
    layout : Layout
    clip : Clip
        Marks outside of its frames and pixels are left out; `measure_marks` says so of them.
    house : House
        Names of quantities.
    """
    areas = areas_of(layout, marks.scale, marks.axes)
    by_area: dict[Area, list[DrawnMark]] = {}
    for mark in marks.drawn:
        where = area_at(mark.points, areas)
        if where.kind in (AreaKind.PICTURE, AreaKind.NONE) and _lies_in(mark, clip):
            by_area.setdefault(where, []).append(mark)
    return tuple((_given(drawn, house), grid_of(area, layout)) for area, drawn in by_area.items())


def grid_of(area: Area, layout: Layout) -> Grid:
    """Return the pixels of a part of the screen: in mm, or in rows where nothing is calibrated."""
    if area is not UNKNOWN and area.mm_per_row and area.mm_per_col:
        pixel = Pixel(down=area.mm_per_row, across=area.mm_per_col)
        return Grid(pixel=pixel, has_mm=True, mm_share=area.mm_share)
    stretch = layout.picture.col_stretch if isinstance(layout.picture, Sector) else 1.0
    return Grid(pixel=Pixel(down=1.0, across=stretch))


def quantity_named(label: str, house: House) -> str:
    """Return the key of the quantity that a label names, with or without words on how it was taken; "" for none."""
    return match_quantity(house, label) or match_quantity(house, _TAIL.split(label, maxsplit=1)[0])


def _given(drawn: Iterable[DrawnMark], house: House) -> Given:
    landmarks, lines, traces = [], [], []
    for mark in drawn:
        if mark.kind is MarkKind.POINT and mark.landmark:
            landmarks.append(_placed(mark, mark.landmark))
        elif mark.kind is MarkKind.LINE:
            key = _HINGES.get(mark.landmark, "") or quantity_named(mark.label, house)
            if key in BY_KEY or key in PARTS or key in LENGTHS:
                lines.append(_placed(mark, key))
        elif mark.kind is MarkKind.TRACE and (key := quantity_named(mark.label, house)) in VOLUMES:
            traces.append(_placed(mark, key))
    return Given(given_by=GIVEN_BY, how=_HOW, landmarks=tuple(landmarks), lines=tuple(lines), traces=tuple(traces))


def _placed(mark: DrawnMark, what: str) -> Placed:
    errors = (HAND_PX,) * len(mark.points)
    return Placed(what=what, frame=mark.frame, points=mark.points, sd_px=errors, said=mark.label)


def _lies_in(mark: DrawnMark, clip: Clip) -> bool:
    inside = all(0 <= row <= clip.rows - 1 and 0 <= col <= clip.cols - 1 for row, col in mark.points)
    return mark.frame < clip.n_frames and inside
