"""How a value was taken, read from the words beside it."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.reference.wording import find_phrases
from fanlight.study import House

KINDS = ("technique", "phase", "window")


@dataclass(frozen=True, slots=True, kw_only=True)
class Method:
    """One way of taking a value, a phase of the beat or a window."""

    key: str
    kind: str  # one of KINDS
    title: str
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenBy:
    """What the words say. An empty part means: not stated."""

    technique: tuple[str, ...] = ()
    phase: tuple[str, ...] = ()
    window: tuple[str, ...] = ()


def read_methods(house: House) -> dict[str, Method]:
    """Return all methods by key; ValueError names the row that is incomplete."""
    return dict(house.kept("methods", _all_methods))


def _all_methods(house: House) -> dict[str, Method]:
    methods: dict[str, Method] = {}
    for key, row in house.table("methods").items():
        try:
            methods[key] = Method(key=key, kind=row["kind"], title=row["title"], words=tuple(row["words"]))
        except KeyError as error:
            raise ValueError(f"methods.toml, row {key}: {error} is missing") from error
        if methods[key].kind not in KINDS:
            raise ValueError(f"methods.toml, row {key}: kind must be one of {KINDS}, got {methods[key].kind!r}")
    return methods


def match_method(house: House, text: str) -> TakenBy:
    """Return technique, phase and window that a text names ("M-mode", "PW, left apical", "biplane Simpson")."""
    methods = read_methods(house)
    by_phrase = {
        phrase: method
        for method in methods.values()
        for phrase in (method.title, method.key.replace("_", " "), *method.words)
    }
    found = [by_phrase[phrase] for phrase in find_phrases(text.replace("_", " "), by_phrase)]
    parts = {kind: tuple(dict.fromkeys(item.key for item in found if item.kind == kind)) for kind in KINDS}
    return TakenBy(**parts)
