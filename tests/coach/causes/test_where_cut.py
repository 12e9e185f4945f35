"""Where a chamber is cut off, from kept masks made by hand, and what that tells of depth and width."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.coach.causes.find import find_causes
from fanlight.coach.causes.where_cut import Cuts, where_cut
from fanlight.critique.picture_masks import CUT, read_mask_tables, with_masks
from fanlight.reference.causes import CutPlace
from fanlight.study import Border, ClipReading, Sector, Side, Structure, Verdict
from tests.coach.causes.test_find import TABLES, clip
from tests.critique.masked_clips import HOUSE
from tests.critique.test_picture_masks import cut, reading, seen

MASKS = read_mask_tables(HOUSE)
NARROW_DEG = TABLES.limits.narrow_below_deg
NONE = dict.fromkeys(CutPlace, Verdict.MET)


def masked(*atrium: tuple[Border, float], width_deg: float = 80.0) -> ClipReading:
    """Return a clip of the long axis whose left atrium lies on these borders, in a sector that opens so far."""
    cuts = (cut(border, share) for border, share in atrium)
    item = with_masks(reading(seen(Structure.LV_CAVITY), seen(Structure.LEFT_ATRIUM, *cuts)), MASKS)
    assert isinstance(item.layout.picture, Sector)
    picture = replace(item.layout.picture, left_deg=-width_deg / 2, right_deg=width_deg / 2)
    return replace(item, layout=replace(item.layout, picture=picture))


def places(item: ClipReading) -> Cuts:
    return where_cut(item, MASKS.chambers, TABLES.criteria[CUT].band, NARROW_DEG)


def test_each_border_is_a_place_of_its_own() -> None:
    """The far end and the sides are told apart, and sides by how far the sector opens."""
    narrow = NARROW_DEG - 1

    assert places(masked()) == NONE
    assert places(masked((Border.FAR, 0.2))) == NONE | {CutPlace.FAR_END: Verdict.MISSED}
    assert places(masked((Border.LEFT, 0.1))) == NONE | {CutPlace.SIDE: Verdict.BORDERLINE}
    assert places(masked((Border.LEFT, 0.1), width_deg=narrow)) == NONE | {CutPlace.NARROW_SIDE: Verdict.BORDERLINE}
    assert places(masked((Border.NEAR, 0.2))) == NONE, "what is cut near the probe is neither depth nor width"


def test_the_worst_place_takes_the_verdict_of_the_finding() -> None:
    """An outline on several borders, each little, is cut off as a whole."""
    item = masked((Border.FAR, 0.05), (Border.LEFT, 0.04))

    assert places(item) == NONE | {CutPlace.FAR_END: Verdict.BORDERLINE}


def test_what_a_person_changed_holds() -> None:
    """A finding that a mentor took back is cut nowhere, whatever the masks say."""
    item = masked((Border.FAR, 0.2))
    met = tuple(replace(each, verdict=Verdict.MET) if each.criterion == CUT else each for each in item.findings)

    assert places(replace(item, findings=met)) == NONE


def test_a_cut_that_only_a_person_saw_has_no_place() -> None:
    """Masks that touch no border do not tell where it is: it counts as it is told, for the depth as for the width."""
    item = masked()
    missed = tuple(
        replace(each, verdict=Verdict.MISSED, side=Side.HIGH) if each.criterion == CUT else each
        for each in item.findings
    )
    near = masked((Border.NEAR, 0.02))
    nearer = tuple(replace(each, verdict=Verdict.MISSED) if each.criterion == CUT else each for each in near.findings)

    assert places(replace(item, findings=missed)) == {}
    assert places(replace(near, findings=nearer)) == NONE, "the masks show it near the probe"


def test_nothing_is_told_without_masks_or_view() -> None:
    """Then the finding counts by itself, at no place."""
    item = masked((Border.FAR, 0.2))

    assert places(replace(item, picture=None)) == {}
    assert places(replace(item, findings=())) == {}
    assert places(replace(item, view=replace(item.view, view="subcostal_outflow"))) == {}


@pytest.mark.parametrize(
    ("place", "cause", "other"),
    [(CutPlace.FAR_END, "depth_small", "sector_narrow"), (CutPlace.NARROW_SIDE, "sector_narrow", "depth_small")],
)
def test_the_place_tells_the_depth_from_the_width(place: CutPlace, cause: str, other: str) -> None:
    """Common practice, no source: at the bottom it is the depth, at the side of a narrow sector the width."""
    study = [clip(number, (CUT, Side.HIGH)) for number in (1, 2, 3)]
    cuts = {item.clip.key: NONE | {place: Verdict.MISSED} for item in study}
    found = {item.cause: item for item in find_causes(study, TABLES, cuts)}

    assert other not in found
    assert found[cause].probability >= TABLES.limits.console_from
    assert {each.criterion for each in found[cause].explains} == {CUT}, "said by the criterion, not by its place"


def test_a_side_that_is_cut_in_a_wide_sector_is_neither() -> None:
    """A sector that opens as far as usual cannot be the reason: the hand or the animal is."""
    study = [clip(number, (CUT, Side.HIGH)) for number in (1, 2, 3)]
    cuts = {item.clip.key: NONE | {CutPlace.SIDE: Verdict.MISSED} for item in study}

    assert not {"depth_small", "sector_narrow"} & {item.cause for item in find_causes(study, TABLES, cuts)}
