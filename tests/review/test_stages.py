"""Results are kept by what they rest on: change one thing and exactly what rests on it runs again."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from pydicom.data import get_testdata_file

from fanlight.critique.doppler.families import READ_AXES
from fanlight.critique.every_family import EVERY_FAMILY
from fanlight.intake import Item, Limits, gather, probe_item
from fanlight.recognise.named_view import read_named_view
from fanlight.reference.load import load_house
from fanlight.review import clip_pass, stages
from fanlight.review.stages import StageKeys, family_tables, stage_keys
from fanlight.study import (
    Box,
    Clip,
    DrawnMark,
    FileMarks,
    House,
    Identity,
    MarkedAxis,
    MarkedDistance,
    MarkKind,
    Mode,
    Patient,
    Region,
    Species,
    StripAxis,
    Valve,
)

DOG = Patient(species=Species.DOG, weight_kg=12.0)


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> tuple[Item, Clip]:
    path = Path(str(get_testdata_file("examples_ybr_color.dcm")))
    item = gather(path, tmp_path_factory.mktemp("scratch"), Limits()).items[0]
    return item, probe_item(item, Limits()).clips[0]


def changed(one: StageKeys, other: StageKeys) -> set[str]:
    """Names of the stages whose keys differ."""
    names = {
        name
        for name in ("frames", "layout", "mode", "view", "time", "picture", "measured")
        if getattr(one, name) != getattr(other, name)
    }
    return names | {name for name, key in one.families if dict(other.families)[name] != key}


def with_row(house: House, table: str, key: str, band: Mapping[str, float]) -> House:
    tables = {name: dict(rows) for name, rows in house.tables.items()}
    tables[table][key] = dict(tables[table][key]) | {"band": dict(band)}
    return House(tables)


ALL_FAMILIES = {family.name for family in EVERY_FAMILY}


def test_nothing_changes_when_nothing_changes(opened: tuple[Item, Clip]) -> None:
    _, clip = opened
    house = load_house()

    assert changed(stage_keys(clip, DOG, None, house), stage_keys(clip, DOG, None, house)) == set()


def test_one_threshold_touches_one_family(opened: tuple[Item, Clip]) -> None:
    _, clip = opened
    house = load_house()
    stricter = with_row(house, "criteria/gain", "overall_gain", {"met_low": 0.3, "met_high": 0.4})

    assert changed(stage_keys(clip, DOG, None, house), stage_keys(clip, DOG, None, stricter)) == {"gain"}


def test_a_scale_mark_touches_the_layout_and_all_that_rests_on_it(opened: tuple[Item, Clip]) -> None:
    _, clip = opened
    house = load_house()
    mark = FileMarks(name=clip.name, scale=MarkedDistance(start=(0.0, 0.0), end=(100.0, 0.0), distance_mm=50.0))

    found = changed(stage_keys(clip, DOG, None, house), stage_keys(clip, DOG, mark, house))

    assert found == {"layout", "mode", "view", "time", "picture", "measured"} | ALL_FAMILIES


def test_a_view_mark_touches_the_view_only(opened: tuple[Item, Clip]) -> None:
    _, clip = opened
    house = load_house()
    mark = FileMarks(name=clip.name, view="right_parasternal_long_axis_four_chamber")

    assert changed(stage_keys(clip, DOG, None, house), stage_keys(clip, DOG, mark, house)) == {"view"}


def test_a_view_mark_measures_a_strip_anew(opened: tuple[Item, Clip]) -> None:
    _, clip = opened
    box = Box(row0=0, col0=0, row1=10, col1=10)
    strip = replace(
        clip,
        regions=(
            *clip.regions,
            Region(spatial_format=2, data_type=1, box=box, unit_x=4, unit_y=3, delta_x=0.005, delta_y=0.02),
        ),
    )
    house = load_house()
    mark = FileMarks(name=clip.name, view="right_parasternal_short_axis_chordae")

    assert changed(stage_keys(strip, DOG, None, house), stage_keys(strip, DOG, mark, house)) == {"view", "measured"}


def test_marked_axes_measure_anew(opened: tuple[Item, Clip]) -> None:
    _, clip = opened
    house = load_house()
    axis = MarkedAxis(axis=StripAxis.TIME, start=(0.0, 0.0), end=(0.0, 100.0), amount=1000.0)

    found = changed(
        stage_keys(clip, DOG, None, house), stage_keys(clip, DOG, FileMarks(name=clip.name, axes=(axis,)), house)
    )

    assert found == {"measured"} | READ_AXES


def test_a_named_mode_touches_what_goes_by_the_mode(opened: tuple[Item, Clip]) -> None:
    """Neither where things lie on the screen, nor the beats, nor the view."""
    _, clip = opened
    house = load_house()
    mark = FileMarks(name=clip.name, mode=Mode.CONTINUOUS_WAVE)

    found = changed(stage_keys(clip, DOG, None, house), stage_keys(clip, DOG, mark, house))

    assert found == {"mode", "picture", "measured"} | ALL_FAMILIES


@pytest.mark.parametrize(
    "mark",
    [
        FileMarks(name="x", valve=Valve.MITRAL),
        FileMarks(
            name="x", drawn=(DrawnMark(kind=MarkKind.POINT, frame=0, points=((3.0, 4.0),), landmark="MITRAL_TIPS"),)
        ),
    ],
    ids=["valve", "landmark"],
)
def test_what_is_told_of_a_spectrum_touches_what_goes_by_it(opened: tuple[Item, Clip], mark: FileMarks) -> None:
    """A named valve or a marked landmark: use of the strip, angle, gate and timing are judged anew, on spectra only."""
    _, clip = opened
    house = load_house()
    region = Region(
        spatial_format=3, data_type=3, box=Box(row0=0, col0=0, row1=9, col1=9), unit_x=4, unit_y=7, delta_x=0.1,
        delta_y=-1.0,
    )  # fmt: skip
    spectrum = replace(clip, regions=(region,))

    found = changed(stage_keys(spectrum, DOG, None, house), stage_keys(spectrum, DOG, mark, house))

    assert found - {"view", "measured"} == {"doppler_spectrum", "doppler_spectrum_aim", "doppler_spectrum_timing"}
    assert changed(stage_keys(clip, DOG, None, house), stage_keys(clip, DOG, mark, house)) <= {"view"}


def test_the_animals_weight_touches_the_families_only(opened: tuple[Item, Clip]) -> None:
    _, clip = opened
    house = load_house()
    heavier = replace(DOG, weight_kg=40.0)

    assert changed(stage_keys(clip, DOG, None, house), stage_keys(clip, heavier, None, house)) == ALL_FAMILIES


def test_the_files_name_and_place_in_the_study_touch_nothing(opened: tuple[Item, Clip]) -> None:
    _, clip = opened
    house = load_house()
    moved = replace(clip, name="elsewhere/x.dcm", number=9)

    assert changed(stage_keys(clip, DOG, None, house), stage_keys(moved, DOG, None, house)) == set()


@pytest.mark.parametrize("field", ["animal_name", "case_number", "owner", "practice"])
def test_whose_clip_it_is_touches_the_view_only(opened: tuple[Item, Clip], field: str) -> None:
    """A text that is the animal's name names no view: a kept view must not outlive a name that was put right."""
    _, clip = opened
    house = load_house()
    bare = replace(clip, identity=Identity(), tags=replace(clip.tags, series_text="RPLA 4CH"))
    named = replace(bare, identity=Identity(**{field: "RPLA 4ch"}))  # type: ignore[arg-type]

    assert read_named_view(bare, (), None, house).view != read_named_view(named, (), None, house).view
    assert changed(stage_keys(bare, DOG, None, house), stage_keys(named, DOG, None, house)) == {"view"}


def test_when_it_was_examined_touches_nothing(opened: tuple[Item, Clip]) -> None:
    _, clip = opened
    house = load_house()
    later = replace(clip, identity=replace(clip.identity, examined_at=datetime(2026, 3, 14, 13, 47)))

    assert changed(stage_keys(clip, DOG, None, house), stage_keys(later, DOG, None, house)) == set()


def test_no_key_holds_a_name_in_the_clear(opened: tuple[Item, Clip]) -> None:
    _, clip = opened
    named = replace(clip, identity=Identity(animal_name="Juniper", owner="Ashgrove"))
    keys = " ".join(stage_keys(named, DOG, None, load_house()).all()).casefold()

    assert "juniper" not in keys
    assert "ashgrove" not in keys


def test_frame_times_touch_everything(opened: tuple[Item, Clip]) -> None:
    _, clip = opened
    house = load_house()
    slower = replace(clip, times=replace(clip.times, times_ms=tuple(2 * t for t in clip.times.times_ms)))

    found = changed(stage_keys(clip, DOG, None, house), stage_keys(slower, DOG, None, house))

    assert found == {"frames", "layout", "mode", "view", "time", "picture", "measured"} | ALL_FAMILIES


class _Recorded(dict[str, Any]):
    """Tables that remember which of them were asked for."""

    def __init__(self, tables: Mapping[str, Any]) -> None:
        super().__init__(tables)
        self.asked: set[str] = set()

    def __getitem__(self, name: str) -> Any:
        self.asked.add(name)
        return super().__getitem__(name)

    def __iter__(self) -> Iterator[str]:
        self.asked |= set(super().keys())
        return super().__iter__()


def test_stages_read_only_the_tables_that_stand_in_their_keys(opened: tuple[Item, Clip]) -> None:
    """A stage that read another table would keep a stale result when that table changes."""
    item, clip = opened
    house = House(load_house().tables)  # of its own: what others had it read is kept there and not asked for again
    recorded = _Recorded(house.tables)
    object.__setattr__(house, "tables", recorded)
    declared = {*stages.LAYOUT_TABLES, *stages.VIEW_TABLES}
    for family in EVERY_FAMILY:
        declared |= set(family_tables(family.name))

    clip_pass.read_clip(item, clip, DOG, house, None, clip_pass.Known(), Limits(), beat=lambda *_, **__: None)

    assert recorded.asked == declared
