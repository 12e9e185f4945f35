"""The one place that reads tables from files: shipped TOML, with the group's own file laid over it."""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Callable
from functools import lru_cache
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any

from fanlight.reference.breeds import read_breeds
from fanlight.reference.cause_priors import read_cause_priors
from fanlight.reference.chambers import read_chambers
from fanlight.reference.criteria import read_criteria
from fanlight.reference.desk import read_desk_settings, read_phrases, read_structure_groups, read_windows
from fanlight.reference.dicom_codes import read_report_codes
from fanlight.reference.diseases import read_diseases
from fanlight.reference.handling import mark_handling
from fanlight.reference.intervals import read_intervals
from fanlight.reference.letter import read_excerpt_limits, read_least_trainees, read_letter_limits
from fanlight.reference.m_mode import read_m_mode_settings
from fanlight.reference.m_mode_cursor import read_cursor_limits
from fanlight.reference.meaning import read_meaning
from fanlight.reference.movements import read_movements
from fanlight.reference.plane import read_plane_tables
from fanlight.reference.plans import read_plans
from fanlight.reference.recognition import read_recognition_limits
from fanlight.reference.tracking import read_track_settings
from fanlight.reference.validity import read_standings
from fanlight.reference.valves import read_valves
from fanlight.reference.views import read_views
from fanlight.study import House

# Tables to which a group may add rows of its own: its plans and questions, breeds it meets, words on its screens and
# in its letters, and where probabilities of causes come from that it fitted.
# Everywhere else a new row would be a misspelt one.
_OPEN_TABLES = frozenset(
    {
        "breeds",
        "phrases",
        "plans.plans",
        "plans.choose",
        "plans.questions",
        "plans.levels",
        "views.terms",
        "cause_priors.fitted",
    }
)

# Marks advice that touches the animal, which is withheld unless breathing is stated to be normal. A group may mark more
# of its advice so, never less.
_HANDLING = "handling"
_MARKED = ("criteria/", "causes.causes.")
_HANDLING_WORDS = ("touches", "moves")  # a group may add to these lists, never take away


class HouseFileError(ValueError):
    """A group's own settings file cannot be used."""

    def __init__(self, file: str, place: str, found: str, remedy: str) -> None:
        self.file = file
        self.place = place
        self.found = found
        super().__init__(f"{file}, {place}: {found}. {remedy}")


def _shipped_tables(folder: Traversable, prefix: str = "") -> dict[str, dict[str, Any]]:
    tables: dict[str, dict[str, Any]] = {}
    for entry in sorted(folder.iterdir(), key=lambda item: item.name):
        if entry.is_dir():
            tables |= _shipped_tables(entry, f"{prefix}{entry.name}/")
        elif entry.name.endswith(".toml"):
            tables[prefix + entry.name.removesuffix(".toml")] = tomllib.loads(entry.read_text("utf-8"))
    return tables


def _lay_over(base: dict[str, Any], own: dict[str, Any], place: str, file: str, changed: list[str]) -> None:
    for key, value in own.items():
        here = f"{place}.{key}"
        if key == _HANDLING and place.startswith(_MARKED):
            if value is not True:
                raise HouseFileError(
                    file,
                    here,
                    f"expected true, found {value!r}",
                    "Advice that touches the animal stays marked as such.",
                )
            base[key] = value
            changed.append(here)
            continue
        if place == _HANDLING and key in _HANDLING_WORDS and (gone := _gone(base[key], value)):
            raise HouseFileError(file, here, f"lacks {gone}", "Add words of your own; none may be taken away.")
        if key not in base and place in _OPEN_TABLES and isinstance(value, dict):
            base[key] = copy.deepcopy(value)
            changed.append(here)
            continue
        if key not in base:
            known = ", ".join(sorted(base))
            raise HouseFileError(file, here, "no such row", f"Rows that can be changed here: {known}.")
        if isinstance(base[key], dict):
            if not isinstance(value, dict):
                raise HouseFileError(file, here, f"a table is needed, found {value!r}", "Write its rows one by one.")
            _lay_over(base[key], value, here, file, changed)
        else:
            wanted, given = type(base[key]), type(value)
            if wanted is not given and not (wanted in (int, float) and given in (int, float)):
                raise HouseFileError(
                    file, here, f"expected {wanted.__name__}, found {value!r}", "Keep the kind of the shipped value."
                )
            base[key] = value
            changed.append(here)


def _gone(shipped: list[str], own: object) -> str:
    """Return the shipped words that a group's own list lacks; "" for none, or where it is no list at all."""
    return ", ".join(word for word in shipped if word not in own) if isinstance(own, list) else ""


def _check_rows(house: House, file: str) -> None:
    """Read every table that a group changes, so that a wrong row is found before a study is read, not in the middle."""
    readers: tuple[Callable[[House], object], ...] = (
        read_views, read_plans, read_criteria, read_breeds, read_diseases, read_valves, read_intervals,
        read_letter_limits, read_least_trainees, read_excerpt_limits, read_desk_settings, read_track_settings,
        read_phrases, read_m_mode_settings, read_windows, read_structure_groups, read_recognition_limits, read_chambers,
        read_standings, read_meaning, read_report_codes, read_plane_tables,
        read_movements, read_cursor_limits, read_cause_priors,
    )  # fmt: skip
    for read in readers:
        try:
            read(house)
        except (ValueError, TypeError, KeyError) as error:
            raise HouseFileError(
                file, "rows", str(error), "Correct this row; the page on house files shows its form."
            ) from error


def load_house(own_file: Path | None = None) -> House:
    """Return the shipped tables, changed where the group's own TOML file says so.

    The group's file names table and row as the shipped ones do, the table first:
    ``["criteria/gain".overall_gain.band]``. Only rows that exist can be changed; plans, questions, levels, breeds
    and the words that name views can also be added (``[plans.plans.my_plan]``). A list replaces the whole list.

    Raises
    ------
    HouseFileError
        If the file cannot be read, is not TOML, or changes a row that does not exist.
    """
    return _shipped_house() if own_file is None else _own_house(own_file)


@lru_cache(maxsize=1)  # a tenth of a second a time, and a House is frozen
def _shipped_house() -> House:
    tables = _tables()
    mark_handling(tables)
    return House(tables)


def _tables() -> dict[str, dict[str, Any]]:
    return _shipped_tables(resources.files("fanlight.reference") / "tables")


def _own_house(own_file: Path) -> House:
    try:
        own = tomllib.loads(own_file.read_text("utf-8"))
    except OSError as error:
        raise HouseFileError(
            str(own_file), "file", error.strerror or "cannot be read", "Name an existing TOML file."
        ) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise HouseFileError(str(own_file), "file", str(error), "Mend the TOML at that line.") from error
    merged, changed = _tables(), list[str]()
    for name, rows in own.items():
        if name not in merged:
            raise HouseFileError(str(own_file), name, "no such table", f"Tables: {', '.join(sorted(merged))}.")
        if not isinstance(rows, dict):
            raise HouseFileError(
                str(own_file), name, f"a table is needed, found {rows!r}", "Write its rows one by one."
            )
        _lay_over(merged[name], rows, name, str(own_file), changed)
    try:
        mark_handling(merged)
    except (ValueError, TypeError, KeyError) as error:
        raise HouseFileError(str(own_file), _HANDLING, str(error), "Correct this row.") from error
    house = House(merged, tuple(changed))
    _check_rows(house, str(own_file))
    return house
