"""A real service and a real browser, one of each a worker: see README.md. A missing browser fails the tests."""

from __future__ import annotations

import base64
import json
import os
import re
import shutil
import time
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import sync_playwright

from measure._service import Service
from tests.desk_browser.read_once import Keep, keep, once, put_aside, read_once
from tests.desk_browser.simulated import write_simulated
from tests.intake.dicom_files import native, speckle

ROOT = Path(__file__).resolve().parents[2]
MENTOR = "M. Linden"
SIZE = {"width": 1280, "height": 720}
SCHEMES = {"light": "light", "dim": "dark"}  # what the desk calls it, what a browser calls it
PATIENCE_MS = 120_000  # how long a busy machine may take for anything; no test waits longer than it must


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--write-pictures", action="store_true", help="write docs/images/desk/ anew from the desk as it is"
    )


def find_chromium() -> str:
    """Return the browser: the one that FANLIGHT_CHROMIUM names, else Chromium without a window of its own.

    The same browser with its window takes three times the processor's time: it draws the window too.
    """
    named = os.environ.get("FANLIGHT_CHROMIUM") or "chromium-headless-shell"
    found = shutil.which(named)
    if found is None:
        pytest.fail(
            f"The tests of the desk need the browser Chromium, and there is no program {named!r}. On Debian, as root:\n"
            "    apt-get update && apt-get install -y chromium-headless-shell\n"
            "or name one that is there in FANLIGHT_CHROMIUM.",
            pytrace=False,
        )
    return found


@pytest.fixture(scope="session")
def study_files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Three clips whose pixels are known: two seconds each, 25 frames a second."""
    folder = tmp_path_factory.mktemp("clips")
    rng = np.random.default_rng(11)
    tags: dict[str, Any] = {"FrameTime": "40", "PatientName": "Juniper", "FrameIncrementPointer": 0x00181063}
    return {f"right/IM{n}.dcm": native(folder / f"IM{n}.dcm", speckle(rng, 50, 160, 240), **tags) for n in (1, 2, 3)}


def house_text(blind_share: float) -> str:
    return f"[desk.settings]\nblind_share = {blind_share}\n"


@pytest.fixture(scope="session")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder that all workers of this run share."""
    own = tmp_path_factory.getbasetemp()
    return own.parent if "PYTEST_XDIST_WORKER" in os.environ else own


@pytest.fixture(scope="session")
def cache(shared: Path) -> Path:
    """Where the engine keeps what it read: the same files come again and again, in this worker and the others."""
    return shared / "desk-cache"


def new_service(folder: Path, blind_share: float, cache: Path) -> Service:
    house = folder / "house.toml"
    house.write_text(house_text(blind_share))
    return Service(folder / "store", house=house, cache=cache)


@pytest.fixture(scope="session")
def service(tmp_path_factory: pytest.TempPathFactory, cache: Path) -> Iterator[Service]:
    made = new_service(tmp_path_factory.mktemp("desk"), 0.0, cache)
    yield made
    made.kill_all()


@pytest.fixture(scope="module")  # while it is there, its event loop runs: no other test of this process could use one
def chromium() -> Iterator[Any]:
    path = find_chromium()
    with sync_playwright() as play:
        # Without the sandbox: root, as which CI runs, gets none; the pages are our own.
        # No name of another machine is looked up: nothing leaves this one.
        arguments = ["--no-sandbox", "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"]
        browser = play.chromium.launch(executable_path=path, args=arguments)
        yield browser
        browser.close()


_ENTERED: dict[str, Any] = {}  # by the service's address: a token opens the desk once


@pytest.fixture(scope="module")
def inside(chromium: Any, service: Service) -> Iterator[Any]:
    """What a browser holds that has entered and knows its mentor. At the end no study of the module waits any more."""
    if service.address not in _ENTERED:
        _ENTERED[service.address] = enter(chromium, service)
    yield _ENTERED[service.address]
    put_aside(service.data)


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


@pytest.fixture(scope="module")
def kept(service: Service, shared: Path, cache: Path) -> Keep:
    """Put a study into the service's store as if it had just been sent and read to its end, and return its id.

    The same files are read once a run, whatever is decided on each study. How reading itself looks is left to tests
    that send their files through the page.
    """

    def keep_one(files: Mapping[str, Path]) -> str:
        house = service.data.parent / "house.toml"
        return keep(service.data, read_once(files, house, cache=cache, shared=shared))

    return keep_one


@pytest.fixture(scope="module")  # what one file's tests decide is nothing to another's
def study(inside: Any, kept: Keep, study_files: dict[str, Path]) -> str:
    """A study that is read to its end; its id."""
    return kept(study_files)


@pytest.fixture(scope="session")
def simulated_files(shared: Path) -> dict[str, Path]:
    """A short examination by an improving hand: name in the study, and where it lies. One worker makes it for all."""
    folder = once(shared / "simulated", lambda made: write_simulated(made / "study", made / "truth"))
    return {path.name: path for path in sorted((folder / "study").iterdir())}


@pytest.fixture(scope="module")
def simulated(inside: Any, kept: Keep, simulated_files: dict[str, Path]) -> str:
    """The simulated study, read to its end; its id."""
    return kept(simulated_files)


@pytest.fixture(scope="session")
def views(simulated_files: dict[str, Path]) -> dict[int, str]:
    """Number of each clip to the view that it shows, as the simulator knows it."""
    truth = simulated_files["request.toml"].parent.parent / "truth"
    names = [name for name in sorted(simulated_files) if name.endswith(".dcm")]
    known = [json.loads((truth / name).with_suffix(".json").read_text("utf-8")) for name in names]
    return {n: each["view"] for n, each in enumerate(known, start=1)}


@pytest.fixture(scope="session")
def valves(simulated_files: dict[str, Path]) -> dict[int, str]:
    """Number of each Doppler clip to its valve."""
    truth = simulated_files["request.toml"].parent.parent / "truth"
    names = [name for name in sorted(simulated_files) if name.endswith(".dcm")]
    known = [json.loads((truth / name).with_suffix(".json").read_text("utf-8"))["doppler"] for name in names]
    return {n: each["valve"] for n, each in enumerate(known, start=1) if each is not None}


@pytest.fixture(params=SCHEMES)
def scheme(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def at_desk(chromium: Any, service: Service, inside: Any, simulated: str, scheme: str) -> Iterator[Any]:
    """A page at the waiting studies, light or dim, while a simulated study waits."""
    context = new_context(chromium, inside, color_scheme=SCHEMES[scheme], reduced_motion="reduce")
    page = context.new_page()
    page.goto(f"http://127.0.0.1:{service.port}/")
    page.wait_for_selector(".line a")
    yield page
    context.close()


def turn(page: Any) -> None:
    """Go on to the next theme by its key: from as the room is to light, to dim, and back."""
    theme = "document.documentElement.dataset.theme"
    was = page.evaluate(theme)
    page.keyboard.press("F9")
    page.wait_for_function(f"was => {theme} !== was", arg=was)


def told_otherwise(page: Any, address: str, change: Any) -> None:
    """Let an answer of the service reach the page changed: a state that would take long to come to."""

    def answer(route: Any) -> None:
        said = route.fetch()
        route.fulfill(response=said, json=change(said.json()))

    page.route(address, answer)


@pytest.fixture(scope="module")
def again(
    chromium: Any, service: Service, inside: Any, kept: Keep,
    simulated_files: dict[str, Path], tmp_path_factory: pytest.TempPathFactory,
) -> str:  # fmt: skip
    """The first clip of the simulated study as a study of its own, of an earlier day, placed in the first step."""
    name = next(name for name in sorted(simulated_files) if name.endswith(".dcm"))
    sheet = tmp_path_factory.mktemp("again") / "request.toml"
    words = simulated_files["request.toml"].read_text("utf-8")
    sheet.write_text(re.sub(r"examined_at = \S+", "examined_at = 2025-05-06T10:20:00", words), "utf-8")
    found = kept({name: simulated_files[name], "request.toml": sheet})
    context = new_context(chromium, inside)
    opened = context.new_page()
    opened.goto(f"http://127.0.0.1:{service.port}/")
    open_study(opened, found)
    place_first(opened, "a")
    at_rest(opened, found)
    context.close()
    return found


def place_first(page: Any, letter: str) -> None:
    """Place the first clip by a letter that the path has: another one places nothing."""
    page.keyboard.press("Home")
    page.keyboard.press(letter)
    page.wait_for_selector(f".told:has-text('Clip 1 is in {letter}')")
    all_sent(page)


def choose_tool(page: Any, name: str) -> None:
    """Choose what is drawn, by its key; the keyboard is on the picture then."""
    for _ in range(6):
        page.keyboard.press("F2")
        page.wait_for_selector(".mark-layer:focus")
        if page.locator(f".tools [aria-pressed=true]:text-is('{name}')").count():
            return
    raise AssertionError(f"no tool {name}")


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
    """Send a study through the page, wait until it is read, and return its id."""
    page.wait_for_selector("main.waiting")
    page.set_input_files(".drop input:not([webkitdirectory])", list(files.values()))
    page.wait_for_selector(".intake a")
    address = page.get_attribute(".intake a", "href")
    n = sum(name.endswith(".dcm") for name in files)
    read = f"read {n} of {n}"
    page.wait_for_selector(f'.line a[href="{address}"] .state:text("{read}")', timeout=240_000)
    return str(address).rsplit("/", 1)[-1]


def open_study(page: Any, study: str) -> None:
    """Open a study and wait for its first picture."""
    page.goto(f"{page.url.split('#')[0]}#/study/{study}")
    page.wait_for_selector("canvas[data-frame]")


def to_the_letters(page: Any, study: str, finding: str) -> None:
    """Say a finding on the clip that stands, and go to the letters of a study that is read."""
    page.keyboard.press("/")
    page.keyboard.type(finding)
    page.keyboard.press("Enter")
    all_sent(page)
    page.keyboard.press("F8")
    page.wait_for_selector("main.letters iframe")
    at_rest(page, study)


def sign(page: Any, kind: str, button: str) -> None:
    """Press the button of a paper that asks for a signature, and give it."""
    page.click(f"section.paper[aria-label={kind.capitalize()}] >> text={button}")
    page.press(f"[aria-label='Signature of the {kind}'] .sign", "Enter")


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
    end_s = time.monotonic() + PATIENCE_MS / 1000
    # Asked from here: within the page a condition that has to wait for an answer would count as met.
    while (state := ask(page, f"/api/studies/{study}")["engine"]["state"]) != "idle":
        assert time.monotonic() < end_s, f"the engine is still {state}"
        page.wait_for_timeout(500)  # the answer holds the whole study, and the engine needs the processor
