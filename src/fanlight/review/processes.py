"""How a process for hostile bytes is started: from one that has read our modules already, where the system can.

Reading our modules takes a process seconds, and one is started for each study, each row of pictures, and after each
crash. On Linux they branch off a server that has read them once and opened no file; each still has its own memory.
"""

from __future__ import annotations

import multiprocessing
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from multiprocessing.context import ForkServerContext, SpawnContext

# `one_thread` first: what follows loads the libraries that it holds back. The rest is what tasks are found in.
_READ_ONCE = (
    "fanlight.review.one_thread",
    "fanlight.review.run",
    "fanlight.review.file_tasks",
    "fanlight.review.clip_pass",
    "fanlight.review.passages",
)
# unix(7): the address of a local socket has 108 bytes with its end; the server's stands in a folder below this one.
_ADDRESS_BYTES = 108
_BELOW = "/pymp-12345678/listener-12345678"


def process_context() -> ForkServerContext | SpawnContext:
    """Return what starts processes: a server to branch off on Linux, else a fresh interpreter for each.

    Never a fork of this process: a child must not inherit the locks of its threads. Elsewhere than on Linux a system's
    own libraries do not bear to be branched off; nor does a folder for temporary files of a very long name hold the
    server's socket.
    """
    if sys.platform != "linux" or len(bytes(Path(tempfile.gettempdir() + _BELOW))) >= _ADDRESS_BYTES:
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(list(_READ_ONCE))
    return context


def get_ready() -> None:
    """Let the server read the modules already; a process that is started later need not wait for them."""
    if process_context().get_start_method() == "forkserver":
        from multiprocessing import forkserver

        forkserver.ensure_running()
