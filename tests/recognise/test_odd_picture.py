"""A view is proposed only where the masks bear it out; drawn pictures of other things are held off for that reason."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from fanlight.recognise.odd_picture import what_speaks_against
from fanlight.recognise.picture_network import shipped_network
from fanlight.recognise.picture_reading import reading_of, with_proposal
from fanlight.recognise.picture_square import inside, square_of, to_square
from fanlight.reference.chambers import read_chambers
from fanlight.reference.load import load_house
from fanlight.reference.recognition import read_recognition_limits
from fanlight.study import NOT_KNOWN, PictureReading, Sector, StructureSeen, ViewReading, ViewShare, ViewSource
from measure import _other_organs as organs

HOUSE = load_house()
LIMITS, CHAMBERS = read_recognition_limits(HOUSE), read_chambers(HOUSE)
VIEW = "right_parasternal_long_axis_four_chamber"
TITLES = {VIEW: "Long axis", "other": "Other"}
FLUID = ((9602, 4), (9602, 5), (9605, 0), (9609, 3))  # seed, turn: ring A, kept from training


def seen(name: str, area: float = 0.1, frames: float = 1.0) -> StructureSeen:
    return StructureSeen(
        structure=name, frames_share=frames, area_share=area, sure_share=0.9, nearest=0.2, farthest=0.6,
        farthest_frame=0,
    )  # fmt: skip


def said(*structures: StructureSeen, unsure: float = 0.01, view: str = VIEW, share: float = 0.9) -> PictureReading:
    views = (ViewShare(view=view, probability=share),)
    return PictureReading(frames=(0,), views=views, structures=structures, unsure_share=unsure, network="x")


WHOLE = said(seen("LV_CAVITY"), seen("LEFT_ATRIUM"))


def test_view_whose_chambers_are_seen_is_believed() -> None:
    assert what_speaks_against(WHOLE, LIMITS, CHAMBERS) == ""


@pytest.mark.parametrize(
    ("structures", "reason"),
    [
        ((seen("LV_CAVITY"),), "it shows no left atrium"),
        ((seen("LV_CAVITY"), seen("LEFT_ATRIUM", area=0.005)), "it shows no left atrium"),
        ((seen("LV_CAVITY"), seen("LEFT_ATRIUM", frames=0.3)), "it shows no left atrium"),
        ((seen("SEPTUM"),), "it shows no left ventricle and no left atrium"),
    ],
)
def test_view_without_a_chamber_that_it_must_show_is_not_believed(
    structures: tuple[StructureSeen, ...], reason: str
) -> None:
    """Not there, a speck, or in few frames."""
    assert what_speaks_against(said(*structures), LIMITS, CHAMBERS) == reason


def test_the_more_nothing_is_told_the_less_a_view_is_believed() -> None:
    """A graded series across the House limit."""
    reasons = [
        what_speaks_against(said(*WHOLE.structures, unsure=share), LIMITS, CHAMBERS)
        for share in (0.0, 0.05, 0.08, 0.09, 0.3)
    ]
    assert reasons == ["", "", "", *(f"no structure can be told in {percent} % of it" for percent in (9, 30))]


def test_nothing_is_asked_of_a_view_that_need_show_none_nor_of_masks_that_were_not_kept() -> None:
    assert what_speaks_against(said(seen("AORTA"), view="subcostal_outflow"), LIMITS, CHAMBERS) == ""
    assert what_speaks_against(said(), LIMITS, CHAMBERS) == ""


def test_the_reason_stands_where_the_view_would_and_doubts_no_name() -> None:
    odd = said(*WHOLE.structures, unsure=0.2, share=0.97)
    found = with_proposal(NOT_KNOWN, odd, LIMITS, TITLES, CHAMBERS)
    assert (found.view, found.source) == ("", ViewSource.NOT_KNOWN)
    assert found.reason.endswith(
        "not sure from the picture: it looks like Long axis (97 %), but no structure can be told in 20 % of it"
    )
    named = ViewReading(view="other", source=ViewSource.VIEW_CODE)
    assert with_proposal(named, odd, LIMITS, TITLES, CHAMBERS) == named


@cache
def fluid(seed: int, turn: int) -> PictureReading:
    """Return what the shipped network says of fluid with floating lobes, drawn by hand."""
    clip = organs.draw_organ(
        np.random.default_rng([seed, 757, list(organs.ORGANS).index("fluid in the chest"), turn]), "fluid in the chest"
    )
    half = organs.HALF_DEG
    sector = Sector(
        apex_row_px=organs.APEX_ROW, apex_col_px=organs.APEX_COL, left_deg=-half, right_deg=half, near_px=6.0,
        far_px=organs.FAR_PX,
    )  # fmt: skip
    network = shipped_network()
    asked = network.ask(to_square(clip, sector), inside(square_of(sector).sector))
    return reading_of(asked, network, tuple(range(len(clip))), sector)


@pytest.mark.parametrize(("seed", "turn"), FLUID)
def test_drawn_fluid_that_looks_like_a_view_is_not_proposed(seed: int, turn: int) -> None:
    """The network alone would propose a view; common practice, no source: fluid in a chest is no view of the heart."""
    reading = fluid(seed, turn)
    assert (reading.views[0].view, reading.views[0].probability >= LIMITS.view_from) == (VIEW, True)

    found = with_proposal(NOT_KNOWN, reading, LIMITS, TITLES, CHAMBERS)
    assert found.view == ""
    assert "but " in found.reason
