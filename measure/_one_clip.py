"""A file of the simulator, opened as the product opens it."""

from __future__ import annotations

import tempfile
from pathlib import Path

from fanlight.intake import Item, Limits, gather, probe_item
from fanlight.study import Clip


def one_clip(path: Path, limits: Limits) -> tuple[Item, Clip]:
    """Return the only clip of a file.

    Raises
    ------
    RuntimeError
        If it holds another number of clips than one.
    """
    with tempfile.TemporaryDirectory() as scratch:
        gathered = gather(path, Path(scratch), limits)
    probed = probe_item(gathered.items[0], limits)
    if len(probed.clips) != 1:
        raise RuntimeError(f"{path}: the engine finds {len(probed.clips)} clips in a file of the simulator")
    return gathered.items[0], probed.clips[0]
