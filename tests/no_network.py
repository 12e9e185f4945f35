"""Refuses every connection that would leave this machine, in this process and in those that it starts.

Three nets, each for what the one before it cannot see:

- `install` refuses in this process, through an audit hook: Python reports each connection and each look-up of a name
  before it is made, whichever library asks, and a hook cannot be taken off again.
- `environment_for_children` makes every Python process started with it do the same (`sitecustomize` in
  `no_network_site/`). A child started with `-I` or `-E` reads no such setting and escapes this net.
- `forbid_sockets_in_kernel` (Linux only) asks the kernel to refuse all internet sockets, to C libraries and to children
  as well; even loopback goes. For a test that runs a whole review in a process of its own.
"""

from __future__ import annotations

import ctypes
import errno
import ipaddress
import os
import platform
import struct
import sys
from pathlib import Path

SITE = Path(__file__).resolve().parent / "no_network_site"
_installed = False


class NetworkRefused(BaseException):
    """Something tried to reach beyond this machine.

    Not an `Exception`, so that no code under test that shrugs off failed connections hides it.
    """


def is_on_this_machine(host: object) -> bool:
    """Return whether a connection to this host stays here: a loopback address, its name, or no host at all."""
    if host is None:
        return True
    text = host.decode("ascii", "replace") if isinstance(host, bytes) else str(host)
    if text in ("", "localhost"):
        return True
    try:
        return ipaddress.ip_address(text.partition("%")[0]).is_loopback
    except ValueError:
        return False


def _refuse_what_leaves(event: str, arguments: tuple[object, ...]) -> None:
    # Events and arguments: "Audit events table" of the Python documentation.
    if event in ("socket.connect", "socket.sendto", "socket.sendmsg"):
        address = arguments[1]
        # A tuple is an internet address; a text or bytes is the path of a local socket; None: connected before.
        leaves = isinstance(address, tuple) and not is_on_this_machine(address[0])
        shown: object = address
    elif event in ("socket.getaddrinfo", "socket.gethostbyname", "socket.gethostbyaddr"):
        leaves = not is_on_this_machine(arguments[0])
        shown = arguments[0]
    else:
        return
    if leaves:
        raise NetworkRefused(f"{event} to {shown!r}: nothing may leave this machine")


def install() -> None:
    """Refuse in this process, from now to its end."""
    global _installed
    if not _installed:
        _installed = True
        sys.addaudithook(_refuse_what_leaves)


def environment_for_children(environment: dict[str, str]) -> dict[str, str]:
    """Return an environment in which Python processes refuse as well."""
    paths = [str(SITE), *filter(None, [environment.get("PYTHONPATH")])]
    return {**environment, "PYTHONPATH": os.pathsep.join(paths)}


# --- the kernel's own net (Linux) ---

# <linux/prctl.h>, <linux/seccomp.h>, <linux/filter.h>, <linux/audit.h>
_PR_SET_SECCOMP, _PR_SET_NO_NEW_PRIVS, _SECCOMP_MODE_FILTER = 22, 38, 2
_RET_ALLOW, _RET_ERRNO = 0x7FFF0000, 0x00050000
_LOAD_WORD, _JUMP_EQUAL, _RETURN = 0x20, 0x15, 0x06
_AF_INET, _AF_INET6 = 2, 10
# machine -> (AUDIT_ARCH, number of the system call socket)
_SOCKET_CALL = {"x86_64": (0xC000003E, 41), "aarch64": (0xC00000B7, 198)}


def can_forbid_in_kernel() -> bool:
    """Return whether `forbid_sockets_in_kernel` works on this kind of machine."""
    return sys.platform == "linux" and platform.machine() in _SOCKET_CALL


def forbid_sockets_in_kernel() -> None:
    """Make the kernel refuse to open internet sockets, to this process and all it starts, for good.

    Raises
    ------
    OSError
        If the kernel does not take the filter.
    """
    architecture, socket_call = _SOCKET_CALL[platform.machine()]

    def step(code: int, jump_true: int, jump_false: int, value: int) -> bytes:
        return struct.pack("HBBI", code, jump_true, jump_false, value)  # struct sock_filter

    # struct seccomp_data: number of the call at 0, architecture at 4, first argument (the address family) at 16.
    steps = [
        step(_LOAD_WORD, 0, 0, 4),
        step(_JUMP_EQUAL, 0, 6, architecture),
        step(_LOAD_WORD, 0, 0, 0),
        step(_JUMP_EQUAL, 0, 4, socket_call),
        step(_LOAD_WORD, 0, 0, 16),
        step(_JUMP_EQUAL, 1, 0, _AF_INET),
        step(_JUMP_EQUAL, 0, 1, _AF_INET6),
        step(_RETURN, 0, 0, _RET_ERRNO | errno.EACCES),
        step(_RETURN, 0, 0, _RET_ALLOW),
    ]
    program = ctypes.create_string_buffer(b"".join(steps))
    filter_program = ctypes.create_string_buffer(struct.pack("HP", len(steps), ctypes.addressof(program)))
    libc = ctypes.CDLL(None, use_errno=True)
    for call in (
        (_PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0),
        (_PR_SET_SECCOMP, _SECCOMP_MODE_FILTER, ctypes.addressof(filter_program), 0, 0),
    ):
        if libc.prctl(*(ctypes.c_ulong(argument) for argument in call)) != 0:
            number = ctypes.get_errno()
            raise OSError(number, f"the kernel did not take the filter: {os.strerror(number)}")
