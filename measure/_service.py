"""The desk's service as a process of its own, for scripts that measure it or kill it."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from functools import partial
from pathlib import Path

import httpx

ROOT = Path(__file__).resolve().parent.parent
_PROC = Path("/proc")
_GONE_WITHIN_S = 600.0


class Service:
    """`fanlight desk` on a folder, started at once. It leads a group of its own, so that all of it can be found.

    Parameters
    ----------
    data : Path
        Folder of the store.
    house : Path or None
        File of the teaching group's own settings.
    cache : Path or None
        Folder for results that can be made again; by default none are kept.
    file_bytes : int
        What a file may grow to, the system refuses more; 0: no bound.
    """

    def __init__(
        self, data: Path, *, house: Path | None = None, cache: Path | None = None, file_bytes: int = 0
    ) -> None:
        self.data = data
        self.port = 0
        self._more = [*(["--house", str(house)] if house else []), *([] if cache else ["--no-cache"])]
        # What stood there before stays: tests put there what keeps every process from leaving the machine.
        paths = [str(ROOT / "src"), str(ROOT), *filter(None, [os.environ.get("PYTHONPATH")])]
        self._environment = {**os.environ, "COLUMNS": "400", "PYTHONPATH": os.pathsep.join(paths)}
        if cache is not None:
            self._environment["FANLIGHT_CACHE"] = str(cache)
        self._file_bytes = file_bytes
        self.start()

    def start(self) -> None:
        """Start the service; one that has ended comes again at the same place, and lets in by another token."""
        command = [sys.executable, "-m", "fanlight.cli", "desk", "--port", str(self.port), "--no-open"]
        self.process = subprocess.Popen(
            [*command, "--data", str(self.data), *self._more], cwd=ROOT, env=self._environment,
            stdout=subprocess.PIPE, text=True, start_new_session=True,
            preexec_fn=partial(_bound_files, self._file_bytes) if self._file_bytes else None,
        )  # fmt: skip
        assert self.process.stdout is not None
        for line in self.process.stdout:
            if found := re.search(r"http://(\S+):(\d+)/#token=(\S+)", line):
                self.address, self._token = found[0], found[3]
                self.host, self.port = f"{found[1]}:{found[2]}", int(found[2])
                return
        raise RuntimeError("the service did not start")

    def enter(self) -> httpx.Client:
        """Return a client that the service knows."""
        client = httpx.Client(base_url=f"http://{self.host}", headers={"origin": f"http://{self.host}"}, timeout=600)
        client.post("/enter", json={"token": self._token}).raise_for_status()
        return client

    def kill(self) -> None:
        """End the service as a power cut would, and nothing else."""
        self.process.kill()
        self._ended()

    def kill_all(self) -> None:
        """End the service and every process below it at once."""
        try:
            os.killpg(self.process.pid, signal.SIGKILL)
        except ProcessLookupError:
            return
        finally:
            self._ended()

    def _ended(self) -> None:
        self.process.wait()
        assert self.process.stdout is not None
        self.process.stdout.close()

    def wait_until_gone(self) -> float:
        """Wait until nothing of it runs any more, and return how long that took, s."""
        start = time.monotonic()
        while group(self.process.pid):
            if time.monotonic() - start > _GONE_WITHIN_S:
                raise AssertionError(f"processes of a killed service still run: {group(self.process.pid)}")
            time.sleep(0.02)
        return time.monotonic() - start

    def engine(self) -> int | None:
        """Return the id of the engine's process: the child of the service that has children and is not their server."""
        parents = {pid: parent for pid, parent, _ in processes()}
        children = [pid for pid, parent in parents.items() if parent == self.process.pid and not _is_server(pid)]
        return next((pid for pid in children if pid in parents.values()), None)


def _bound_files(file_bytes: int) -> None:
    import resource  # not on every system

    resource.setrlimit(resource.RLIMIT_FSIZE, (file_bytes, file_bytes))


def _is_server(pid: int) -> bool:
    """Return whether the readers of frames branch off a process."""
    try:
        return b"multiprocessing.forkserver" in (_PROC / str(pid) / "cmdline").read_bytes()
    except OSError:
        return False  # it has just ended


def processes() -> list[tuple[int, int, int]]:
    """Return id, parent and group of every process that runs; those that have ended and wait to be counted do not."""
    found = []
    for place in _PROC.glob("[0-9]*"):
        try:
            state, parent, group_of = (place / "stat").read_text().rpartition(")")[2].split()[:3]
        except (OSError, ValueError):
            continue  # it has just ended
        if state not in "ZX":
            found.append((int(place.name), int(parent), int(group_of)))
    return found


def group(leader: int) -> list[int]:
    """Return the processes of a group."""
    return [pid for pid, _, of in processes() if of == leader]


def resident_mb(pid: int) -> float:
    """Return the resident memory of a process, MB (10^6 bytes)."""
    pages = int((_PROC / str(pid) / "statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6
