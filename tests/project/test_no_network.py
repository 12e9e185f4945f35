"""The net that refuses connections holds: in this process, in its children, and in the kernel."""

import os
import socket
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from tests import no_network

ROOT = Path(__file__).resolve().parents[2]
# RFC 5737, TEST-NET-1, and RFC 3849: addresses kept for documentation, which belong to nobody.
OUTSIDE_V4, OUTSIDE_V6 = "192.0.2.1", "2001:db8::1"
# RFC 6761: this name can never exist.
OUTSIDE_NAME = "host.invalid"
# A process that tests start (pytest-xdist starts some) has the net from its site folder, under another module name.
REFUSED = BaseException


@pytest.mark.parametrize("host", ["127.0.0.1", "127.8.9.10", "::1", "localhost", "", None, b"localhost"])
def test_loopback_stays_here(host: object) -> None:
    assert no_network.is_on_this_machine(host)


@pytest.mark.parametrize("host", [OUTSIDE_V4, OUTSIDE_V6, OUTSIDE_NAME, "10.0.0.1", "0.0.0.0", "localhost.example"])
def test_everything_else_leaves(host: object) -> None:
    assert not no_network.is_on_this_machine(host)


def test_a_connection_outward_is_refused_in_this_process() -> None:
    with socket.socket() as one, pytest.raises(REFUSED, match=f"{OUTSIDE_V4}.*nothing may leave"):
        one.connect((OUTSIDE_V4, 80))
    with socket.socket() as one, pytest.raises(REFUSED, match=f"{OUTSIDE_V4}.*nothing may leave"):
        one.connect_ex((OUTSIDE_V4, 80))
    with socket.socket(type=socket.SOCK_DGRAM) as one, pytest.raises(REFUSED, match=f"{OUTSIDE_V4}.*nothing may leave"):
        one.sendto(b"x", (OUTSIDE_V4, 9))


def test_looking_up_a_name_is_refused_in_this_process() -> None:
    with pytest.raises(REFUSED, match=f"{OUTSIDE_NAME}.*nothing may leave"):
        socket.getaddrinfo(OUTSIDE_NAME, 80)
    with pytest.raises(REFUSED, match=f"{OUTSIDE_NAME}.*nothing may leave"):
        socket.gethostbyname(OUTSIDE_NAME)


def test_a_connection_to_this_machine_works() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server, socket.create_connection(server.getsockname()) as client:
        peer, _ = server.accept()
        with peer:
            client.sendall(b"still here")
            assert peer.recv(10) == b"still here"


def run_python(program: str, environment: dict[str, str], *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run a program in a process of its own."""
    command = [sys.executable, "-c", textwrap.dedent(program), *arguments]
    return subprocess.run(command, env=environment, cwd=ROOT, capture_output=True, text=True, check=False)


def test_a_child_refuses_as_well() -> None:
    """The environment that conftest sets reaches the processes that a test starts."""
    done = run_python(f"import socket; socket.socket().connect(({OUTSIDE_V4!r}, 80))", dict(os.environ))

    assert done.returncode != 0
    assert "NetworkRefused" in done.stderr


def test_a_spawned_worker_refuses_as_well(tmp_path: Path) -> None:
    """The way the review starts its decoding process: multiprocessing's spawn."""
    script = tmp_path / "spawns.py"
    script.write_text(
        textwrap.dedent(f"""
        import multiprocessing, socket, sys

        def call_out():
            socket.socket().connect(({OUTSIDE_V4!r}, 80))

        if __name__ == "__main__":
            worker = multiprocessing.get_context("spawn").Process(target=call_out)
            worker.start()
            worker.join()
            sys.exit(worker.exitcode)
        """)
    )
    done = subprocess.run([sys.executable, str(script)], capture_output=True, text=True, check=False)

    assert done.returncode != 0
    assert "NetworkRefused" in done.stderr


WITHOUT_HOOK = textwrap.dedent(
    """
    import socket
    socket.socketpair()
    for family in (socket.AF_INET, socket.AF_INET6):
        try:
            socket.socket(family)
        except PermissionError:
            print("refused")
    """
)


@pytest.mark.skipif(not no_network.can_forbid_in_kernel(), reason="asks the Linux kernel, on x86_64 or aarch64")
def test_the_kernel_refuses_sockets_even_to_a_child_without_the_hook() -> None:
    done = run_python(
        """
        import subprocess, sys
        from tests import no_network
        no_network.forbid_sockets_in_kernel()
        subprocess.run([sys.executable, "-I", "-c", sys.argv[1]], check=True)
        """,
        {**os.environ, "PYTHONPATH": str(ROOT)},
        WITHOUT_HOOK,
    )

    assert done.stdout == "refused\nrefused\n", done.stderr
