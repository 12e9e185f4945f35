"""What an addendum changed: the paper as it was signed last, held against the paper as it stands now."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from fanlight.report.document import Block, Heading, Paragraph, Voice
from fanlight.report.document import Document as Paper
from fanlight.store import Document, Entry, Store, entries_of

_FIRST, _LAST = "the opening", "the closing words"


def changed_since(
    store: Store, study: str, earlier: Document, now: Paper, build: Callable[[Sequence[Entry]], Paper]
) -> tuple[str, ...]:
    """Return the sections of a paper that differ from those signed last, in words, in the order of the paper.

    Parameters
    ----------
    earlier : Document
        The version before.
    now : Paper
        As it stands, without a signature.
    build : callable
        Makes the same paper from a log as it stood at some time.
    """
    entries = entries_of(store, study)
    at = next(place for place, entry in enumerate(entries) if entry.id == earlier.id)
    before, after = _sections(build(entries[: at + 1])), _sections(now)
    named = [*after, *(name for name in before if name not in after)]
    return tuple(name for name in named if before.get(name) != after.get(name))


def _sections(paper: Paper) -> dict[str, list[Block]]:
    found: dict[str, list[Block]] = {}
    name = _FIRST
    for block in paper.blocks:
        if isinstance(block, Heading) and block.level == 2:
            name = block.text[:1].lower() + block.text[1:]
        if isinstance(block, Paragraph) and block.voice is Voice.CLOSING:
            name = _LAST
        found.setdefault(name, []).append(block)
    return found
