"""What is told of a clip beside its pixels: view, valve and marks. Criteria that need them say so where they lack."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fanlight.critique.accumulator import ClipContext
from fanlight.study import NOT_KNOWN, FileMarks, Valve, ViewReading

_NAME = "doppler.told"


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """View and valve as read or marked, and what a person drew on this clip."""

    view: ViewReading = NOT_KNOWN
    marks: FileMarks | None = None

    @property
    def valve(self) -> Valve | None:
        """Which valve the clip is of, or None where neither words nor the view tell."""
        return self.view.valve


def tell(shared: dict[str, Any], view: ViewReading, marks: FileMarks | None) -> None:
    """Lay down what is told of a clip where its families find it."""
    shared[_NAME] = Told(view=view, marks=marks)


def told(context: ClipContext) -> Told:
    """Return what is told of this clip; nothing where nobody laid it down."""
    found = context.shared.get(_NAME, Told())
    assert isinstance(found, Told)
    return found
