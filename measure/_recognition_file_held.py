"""What the masks hold off of the views that the network names in files."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from measure._recognition_file_figures import (
    Records,
    Rings,
    by_ring,
    clear,
    is_new,
    is_right,
    proposed_at,
    share_of,
)


def held_table(rings: Rings, limit: float) -> str:
    """Return what the masks hold off of the clips whose likeliest view reaches the limit."""
    asked = {
        name: [r for r in clear(records) if is_new(r) and proposed_at(r["said"], limit)]
        for name, records in rings.items()
    }
    rows: list[tuple[str, Callable[[Records], str]]] = [
        ("a right view is held off", lambda rs: _held_of([r for r in rs if is_right(r)])),
        ("a wrong view is held off", lambda rs: _held_of([r for r in rs if not is_right(r)])),
        ("% of the picture in which no structure is sure, median and most", _unsure),
    ]
    return by_ring("likeliest view reaches the limit", rows, asked)


def _held_of(records: Records) -> str:
    return share_of(records, lambda r: bool(r["held_off"]))


def _unsure(records: Records) -> str:
    shares = [100 * r["unsure"] for r in records]
    return f"{np.median(shares):.1f}, {max(shares):.1f}, n {len(shares)}" if shares else "– (n 0)"
