"""Calipers that the engine laid on a short axis, in a real browser: shown, kept as proposed, and moved."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from measure._service import Service
from tests.desk_browser.axe import violations
from tests.desk_browser.conftest import SCHEMES, SIZE, all_sent, ask, at_rest, new_context, open_study, state_of
from tests.desk_browser.read_once import Keep
from tests.desk_browser.test_pictures import MOST_BYTES, PICTURES

SHORT = "right_parasternal_short_axis_papillary_muscles"
KEPT = ".mark-list:has-text('kept as proposed')"


@pytest.fixture(scope="module")
def read(inside: Any, kept: Keep, simulated_files: dict[str, Path], views: dict[int, str]) -> str:
    """A study of the simulated short axis at the papillary muscles alone, read by the shipped network; its id."""
    names = [name for name in sorted(simulated_files) if name.endswith(".dcm")]
    name = names[min(number for number, view in views.items() if view == SHORT) - 1]
    return kept({name: simulated_files[name]})


def show_found(page: Any, study: str) -> None:
    """Open the clip, placed where it belongs, with what is proposed on the picture."""
    open_study(page, study)
    view = next(each for each in ask(page, f"/api/studies/{study}")["plan"]["steps"] if each["view"] == SHORT)
    if not state_of(page, study)["placements"]:
        page.keyboard.press(view["letter"])
        page.wait_for_selector(".told:has-text('is in')")
        all_sent(page)
        at_rest(page, study)
    page.keyboard.press("Shift+F2")
    page.wait_for_selector(".found-list .found-name:has-text('LV')")


def test_calipers_are_shown_kept_as_proposed_and_a_hands_once_moved(
    chromium: Any, service: Service, inside: Any, read: str, scheme: str, pytestconfig: pytest.Config, tmp_path: Path
) -> None:
    """With --write-pictures they go into the documentation; nothing of it fails axe-core."""
    context = new_context(chromium, inside, color_scheme=SCHEMES[scheme], reduced_motion="reduce")
    page = context.new_page()
    page.goto(f"http://127.0.0.1:{service.port}/")
    show_found(page, read)
    folder = PICTURES if pytestconfig.getoption("--write-pictures", default=False) else tmp_path
    page.locator(".found-panel").evaluate("each => each.scrollIntoView({ block: 'end' })")
    picture = Image.open(BytesIO(page.screenshot())).convert("RGB")
    path = folder / f"calipers-{scheme}.png"
    picture.quantize(256, dither=Image.Dither.NONE).save(path, optimize=True)
    assert picture.size == (SIZE["width"], SIZE["height"])
    assert path.stat().st_size <= MOST_BYTES
    assert np.asarray(picture.convert("L"), float).std() > 10
    assert violations(page) == []

    n = page.locator(".found-list li").count()
    page.keyboard.press("Shift+F3")
    page.wait_for_selector(KEPT)
    all_sent(page)
    marks = [each for each in state_of(page, read)["marks"] if each["kind"] == "line"]
    assert 0 < len(marks) <= n
    assert all(each["proposed_spread_px"] > 0 for each in marks)
    page.click(".top button:has-text('measurements')")
    page.wait_for_selector(".panel.numbers .standing:has-text('kept as proposed')")
    page.keyboard.press("Escape")
    page.locator(f".handle[data-handle^='{marks[0]['mark']}']").first.focus()
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Enter")
    all_sent(page)
    moved = next(each for each in state_of(page, read)["marks"] if each["mark"] == marks[0]["mark"])
    assert moved["proposed_spread_px"] is None
    for each in state_of(page, read)["marks"]:
        page.locator(".mark-list button:has-text('take off')").first.click()
        page.wait_for_selector(f".handle[data-handle^='{each['mark']}']", state="detached")
    all_sent(page)
    context.close()
