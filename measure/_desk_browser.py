"""The desk in Chromium: how long a first frame and a step take, and how much memory a study takes."""

from __future__ import annotations

import importlib
import os
import random
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from measure._service import Service, processes

STEPS = 25  # a clip
REPEAT_MS = 33  # between two steps: a key that is held (common practice, no source)
_MARK = "--fanlight-measure"
_WITHIN_MS = 600_000
_COUNT = "name => performance.getEntriesByName(`fanlight: ${name}`).length"


def chromium_path() -> str:
    """Return where Chromium lies."""
    names = ("chromium", "chromium-browser", "google-chrome")
    found = os.environ.get("FANLIGHT_CHROMIUM") or next(filter(None, map(shutil.which, names)), None)
    if not found:
        raise SystemExit("no Chromium was found: install it, or name it in FANLIGHT_CHROMIUM")
    return found


@dataclass
class Played:
    """Times in ms, by the form in which the frames travelled."""

    first_next: dict[str, list[float]] = field(default_factory=dict)  # of the clip after this one
    first_any: dict[str, list[float]] = field(default_factory=dict)  # of a clip that nobody could foresee
    step: dict[str, list[float]] = field(default_factory=dict)
    open_ms: list[float] = field(default_factory=list)  # from the address to the first picture of a study
    heap_mb: float = 0.0
    browser_mb: float = 0.0


@contextmanager
def browser_page(service: Service) -> Iterator[Any]:
    """Give a page of a fresh browser that has entered the desk."""
    playwright = importlib.import_module("playwright.sync_api")
    with playwright.sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium_path(), args=["--no-sandbox", f"{_MARK}={os.getpid()}"])
        context = browser.new_context(viewport={"width": 1280, "height": 720})
        context.set_default_timeout(_WITHIN_MS)
        page = context.new_page()
        page.goto(service.address)
        page.wait_for_selector("main.waiting")
        yield page
        browser.close()


def play(page: Any, study: str, n_clips: int, seed: int) -> Played:
    """Open a study, step through all its clips in order, then jump to clips at random."""
    found = Played()
    for _ in range(3):
        page.goto(f"{page.url.split('#')[0]}#/")
        page.wait_for_selector("main.waiting")
        start = page.evaluate("() => performance.now()")
        page.evaluate("study => { location.hash = `#/study/${study}`; }", study)
        page.wait_for_selector("canvas[data-frame]")
        found.open_ms.append(page.evaluate("() => performance.now()") - start)
    page.keyboard.press("Home")
    for k in range(n_clips):
        if k:
            _clip(page, found.first_next, lambda: page.keyboard.press("ArrowDown"))
        _steps(page, found.step)
    page.wait_for_timeout(1000)
    found.heap_mb = page.evaluate("() => performance.memory.usedJSHeapSize") / 1e6
    found.browser_mb = _browser_mb()
    page.evaluate("() => performance.clearMeasures()")
    page.reload()  # what was fetched is forgotten
    page.wait_for_selector("canvas[data-frame]")
    order = list(range(1, n_clips))
    random.Random(seed).shuffle(order)
    for k in order:
        tile = page.locator(f".tile >> text=/^\\s*{k + 1}\\s*$/").first
        _clip(page, found.first_any, tile.click)
    return found


def _clip(page: Any, times: dict[str, list[float]], deed: Any) -> None:
    n = page.evaluate(_COUNT, "first frame")
    deed()
    page.wait_for_function(f"n => ({_COUNT})('first frame') > n", arg=n)
    times.setdefault(_form(page), []).append(_last(page, "first frame"))


def _steps(page: Any, times: dict[str, list[float]]) -> None:
    if "stop" in page.locator(".stage-bar .wide").first.inner_text():
        page.keyboard.press("Space")
    n = page.evaluate(_COUNT, "step")
    for k in range(STEPS):
        page.keyboard.press("ArrowRight")
        page.wait_for_function(f"n => ({_COUNT})('step') > n", arg=n + k)
        times.setdefault(_form(page), []).append(_last(page, "step"))
        page.wait_for_timeout(REPEAT_MS)


def _last(page: Any, name: str) -> float:
    return float(page.evaluate("name => performance.getEntriesByName(`fanlight: ${name}`).at(-1).duration", name))


def _form(page: Any) -> str:
    return "raw" if "raw" in page.locator(".stage-head .facts").first.inner_text() else "JPEG baseline"


def _browser_mb() -> float:
    """Return the memory of all processes of the browser, each page of memory counted once (PSS), MB."""
    parents = {pid: parent for pid, parent, _ in processes()}
    root = next(pid for pid in parents if f"{_MARK}={os.getpid()}" in _words(pid))
    mine = {root}
    while more := {pid for pid, parent in parents.items() if parent in mine} - mine:
        mine |= more
    return sum(_pss_mb(pid) for pid in mine)


def _words(pid: int) -> str:
    try:
        return Path(f"/proc/{pid}/cmdline").read_text()
    except OSError:
        return ""


def _pss_mb(pid: int) -> float:
    try:
        lines = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
    except OSError:
        return 0.0
    return sum(float(line.split()[1]) for line in lines if line.startswith("Pss:")) * 1024 / 1e6
