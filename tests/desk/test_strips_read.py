"""A spectrum on the desk: measured once its valve is named there, as the command line does it with a marks file."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pydicom.dataset import Dataset

from fanlight.critique.doppler.guide import FLOW_AXIS
from fanlight.desk import Desk, DeskOptions, marks_api
from fanlight.desk.blind import is_drawn
from fanlight.desk.decided import SENT_MARKS
from fanlight.intake import Item, Kind, Limits, probe_item
from fanlight.measure.marked import GIVEN_BY
from fanlight.reference.desk import read_desk_settings
from fanlight.store import Store, add_entry, clip_readings, open_store
from fanlight.store.actions import PlaceClip
from fanlight.study import ENGINE, House, Valve
from tests.desk.browser import Browser, new_id
from tests.desk.drafts import house_rows
from tests.intake.dicom_files import native, speckle
from tests.measure.drawn_spectra import Drawing, draw, half_sines

FIVE_CHAMBER = "left_apical_five_chamber"
PEAK_CM_S = -110.0  # outflow runs away from a probe at the apex (common practice, no source)

GREY, AXES = draw(Drawing(waves=[half_sines(PEAK_CM_S, 220.0, [150.0, 750.0, 1350.0])]))


def spectrum(path: Path) -> Path:
    """A pulsed wave of 110 cm/s whose file says how it is scaled, and not of which valve it is."""
    axes = AXES
    region = Dataset()
    region.RegionSpatialFormat, region.RegionDataType, region.RegionFlags = 3, 3, 0  # PS3.3 C.8.5.5.1: spectral, PW
    region.RegionLocationMinX0, region.RegionLocationMinY0 = axes.box.col0, axes.box.row0
    region.RegionLocationMaxX1, region.RegionLocationMaxY1 = axes.box.col1 - 1, axes.box.row1 - 1
    region.PhysicalUnitsXDirection, region.PhysicalUnitsYDirection = 4, 7  # seconds, cm/s
    region.PhysicalDeltaX, region.PhysicalDeltaY = axes.ms_per_px / 1000, -axes.cm_s_per_px
    region.ReferencePixelX0, region.ReferencePixelY0 = 0, round(axes.baseline_row_px - axes.box.row0)
    region.ReferencePixelPhysicalValueX = region.ReferencePixelPhysicalValueY = 0.0
    return native(path, GREY[None], SequenceOfUltrasoundRegions=[region])


@dataclass
class Sent:
    """A study of a spectrum and a clip, read to its end."""

    desk: Desk
    browser: Browser
    store: Store
    study: str
    strip: str  # key of the spectrum
    clip: str

    def act(self, action: str, clip: str, **payload: Any) -> str:
        """Say something, and return what takes it back."""
        answer = self.browser.act(self.study, action, clip, **payload)
        assert answer.status_code == 200, answer.text
        return str(answer.json()["entry"]["id"])

    def undo(self, entry: str) -> None:
        body = {"id": new_id(), "author": "M. Linden", "entry": entry}
        assert self.browser.post(f"/api/studies/{self.study}/undo", body).status_code == 200

    def is_busy(self) -> bool:
        return self.desk.engine.state(self.study).state != "idle"

    def page(self) -> Any:
        return self.browser.get(f"/api/studies/{self.study}").json()

    def measured(self, given_by: str = ENGINE) -> dict[str, Any]:
        """Wait until all is read; return the numbers by name, and by its reason what is none."""
        until = time.monotonic() + 300
        while self.is_busy():
            assert time.monotonic() < until
            time.sleep(0.05)
        found = self.page()["review"]["measurements"]
        return {item["name"] or item["reason"]: item for item in found if item["given_by"] == given_by}


@pytest.fixture(scope="module")
def sent(tmp_path_factory: pytest.TempPathFactory, house: House) -> Iterator[Sent]:
    folder = tmp_path_factory.mktemp("strips")
    files = {
        "a.dcm": spectrum(folder / "a.dcm"),
        "b.dcm": native(folder / "b.dcm", speckle(np.random.default_rng(4), 3, 90, 120), FrameTime="40"),
    }
    options = DeskOptions(quiet_s=0.1, cache=folder / "cache")
    with open_store(folder / "store") as store, Desk(store, house, options) as desk:
        browser = Browser(desk)
        browser.enter()
        study = without_blind(browser, files)
        browser.post(f"/api/studies/{study}/complete")
        until = time.monotonic() + 300
        while len(clip_readings(store, study)) < 2 or desk.engine.state(study).state != "idle":
            assert time.monotonic() < until
            time.sleep(0.1)
        keys = {item["name"]: item["key"] for item in browser.get(f"/api/studies/{study}").json()["study"]["clips"]}
        yield Sent(desk, browser, store, study, keys["a.dcm"], keys["b.dcm"])
        browser.close()


def without_blind(browser: Browser, files: dict[str, Path]) -> str:
    """Send the files as a study of which no clip is drawn to be judged before proposals are shown."""
    keys = [clip.key for name, path in files.items() for clip in probe_item(item_of(name, path), Limits()).clips]
    share = read_desk_settings(house_rows()).blind_share
    study = new_id()
    while any(is_drawn(study, key, share) for key in keys):
        study = new_id()
    made = browser.post("/api/studies", {"title": "Juniper", "id": study})
    assert made.json()["id"] == study
    for name, path in files.items():
        browser.put_file(study, name, path.read_bytes())
    return study


def item_of(name: str, path: Path) -> Item:
    return Item(path=path, name=name, kind=Kind.DICOM)


NOT_NAMED = "not measured: whose flow it is, is not known; name the valve"


def test_a_spectrum_is_measured_once_its_valve_is_named_and_no_more_when_that_is_taken_back(sent: Sent) -> None:
    """Half sines of 110 cm/s: the peak, and 2/π · peak · length = 15.4 cm (calculus)."""
    assert list(sent.measured()) == [NOT_NAMED]
    placed = sent.act("place clip", sent.strip, view=FIVE_CHAMBER, valve="aortic")
    assert sent.is_busy()
    found = sent.measured()

    assert found["aortic_vmax"]["value"] == pytest.approx(1.10, rel=0.05)
    assert found["aortic_vti"]["value"] == pytest.approx(110 * 0.220 * 2 / np.pi, rel=0.07)
    again = sent.act("place clip", sent.strip, view=FIVE_CHAMBER, valve="mitral")
    assert "aortic_vmax" not in sent.measured()
    sent.undo(again)
    assert sent.measured()["aortic_vmax"]["value"] == found["aortic_vmax"]["value"]
    out = sent.act("take clip out", sent.strip)
    assert sent.measured() == {}
    sent.undo(out)
    sent.undo(placed)
    assert list(sent.measured()) == [NOT_NAMED]


def test_a_view_alone_names_the_only_valve_that_it_serves(sent: Sent) -> None:
    placed = sent.act("place clip", sent.strip, view=FIVE_CHAMBER, valve=None)

    assert sent.measured()["aortic_vmax"]["value"] == pytest.approx(1.10, rel=0.05)
    sent.undo(placed)


def test_a_marked_time_scale_has_the_strip_read_again(sent: Sent) -> None:
    """Half as many milliseconds a column halve the integral and leave the speed."""
    placed = sent.act("place clip", sent.strip, view=FIVE_CHAMBER, valve="aortic")
    told = sent.measured()
    marked = {"axis": "time", "start": [20.0, 12.0], "end": [20.0, 812.0], "amount": 800 * AXES.ms_per_px / 2}
    scaled = sent.act("set strip scale", sent.strip, frame=0, marked=marked)
    assert sent.is_busy()
    found = sent.measured()

    assert found["aortic_vti"]["value"] == pytest.approx(told["aortic_vti"]["value"] / 2, rel=0.1)
    assert found["aortic_vmax"]["value"] == pytest.approx(told["aortic_vmax"]["value"], rel=0.05)
    sent.undo(scaled)
    assert sent.measured()["aortic_vti"]["value"] == told["aortic_vti"]["value"]
    sent.undo(placed)
    sent.measured()


def test_what_tells_the_engine_nothing_has_nothing_read_again(sent: Sent) -> None:
    """A picture in its view, and on a strip a line that is measured by itself."""
    sent.measured()
    done = [sent.act("place clip", sent.clip, view="right_parasternal_long_axis_four_chamber")]
    done.append(sent.act("draw mark", sent.strip, **line("E")))
    assert not sent.is_busy()
    for entry in done:
        sent.undo(entry)
    assert not sent.is_busy()


def test_the_axis_of_the_flow_is_told_and_measured_once(sent: Sent) -> None:
    """The engine measures what it is told of, and the paper must not print the mentor's mark as one of the practice."""
    drawn = sent.act("draw mark", sent.strip, **line(FLOW_AXIS))
    assert sent.is_busy()

    assert sent.measured(SENT_MARKS) == {}
    listed = [item for item in sent.page()["review"]["measurements"] if item["given_by"] == GIVEN_BY]
    assert {item["label"].split(":")[0] for item in listed} == {FLOW_AXIS}
    assert len({item["label"] for item in listed}) == len(listed)
    sent.undo(drawn)
    sent.measured()


def test_a_strip_placed_while_the_service_ended_is_read_when_the_study_is_opened(sent: Sent) -> None:
    """The act is in the log and the engine was never told; opening the study tries once."""
    entry = new_id()
    act = PlaceClip(clip=sent.strip, view=FIVE_CHAMBER, valve=Valve.AORTIC)
    add_entry(sent.store, sent.study, act, author="M. Linden", entry=entry)
    (waiting,) = (item for item in sent.page()["review"]["measurements"] if item["given_by"] == ENGINE)

    assert "placed after it was read" in waiting["reason"]
    assert sent.is_busy()
    assert "aortic_vmax" in sent.measured()
    sent.page()
    assert not sent.is_busy()
    sent.undo(entry)
    sent.measured()


def lines(sent: Sent, clip: str) -> Any:
    return sent.browser.get(f"/api/studies/{sent.study}/clips/{clip}/lines")


def test_the_lines_of_a_strip_are_those_that_its_numbers_were_taken_at(sent: Sent) -> None:
    """The peak of each of three waves stands at its velocity: the mean over them is the number of the list."""
    assert lines(sent, sent.strip).json()["reason"] == "whose flow it is, is not known; name the valve"
    placed = sent.act("place clip", sent.strip, view=FIVE_CHAMBER, valve="aortic")
    waits = lines(sent, sent.strip).json()
    assert "placed after it was read" in waits["reason"]
    assert waits["courses"] == waits["places"] == []
    value = sent.measured()["aortic_vmax"]["value"]
    found = lines(sent, sent.strip).json()
    peaks = [item for item in found["places"] if item["quantity"] == "aortic_vmax"]

    assert (found["frame"], found["reason"]) == (0, "")
    assert [item["kind"] for item in peaks] == ["point"] * 3
    assert np.mean([item["value"] for item in peaks]) == pytest.approx(value)
    speeds = [(AXES.baseline_row_px - item["points"][0][0]) * AXES.cm_s_per_px for item in peaks]
    assert np.mean(speeds) == pytest.approx(-100 * value, abs=0.1)
    assert {item["name"] for item in found["courses"]} == {"away"}
    assert sent.page()["entries"][-1]["action"] == "place clip"  # derived, never an act
    out = sent.act("take clip out", sent.strip)
    assert lines(sent, sent.strip).json()["reason"] == "this clip was taken out of the path"
    sent.undo(out)
    sent.undo(placed)
    sent.measured()


def test_marked_scales_give_other_lines(sent: Sent) -> None:
    """Half as many milliseconds a column: the rise takes half as long, and stands where it stood."""
    placed = sent.act("place clip", sent.strip, view=FIVE_CHAMBER, valve="aortic")
    sent.measured()
    told = rises(sent)
    marked = {"axis": "time", "start": [20.0, 12.0], "end": [20.0, 812.0], "amount": 800 * AXES.ms_per_px / 2}
    scaled = sent.act("set strip scale", sent.strip, frame=0, marked=marked)
    sent.measured()
    found = rises(sent)

    for one, other in zip(told, found, strict=True):
        assert other["value"] == pytest.approx(one["value"] / 2, rel=0.15)
        assert other["points"][1][1] == pytest.approx(one["points"][1][1], abs=4)
    sent.undo(scaled)
    sent.undo(placed)
    sent.measured()


def rises(sent: Sent) -> list[Any]:
    places = lines(sent, sent.strip).json()["places"]
    return [item for item in places if item["quantity"] == "aortic_acceleration_time" and not item["reason"]]


def test_a_clip_that_is_no_strip_has_no_lines(sent: Sent) -> None:
    answer = lines(sent, sent.clip)

    assert answer.status_code == 422
    assert "neither an M-mode nor a spectrum" in answer.json()["error"]["what"]
    assert lines(sent, "0" * 16).status_code == 404


def test_lines_stay_hidden_until_a_clip_was_judged(sent: Sent, monkeypatch: pytest.MonkeyPatch) -> None:
    """They are proposals: of a clip that is judged first nothing is told."""
    monkeypatch.setattr(marks_api, "hidden_of", lambda *_: frozenset({sent.strip}))
    found = lines(sent, sent.strip).json()

    assert found["reason"] == "this clip is to be judged before a proposal is shown"
    assert found["courses"] == found["places"] == []


def line(label: str) -> dict[str, Any]:
    return {
        "mark": new_id(), "kind": "line", "frame": 0, "points": [[60, 60], [160, 90]], "landmark": "", "label": label,
    }  # fmt: skip
