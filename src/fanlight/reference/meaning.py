"""What several numbers of one study mean together: gradings, signs that a person must see, and what should agree."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fanlight.study import House, Species


@dataclass(frozen=True, slots=True, kw_only=True)
class Grading:
    """A stage, score or grade: of what, by whom, and how much of it was read."""

    key: str
    title: str
    species: Species
    lesions: tuple[str, ...]  # one of them must be named
    not_with: tuple[str, ...]  # lesions with which it does not hold
    breeds: tuple[str, ...]  # empty: all
    citation: str
    status: str  # "seen", "memory"
    remembered: str  # what of it was not read; ""
    caution: str
    limits: Mapping[str, float]

    @property
    def status_words(self) -> str:
        """How far it can be relied on."""
        return f"from memory, confirm: {self.remembered}" if self.status == "memory" else "as the source prints it"


@dataclass(frozen=True, slots=True, kw_only=True)
class ModeAgreement:
    """How far M-mode and 2-D of one dimension lay apart in one paper."""

    share_percent: float
    small_mm: float  # dogs below 15 kg
    large_mm: float
    citation: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReaderSpread:
    """How far two readers of one stored picture lie apart, in one technique."""

    quantities: tuple[str, ...]
    cv_percent: float
    citation: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MeaningTables:
    """All rows."""

    independent_frames: int
    gradings: Mapping[str, Grading]
    signs: Mapping[str, str]  # title by key
    modes: Mapping[str, ModeAgreement]  # by quantity
    readers: Mapping[str, ReaderSpread]  # by technique


def read_meaning(house: House) -> MeaningTables:
    """Return the table "meaning"; ValueError names the row that is incomplete."""
    table = house.table("meaning")
    frames = table["settings"]["independent_frames"]
    if isinstance(frames, bool) or not isinstance(frames, int) or frames < 1:
        raise ValueError(f"meaning.toml, settings.independent_frames must be a whole number from 1 up, got {frames!r}")
    return MeaningTables(
        independent_frames=frames,
        gradings={key: _grading(key, row) for key, row in table["gradings"].items()},
        signs={key: str(row["title"]) for key, row in table["signs"].items()},
        modes={key: ModeAgreement(**row) for key, row in table["modes"].items()},
        readers={key: ReaderSpread(**row) for key, row in table["readers"].items()},
    )


def _grading(key: str, row: Mapping[str, Any]) -> Grading:
    try:
        read = Grading(
            key=key,
            title=row["title"],
            species=Species(row["species"]),
            lesions=tuple(row["lesions"]),
            not_with=tuple(row.get("not_with", ())),
            breeds=tuple(row.get("breeds", ())),
            citation=row["citation"],
            status=row["status"],
            remembered=row["remembered"],
            caution=row["caution"],
            limits={name: float(number) for name, number in row["limits"].items()},
        )
    except (KeyError, ValueError, TypeError) as error:
        raise ValueError(f"meaning.toml, gradings.{key}: {error}") from error
    if read.status not in ("seen", "memory") or (read.status == "memory") != bool(read.remembered):
        raise ValueError(f"meaning.toml, gradings.{key}: status is seen, or memory with what is remembered")
    return read
