"""The picture network within a review: asked once, kept, and missed by nothing when it is not there."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from fanlight.intake import Item, Limits, gather, probe_item
from fanlight.recognise.picture_network import PictureNetworkMissingError
from fanlight.reference.load import load_house
from fanlight.review import clip_pass
from fanlight.review.cache import NoCache
from fanlight.review.clip_jobs import Job, _keep, reading_of
from fanlight.review.clip_pass import ClipPass, Known
from fanlight.review.stages import stage_keys
from fanlight.study import (
    Clip,
    House,
    Mode,
    ModeReading,
    Patient,
    PictureReading,
    Refusal,
    Species,
    ViewShare,
    ViewSource,
)
from tests.review.dark_hole import dark_hole

DOG = Patient(species=Species.DOG, weight_kg=12.0)
VIEW = "right_parasternal_long_axis_four_chamber"


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> tuple[Item, Clip]:
    folder = tmp_path_factory.mktemp("clip")
    path = dark_hole(folder / "IM1.dcm")
    item = gather(path, tmp_path_factory.mktemp("scratch"), Limits()).items[0]
    return item, probe_item(item, Limits()).clips[0]


def read(opened: tuple[Item, Clip], house: House, known: Known | None = None) -> ClipPass:
    item, clip = opened
    done = clip_pass.read_clip(item, clip, DOG, house, None, known or Known(), Limits(), beat=lambda *_, **__: None)
    assert not isinstance(done, Refusal)
    return done


class _Kept(NoCache):
    """Remembers what was to be kept."""

    def __init__(self) -> None:
        self.values: dict[str, bytes] = {}

    def put(self, values: Any) -> None:
        self.values |= values


def no_network() -> Any:
    raise PictureNetworkMissingError("no usable onnxruntime (not for this machine)")


def test_without_the_network_everything_else_is_read_alike_and_the_reading_says_why(
    opened: tuple[Item, Clip], monkeypatch: pytest.MonkeyPatch
) -> None:
    house = load_house()
    whole = read(opened, house)
    monkeypatch.setattr(clip_pass, "shipped_network", no_network)
    without = read(opened, house)

    assert whole.picture.reason == ""
    assert whole.picture.frames
    assert "no usable onnxruntime (not for this machine)" in without.picture.reason
    assert "install fanlight again" in without.picture.reason
    assert replace(without, picture=whole.picture, seconds=whole.seconds) == whole


@pytest.mark.parametrize(("mode", "is_asked"), [(Mode.COLOUR, True), (Mode.POWER, False), (Mode.DUAL, False)])
def test_colour_clips_are_asked_about_their_grey_and_other_modes_are_not(
    opened: tuple[Item, Clip], mode: Mode, is_asked: bool
) -> None:
    told = Known(mode=ModeReading(mode=mode, probability=0.9, reasons=("told",)))
    reading = read(opened, load_house(), told).picture
    assert bool(reading.frames) is is_asked
    assert ("only 2-D pictures and colour clips" in reading.reason) is not is_asked


def test_a_network_that_fails_costs_neither_the_clip_nor_the_next_try(
    opened: tuple[Item, Clip], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its silence is not kept under the key of an answer: once it is mended, the clip is asked again."""
    house = load_house()
    whole = read(opened, house)

    def fails(*_: Any) -> Any:
        raise RuntimeError("no memory for the session")

    monkeypatch.setattr(clip_pass, "read_picture", fails)
    failed = read(opened, house)
    assert "no memory for the session" in failed.picture.reason
    assert replace(failed, picture=whole.picture, seconds=whole.seconds) == whole

    item, clip = opened
    keys = stage_keys(clip, DOG, None, house)
    job = Job(clip=clip, item=item, marks=None, keys=keys, known=Known(), findings={})
    kept = _Kept()
    _keep(job, failed, kept, house)
    assert keys.picture not in kept.values
    assert keys.mode in kept.values
    _keep(job, whole, kept, house)
    assert keys.picture in kept.values


def test_speckle_is_no_view(opened: tuple[Item, Clip]) -> None:
    house = load_house()
    done = read(opened, house)
    _, clip = opened
    reading = reading_of(clip, done, dict(done.families), stage_keys(clip, DOG, None, house), house)
    assert (reading.view.view, reading.view.source) == ("", ViewSource.NOT_KNOWN)
    assert "picture" in reading.view.reason


def test_what_is_known_is_not_asked_again(opened: tuple[Item, Clip], monkeypatch: pytest.MonkeyPatch) -> None:
    house = load_house()
    monkeypatch.setattr(clip_pass, "shipped_network", no_network)
    known = PictureReading(frames=(0,), views=(ViewShare(view=VIEW, probability=0.9),), network="kept")
    assert read(opened, house, Known(picture=known)).picture == known


def test_another_limit_runs_nothing_again_and_proposes_otherwise(opened: tuple[Item, Clip]) -> None:
    _, clip = opened
    house = load_house()
    rows = {name: dict(table) for name, table in house.tables.items()}
    rows["recognition"]["settings"] = dict(rows["recognition"]["settings"]) | {"view_from": 0.95}
    strict = House(rows)
    assert stage_keys(clip, DOG, None, strict) == stage_keys(clip, DOG, None, house)

    sure = PictureReading(frames=(0,), views=(ViewShare(view=VIEW, probability=0.9),), network="kept")
    done = replace(read(opened, house), picture=sure)
    keys = stage_keys(clip, DOG, None, house)
    readings = [reading_of(clip, done, dict(done.families), keys, each) for each in (house, strict)]
    assert [(item.view.view, item.view.source) for item in readings] == [
        (VIEW, ViewSource.RECOGNISED),
        ("", ViewSource.NOT_KNOWN),
    ]
    reason = readings[1].view.reason
    assert reason.endswith("not sure from the picture: Right parasternal long axis, four-chamber (90 %)")
