"""A covered study: the causes are said with the keyboard alone, and only then is anything proposed."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from fanlight.store import blind_studies, open_store
from measure._service import Service
from tests.desk.drafts import draft, keep
from tests.desk_browser.axe import violations
from tests.desk_browser.conftest import MENTOR, all_sent, enter

PANEL = ".causes-first"
HOUSE = '[desk.settings]\nblind_share = 0.0\ncauses_first_share = 1.0\ncauses_first_since = "2020-01-01"\n'


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("covered")


@pytest.fixture(scope="module")
def study(folder: Path) -> str:
    """A study whose clips were read; its id."""
    with open_store(folder / "store") as store:
        return keep(store, draft())


@pytest.fixture(scope="module")
def service(folder: Path, study: str) -> Iterator[Service]:
    """A desk that covers every study."""
    assert study
    house = folder / "house.toml"
    house.write_text(HOUSE)
    made = Service(folder / "store", house=house)
    yield made
    made.kill_all()


@pytest.fixture(scope="module")
def inside(chromium: Any, service: Service) -> Any:
    return enter(chromium, service)


def at(page: Any, place: str, study: str) -> None:
    page.goto(f"{page.url.split('#')[0]}#/{place}/{study}")


def test_causes_are_said_before_anything_is_proposed(page: Any, study: str, folder: Path) -> None:
    """In both places nothing is shown; what was said stands over the changes afterwards."""
    at(page, "letters", study)
    page.wait_for_selector(PANEL)
    assert page.locator(".changes, .corrections, .findings").count() == 0
    at(page, "study", study)
    page.wait_for_selector(PANEL)
    assert page.locator(".finding, .blind").count() == 0
    page.keyboard.press("+")  # what judges a clip elsewhere
    page.wait_for_selector("text=say first which causes you see")
    assert violations(page) == []

    said = page.locator(f'{PANEL} [aria-label="overall gain too low: runs through"]')
    said.focus()
    page.keyboard.press("Enter")
    assert said.get_attribute("aria-pressed") == "true"
    page.get_by_role("button", name="say 1 cause").focus()
    page.keyboard.press("Enter")
    page.wait_for_selector(f"{PANEL} >> text=Said by {MENTOR}")
    all_sent(page)
    assert page.locator(".finding").count() == 0  # uncovering is an act of its own

    page.locator(PANEL).get_by_role("button", name="show the proposals").focus()
    page.keyboard.press("Enter")
    page.wait_for_selector(".finding")
    assert page.locator(PANEL).count() == 0
    at(page, "letters", study)
    page.wait_for_selector(".changes")
    words = page.locator(".said-first").inner_text()
    assert words == f"Said by {MENTOR} before anything was proposed: Overall gain too low (runs through)."
    with open_store(folder / "store") as store:
        (kept,) = blind_studies(store)
    assert kept.first.said.through == ("gain_low",)
