"""What takes long to work out and is shown often: kept with what it rests on, and made anew when that has changed.

Nothing here is known only here. A row may be lost or old; who reads one compares its basis with what holds now.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from sqlalchemy import func, select

from fanlight import __version__
from fanlight.store.packed import pack, unpack
from fanlight.store.store import Store
from fanlight.store.tables import DERIVED, ENTRIES, REVIEWS


class DerivedKind(StrEnum):
    """What is kept."""

    PATH = "path"  # of a study, as the mentor's acts leave it: a Coverage
    LETTER = "letter"  # what a signed letter asked of its trainee


@dataclass(frozen=True, slots=True, kw_only=True)
class Derived:
    """One derived value, packed, and what it rests on."""

    basis: str
    value: bytes

    def unpacked(self, kind: Any) -> Any | None:
        """Return the value; None when another Fanlight wrote it in another form."""
        return unpack(self.value, kind)


def read_derived(store: Store, kind: DerivedKind, keys: Iterable[str]) -> dict[str, Derived]:
    """Return what is kept of these, whether it still holds or not."""
    wanted = select(DERIVED.c.of, DERIVED.c.basis, DERIVED.c.value).where(
        DERIVED.c.kind == kind.value, DERIVED.c.of.in_(tuple(keys))
    )
    with store.database.read() as connection:
        return {of: Derived(basis=basis, value=value) for of, basis, value in connection.execute(wanted)}


def keep_derived(store: Store, kind: DerivedKind, key: str, *, basis: str, value: object) -> None:
    """Keep a value in place of the one before."""
    packed = pack(value)
    with store.database.write() as connection:
        connection.execute(DERIVED.delete().where(DERIVED.c.kind == kind.value, DERIVED.c.of == key))
        connection.execute(DERIVED.insert().values(kind=kind.value, of=key, basis=basis, value=packed))


@dataclass(frozen=True, slots=True, kw_only=True)
class PathBasis:
    """What the path of a study rests on."""

    draft: int
    entry: int  # 0: nobody did anything yet
    made_with: str  # House and program

    def __str__(self) -> str:
        return f"draft {self.draft}, entry {self.entry}, {self.made_with}"


def path_bases(
    store: Store, studies: Iterable[str], *, house: str, engine_version: str = __version__
) -> dict[str, PathBasis]:
    """Return what the path of each study rests on now; studies without a draft have no path and are left out.

    Parameters
    ----------
    house : str
        Fingerprint of the tables that the path is worked out with.
    """
    these = tuple(studies)
    drafts = select(REVIEWS.c.study, func.max(REVIEWS.c.seq)).where(REVIEWS.c.study.in_(these))
    acts = select(ENTRIES.c.study, func.max(ENTRIES.c.seq)).where(ENTRIES.c.study.in_(these))
    with store.database.read() as connection:
        draft_of = dict(connection.execute(drafts.group_by(REVIEWS.c.study)).all())
        act_of = dict(connection.execute(acts.group_by(ENTRIES.c.study)).all())
    made_with = f"house {house}, version {engine_version}"
    return {
        study: PathBasis(draft=seq, entry=act_of.get(study, 0), made_with=made_with) for study, seq in draft_of.items()
    }
