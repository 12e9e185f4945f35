"""Reader of the bibliography: every source key of the tables, with what was read of the work."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.study import House


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """One work that the tables cite."""

    key: str
    short: str  # "Cornell and others 2004"
    citation: str
    doi: str  # "" when there is none or it was not seen
    elsewhere: str  # PMC or PMID number
    read: str  # what was read of it: "abstract", "text and table" …
    from_memory: str  # the part of this entry that was not seen; "" = none

    def words(self) -> str:
        """Return the entry as a list of sources prints it, with what was read."""
        address = f" doi {self.doi}." if self.doi else f" {self.elsewhere}." if self.elsewhere else ""
        doubt = f"; from memory, to be confirmed: {self.from_memory}" if self.from_memory else ""
        return f"{self.citation}{address} Read: {self.read}{doubt}."


def read_bibliography(house: House) -> dict[str, Work]:
    """Return all works by key.

    Raises
    ------
    ValueError
        Naming the row that is incomplete.
    """
    return dict(house.kept("bibliography", _all_bibliography))


def _all_bibliography(house: House) -> dict[str, Work]:
    works: dict[str, Work] = {}
    for key, row in house.table("bibliography").items():
        try:
            works[key] = Work(key=key, **row)
        except TypeError as error:
            raise ValueError(f"bibliography.toml, row {key}: {error}") from error
    return works
