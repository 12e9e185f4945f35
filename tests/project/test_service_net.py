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

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="processes are found in another way there")


@pytest.fixture
def service(tmp_path: Path) -> Iterator[Service]:
    made = Service(tmp_path / "store")
    yield made
    made.kill_all()


def environment_of(pid: int) -> dict[str, str]:
    """Return the environment that a process was started with; proc(5)."""
    lines = Path(f"/proc/{pid}/environ").read_bytes().split(b"\0")
    return dict(line.decode().split("=", 1) for line in lines if line)


def test_a_service_and_its_processes_refuse_connections(service: Service) -> None:
    """Each has the net on its path, and with such a path a Python process refuses."""
    with contextlib.closing(service.enter()) as client:
        assert client.get("/api/waiting").status_code == 200
    below = group(service.process.pid)

    assert len(below) > 1
    assert all(str(SITE) in environment_of(pid)["PYTHONPATH"].split(":") for pid in below)
    call = f"import socket; socket.socket().connect(({OUTSIDE_V4!r}, 80))"
    environment = environment_of(service.process.pid)
    done = subprocess.run([sys.executable, "-c", call], env=environment, capture_output=True, text=True, check=False)
    assert "NetworkRefused" in done.stderr
