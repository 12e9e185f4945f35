"""Whether everything that was kept is still as it was written."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select

from fanlight.store.documents import list_hash
from fanlight.store.store import Store
from fanlight.store.tables import DOCUMENTS, FILES, PARTS


@dataclass(frozen=True, slots=True, kw_only=True)
class Damage:
    """One thing that is no longer as it was written."""

    where: str  # file, paper or table, as a person can find it
    found: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Verification:
    """What `verify_store` looked at and found."""

    n_originals: int
    damage: tuple[Damage, ...]
    without_name: tuple[str, ...]  # originals that no row names: a crash came between file and row; harmless

    @property
    def is_whole(self) -> bool:
        """Whether nothing is damaged or missing."""
        return not self.damage


def verify_store(store: Store) -> Verification:
    """Compare every original and every signed paper with its hash, and let the database check itself.

    Reads all kept bytes, so it takes as long as the disk takes to read them.
    """
    users = _users(store)
    there = tuple(store.originals.hashes())
    damage = [Damage(where="database", found=problem) for problem in store.database.problems()]
    for sha256 in there:
        if not store.originals.is_whole(sha256):
            named = ", ".join(users.get(sha256, ("named by no row",)))
            damage.append(Damage(where=f"original {sha256} ({named})", found="its bytes have changed"))
    for sha256 in sorted(set(users) - set(there)):
        damage.append(Damage(where=f"original {sha256} ({', '.join(users[sha256])})", found="it is not there"))
    damage += _changed_papers(store)
    return Verification(
        n_originals=len(there), damage=tuple(damage), without_name=tuple(item for item in there if item not in users)
    )


def named_originals(store: Store) -> tuple[str, ...]:
    """Return the hash of every original that a row names, in order."""
    return tuple(sorted(_users(store)))


def _users(store: Store) -> dict[str, list[str]]:
    """Return what names each original, in words."""
    users: dict[str, list[str]] = {}
    with store.database.read() as connection:
        for study, name, sha256 in connection.execute(select(FILES.c.study, FILES.c.name, FILES.c.sha256)):
            users.setdefault(sha256, []).append(f"{name} of study {study}")
        for document, name, sha256 in connection.execute(select(PARTS.c.document, PARTS.c.name, PARTS.c.sha256)):
            users.setdefault(sha256, []).append(f"{name} of signed paper {document}")
    return users


def _changed_papers(store: Store) -> list[Damage]:
    with store.database.read() as connection:
        said = {row.id: row.sha256 for row in connection.execute(select(DOCUMENTS.c.id, DOCUMENTS.c.sha256))}
        parts: dict[str, list[tuple[str, str]]] = {document: [] for document in said}
        rows = connection.execute(select(PARTS.c.document, PARTS.c.name, PARTS.c.sha256).order_by(PARTS.c.seq))
        for document, name, sha256 in rows:
            parts[document].append((name, sha256))
    return [
        Damage(where=f"signed paper {document}", found="the list of its parts is not the one that was signed")
        for document, sha256 in said.items()
        if list_hash(parts[document]) != sha256
    ]
