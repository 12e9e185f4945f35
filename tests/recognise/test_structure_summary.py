"""What is kept of masks, against masks drawn by hand whose cuts follow from geometry."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import pytest
from numpy.typing import NDArray

from fanlight.recognise.structure_summary import OUTER_PERCENT, SURE, Summary, _reach, mask_grid, summarise
from fanlight.study import Border, PictureReading, Sector, Structure, StructureSeen
from fanlight.study.codec import from_bytes, from_plain, to_bytes, to_plain
from training import label_sets

SIDE = 80
FAN = Sector(apex_row_px=8.0, apex_col_px=79.5, left_deg=-45.0, right_deg=45.0, near_px=0.0, far_px=140.0)
WIDTH_RAD = math.pi / 2
GRID = mask_grid(FAN, SIDE)
NAMES = [item.name.lower() for item in Structure]
# Pixels of an outline are counted, not lengths measured: a slanted line has fewer pixels than it is long.
SLACK = 0.05

Wedge = tuple[float, float, float, float]  # from and to depth, from and to beam


def wedge(place: Wedge) -> NDArray[np.bool_]:
    near, far, left, right = place
    inside = (GRID.depth >= near) & (GRID.depth <= far) & (GRID.beam >= left) & (GRID.beam <= right)
    return np.asarray(inside & GRID.inside)


def frame(parts: Mapping[Structure, Wedge], share: float = 0.9) -> NDArray[np.float32]:
    """Return shares (structure, row, col) in which later parts lie over earlier ones."""
    best = np.zeros((SIDE, SIDE), np.intp)
    for kind, place in parts.items():
        best[wedge(place)] = list(Structure).index(kind)
    out = np.full((len(NAMES), SIDE, SIDE), (1 - share) / (len(NAMES) - 1), np.float32)
    np.put_along_axis(out, best[None], np.float32(share), axis=0)
    return out


def kept(*frames: NDArray[np.float32]) -> Summary:
    return summarise(np.stack(frames), NAMES, [10 + 2 * k for k in range(len(frames))], FAN)


def one(summary: Summary, kind: Structure) -> StructureSeen:
    (found,) = (item for item in summary.structures if item.structure == kind.name)
    return found


def cuts(found: StructureSeen) -> dict[Border, float]:
    return {cut.border: cut.share for cut in found.cuts}


def outline(place: Wedge) -> dict[str, float]:
    """Return the lengths of a wedge's sides, in radii of the fan."""
    near, far, left, right = place
    angle = (right - left) * WIDTH_RAD
    return {
        "near": near * angle,
        "far": far * angle,
        "side": far - near,
        "all": (near + far) * angle + 2 * (far - near),
    }


def test_what_lies_within_the_fan_is_whole() -> None:
    place = (0.4, 0.7, 0.35, 0.65)
    found = one(kept(frame({Structure.LEFT_ATRIUM: place})), Structure.LEFT_ATRIUM)

    assert found.cuts == ()
    assert found.area_share == pytest.approx((0.7**2 - 0.4**2) * 0.3, abs=0.01)  # of a fan of radius 1
    assert found.nearest == pytest.approx(0.4, abs=0.03)
    assert found.farthest == pytest.approx(0.7, abs=0.03)
    assert (found.frames_share, found.sure_share) == (1.0, 1.0)


@pytest.mark.parametrize(
    ("place", "border", "length"),
    [
        ((0.6, 1.0, 0.4, 0.6), Border.FAR, "far"),
        ((0.3, 0.7, 0.0, 0.3), Border.LEFT, "side"),
        ((0.3, 0.7, 0.7, 1.0), Border.RIGHT, "side"),
    ],
)
def test_a_chamber_cut_by_an_edge(place: Wedge, border: Border, length: str) -> None:
    found = one(kept(frame({Structure.LV_CAVITY: place})), Structure.LV_CAVITY)
    sides = outline(place)

    assert cuts(found) == {border: pytest.approx(sides[length] / sides["all"], abs=SLACK)}
    (cut,) = found.cuts
    depths = (1.0, 1.0) if border is Border.FAR else (place[0], place[1])
    np.testing.assert_allclose((cut.from_depth, cut.to_depth), depths, atol=0.04)
    if border is Border.FAR:
        np.testing.assert_allclose((cut.from_beam, cut.to_beam), (0.4, 0.6), atol=0.03)


def test_lung_before_a_chamber_ends_it_and_lung_behind_it_does_not() -> None:
    chamber = (0.4, 0.7, 0.3, 0.6)
    heart = {Structure.LV_FREE_WALL: (0.1, 0.75, 0.1, 0.9), Structure.LEFT_ATRIUM: chamber}
    before = one(kept(frame(heart | {Structure.HIDDEN: (0.15, 1.0, 0.6, 1.0)})), Structure.LEFT_ATRIUM)
    behind = one(kept(frame(heart | {Structure.HIDDEN: (0.7, 1.0, 0.0, 1.0)})), Structure.LEFT_ATRIUM)
    sides = outline(chamber)

    # two pixels of the sides that run towards the lung count with it, at either corner
    assert cuts(before) == {Border.HIDDEN: pytest.approx(sides["side"] / sides["all"] + 0.04, abs=SLACK)}
    assert cuts(behind) == {}


def test_in_a_picture_far_too_deep_lung_beside_the_far_half_of_the_heart_lies_behind() -> None:
    """A heart of 0.05 to 0.35 of the depth: lung from 0.3 on begins late in it, however near the probe that is."""
    heart = {Structure.LV_FREE_WALL: (0.05, 0.35, 0.2, 0.8), Structure.LEFT_ATRIUM: (0.15, 0.33, 0.4, 0.6)}
    found = one(kept(frame(heart | {Structure.HIDDEN: (0.3, 1.0, 0.6, 1.0)})), Structure.LEFT_ATRIUM)

    assert cuts(found) == {}


def test_a_papillary_muscle_is_no_end_of_its_ventricle() -> None:
    cavity, muscle = (0.6, 1.0, 0.3, 0.7), (0.7, 0.85, 0.4, 0.6)
    whole = one(kept(frame({Structure.LV_CAVITY: cavity})), Structure.LV_CAVITY)
    holds = one(kept(frame({Structure.LV_CAVITY: cavity, Structure.PAPILLARY: muscle})), Structure.LV_CAVITY)
    holds_wall = one(kept(frame({Structure.LV_CAVITY: cavity, Structure.SEPTUM: muscle})), Structure.LV_CAVITY)

    assert cuts(holds) == {Border.FAR: pytest.approx(cuts(whole)[Border.FAR], abs=0.005)}
    assert cuts(holds_wall)[Border.FAR] < cuts(whole)[Border.FAR] - 0.05


def test_where_no_structure_has_the_majority_nothing_is_kept() -> None:
    place = {Structure.LEFT_ATRIUM: (0.4, 0.7, 0.3, 0.6)}
    unsure, sure = kept(frame(place, share=SURE - 0.05)), kept(frame(place, share=SURE + 0.05))

    assert unsure == Summary(structures=(), unsure_share=1.0)
    assert sure.unsure_share == 0.0
    assert one(sure, Structure.LEFT_ATRIUM).sure_share == 1.0


def test_a_part_that_is_not_sure_lowers_the_sure_share() -> None:
    place = (0.4, 0.8, 0.3, 0.7)
    shares = frame({Structure.LEFT_ATRIUM: place})
    half = wedge((0.4, 0.8, 0.5, 0.7))
    shares[:, half] = frame({Structure.LEFT_ATRIUM: place}, share=0.3)[:, half]

    assert one(kept(shares), Structure.LEFT_ATRIUM).sure_share == pytest.approx(0.5, abs=0.05)


def test_cuts_are_means_over_the_frames_that_show_it_and_point_at_the_worst() -> None:
    whole, cut = (0.4, 0.7, 0.4, 0.6), (0.6, 1.0, 0.4, 0.6)
    found = one(
        kept(frame({Structure.AORTA: whole}), frame({Structure.AORTA: cut}), frame({}), frame({})), Structure.AORTA
    )
    sides = outline(cut)

    assert found.frames_share == 0.5
    assert cuts(found) == {Border.FAR: pytest.approx(sides["far"] / sides["all"] / 2, abs=SLACK)}
    assert found.cuts[0].frame == found.farthest_frame == 12
    assert found.nearest == pytest.approx(0.4, abs=0.03)


def test_specks_are_passed_over() -> None:
    assert kept(frame({Structure.AORTA: (0.5, 0.53, 0.5, 0.53)})).structures == ()


def test_reach_is_that_of_numpys_percentiles_to_the_last_bit() -> None:
    """Against NumPy's own percentiles (method "linear"), which the summary leaves out only since they take longer."""
    rng = np.random.default_rng(4)
    for n in (*range(12, 130), 999, 4001):
        depth = rng.random(n)

        assert _reach(depth) == tuple(np.percentile(depth, (OUTER_PERCENT, 100 - OUTER_PERCENT)))


def test_names_are_those_that_the_network_learnt() -> None:
    assert [item.name for item in label_sets.Structure] == [item.name for item in Structure]


def test_a_reading_of_before_still_loads_and_a_new_one_comes_back_as_it_was() -> None:
    seen = kept(frame({Structure.AORTA: (0.6, 1.0, 0.4, 0.6)}))
    reading = PictureReading(frames=(10,), structures=seen.structures, unsure_share=seen.unsure_share, network="x")
    old = {key: value for key, value in to_plain(reading).items() if key not in ("structures", "unsure_share")}

    assert from_bytes(to_bytes(reading), PictureReading) == reading
    assert from_plain(old, PictureReading) == PictureReading(frames=(10,), network="x")


def test_an_unknown_structure_is_refused() -> None:
    with pytest.raises(ValueError, match="structure 'SPLEEN' is not known"):
        StructureSeen(
            structure="SPLEEN", frames_share=1.0, area_share=0.1, sure_share=1.0, nearest=0.1, farthest=0.2,
            farthest_frame=0,
        )  # fmt: skip
