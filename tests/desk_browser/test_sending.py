"""Files on their way in: what is left out is named, what had no room is sent again, acts have their turn."""

from __future__ import annotations

import json
import threading
from pathlib import Path
from typing import Any

from tests.desk_browser.axe import violations
from tests.desk_browser.conftest import ask, drop, open_study

FULL = {"error": {"what": "the disk is full", "where": "store", "remedy": "Make room."}}


def test_a_file_without_room_is_sent_again_by_a_button(page: Any, study_files: dict[str, Path]) -> None:
    """And one that a system keeps for itself is named as left out, with the reason."""
    page.route(
        "**/files?name=IM2.dcm", lambda route: route.fulfill(status=507, body=json.dumps(FULL)), times=1
    )  # fmt: skip
    drop(page, {**study_files, ".hidden.dcm": next(iter(study_files.values()))})
    page.wait_for_selector(".intake a")
    assert "2 of 3 files received" in page.inner_text(".intake")
    assert "1 file refused" in page.inner_text(".intake")
    page.wait_for_selector(".fates li:has-text('.hidden.dcm'):has-text('left out'):has-text('begins with a dot')")
    page.wait_for_selector(".fates li:has-text('IM2.dcm'):has-text('the disk is full')")
    found = violations(page)
    page.press(".intake button:has-text('send again')", "Enter")
    page.wait_for_selector(".intake:has-text('3 of 3 files received')")

    study = str(page.get_attribute(".intake a", "href")).rsplit("/", 1)[-1]
    assert sorted(each["name"] for each in ask(page, f"/api/studies/{study}")["files"]) == [
        "IM1.dcm", "IM2.dcm", "IM3.dcm",
    ]  # fmt: skip
    assert page.locator(".intake button:has-text('send again')").count() == 0
    assert found == []


def test_a_study_that_the_engine_gave_up_is_read_again(page: Any, study: str) -> None:
    """The reason stands in the page, with clips there too; the button asks the service once."""
    error = {"what": "it ended three times in a row", "where": "clip 2", "remedy": "Read it again."}
    address = f"**/api/studies/{study}"

    def failed(route: Any) -> None:
        said = route.fetch()
        route.fulfill(response=said, json={**said.json(), "engine": {"state": "idle", "error": error}})

    page.route(address, failed)
    open_study(page, study)
    page.wait_for_selector(".engine-trouble:has-text('clip 2: it ended three times in a row')")
    found = violations(page)
    page.unroute(address)
    heard = threading.Event()
    page.on("request", lambda request: heard.set() if request.url.endswith("/complete") else None)
    page.press(".engine-trouble button", "Enter")

    page.wait_for_selector(".engine-trouble", state="detached")
    assert heard.is_set()
    assert found == []
