"""Which code pictures are made and judged by: what a measured table must be made anew for."""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
ROOMS = ("fanlight.heart", "fanlight.simulate")


def described(*scripts: str) -> list[str]:
    """Return the scripts and every file of the heart and the simulator that has been imported so far.

    What writes files or draws examinations takes no part in a picture; it is left out unless it was imported.
    """
    return sorted({*imported(ROOMS), *scripts})


def imported(rooms: tuple[str, ...]) -> list[str]:
    """Return every file of these rooms that has been imported so far, relative to the root."""
    files = [getattr(module, "__file__", None) for name, module in sys.modules.items() if name.startswith(rooms)]
    return sorted({Path(file).resolve().relative_to(ROOT).as_posix() for file in files if file})
