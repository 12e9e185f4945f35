"""Write down every file that a Python process and its children open; put first on PYTHONPATH by a test."""

from __future__ import annotations

import os
import sys
from typing import Any

_NOTES = os.environ["FANLIGHT_OPENED"]
_FD = os.open(_NOTES, os.O_WRONLY | os.O_APPEND | os.O_CREAT)


def _note(event: str, arguments: tuple[Any, ...]) -> None:
    if event in ("open", "os.listdir", "os.scandir") and isinstance(arguments[0], (str, bytes, os.PathLike)):
        os.write(_FD, os.fsencode(os.path.abspath(arguments[0])) + b"\n")  # noqa: PTH100 (resolve() opens links: a loop)


sys.addaudithook(_note)
