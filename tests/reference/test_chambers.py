"""Chambers that a view must show: every view has a row, and a wrong row is named."""

from __future__ import annotations

from typing import Any

import pytest

from fanlight.reference.chambers import read_chambers
from fanlight.reference.views import read_views
from fanlight.study import House, Structure

FOUR = "right_parasternal_long_axis_four_chamber"


def changed(house: House, rows: dict[str, Any]) -> House:
    return House({**house.tables, "chambers": {"views": rows}})


def test_every_view_says_what_it_asks_for(house: House) -> None:
    rows = read_chambers(house)

    assert set(rows) == set(read_views(house))
    assert rows[FOUR].whole == (Structure.LV_CAVITY, Structure.LEFT_ATRIUM)
    assert rows[FOUR].clear == (Structure.LEFT_ATRIUM,)


def test_what_a_view_asks_for_is_among_what_it_must_show(house: House) -> None:
    """Against the words of the views, which are cited there: no chamber is asked for that the view does not name."""
    words = {
        # Papillary muscles and mitral leaflets lie in the left ventricle (anatomy).
        Structure.LV_CAVITY: ("left ventric", "both ventricles", "papillary muscles", "mitral leaflets"),
        Structure.LEFT_ATRIUM: ("left atrium", "atria"), Structure.RV_CAVITY: ("right ventric", "both ventricles"),
        Structure.RIGHT_ATRIUM: ("right atrium", "atria"),
        Structure.AORTA: ("aort",), Structure.PULMONARY_ARTERY: ("pulmon",),
    }  # fmt: skip
    for key, row in read_chambers(house).items():
        shown = " ".join(read_views(house)[key].must_show).casefold()
        for kind in (*row.whole, *row.clear):
            assert any(word in shown for word in words[kind]), f"{key}: {kind.value} is not in: {shown}"


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ({"whole": ["spleen"], "clear": [], "basis": "house setting"}, f"chambers.views.{FOUR}: no structure 'SPLEEN'"),
        ({"whole": [], "basis": "house setting"}, f"chambers.views.{FOUR} needs basis, clear, whole"),
        ({"whole": [], "clear": [], "basis": "hearsay"}, f"chambers.views.{FOUR}: 'hearsay'"),
    ],
)
def test_a_wrong_row_is_named(house: House, row: dict[str, Any], words: str) -> None:
    rows = dict(house.table("chambers")["views"]) | {FOUR: row}
    with pytest.raises(ValueError, match=words):
        read_chambers(changed(house, rows))


def test_a_view_without_a_row_and_a_row_without_a_view_are_named(house: House) -> None:
    rows = dict(house.table("chambers")["views"])
    with pytest.raises(ValueError, match="no such view"):
        read_chambers(changed(house, rows | {"sideways": rows[FOUR]}))
    del rows[FOUR]
    with pytest.raises(ValueError, match=f"chambers.views lacks {FOUR}"):
        read_chambers(changed(house, rows))
