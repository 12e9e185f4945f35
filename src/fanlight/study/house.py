"""Everything a teaching group may want otherwise, as one frozen value."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, TypeVar

Table = Mapping[str, Any]
T = TypeVar("T")


def _frozen(value: Any) -> Any:
    if isinstance(value, Mapping):
        return MappingProxyType({key: _frozen(item) for key, item in value.items()})
    if isinstance(value, list | tuple):
        return tuple(_frozen(item) for item in value)
    return value


def _thawed(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _thawed(item) for key, item in value.items()}
    if isinstance(value, tuple):
        return [_thawed(item) for item in value]
    return value


@dataclass(frozen=True, slots=True)
class House:
    """Tables by name ("criteria/gain", "views", "plans", …), shipped defaults with the group's own laid over.

    `own_rows` lists what the group changed ("criteria/gain.overall_gain.band"), for display beside results.
    """

    tables: Mapping[str, Table]
    own_rows: tuple[str, ...] = field(default=())
    _prints: dict[tuple[str, ...], str] = field(default_factory=dict, init=False, repr=False, compare=False)
    _read: dict[str, Any] = field(default_factory=dict, init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "tables", _frozen(self.tables))

    def __reduce__(self) -> tuple[Any, ...]:
        return (House, (_thawed(self.tables), self.own_rows))

    def table(self, name: str) -> Table:
        """Return one table.

        Raises
        ------
        KeyError
            Naming the table, when it does not exist.
        """
        try:
            return self.tables[name]
        except KeyError:
            raise KeyError(f"the house has no table {name!r}; it has {', '.join(sorted(self.tables))}") from None

    def kept(self, name: str, read: Callable[[House], T]) -> T:
        """Return what `read` makes of the tables, made once: rows are read anew for every number otherwise.

        Parameters
        ----------
        name : str
            Of what is read; one name always with one reader.
        read : callable
            Makes a value that nobody changes.
        """
        if name not in self._read:  # frozen: the same tables always read the same
            self._read[name] = read(self)
        found: T = self._read[name]
        return found

    def fingerprint(self, names: Iterable[str] | None = None) -> str:
        """Return a hash over the named tables (all of them by default): same rows, same hash."""
        chosen = tuple(sorted(self.tables if names is None else names))
        if chosen not in self._prints:  # frozen: made once, since each act on the desk asks for it
            text = json.dumps({name: _thawed(self.table(name)) for name in chosen}, sort_keys=True, default=str)
            self._prints[chosen] = hashlib.sha256(text.encode()).hexdigest()[:16]
        return self._prints[chosen]
