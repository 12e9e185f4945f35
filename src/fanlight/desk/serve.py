"""The service on its socket: one process, one worker, this machine only."""

from __future__ import annotations

import gc
import socket
import sys
from dataclasses import dataclass
from ipaddress import ip_address
from types import FrameType

import uvicorn

from fanlight.desk.app import create_app
from fanlight.desk.desk import Desk
from fanlight.desk.guard import new_secret


@dataclass(frozen=True, slots=True, kw_only=True)
class Listening:
    """An open socket, and the address that lets one browser in."""

    socket: socket.socket
    hosts: tuple[str, ...]  # what browsers may call it
    token: str

    @property
    def address(self) -> str:
        """To be opened once. The token stands behind "#": browsers send that part nowhere."""
        return f"http://{self.hosts[0]}/#token={self.token}"


def listen(port: int, host: str = "127.0.0.1") -> Listening:
    """Open the socket.

    Parameters
    ----------
    port : int
        0 takes a free one.
    host : str
        Loopback address of this machine: nobody on the network can try.

    Raises
    ------
    OSError
        When the port is taken.
    ValueError
        When others could reach the address.
    """
    place = ip_address(host)
    if not place.is_loopback:
        raise ValueError(f"the desk listens on this machine only, got {host}")
    family = socket.AF_INET6 if place.version == 6 else socket.AF_INET
    # The protocol is named: asyncio sets TCP_NODELAY only then, and without it each answer waits 40 ms.
    sock = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    if sys.platform != "win32":  # there it would let another program take the same port
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)  # a port that was just left is free
    try:
        sock.bind((host, port))
        sock.listen()  # a browser that is quicker than the service waits
    except OSError:
        sock.close()
        raise
    taken = sock.getsockname()[1]
    name = f"[{host}]" if place.version == 6 else host
    return Listening(socket=sock, hosts=tuple(f"{item}:{taken}" for item in (name, "localhost")), token=new_secret())


# Objects made between two looks for cycles. A draft is some hundred thousand small frozen values without any cycle;
# with Python's usual 700 all were looked through again and again, half of the time that opening a study took.
_MADE_BETWEEN_LOOKS = 100_000


def serve_desk(desk: Desk, listening: Listening) -> None:
    """Serve until the command is ended."""
    gc.freeze()  # what is loaded by now stays: it is never looked through again
    gc.set_threshold(_MADE_BETWEEN_LOOKS, 20, 100)
    app = create_app(desk, token=listening.token, hosts=listening.hosts)
    # No access log: addresses name studies. Open streams end after two seconds, so that Ctrl-C ends the command.
    config = uvicorn.Config(
        app, log_level="warning", access_log=False, workers=1, timeout_graceful_shutdown=2, server_header=False
    )
    _Server(config, desk).run(sockets=[listening.socket])


class _Server(uvicorn.Server):
    """Sends listening pages away before it waits for open connections to end."""

    def __init__(self, config: uvicorn.Config, desk: Desk) -> None:
        super().__init__(config)
        self._desk = desk

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        self._desk.hub.close()
        super().handle_exit(sig, frame)
