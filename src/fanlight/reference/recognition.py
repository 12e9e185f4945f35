"""Reader of the table that says from where on what was recognised is proposed."""

from __future__ import annotations

from dataclasses import dataclass, fields

from fanlight.study import House


@dataclass(frozen=True, slots=True, kw_only=True)
class RecognitionLimits:
    """House limits of what is proposed; all are probabilities or shares, 0 to 1."""

    view_from: float  # a view is proposed from here on, below it the clip is "not sure"
    unnamed_to: float  # share of the picture in which no structure may be sure where a view is proposed
    chamber_from: float  # share of the picture from which on a chamber that the view must show is there
    landmark_from: float
    name_differs_from: float  # from here on another view is mentioned beside the one that a file names


def read_recognition_limits(house: House) -> RecognitionLimits:
    """Return the limits.

    Raises
    ------
    ValueError
        Naming the row, when it is missing, unknown, or no number from 0 to 1.
    """
    row = house.table("recognition")["settings"]
    names = {field.name for field in fields(RecognitionLimits)}
    if set(row) != names:
        raise ValueError(f"recognition.settings needs {', '.join(sorted(names))}; it has {', '.join(sorted(row))}")
    for name, value in row.items():
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value <= 1:
            raise ValueError(f"recognition.settings.{name} must lie between 0 and 1, got {value!r}")
    return RecognitionLimits(**{name: float(value) for name, value in row.items()})
