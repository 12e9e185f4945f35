"""The desk as tests and measurements start it, in a process of its own, keeps the net that refuses connections."""

from __future__ import annotations

import contextlib
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from measure._service import Service, group
from tests.no_network import SITE
from tests.project.test_no_network import OUTSIDE_V4

pytestmark = pytest.mark.skipif(
    not sys.platform.startswith("linux"), reason="only Linux tells the environment of a process in /proc"
)


@pytest.fixture
def service(tmp_path: Path) -> Iterator[Service]:
    made = Service(tmp_path / "store")
    yield made
    made.kill_all()


def environment_of(pid: int) -> dict[str, str]:
    """Return the environment that a process was started with, proc(5); nothing if it has ended."""
    try:
        lines = Path(f"/proc/{pid}/environ").read_bytes().split(b"\0")
    except (FileNotFoundError, ProcessLookupError):
        return {}
    return dict(line.decode().split("=", 1) for line in lines if line)


def test_a_service_and_its_processes_refuse_connections(service: Service) -> None:
    """Each has the net on its path, and with such a path a Python process refuses."""
    with contextlib.closing(service.enter()) as client:
        assert client.get("/api/waiting").status_code == 200
    below = [found for pid in group(service.process.pid) if (found := environment_of(pid))]

    assert len(below) > 1
    assert all(str(SITE) in each["PYTHONPATH"].split(":") for each in below)
    call = f"import socket; socket.socket().connect(({OUTSIDE_V4!r}, 80))"
    environment = environment_of(service.process.pid)
    done = subprocess.run([sys.executable, "-c", call], env=environment, capture_output=True, text=True, check=False)
    assert "NetworkRefused" in done.stderr
