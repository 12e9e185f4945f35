"""Remarks that several rows of a table share: each is written once below the table, and rows name its letter. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from string import ascii_lowercase

_FEWEST_ROWS = 2  # from so many on, a remark stands below the table


@dataclass(frozen=True, slots=True)
class SharedNotes:
    """The remarks that stand below a table, in the order of their letters."""

    remarks: tuple[str, ...]

    def own(self, remarks: Iterable[str]) -> tuple[str, ...]:
        """Return those that stand in the row itself."""
        return tuple(item for item in remarks if item not in self.remarks)

    def letters(self, remarks: Iterable[str]) -> tuple[str, ...]:
        """Return the letters of those that stand below, in alphabetical order."""
        return tuple(_letter(place) for place in sorted({self._place(item) for item in remarks} - {-1}))

    def lines(self) -> tuple[str, ...]:
        """Return what stands below the table, one line a remark."""
        return tuple(f"{_letter(place)}: {remark}" for place, remark in enumerate(self.remarks))

    def _place(self, remark: str) -> int:
        return self.remarks.index(remark) if remark in self.remarks else -1


def share_notes(rows: Iterable[Sequence[str]]) -> SharedNotes:
    """Return the remarks that at least two rows have, in the order in which they come.

    Parameters
    ----------
    rows : iterable of sequence of str
        The remarks of each row.
    """
    counts = Counter(remark for row in rows for remark in dict.fromkeys(row))
    return SharedNotes(tuple(remark for remark, count in counts.items() if count >= _FEWEST_ROWS))


def _letter(place: int) -> str:
    """Return a, b … z, aa, ab … by its place."""
    before, here = divmod(place, len(ascii_lowercase))
    return (_letter(before - 1) if before else "") + ascii_lowercase[here]
