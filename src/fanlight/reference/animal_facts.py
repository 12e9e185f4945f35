"""Reader of the limits from which on something that the request sheet tells of the animal counts."""

from __future__ import annotations

from dataclasses import dataclass, fields

from fanlight.study import House


@dataclass(frozen=True, slots=True, kw_only=True)
class FactLimits:
    """From when on something that the request sheet tells of the animal counts."""

    chest_deep: tuple[str, ...]  # groups of breeds
    body_condition_of_9: float
    body_condition_of_5: float
    vertebral_heart_score_over: float
    heart_disease: tuple[str, ...]  # keys of named diseases that enlarge a chamber

    def body_condition_from(self, scale: int) -> float:
        """Return from which score on an animal is fat, on the scale of nine or of five."""
        return self.body_condition_of_9 if scale == 9 else self.body_condition_of_5


def read_fact_limits(house: House) -> FactLimits:
    """Return from when on something told of the animal counts.

    Raises
    ------
    ValueError
        Naming what is missing or unknown.
    """
    row = house.table("causes")["facts"]
    names = {item.name for item in fields(FactLimits)}
    if set(row) != names:
        raise ValueError(f"causes.facts needs {', '.join(sorted(names))}; it has {', '.join(sorted(row))}")
    lists = {key: tuple(row[key]) for key in ("chest_deep", "heart_disease")}
    return FactLimits(**{**row, **lists})
