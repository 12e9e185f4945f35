"""What the pages show by the house's own data: words, how quantities are written, from where on landmarks show."""

from __future__ import annotations

from typing import Any

from fanlight.measure.picture.sizes import BY_KEY, PARTS, is_measured_in
from fanlight.reference.desk import read_structure_groups, read_windows
from fanlight.reference.diseases import read_diseases
from fanlight.reference.meaning import read_meaning
from fanlight.reference.recognition import read_recognition_limits
from fanlight.reference.views import read_views
from fanlight.report.measurements import symbols_of
from fanlight.study import House


def words_part(house: House) -> dict[str, Any]:
    """Return what the page of a study takes from the house, as JSON holds it."""
    meaning = read_meaning(house)
    return {
        "lesions": {
            key: {
                "title": item.title,
                "species": [each.value for each in item.species],
                "gradings": [row.title for row in meaning.gradings.values() if key in row.lesions],
            }
            for key, item in read_diseases(house).items()
        },
        "signs": dict(meaning.signs),
        "windows": {key: item.title for key, item in read_windows(house).items()},
        "structures": [{"title": title, "names": list(names)} for title, names in read_structure_groups(house)],
        "quantities": symbols_of(house),
        "calipers": _calipers(house),
        "landmark_from": read_recognition_limits(house).landmark_from,
    }


def _calipers(house: House) -> dict[str, list[str]]:
    """Return the quantities that a caliper measures in each view."""
    return {
        key: [quantity for quantity in (*BY_KEY, *PARTS) if is_measured_in(quantity, view)]
        for key, view in read_views(house).items()
    }
