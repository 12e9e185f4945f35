"""Real ultrasound files that tests and `measure.recognition_real` read as the product does: people, phantoms, air.

What a person saw in each was written down before the code that is held against it (expected.toml beside this file).
"""

from __future__ import annotations

import tomllib
from importlib import resources
from pathlib import Path
from typing import Any

from fanlight.critique.every_family import EVERY_FAMILY
from fanlight.intake import Limits, gather, probe_item
from fanlight.recognise.picture_reading import with_proposal
from fanlight.reference.chambers import read_chambers
from fanlight.reference.recognition import read_recognition_limits
from fanlight.reference.views import read_views
from fanlight.review.clip_pass import ClipPass, Known, read_clip
from fanlight.study import House, ViewReading

EXPECTED: dict[str, dict[str, Any]] = tomllib.loads(Path(__file__).with_name("expected.toml").read_text("utf-8"))
NAMES = [name for name, entry in EXPECTED.items() if entry.get("accepted")]
_NO_CRITERIA = Known(families=tuple(family.name for family in EVERY_FAMILY))


def read_real(name: str, house: House, scratch: Path) -> tuple[ClipPass, ViewReading]:
    """Return what the product reads in a file, without criteria, and the view that its draft would have.

    Raises
    ------
    RuntimeError
        If the product refuses a file that a person accepts.
    """
    entry, limits = EXPECTED[name], Limits()
    with resources.as_file(resources.files(entry["package"]) / entry["path"]) as file:
        item = gather(file, scratch, limits).items[0]
        clip = probe_item(item, limits).clips[0]
        read = read_clip(item, clip, clip.patient, house, None, _NO_CRITERIA, limits, beat=lambda *_, **__: None)
    if not isinstance(read, ClipPass):
        raise RuntimeError(f"{name}: accepted by a person ({entry['reason']}), refused by the engine: {read}")
    titles = {key: view.title for key, view in read_views(house).items()}
    proposed = with_proposal(read.view, read.picture, read_recognition_limits(house), titles, read_chambers(house))
    return read, proposed
