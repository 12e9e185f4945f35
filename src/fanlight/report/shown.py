"""What the mentor ticked: whether a view shows what it must, and what it must not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fanlight.report import words
from fanlight.report.document import Block, Heading, Items


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownInClip:
    """The ticks of one clip."""

    clip: int  # Clip.number
    view: str  # title; "" while nobody has said which view it is
    lacking: tuple[str, ...] = ()  # must be shown and is not
    unwanted: tuple[str, ...] = ()  # must not be shown and is
    is_whole: bool = False  # all that must be shown is, and nothing that must not be
    elsewhere: frozenset[str] = frozenset()  # of `lacking`: what another clip of the view shows

    @property
    def place(self) -> str:
        """Where this is, in words."""
        return f"{self.view} (clip {self.clip})" if self.view else f"Clip {self.clip}"

    @property
    def words(self) -> str:
        """What is amiss, in a line."""
        parts = []
        if self.lacking:
            parts.append(f"not shown: {', '.join(self.lacking)}")
        if self.unwanted:
            parts.append(f"shown, and should not be: {', '.join(self.unwanted)}")
        return f"{self.place}: {'; '.join(parts)}"


def shown_blocks(shown: Sequence[ShownInClip], views_max: int) -> list[Block]:
    """Return what the views show, for the trainee: praise in a line, then each view that lacks something."""
    whole = [item.clip for item in shown if item.is_whole]
    amiss = [item for item in shown if item.lacking or item.unwanted]
    lines = [f"Everything the view must show is there: {words.clips(whole)}."] if whole else []
    lines += [f"{item.words}." for item in amiss[:views_max]]
    if rest := [item.clip for item in amiss[views_max:]]:
        lines.append(f"Something is missing, or should not be there, in {words.clips(rest)} too.")
    return [Heading(text="What the views show"), Items(entries=tuple(lines))] if lines else []


def lacking_line(shown: Sequence[ShownInClip]) -> str:
    """Return what no clip of its view shows although one must, for the attending vet; "" when nothing is lacking."""
    found = []
    for item in shown:
        if lacking := [name for name in item.lacking if name not in item.elsewhere]:
            found.append(f"{item.place}: {', '.join(lacking)}")
    return f"Not shown by the views that must show it, as the mentor says: {'; '.join(found)}." if found else ""
