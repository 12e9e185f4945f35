"""Readers of the tables that only the desk uses: its settings, its words, and the phrases that a mentor picks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from fanlight.study import House

_ABOUT = frozenset({"picture", "beat", "Doppler", "order", "praise"})


@dataclass(frozen=True, slots=True, kw_only=True)
class DeskSettings:
    """House settings of the desk."""

    blind_share: float  # of the clips, 0 to 1: judged before proposals are shown
    causes_first_share: float  # of the studies, 0 to 1: covered until the mentor has said which causes she sees
    causes_first_since: date | None  # studies that came before this day are never covered; None: none is


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowWords:
    """How the path calls a window."""

    title: str
    leaves_out: str  # how titles of its views begin, said once by the window

    def short(self, title: str) -> str:
        """Return the title of a view without its window."""
        if not self.leaves_out or not title.lower().startswith(self.leaves_out.lower()):
            return title
        return title[len(self.leaves_out) :].lstrip(" ,") or title


@dataclass(frozen=True, slots=True, kw_only=True)
class Phrase:
    """One sentence for letters."""

    key: str
    words: str
    about: str
    view: str  # "": for all views


def read_desk_settings(house: House) -> DeskSettings:
    """Return the settings.

    Raises
    ------
    ValueError
        When a share is none, the day is no day, or studies are to be covered and the day is missing.
    """
    row = house.table("desk")["settings"]
    settings = DeskSettings(**{**row, "causes_first_since": _day(row["causes_first_since"])})
    for name in ("blind_share", "causes_first_share"):
        if not 0 <= (share := getattr(settings, name)) <= 1:
            raise ValueError(f"desk.settings.{name} must lie between 0 and 1, got {share}")
    if settings.causes_first_share > 0 and settings.causes_first_since is None:
        raise ValueError(
            "desk.settings.causes_first_since is missing: name the day from which on studies are covered, as "
            '"2026-12-01"; what came before may have been seen'
        )
    return settings


def _day(text: str) -> date | None:
    """Return the day that is named, None where none is."""
    try:
        return date.fromisoformat(text) if text else None
    except ValueError as error:
        raise ValueError(f'desk.settings.causes_first_since must be a day, as "2026-12-01", got {text!r}') from error


def read_windows(house: House) -> Mapping[str, WindowWords]:
    """Return the words of each window, by its key.

    Raises
    ------
    ValueError
        Naming the window that has no words, or a row that is incomplete.
    """
    found = {}
    for key, row in house.table("desk")["windows"].items():
        if set(row) != {"title", "leaves_out"} or not row["title"]:
            raise ValueError(f"desk.windows.{key} needs title, and leaves_out (may be empty)")
        found[key] = WindowWords(**row)
    if unnamed := sorted({view["window"] for view in house.table("views")["views"].values()} - set(found)):
        raise ValueError(f"desk.windows has no words for {', '.join(unnamed)}")
    return found


def read_structure_groups(house: House) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Return what is judged by eye: headings in their order, each with the structures below it.

    Raises
    ------
    ValueError
        Naming the structure that stands below no heading.
    """
    groups: dict[str, list[str]] = {}
    for structure, heading in house.table("desk")["structures"].items():
        if not heading:
            raise ValueError(f"desk.structures: {structure!r} needs a heading to stand below")
        groups.setdefault(heading, []).append(structure)
    return tuple((heading, tuple(names)) for heading, names in groups.items())


def read_phrases(house: House) -> tuple[Phrase, ...]:
    """Return all phrases, in the order of the table.

    Raises
    ------
    ValueError
        Naming the row that is incomplete.
    """
    phrases = []
    views = house.table("views")["views"]
    for key, row in house.table("phrases").items():
        if set(row) != {"words", "about", "view"} or not row["words"] or row["about"] not in _ABOUT:
            raise ValueError(f"phrases.{key} needs words, about (one of {', '.join(sorted(_ABOUT))}) and view")
        if row["view"] and row["view"] not in views:
            raise ValueError(f"phrases.{key}: there is no view {row['view']!r}")
        phrases.append(Phrase(key=key, words=row["words"], about=row["about"], view=row["view"]))
    return tuple(phrases)
