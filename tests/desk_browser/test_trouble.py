"""What a mentor sees, and what is kept, when the service dies, when two pages work, when a frame is broken."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pydicom import uid

from measure._service import Service
from tests.desk_browser.axe import violations
from tests.desk_browser.conftest import (
    all_sent,
    ask,
    enter,
    new_context,
    new_service,
    open_study,
    send,
    state_of,
)
from tests.desk_browser.read_once import Keep, keep, read_once
from tests.intake.dicom_files import fragmented, jpeg_codes, speckle

AWAY = ".away"
BROKEN_FRAME = 5
N_FRAMES = 10


@dataclass
class Desk:
    """A study of its own, and a browser that has entered the service that holds it."""

    service: Service
    context: Any
    study: str

    def page(self) -> Any:
        page = self.context.new_page()
        page.goto(f"http://127.0.0.1:{self.service.port}/")
        open_study(page, self.study)
        return page


def desk_with(chromium: Any, service: Service, inside: Any, study: str) -> Iterator[Desk]:
    context = new_context(chromium, inside)
    try:
        yield Desk(service, context, study)
    finally:
        context.close()


@pytest.fixture
def desk(chromium: Any, service: Service, inside: Any, kept: Keep, study_files: dict[str, Path]) -> Iterator[Desk]:
    yield from desk_with(chromium, service, inside, kept(study_files))


@pytest.fixture
def mortal(chromium: Any, tmp_path: Path, cache: Path, shared: Path, study_files: dict[str, Path]) -> Iterator[Desk]:
    """A desk whose service the test may end."""
    service = new_service(tmp_path, 0.0, cache)
    try:
        study = keep(service.data, read_once(study_files, tmp_path / "house.toml", cache=cache, shared=shared))
        yield from desk_with(chromium, service, enter(chromium, service), study)
    finally:
        service.kill_all()


def sent(chromium: Any, service: Service, inside: Any, files: dict[str, Path]) -> str:
    """Send a study through the page and have it read; return its id."""
    context = new_context(chromium, inside)
    page = context.new_page()
    page.goto(f"http://127.0.0.1:{service.port}/")
    study = send(page, files)
    context.close()
    return study


def actions(page: Any, study: str) -> list[str]:
    return [each["action"] for each in ask(page, f"/api/studies/{study}")["entries"]]


def words(page: Any, selector: str, said: str) -> str:
    page.wait_for_selector(f"{selector}:has-text('{said}')")
    return str(page.locator(selector).first.inner_text())


def test_a_service_that_dies_while_one_decides_loses_nothing(mortal: Desk) -> None:
    """Acts are kept, also over the closing of the page; the words say so, and what to do."""
    desk = mortal
    page = desk.page()
    page.keyboard.press("b")
    all_sent(page)
    desk.service.kill_all()
    page.keyboard.press("c")
    page.keyboard.press("1")
    said = words(page, AWAY, "2 acts kept")
    assert "does not answer" in said
    assert violations(page) == []
    assert page.locator(".step.here .letter").inner_text() == "c"  # shown at once, as said

    desk.service.start()
    words(page, AWAY, "open the address that it printed")
    page.close()  # with both acts unsent
    page = desk.context.new_page()
    page.goto(desk.service.address)
    page.wait_for_selector("main.waiting")
    all_sent(page)

    open_study(page, desk.study)
    assert actions(page, desk.study) == ["place clip", "place clip", "tick item"]
    assert page.locator(AWAY).count() == 0
    assert page.locator(".step.here .letter").inner_text() == "c"


def test_two_pages_on_one_study_see_each_other(desk: Desk) -> None:
    """Both pages' acts are kept; what one takes back of the other's is said, and can be put back."""
    first, second = desk.page(), desk.page()
    first.keyboard.press("b")
    second.wait_for_selector(".step.here .letter:text('b')")
    second.keyboard.press("ArrowDown")
    second.keyboard.press("c")
    all_sent(second)
    first.wait_for_selector(".step:has(.letter:text-is('c')) .tile:has-text('2')")
    placed = state_of(first, desk.study)["placements"]
    assert len(placed) == 2

    first.keyboard.press("Backspace")
    assert "Clip 2: place clip. Said by M. Linden, not in this page." in words(first, ".told", "Taken back.")
    first.keyboard.press("Backspace")
    said = words(first, ".told", "Clip 1: place clip.")
    assert "not in this page" not in said
    first.keyboard.press("Shift+Backspace")
    first.keyboard.press("Shift+Backspace")
    all_sent(first)

    assert state_of(first, desk.study)["placements"] == placed
    second.wait_for_selector(".step:has(.letter:text-is('c')) .tile:has-text('2')")


def test_a_page_does_not_send_what_another_page_keeps(desk: Desk) -> None:
    """Unsent acts belong to their page while it lives; a taking back is not sent twice."""
    first = desk.page()
    first.keyboard.press("b")
    first.keyboard.press("ArrowDown")
    first.keyboard.press("c")
    all_sent(first)
    first.context.set_offline(True)
    first.keyboard.press("Backspace")
    words(first, AWAY, "1 act kept")
    first.context.set_offline(False)
    second = desk.page()
    all_sent(second)

    assert len(state_of(second, desk.study)["placements"]) == 1
    assert actions(second, desk.study) == ["place clip", "place clip", "undo"]
    assert first.locator("[role=alert]").count() + second.locator("[role=alert]").count() == 0


def test_a_database_that_another_program_holds_is_said_in_the_page(desk: Desk) -> None:
    """The reason stands in the service's words; the act is kept and sent by itself."""
    page = desk.page()
    with closing(sqlite3.connect(desk.service.data / "fanlight.sqlite", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        page.keyboard.press("b")
        said = words(page, AWAY, "another program has been writing")
        assert "1 act kept in this browser, sent again by itself" in said
        other.execute("ROLLBACK")
    all_sent(page)

    page.wait_for_selector(AWAY, state="detached")
    assert actions(page, desk.study) == ["place clip"]


def test_an_act_that_is_refused_is_told(desk: Desk) -> None:
    """With what was meant and why; the acts after it are done."""
    page = desk.page()
    page.evaluate(
        """async study => {
          const { act } = await import("/acts.js");
          act(study, "M. Linden", "accept finding", { clip: "no such clip", criterion: "x" }, "");
        }""",
        desk.study,
    )
    page.keyboard.press("b")

    assert "the engine has no finding x there" in words(page, "[role=alert]", "Not done")
    all_sent(page)
    assert actions(page, desk.study) == ["place clip"]
    page.click("text=I have read it")
    assert page.locator("[role=alert]").count() == 0


def test_a_broken_frame_is_named_and_the_clip_goes_on(
    chromium: Any, service: Service, inside: Any, tmp_path: Path
) -> None:
    """The frames before and after it are shown; none stands in its place."""
    codes = jpeg_codes(speckle(np.random.default_rng(3), N_FRAMES, 160, 240))
    codes[BROKEN_FRAME] = codes[BROKEN_FRAME][: len(codes[0]) // 2] + b"\xff\xd9"
    shape = np.zeros((N_FRAMES, 160, 240), np.uint8)
    path = fragmented(tmp_path / "IM1.dcm", shape, codes, uid.JPEGBaseline8Bit, FrameTime="40", PatientName="Juniper")
    for desk in desk_with(chromium, service, inside, sent(chromium, service, inside, {"IM1.dcm": path})):
        page = desk.page()
        page.keyboard.press("Space")
        page.keyboard.press("Home")
        shown = {}
        for _ in range(N_FRAMES):
            frame = int(page.get_attribute(".picture canvas", "data-frame"))
            page.keyboard.press("ArrowRight")
            page.wait_for_selector(f".picture canvas[data-frame='{(frame + 1) % N_FRAMES}']")
            shown[(frame + 1) % N_FRAMES] = (lit(page), page.locator(".picture-broken").all_inner_texts())
            if (frame + 1) % N_FRAMES == BROKEN_FRAME:
                assert violations(page) == []

        assert sorted(shown) == list(range(N_FRAMES))
        for frame, (is_lit, said) in shown.items():
            assert is_lit is (frame != BROKEN_FRAME)
            assert [each.split(":")[0] for each in said] == (
                [f"frame {BROKEN_FRAME + 1} cannot be decoded"] if frame == BROKEN_FRAME else []
            )
        assert "All others are shown." in words(page, ".picture-trouble", f"Frame {BROKEN_FRAME + 1} cannot be")
        page.keyboard.press("b")
        assert len(state_of(page, desk.study)["placements"]) == 1


def lit(page: Any) -> bool:
    """Return whether anything is drawn on the stage."""
    return bool(
        page.evaluate(
            """() => {
              const canvas = document.querySelector(".picture canvas");
              const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
              return data.some((each, k) => k % 4 === 3 && each > 0);
            }"""
        )
    )


def test_pictures_that_do_not_come_are_asked_for_again(desk: Desk) -> None:
    """The page says that it waits, and for what; when they come it says nothing more, and shows them."""
    is_busy = True
    error = {"what": "no time for its frames", "where": "IM1", "remedy": "Ask again."}

    def answer(route: Any) -> None:
        if is_busy:
            route.fulfill(status=503, json={"error": error})
        else:
            route.continue_()

    desk.context.route("**/frames?*", answer)
    page = desk.context.new_page()
    page.goto(f"http://127.0.0.1:{desk.service.port}/#/study/{desk.study}")
    said = words(page, ".picture-trouble", "asked for again")
    assert "no time for its frames" in said
    assert page.locator("canvas[data-frame]").count() == 0
    assert violations(page) == []
    is_busy = False

    page.wait_for_selector("canvas[data-frame]")
    page.wait_for_selector(".picture-trouble", state="detached")
    assert lit(page)
