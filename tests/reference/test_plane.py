"""What the House asks of planes: complete, and refused with the row's name where it is not."""

from __future__ import annotations

from pathlib import Path

import pytest

from fanlight.reference.criteria import read_criteria
from fanlight.reference.load import HouseFileError, load_house
from fanlight.reference.plane import read_plane_tables, read_views_asked
from fanlight.reference.views import read_views
from fanlight.study import House


def test_every_view_has_a_row_and_every_tick_is_an_item_of_its_view(house: House) -> None:
    views, criteria = read_views(house), read_criteria(house)
    for key, asked in read_plane_tables(house).views.items():
        items = (*views[key].must_show, *views[key].must_not_show)
        assert set(asked.ticks) <= set(items)
        assert {tick.criterion for tick in asked.ticks.values()} <= set(criteria)
        for tick in asked.ticks.values():
            band = criteria[tick.criterion].band
            assert (band.judge(tick.value)[0].value, band.judge(tick.value)[1]) == ("missed", tick.side)


def test_every_line_and_target_has_its_standard(house: House) -> None:
    """Learnt with a spread: of slopes below the band that is met, of places below half of it."""
    tables = read_plane_tables(house)
    for view, asked in read_views_asked(house).items():
        for line in asked.lines:
            expected = tables.lines[view, "any", f"{line[0].name.lower()} {line[1].name.lower()}"]
            assert 0 <= expected.spread < 10
        for mark in asked.targets:
            assert 0 <= tables.targets[view, "any", mark.name.lower()].spread < 0.15


@pytest.mark.parametrize(("text", "words"), [
    ('["plane".views.subcostal_outflow]\naorta = "perhaps"\n', "subcostal_outflow"),
    ('["plane".views.subcostal_outflow]\ntargets = ["the_middle"]\n', "THE_MIDDLE"),
    ('["plane".settings]\nspreads_of = 2.0\n', "no such row"),
])  # fmt: skip
def test_a_row_that_makes_no_sense_is_named(tmp_path: Path, text: str, words: str) -> None:
    own = tmp_path / "own.toml"
    own.write_text(text, encoding="utf-8")

    with pytest.raises(HouseFileError, match=words):
        load_house(own)


def test_a_group_may_word_its_views_otherwise(tmp_path: Path) -> None:
    """A tick then means nothing here; nothing is refused."""
    own = tmp_path / "own.toml"
    own.write_text('["views".views.left_apical_two_chamber]\nmust_not_show = ["any right heart"]\n', encoding="utf-8")

    assert "the aorta" in read_plane_tables(load_house(own)).views["left_apical_two_chamber"].ticks
