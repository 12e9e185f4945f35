"""The signed letter as a file of its own: opened from the disk, the network off, its excerpts play."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.desk_browser.axe import violations
from tests.desk_browser.conftest import ask, new_context, open_study, sign, to_the_letters
from tests.desk_browser.read_once import Keep
from tests.intake.dicom_files import native


def fan_clip(path: Path) -> Path:
    """Speckle in a fan that brightens and darkens once a second: two seconds, 25 frames a second."""
    rng = np.random.default_rng(5)
    rows, cols = np.mgrid[0:480, 0:640]
    radius, angle = np.hypot(rows - 20, cols - 320), np.degrees(np.arctan2(cols - 320, rows - 20))
    inside = (radius < 430) & (np.abs(angle) < 42)
    frames = []
    for k in range(50):
        speckle = rng.rayleigh(30 + 15 * np.sin(2 * np.pi * k / 25), (480, 640))
        frames.append(np.where(inside, np.clip(speckle, 4, 255), 0))
    tags: dict[str, Any] = {"FrameTime": "40", "PatientName": "Juniper", "FrameIncrementPointer": 0x00181063}
    return native(path, np.array(frames, np.uint8), **tags)


@pytest.fixture(scope="module")
def signed_letter(
    chromium: Any, service: Any, inside: Any, kept: Keep, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, Any]:
    """The letter's file, as the service keeps it, and what the page said of its study at the end."""
    folder = tmp_path_factory.mktemp("letter")
    context = new_context(chromium, inside)
    page = context.new_page()
    page.goto(f"http://127.0.0.1:{service.port}/")
    study = kept({"fan.dcm": fan_clip(folder / "fan.dcm")})
    open_study(page, study)
    to_the_letters(page, study, "The plane leaves the septum.")
    sign(page, "summary", "sign the summary")
    page.wait_for_selector(".signed")
    page.select_option(".exercise select", index=1)
    page.fill(".exercise input:not([type])", "the whole left atrium")
    sign(page, "letter", "sign the letter")
    page.wait_for_function("() => document.querySelectorAll('.signed').length === 2")
    whole = ask(page, f"/api/studies/{study}")
    letter = next(each for each in whole["documents"] if each["kind"] == "letter")
    text = page.evaluate("async id => (await fetch(`/api/documents/${id}/letter.html`)).text()", letter["id"])
    context.close()
    path = folder / "letter.html"
    path.write_text(text, "utf-8")
    return path, whole


def opened(chromium: Any, path: Path, asked: list[str], **more: Any) -> tuple[Any, Any]:
    context = new_context(chromium, offline=True, **more)
    page = context.new_page()
    page.on("request", lambda request: asked.append(request.url))
    page.goto(path.as_uri())
    return context, page


def looks(page: Any, n: int = 6) -> int:
    """How many different pictures an excerpt shows within a second."""
    excerpt = page.locator(".excerpt .pictures").first
    excerpt.scroll_into_view_if_needed()
    seen = set()
    for _ in range(n):
        seen.add(excerpt.screenshot())
        page.wait_for_timeout(130)
    return len(seen)


def test_the_letter_plays_from_the_disk_and_asks_nobody(chromium: Any, signed_letter: tuple[Path, Any]) -> None:
    """Excerpts move by themselves, hold still on a key, and move again; only the file itself was asked for."""
    path, _ = signed_letter
    asked: list[str] = []
    context, page = opened(chromium, path, asked)

    assert looks(page) >= 3
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "turn"
    page.keyboard.press(" ")
    assert looks(page) == 1
    assert page.locator(".excerpt .still").first.is_visible()
    page.keyboard.press(" ")
    assert looks(page) >= 3
    assert [each for each in asked if not each.startswith("data:")] == [path.as_uri()]
    context.close()


def test_who_wants_less_motion_sees_a_still_until_asked(chromium: Any, signed_letter: tuple[Path, Any]) -> None:
    path, _ = signed_letter
    context, page = opened(chromium, path, [], reduced_motion="reduce")

    assert looks(page) == 1
    assert page.get_by_label("play: The plane leaves the septum").count() == 1
    page.keyboard.press("Tab")
    page.keyboard.press(" ")
    assert looks(page) >= 3
    context.close()


@pytest.mark.parametrize("motion", ["no-preference", "reduce"])
def test_the_letter_keeps_nobody_out(chromium: Any, signed_letter: tuple[Path, Any], motion: str) -> None:
    path, _ = signed_letter
    context, page = opened(chromium, path, [], reduced_motion=motion)

    assert violations(page) == []
    context.close()


def test_the_letter_names_its_signature_for_what_it_is(chromium: Any, signed_letter: tuple[Path, Any]) -> None:
    path, _ = signed_letter
    context, page = opened(chromium, path, [])

    assert "locally entered name, not authenticated" in page.locator("main").inner_text()
    assert page.locator("script").count() == 0
    context.close()
