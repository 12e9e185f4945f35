"""A mark followed through its clip over the wire."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fanlight.desk import Desk, DeskOptions
from fanlight.desk.tracks import Marked, pixel_of
from fanlight.measure.shapes import Pixel
from fanlight.store import Store, clip_reading, clip_readings, open_store
from fanlight.study import Box, House, MarkedDistance, Region, RegionReading, Scale, ScaleSource
from tests.desk.browser import Browser, new_id
from tests.desk.drafts import draft, keep
from tests.intake.dicom_files import native, speckle

RIGHT_PX = 2  # by which the picture moves from frame to frame


@dataclass(frozen=True)
class Read:
    browser: Browser
    store: Store
    study: str
    moving: str  # key of a clip of 12 frames that moves to the right
    still: str


@pytest.fixture(scope="module")
def read(tmp_path_factory: pytest.TempPathFactory, house: House) -> Iterator[Read]:
    """A study of two files on a desk, read to its end."""
    folder = tmp_path_factory.mktemp("tracks")
    wide = speckle(np.random.default_rng(2), 1, 160, 300)[0]
    frames = np.stack([wide[:, 60 - RIGHT_PX * k : 260 - RIGHT_PX * k] for k in range(12)])
    files = {
        "a.dcm": native(folder / "a.dcm", frames, FrameTime="40", FrameIncrementPointer=0x00181063),
        "b.dcm": native(folder / "b.dcm", frames[:1]),
    }
    with open_store(folder / "store") as store, Desk(store, house, DeskOptions(quiet_s=0.1)) as desk:
        browser = Browser(desk)
        browser.enter()
        study = browser.new_study()
        for name, path in files.items():
            browser.put_file(study, name, Path(path).read_bytes())
        browser.post(f"/api/studies/{study}/complete")
        until = time.monotonic() + 120
        while len(clip_readings(store, study)) < 2:
            assert time.monotonic() < until
            time.sleep(0.1)
        clips = browser.get(f"/api/studies/{study}").json()["study"]["clips"]
        keys = {clip["name"]: clip["key"] for clip in clips}
        yield Read(browser, store, study, keys["a.dcm"], keys["b.dcm"])
        browser.close()


def track(read: Read, clip: str, **body: Any) -> Any:
    return read.browser.post(f"/api/studies/{read.study}/clips/{clip}/track", body)


def test_a_mark_moves_with_its_picture(read: Read) -> None:
    points = [[70.0, 80.0], [100.0, 120.0]]
    answer = track(read, read.moving, kind="line", frame=4, points=points)

    assert answer.status_code == 200, answer.text
    found = answer.json()
    assert (found["marked"], found["first"], found["unit"]) == (4, 0, "px")
    assert found["points"][4] == points
    for k, shape in enumerate(found["points"]):
        for (row, col), (row0, col0) in zip(shape, points, strict=True):
            assert (row, col) == pytest.approx((row0, col0 + RIGHT_PX * (k - 4)), abs=0.3)
    assert found["curves"][0]["values"][0] == pytest.approx(50, abs=0.5)
    assert read.browser.get(f"/api/studies/{read.study}").json()["entries"] == []  # derived, never an act


def test_a_marked_scale_makes_it_millimetres(read: Read) -> None:
    distance = {"start": [10, 10], "end": [110, 10], "distance_mm": 50}
    done = read.browser.act(read.study, "set scale", read.moving, frame=0, distance=distance).json()
    answer = track(read, read.moving, kind="line", frame=4, points=[[70.0, 80.0], [100.0, 120.0]])
    undo = {"id": new_id(), "author": "M. Linden", "entry": done["next_undo"]}
    assert read.browser.post(f"/api/studies/{read.study}/undo", undo).status_code == 200

    assert answer.json()["unit"] == "mm"
    assert answer.json()["curves"][0]["values"][4] == pytest.approx(25)
    # Taken back it holds no longer, also while the engine's reading still has it.
    again = track(read, read.moving, kind="line", frame=4, points=[[70.0, 80.0], [100.0, 120.0]])
    assert again.json()["unit"] == "px"


def test_the_size_of_a_pixel_is_the_one_by_which_the_mark_is_read_out(read: Read) -> None:
    """A depth marked on the left picture says nothing of the right one, whose own region has 0.4 mm."""
    stored = clip_reading(read.store, read.study, read.moving)
    assert stored is not None
    assert stored.reading is not None
    regions = tuple(
        RegionReading(
            region=Region(
                spatial_format=1, data_type=1, box=Box(row0=0, col0=col0, row1=160, col1=col0 + 100), unit_x=3,
                unit_y=3, delta_x=0.04, delta_y=0.04,
            ), trusted=True, reason="",
        )
        for col0 in (0, 100)
    )  # fmt: skip
    scale = Scale(
        mm_per_row_px=0.5, mm_per_col_px=0.5, source=ScaleSource.MARKED, uncertainty_fraction=0.01, witnesses=()
    )
    reading = replace(stored.reading, layout=replace(stored.reading.layout, regions=regions, scale=scale))
    depth = MarkedDistance(start=(10.0, 10.0), end=(110.0, 10.0), distance_mm=50.0)
    marked = Marked(depth=depth, axes=(), holds_read=False)

    assert pixel_of(reading, marked, ((20.0, 20.0), (50.0, 20.0))) == Pixel(down=0.5, across=0.5)
    assert pixel_of(reading, marked, ((20.0, 120.0), (50.0, 120.0))) == Pixel(down=0.4, across=0.4)
    assert pixel_of(reading, marked, ((20.0, 20.0), (50.0, 120.0))) is None
    assert pixel_of(reading, replace(marked, depth=None), ((20.0, 20.0),)) is None


@pytest.mark.parametrize(
    ("clip", "body", "words"),
    [
        ("still", {"kind": "point", "frame": 0, "points": [[5, 5]]}, "a still has no beat"),
        ("moving", {"kind": "line", "frame": 0, "points": [[5, 5]]}, "a line was sent with 1 points"),
        ("moving", {"kind": "point", "frame": 12, "points": [[5, 5]]}, "frame 13 was named, the clip has 12"),
        ("moving", {"kind": "point", "frame": 0, "points": [[5, 500]]}, "outside the picture"),
        ("moving", {"kind": "circle", "frame": 0, "points": [[5, 5]]}, "circle"),
        ("moving", {"kind": "point", "frame": 0, "points": [["x", 5]]}, "x"),
    ],
)
def test_a_mark_that_cannot_be_followed_says_why(read: Read, clip: str, body: dict[str, Any], words: str) -> None:
    answer = track(read, getattr(read, clip), **body)

    assert answer.status_code == 422
    assert words in answer.json()["error"]["what"]
    assert answer.json()["error"]["remedy"]


def test_a_clip_that_was_not_read_is_named(browser: Browser, store: Store) -> None:
    study = keep(store, draft())
    answer = browser.post(f"/api/studies/{study}/clips/none/track", {"kind": "point", "frame": 0, "points": [[1, 1]]})

    assert answer.status_code == 404
    assert "clip none was not read yet" in answer.json()["error"]["what"]
