"""Words of the pages that are the house's own: windows of the path, and what is judged by eye."""

from __future__ import annotations

from typing import Any

from fanlight.reference.desk import read_structure_groups, read_windows
from fanlight.study import House


def words_part(house: House) -> dict[str, Any]:
    """Return the words that stand on the page of a study, as JSON holds them."""
    return {
        "windows": {key: item.title for key, item in read_windows(house).items()},
        "structures": [{"title": title, "names": list(names)} for title, names in read_structure_groups(house)],
    }
