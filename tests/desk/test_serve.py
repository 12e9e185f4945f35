"""The command as it is started: a real socket, one address that lets one browser in, and a clean end."""

from __future__ import annotations

import contextlib
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pytest

from fanlight.cli.desk import has_display
from fanlight.desk import listen
from tests.intake.dicom_files import native, speckle

ROOT = Path(__file__).resolve().parents[2]
if sys.platform == "win32":
    END, GROUP, ENDED = signal.CTRL_BREAK_EVENT, subprocess.CREATE_NEW_PROCESS_GROUP, (0, 0xC000013A)
else:
    END, GROUP, ENDED = signal.SIGINT, 0, (0,)


@pytest.mark.parametrize(
    ("host", "hosts"), [("127.0.0.1", ["127.0.0.1", "localhost"]), ("::1", ["[::1]", "localhost"])]
)
def test_the_address_keeps_the_token_from_the_wire(host: str, hosts: list[str]) -> None:
    """It stands behind "#"; the names are those of this machine, with the port that was found."""
    try:
        listening = listen(0, host)
    except OSError:
        assert host == "::1"  # a machine without IPv6
        return
    with listening.socket:
        port = listening.socket.getsockname()[1]

        assert list(listening.hosts) == [f"{name}:{port}" for name in hosts]
        assert listening.address == f"http://{hosts[0]}:{port}/#token={listening.token}"
        assert len(listening.token) >= 40
        with pytest.raises(OSError, match="in use"):
            listen(port, host)


@pytest.mark.parametrize("host", ["0.0.0.0", "192.0.2.1", "::"])
def test_no_other_machine_can_reach_it(host: str) -> None:
    """Loopback only; 192.0.2.1 is an address for documentation (RFC 5737)."""
    with pytest.raises(ValueError, match="this machine only"):
        listen(0, host)


@pytest.fixture
def served(tmp_path: Path) -> Iterator[tuple[subprocess.Popen[str], str, str]]:
    with started(tmp_path) as (process, host, token):
        yield process, host, token


@contextlib.contextmanager
def started(folder: Path, *more: str) -> Iterator[tuple[subprocess.Popen[str], str, str]]:
    environment = dict(os.environ) | {"FANLIGHT_CACHE": str(folder / "c"), "FANLIGHT_DATA": str(folder / "d")}
    command = [sys.executable, "-m", "fanlight.cli", "desk", "--port", "0", "--no-open", *more]
    with subprocess.Popen(
        command,
        cwd=ROOT,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        creationflags=GROUP,
    ) as process:
        assert process.stdout is not None
        found = None
        while found is None:
            found = re.search(r"http://(\S+)/#token=(\S+)", process.stdout.readline())
            assert process.poll() is None
        try:
            yield process, found[1], found[2]
        finally:
            process.kill()


def test_the_command_serves_one_browser_and_ends_cleanly(
    served: tuple[subprocess.Popen[str], str, str], tmp_path: Path
) -> None:
    process, host, token = served
    with httpx.Client(base_url=f"http://{host}", headers={"origin": f"http://{host}"}, timeout=30) as client:
        assert client.get("/api/waiting").status_code == 401
        assert client.post("/enter", json={"token": token}).status_code == 204
        assert client.get("/api/waiting").json()["n_all"] == 0
        with client.stream("GET", "/api/events") as events:
            assert next(events.iter_lines()).startswith("id: ")
            process.send_signal(END)  # with a page still listening

            assert process.wait(120) in ENDED
    assert process.stdout is not None
    assert process.stdout.read() == ""
    assert list((tmp_path / "d" / "store" / "scratch").iterdir()) == []


def _listed_with_path(client: httpx.Client) -> list[dict[str, Any]]:
    """Return the list once the small pictures of its paths are worked out; the service does that beside other work."""
    until = time.monotonic() + 60
    while True:
        studies: list[dict[str, Any]] = client.get("/api/waiting").json()["studies"]
        if all(item["path"] for item in studies) or time.monotonic() > until:
            return studies
        time.sleep(0.05)


def test_studies_are_read_before_the_desk_opens_and_taken_in_once(tmp_path: Path) -> None:
    """What scripts/demo rests on: the studies are ready at the first look, and still as many at the second start."""
    asked = []
    for seed, name in ((5, "study"), (6, "other")):
        folder = tmp_path / name
        folder.mkdir()
        native(folder / "IM1.dcm", speckle(np.random.default_rng(seed), 6, 60, 80))
        asked += ["--study", str(folder)]
    listed = []
    for _ in range(2):
        with (
            started(tmp_path, *asked, "--read-first") as (process, host, token),
            httpx.Client(base_url=f"http://{host}", headers={"origin": f"http://{host}"}, timeout=60) as client,
        ):
            assert client.post("/enter", json={"token": token}).status_code == 204
            listed.append(_listed_with_path(client))
            process.send_signal(END)
            assert process.wait(60) in ENDED

    first, second = ({item["id"]: {**item, "received_at": ""} for item in each} for each in listed)
    assert len(first) == 2
    for item in first.values():
        assert (item["state"], item["n_files"], item["n_clips"], item["n_read"]) == ("ready", 1, 1, 1)
    assert second == first


@pytest.mark.parametrize(
    ("platform", "environment", "expected"),
    [
        ("linux", {}, False),
        ("linux", {"DISPLAY": ""}, False),
        ("linux", {"DISPLAY": ":0"}, True),
        ("linux", {"WAYLAND_DISPLAY": "wayland-0"}, True),
        ("darwin", {}, True),
        ("win32", {}, True),
    ],
)
def test_no_browser_opens_where_there_is_no_display(platform: str, environment: dict[str, str], expected: bool) -> None:
    assert has_display(platform, environment) is expected
