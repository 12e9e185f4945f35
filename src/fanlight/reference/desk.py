"""Readers of the tables that only the desk uses: its settings, and the phrases that a mentor picks."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.study import House

_ABOUT = frozenset({"picture", "beat", "Doppler", "order", "praise"})


@dataclass(frozen=True, slots=True, kw_only=True)
class DeskSettings:
    """House settings of the desk."""

    blind_share: float  # of the clips, 0 to 1: judged before proposals are shown


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
        When the share is none.
    """
    settings = DeskSettings(**house.table("desk")["settings"])
    if not 0 <= settings.blind_share <= 1:
        raise ValueError(f"desk.settings.blind_share must lie between 0 and 1, got {settings.blind_share}")
    return settings


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
