"""A movement among the changes says where the probe stood and by which landmarks."""

from __future__ import annotations

from typing import Any

import pytest

from fanlight.store import add_entry, open_store
from fanlight.store.actions import AcceptFinding
from measure._service import Service
from tests.desk.drafts import keep
from tests.desk.test_decided_movements import ROCKED, drafted, landmarks
from tests.desk_browser.axe import violations
from tests.desk_browser.conftest import MENTOR, SCHEMES, turn


@pytest.fixture(scope="module")
def study(service: Service) -> str:
    """A study of two clips whose landmarks were sent with them."""
    with open_store(service.data) as store:
        found = keep(store, drafted(landmarks(ROCKED), landmarks(ROCKED, 2), n=2))
        for number in (1, 2):
            act = AcceptFinding(clip=f"k{number}", criterion="target_centred")
            add_entry(store, found, act, author=MENTOR, entry=f"00000000-0000-4000-8000-{number:012}")
    return found


def test_what_a_movement_stands_on_is_shown_clip_by_clip(page: Any, study: str) -> None:
    page.goto(f"{page.url.split('#')[0]}#/letters/{study}")
    page.wait_for_selector(".changes .change")
    assert "behind 2 findings" in page.locator(".change").inner_text()
    page.click(".change summary:has-text('what it stands on')")
    shown = page.locator(".change details:has(summary:has-text('what it stands on')) li")
    assert shown.count() == 2
    assert ": very likely rocked too far towards the marker, by" in shown.first.inner_text()
    assert "marked by a person" in shown.first.inner_text()
    for _ in SCHEMES:
        turn(page)
        assert violations(page) == []
    shown.nth(1).locator("button").click()
    page.wait_for_selector(".stage-head h2:text-is('clip 2')")
