"""Where chambers are cut off in the clips of a kept study: stands among its findings as signs of their own."""

from __future__ import annotations

from typing import Any

from fanlight.reference.causes import CUT
from training.cause_masks import cuts_in

Record = dict[str, Any]


def with_places(record: Record) -> Record:
    """Return a record of `measure.causes` with the places at which chambers are cut off beside what was said of it."""
    return record | {"clips": [_told(clip) for clip in record["clips"]]} if "clips" in record else record


def _told(clip: Record) -> Record:
    said = [item for item in clip["findings"] if item[0] == CUT]
    places = [[*item, said[0][3]] for item in cuts_in(clip)] if said else []
    return clip | {"findings": [*clip["findings"], *places]}
