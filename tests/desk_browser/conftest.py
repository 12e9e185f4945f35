"""A real service and a real browser. The folder is collected where FANLIGHT_CHROMIUM names one: see README.md."""

from __future__ import annotations

import base64
import importlib
import os
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.intake.dicom_files import native, speckle

CHROMIUM = os.environ.get("FANLIGHT_CHROMIUM", "")
collect_ignore_glob = [] if CHROMIUM else ["test_*.py"]
ROOT = Path(__file__).resolve().parents[2]
MENTOR = "M. Linden"
SIZE = {"width": 1280, "height": 720}
PATIENCE_MS = 120_000  # how long a busy machine may take for anything; no test waits longer than it must


@dataclass
class Service:
    """The desk in its own process; may be ended and started again at the same address."""

    folder: Path
    port: int = 0
    address: str = ""
    process: subprocess.Popen[str] | None = field(default=None)

    def start(self) -> None:
        command = [sys.executable, "-m", "tests.desk_browser.serve", str(self.folder), str(self.port)]
        environment = {**os.environ, "PYTHONPATH": f"{ROOT / 'src'}{os.pathsep}{ROOT}"}
        self.process = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.PIPE, text=True)
        assert self.process.stdout is not None
        self.address = self.process.stdout.readline().strip()
        self.port = int(self.address.split(":")[2].split("/")[0])

    def stop(self) -> None:
        assert self.process is not None
        self.process.kill()
        self.process.communicate()


@pytest.fixture(scope="session")
def study_files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Three clips whose pixels are known: two seconds each, 25 frames a second."""
    folder = tmp_path_factory.mktemp("clips")
    rng = np.random.default_rng(11)
    tags: dict[str, Any] = {"FrameTime": "40", "PatientName": "Juniper", "FrameIncrementPointer": 0x00181063}
    return {f"right/IM{n}.dcm": native(folder / f"IM{n}.dcm", speckle(rng, 50, 160, 240), **tags) for n in (1, 2, 3)}


def house_text(blind_share: float) -> str:
    return f"[desk.settings]\nblind_share = {blind_share}\n"


def new_service(folder: Path, blind_share: float) -> Service:
    (folder / "house.toml").write_text(house_text(blind_share))
    service = Service(folder)
    service.start()
    return service


@pytest.fixture(scope="session")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    made = new_service(tmp_path_factory.mktemp("desk"), 0.0)
    yield made
    made.stop()


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    # Only where a browser is there: the package is needed for nothing else.
    playwright = importlib.import_module("playwright.sync_api")
    with playwright.sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def inside(chromium: Any, service: Service) -> Any:
    """What a browser holds that has entered and knows its mentor."""
    return enter(chromium, service)


def new_context(chromium: Any, state: Any = None, **more: Any) -> Any:
    """Return a fresh browser profile of the desk's smallest screen."""
    context = chromium.new_context(viewport=SIZE, storage_state=state, **more)
    context.set_default_timeout(PATIENCE_MS)
    return context


def enter(chromium: Any, service: Service) -> Any:
    context = new_context(chromium)
    page = context.new_page()
    page.goto(service.address)
    page.wait_for_selector("main.waiting")
    page.evaluate("name => localStorage.setItem('fanlight.mentor', JSON.stringify(name))", MENTOR)
    state = context.storage_state()
    context.close()
    return state


@pytest.fixture
def page(chromium: Any, service: Service, inside: Any) -> Iterator[Any]:
    """A page at the waiting studies; errors of its script and refusals of its rules fail the test."""
    context = new_context(chromium, inside)
    opened = context.new_page()
    wrong: list[str] = []
    opened.on("pageerror", lambda error: wrong.append(str(error)))
    opened.on("console", lambda said: wrong.append(said.text) if "Content Security Policy" in said.text else None)
    opened.goto(f"http://127.0.0.1:{service.port}/")
    opened.wait_for_selector("main.waiting")
    yield opened
    context.close()
    assert wrong == []


@pytest.fixture(scope="session")
def study(chromium: Any, service: Service, inside: Any, study_files: dict[str, Path]) -> str:
    """A study that was sent through the page and read to its end; its id."""
    context = new_context(chromium, inside)
    opened = context.new_page()
    opened.goto(f"http://127.0.0.1:{service.port}/")
    found = send(opened, study_files)
    context.close()
    return found


def drop(page: Any, files: dict[str, Path], onto: str = "main.waiting") -> None:
    """Drop files as a person does: the page gets a drop with the files in it."""
    data = {name.split("/")[-1]: base64.b64encode(path.read_bytes()).decode() for name, path in files.items()}
    held = [{"name": name, "data": text} for name, text in data.items()]
    page.evaluate(
        """([onto, files]) => {
          const held = new DataTransfer();
          for (const { name, data } of files)
            held.items.add(new File([Uint8Array.from(atob(data), (each) => each.charCodeAt(0))], name));
          const target = document.querySelector(onto);
          for (const kind of ["dragover", "drop"])
            target.dispatchEvent(new DragEvent(kind, { dataTransfer: held, bubbles: true, cancelable: true }));
        }""",
        [onto, held],
    )


def send(page: Any, files: dict[str, Path]) -> str:
    """Drop a study, wait until it is read, and return its id."""
    page.wait_for_selector("main.waiting")
    drop(page, files)
    page.wait_for_selector(".intake a")
    address = page.get_attribute(".intake a", "href")
    read = f"read {len(files)} of {len(files)}"
    page.wait_for_selector(f'.line a[href="{address}"] .state:text("{read}")', timeout=240_000)
    return str(address).rsplit("/", 1)[-1]


def open_study(page: Any, study: str) -> None:
    """Open a study and wait for its first picture."""
    page.goto(f"{page.url.split('#')[0]}#/study/{study}")
    page.wait_for_selector("canvas[data-frame]")


def ask(page: Any, path: str) -> Any:
    """Ask the service from within the page."""
    return page.evaluate("async path => (await fetch(path)).json()", path)


def all_sent(page: Any) -> None:
    """Wait until the service has written down everything that was done."""
    page.wait_for_function("() => !Object.keys(localStorage).some((each) => each.startsWith('fanlight.acts'))")


def state_of(page: Any, study: str) -> Any:
    all_sent(page)
    return ask(page, f"/api/studies/{study}/state")["state"]


def at_rest(page: Any, study: str) -> None:
    """Wait until the engine reads nothing."""
    page.wait_for_function(
        "async study => (await (await fetch(`/api/studies/${study}`)).json()).engine.state === 'idle'",
        arg=study, polling=500,
    )  # fmt: skip
