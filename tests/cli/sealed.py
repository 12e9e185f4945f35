"""The command line as its users meet it, with every internet socket refused by the kernel.

`fanlight` runs a command in a process of its own. `Commands` runs one after another in one process: reading our modules
takes a process longer than most of what the tests ask of it.
"""

from __future__ import annotations

import json
import os
import select
import subprocess
import sys
import traceback
from pathlib import Path
from tempfile import TemporaryDirectory

from tests import no_network

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 300
ALONE = """
import sys
from tests import no_network
no_network.forbid_sockets_in_kernel()
from fanlight.cli import main
sys.argv = ["fanlight", *sys.argv[1:]]
main()
"""


def fanlight(*arguments: str, home: Path) -> subprocess.CompletedProcess[str]:
    """Run a command with a cache and data folder of its own, and no way onto the network."""
    return subprocess.run(
        [sys.executable, "-c", ALONE, *arguments],
        cwd=ROOT, env=dict(os.environ) | _folders(home), capture_output=True, text=True, check=False,
        timeout=PATIENCE_S,
    )  # fmt: skip


def _folders(home: Path) -> dict[str, str]:
    return {"FANLIGHT_CACHE": str(home / "cache"), "FANLIGHT_DATA": str(home / "data")}


class Commands:
    """One process that runs command after command. Close it at the end."""

    def __init__(self) -> None:
        self._said = TemporaryDirectory()
        self._process = subprocess.Popen(
            [sys.executable, "-m", __name__], cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )

    def __call__(self, *arguments: str, home: Path) -> subprocess.CompletedProcess[str]:
        """Run a command as `fanlight` does."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        out, err = Path(self._said.name) / "out", Path(self._said.name) / "err"
        asked = {"arguments": arguments, "folders": _folders(home), "out": str(out), "err": str(err)}
        self._process.stdin.write(json.dumps(asked) + "\n")
        self._process.stdin.flush()
        ready, _, _ = select.select([self._process.stdout], [], [], PATIENCE_S)
        if not ready:
            self._process.kill()  # else the next command would be told how this one ended
        assert ready, f"no answer within {PATIENCE_S} s: {arguments}"
        code = self._process.stdout.readline()
        assert code, f"the process ended: {arguments}"
        return subprocess.CompletedProcess(arguments, int(code), out.read_text("utf-8"), err.read_text("utf-8"))

    def close(self) -> None:
        """End the process."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.close()
        self._process.stdout.close()
        self._process.wait(PATIENCE_S)
        self._said.cleanup()


def _serve() -> None:
    """Run what is asked for, line by line, and answer with the exit code."""
    no_network.forbid_sockets_in_kernel()
    from fanlight.cli import main

    answers, requests = os.fdopen(os.dup(1), "w"), os.fdopen(os.dup(0))
    with Path(os.devnull).open("rb") as nothing:
        os.dup2(nothing.fileno(), 0)  # a command that asked for input would take the next request for it
    for line in requests:
        asked = json.loads(line)
        os.environ.update(asked["folders"])
        sys.argv = ["fanlight", *asked["arguments"]]
        kept = os.dup(1), os.dup(2)
        with Path(asked["out"]).open("wb") as out, Path(asked["err"]).open("wb") as err:
            os.dup2(out.fileno(), 1)
            os.dup2(err.fileno(), 2)
        code: int | str | None = 0
        try:
            main()
        except SystemExit as end:
            code = end.code
        except Exception:  # as the interpreter does at the end of a process
            traceback.print_exc()
            code = 1
        sys.stdout.flush()
        sys.stderr.flush()
        for number, descriptor in enumerate(kept, start=1):
            os.dup2(descriptor, number)
            os.close(descriptor)
        print(code or 0, file=answers, flush=True)


if __name__ == "__main__":
    _serve()
