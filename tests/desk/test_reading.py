"""A study from the first byte sent to the last clip read, and its frames; the engine is killed in between."""

from __future__ import annotations

import io
import os
import shutil
import signal
import time
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pydicom.data import get_testdata_file

from fanlight.desk import Desk, DeskOptions
from fanlight.desk.frames import PACKET
from fanlight.intake import Item, Kind, Limits, open_frames, probe_item
from fanlight.store import Store, clip_readings, entries_of, files_of, open_store, unread_clips
from fanlight.study import House
from tests.desk.browser import Browser
from tests.intake.dicom_files import fragmented, jpeg_codes, native, speckle

LIMITS = Limits(file_bytes=5_000_000, zip_total_bytes=6_000_000)
CLIP = Path(str(get_testdata_file("examples_ybr_color.dcm")))
# 1: JPEG, 2: raw
FORMS = {"right/IM1.dcm": {1}, "right/IM2.dcm": {2}, "right/IM3.dcm": {1}, "right/IM4.dcm": {0, 1}, "more.zip/IM9": {2}}


@dataclass(frozen=True)
class Sent:
    """A study on a desk, read to its end."""

    desk: Desk
    browser: Browser
    store: Store
    study: str
    files: dict[str, Path]
    was_receiving: str

    def clip(self, name: str) -> dict[str, Any]:
        page = self.browser.get(f"/api/studies/{self.study}").json()
        clip: dict[str, Any] = next(item for item in page["study"]["clips"] if item["name"] == name)
        return clip

    def frames(self, name: str, **asked: int) -> tuple[list[tuple[Any, ...]], int]:
        answer = self.browser.get(f"/api/studies/{self.study}/clips/{self.clip(name)['key']}/frames", params=asked)
        assert answer.status_code == 200, answer.text
        return packets(answer.content), int(answer.headers["x-frame-count"])


def packets(data: bytes) -> list[tuple[Any, ...]]:
    found = []
    while data:
        index, form, channels, spare, rows, cols, size = PACKET.unpack(data[: PACKET.size])
        assert spare == 0
        found.append((index, form, channels, rows, cols, data[PACKET.size : PACKET.size + size]))
        data = data[PACKET.size + size :]
    return found


def wait_for(is_so: Callable[[], bool], within_s: float = 900.0) -> None:
    end = time.monotonic() + within_s
    while not is_so():
        assert time.monotonic() < end, "it took too long"
        time.sleep(0.05)


def cut_short(code: bytes) -> bytes:
    """Return a JPEG stream without the last third of its picture."""
    return code[: 2 * len(code) // 3] + b"\xff\xd9"


def zipped(path: Path) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.write(path, "IM9")
    return out.getvalue()


@pytest.fixture(scope="module")
def sent(tmp_path_factory: pytest.TempPathFactory, house: House) -> Iterator[Sent]:
    """Four good files, one of them in a zip, a broken one among them, one with a broken frame; one kill -9."""
    root = tmp_path_factory.mktemp("files")
    rng = np.random.default_rng(7)
    codes = jpeg_codes(speckle(rng, 6, 96, 128))
    files = {
        "right/IM1.dcm": Path(shutil.copy(CLIP, root / "a")),
        "right/IM2.dcm": native(root / "b", speckle(rng, 3, 96, 128)),
        "right/IM3.dcm": fragmented(
            root / "c", speckle(rng, 6, 96, 128), [*codes[:4], b"no picture", codes[5]], "1.2.840.10008.1.2.4.50"
        ),
        "right/IM4.dcm": fragmented(
            root / "e",
            speckle(rng, 4, 96, 128),
            [codes[0], cut_short(codes[1]), *codes[2:4]],
            "1.2.840.10008.1.2.4.50",
        ),
        "more.zip/IM9": native(root / "d", speckle(rng, 2, 96, 128)),
    }
    folder = tmp_path_factory.mktemp("data")
    options = DeskOptions(cache=None, limits=LIMITS)  # no cache: what goes on after a crash comes from the store
    with open_store(folder / "store") as store, Desk(store, house, options) as desk:
        browser = Browser(desk)
        browser.enter()
        study = browser.new_study("Juniper")
        for name in list(files)[:-1]:
            answer = browser.put_file(study, name, files[name].read_bytes())
            assert answer.status_code == 200, answer.text
            assert answer.json()["fate"] == "received"
        browser.put_file(study, "right/broken.dcm", files["right/IM1.dcm"].read_bytes()[:20_000])
        was_receiving = browser.get("/api/waiting").json()["studies"][0]["state"]
        wait_for(lambda: bool(clip_readings(store, study)))
        assert desk.engine.pid is not None
        os.kill(desk.engine.pid, signal.SIGKILL)
        browser.put_file(study, ".DS_Store", b"of the system")
        browser.put_file(study, "more.zip", zipped(files["more.zip/IM9"]))
        browser.post(f"/api/studies/{study}/complete")
        wait_for(lambda: desk.engine.state(study).state == "idle")
        yield Sent(desk, browser, store, study, files, was_receiving)
        browser.close()


def test_every_good_file_is_read_though_the_engine_was_killed(sent: Sent) -> None:
    """Reading began while files were still coming, and nothing was read twice to get to the end."""
    page = sent.browser.get(f"/api/studies/{sent.study}").json()

    assert sent.was_receiving == "receiving"
    assert page["engine"] == {"state": "idle", "error": None}
    assert {item["name"] for item in page["study"]["clips"]} == set(sent.files)
    keys = {item["key"] for item in page["study"]["clips"]}
    assert {item["clip"]["key"] for item in page["readings"]} == keys
    assert unread_clips(sent.store, sent.study, house=sent.desk.house.fingerprint()) == ()
    assert sent.browser.get("/api/waiting").json()["studies"][0]["state"] == "ready"


def test_each_file_has_its_fate(sent: Sent) -> None:
    """The broken one is named with what to do; it stopped no other."""
    page = sent.browser.get(f"/api/studies/{sent.study}").json()
    fates = {item["name"]: item for item in page["files"]}

    assert fates["right/broken.dcm"]["fate"] == "refused"
    assert fates["right/broken.dcm"]["refusals"][0]["remedy"]
    assert {name: fates[name]["fate"] for name in sent.files} == dict.fromkeys(sent.files, "probed")
    assert fates["more.zip"]["fate"] == "unpacked"
    assert fates[".DS_Store"]["fate"] == "passed over"
    key = next(item["key"] for item in page["study"]["clips"] if item["name"] == "right/IM3.dcm")
    damaged = sent.browser.get(f"/api/studies/{sent.study}/clips/{key}").json()
    assert damaged["frames_read"] == 4
    assert damaged["damage"]["place"] == "frame 5"


def test_frames_go_out_exactly(sent: Sent) -> None:
    """Whatever way, the pixels are those that intake decodes; JPEG bytes are those of the file."""
    for name, path in sent.files.items():
        if 0 in FORMS[name]:
            continue  # see below
        item = Item(path=path, name=name, kind=Kind.DICOM)
        (clip,) = probe_item(item, LIMITS).clips
        whole = path.read_bytes()
        got, n_frames = sent.frames(name, first=1, count=2)
        assert (n_frames, [packet[0] for packet in got]) == (clip.n_frames, [1, 2][: clip.n_frames - 1])
        with open_frames(item, clip, LIMITS) as frames:
            decoded = [chunk.pixels[0].copy() for chunk, _ in zip(frames.chunks(1), range(3), strict=False)]
        for index, form, channels, rows, cols, data in got:
            assert (rows, cols, channels) == (clip.rows, clip.cols, 3 if clip.is_colour else 1)
            if form == 1:
                assert data in whole
                assert data.startswith(b"\xff\xd8")
            else:
                assert data == decoded[index].tobytes()
        assert {packet[1] for packet in got} == FORMS[name]


def test_frames_follow_each_other_and_can_be_begun_anywhere(sent: Sent) -> None:
    """Forward, back and across the end of a clip."""
    whole, n_frames = sent.frames("right/IM1.dcm", first=0, count=200)
    assert [packet[0] for packet in whole] == list(range(n_frames))

    for first in (29, 3, 17, 18):
        part, _ = sent.frames("right/IM1.dcm", first=first, count=3)
        assert part == whole[first : first + 3]


def test_a_broken_frame_says_so_and_stops_no_other(sent: Sent) -> None:
    """The frames before and after it play; in its place a packet says what happened and what to do."""
    whole = [(0, 1), (1, 1), (2, 1), (3, 1), (4, 0), (5, 1)]
    for first in range(6):
        got, n_frames = sent.frames("right/IM3.dcm", first=first, count=10)

        assert n_frames == 6
        assert [(packet[0], packet[1]) for packet in got] == whole[first:]
    got, _ = sent.frames("right/IM3.dcm", first=2, count=10)
    assert b"frame 5 cannot be decoded" in got[2][-1]
    assert b"send the original file again" in got[2][-1]


def test_a_picture_that_is_damaged_inside_is_broken_too(sent: Sent) -> None:
    """Its header is whole, and a browser would show the upper half of it without a word."""
    got, n_frames = sent.frames("right/IM4.dcm", first=0, count=10)

    assert n_frames == 4
    assert [(packet[0], packet[1]) for packet in got] == [(0, 1), (1, 0), (2, 1), (3, 1)]
    assert b"frame 2 cannot be decoded" in got[1][-1]


@pytest.mark.parametrize("asked", [{"first": 30}, {"first": -1}, {"count": 0}, {"count": 5000}])
def test_frames_that_are_not_there_are_refused(sent: Sent, asked: dict[str, int]) -> None:
    key = sent.clip("right/IM1.dcm")["key"]
    answer = sent.browser.get(f"/api/studies/{sent.study}/clips/{key}/frames", params=asked)

    assert answer.status_code == 422
    assert "the clip has 30" in answer.json()["error"]["what"]


def test_a_file_sent_twice_is_kept_once(sent: Sent) -> None:
    """A page that lost the connection sends again what it is not sure of; the study does not change."""
    before = files_of(sent.store, sent.study)
    name = "right/IM2.dcm"
    again = sent.browser.put_file(sent.study, name, sent.files[name].read_bytes())

    assert again.status_code == 200
    assert files_of(sent.store, sent.study) == before


@pytest.mark.parametrize(
    ("name", "size", "status"),
    [
        ("../up.dcm", 9, 422),
        ("", 9, 422),
        ("a" * 300, 9, 422),
        ("big.dcm", 5_000_001, 413),
        ("big.zip", 6_000_001, 413),
    ],
)
def test_what_cannot_be_taken_in_is_refused(sent: Sent, name: str, size: int, status: int) -> None:
    """Names that lead elsewhere, and files above their bound; nothing is kept of them."""
    before = files_of(sent.store, sent.study)
    answer = sent.browser.put_file(sent.study, name, b"x" * size)

    assert answer.status_code == status
    assert answer.json()["error"]["remedy"]
    assert files_of(sent.store, sent.study) == before
    assert list((sent.store.folder / "originals" / "incoming").iterdir()) == []


def test_a_body_that_is_cut_off_is_not_kept(sent: Sent) -> None:
    """The connection broke: fewer bytes came than were said."""
    before = files_of(sent.store, sent.study)
    answer = sent.browser.send(
        "PUT", f"/api/studies/{sent.study}/files", params={"name": "cut.dcm"}, content=b"half",
        headers={"content-length": "4000"},
    )  # fmt: skip

    assert answer.status_code == 400
    assert "4 of 4000 bytes" in answer.json()["error"]["what"]
    assert files_of(sent.store, sent.study) == before


def test_a_sheet_filled_in_on_the_desk_goes_before_the_files(sent: Sent) -> None:
    """It is kept with the study, and the study is put together anew; nothing that was read is read again."""
    read_at = {key: item.at for key, item in clip_readings(sent.store, sent.study).items()}
    said = {"request": {"question": "Is the atrium large?"}, "identity": {"animal_name": "Juniper"}}
    answer = sent.browser.post(f"/api/studies/{sent.study}/sheet", said)
    wait_for(lambda: sent.desk.engine.state(sent.study).state == "idle")

    study = sent.browser.get(f"/api/studies/{sent.study}").json()["study"]
    assert answer.status_code == 204
    assert study["request"]["question"] == "Is the atrium large?"
    files = sent.browser.get(f"/api/studies/{sent.study}").json()["files"]
    assert [item["fate"] for item in files if item["name"].endswith(".toml")] == ["sheet"]
    assert study["identity"]["animal_name"] == "Juniper"
    assert {key: item.at for key, item in clip_readings(sent.store, sent.study).items()} == read_at
    assert entries_of(sent.store, sent.study) == ()
