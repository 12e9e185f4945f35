"""Where this user's files lie."""

from __future__ import annotations

import os
from pathlib import Path

from platformdirs import user_cache_path, user_data_path


def cache_folder() -> Path:
    """Return the folder for results that can be made again. `FANLIGHT_CACHE` names another one."""
    return Path(os.environ.get("FANLIGHT_CACHE") or user_cache_path("fanlight", appauthor=False))


def data_folder() -> Path:
    """Return the folder for what must not be lost, the key for teaching copies. `FANLIGHT_DATA` names another one."""
    return Path(os.environ.get("FANLIGHT_DATA") or user_data_path("fanlight", appauthor=False))


def default_workers() -> int:
    """Return how many clips are read at once: one a core, at most four."""
    return max(1, min(4, os.cpu_count() or 1))
