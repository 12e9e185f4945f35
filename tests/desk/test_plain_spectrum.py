"""A plain picture of a spectrum on the desk: mode, view and axes are said there, and it is measured and judged."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import cv2
import pytest

from fanlight.desk import Desk, DeskOptions
from fanlight.desk.blind import is_drawn
from fanlight.intake import Item, Kind, Limits, probe_item
from fanlight.reference.desk import read_desk_settings
from fanlight.store import open_store
from fanlight.study import ENGINE, House
from tests.cli.test_plain_spectrum import BAND
from tests.desk.browser import Browser, new_id
from tests.desk.drafts import house_rows
from tests.plain_spectrum import VALVE, VIEW, PlainSpectrum, axes_of, draw_plain_spectrum

NAME = "strip.png"


@dataclass
class Sent:
    """A study of the picture, read to its end."""

    desk: Desk
    browser: Browser
    study: str
    clip: str
    drawn: PlainSpectrum

    def act(self, action: str, **payload: Any) -> str:
        answer = self.browser.act(self.study, action, self.clip, **payload)
        assert answer.status_code == 200, answer.text
        return str(answer.json()["entry"]["id"])

    def page(self) -> Any:
        """Return the study as a page that is opened anew sees it, once all is read."""
        until = time.monotonic() + 300
        while self.desk.engine.state(self.study).state != "idle":
            assert time.monotonic() < until
            time.sleep(0.05)
        return self.browser.get(f"/api/studies/{self.study}").json()


@pytest.fixture(scope="module")
def sent(tmp_path_factory: pytest.TempPathFactory, house: House) -> Iterator[Sent]:
    folder, drawn = tmp_path_factory.mktemp("plain"), draw_plain_spectrum()
    path = folder / NAME
    cv2.imwrite(str(path), cv2.cvtColor(drawn.pixels, cv2.COLOR_RGB2BGR))
    (clip,) = probe_item(Item(path=path, name=NAME, kind=Kind.PNG), Limits()).clips
    with (
        open_store(folder / "store") as store,
        Desk(store, house, DeskOptions(quiet_s=0.1, cache=folder / "cache")) as desk,
    ):
        browser = Browser(desk)
        browser.enter()
        study, share = new_id(), read_desk_settings(house_rows()).blind_share
        while is_drawn(study, clip.key, share):
            study = new_id()
        browser.post("/api/studies", {"title": "Juniper", "id": study})
        browser.put_file(study, NAME, path.read_bytes())
        browser.post(f"/api/studies/{study}/complete")
        until = time.monotonic() + 300
        while not (page := browser.get(f"/api/studies/{study}").json()).get("readings"):
            assert time.monotonic() < until, page
            time.sleep(0.1)
        yield Sent(desk, browser, study, clip.key, drawn)
        browser.close()


def test_a_named_mode_and_marked_axes_give_the_peak(sent: Sent) -> None:
    """As the command line gives it with a marks file; what was named is there when the page is opened again."""
    sent.page()
    sent.act("place clip", view=VIEW, valve=VALVE.value)
    for axis in axes_of(sent.drawn):
        sent.act("set strip scale", frame=0, marked=axis)
    unnamed = sent.page()["review"]["measurements"]
    assert any("name the mode" in item["reason"] for item in unnamed)

    sent.act("name mode", mode="pulsed_wave")
    page = sent.page()

    assert page["state"]["modes"][sent.clip]["mode"] == "pulsed_wave"
    (reading,) = page["readings"]
    assert reading["mode"]["mode"] == "pulsed_wave"
    found = page["review"]["measurements"]
    peak = next(item for item in found if item["name"] == "aortic_vmax" and item["given_by"] == ENGINE)
    assert peak["value"] == pytest.approx(sent.drawn.peak_m_s, rel=BAND)
    judged = {item["criterion"] for item in reading["findings"] if item["verdict"] != "not assessable"}
    assert {"spectrum_filter_gap", "spectrum_edge"} & judged
    assert 'mode = "pulsed_wave"' in sent.browser.get(f"/api/studies/{sent.study}/marks").text


def test_a_mode_that_there_is_not_is_refused(sent: Sent) -> None:
    answer = sent.browser.act(sent.study, "name mode", sent.clip, mode="spectral")

    assert 400 <= answer.status_code < 500
    assert "mode" in answer.text
    assert "spectral" in answer.text
