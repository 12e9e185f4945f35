"""What is known of the clip on which shapes were placed."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.measure.picture.placed import Given, Grid
from fanlight.measure.picture.said import Writer
from fanlight.reference.views import View
from fanlight.study import ClipTime, Patient


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureCase:
    """One giver's shapes on one clip, with its view, its beats and its animal."""

    given: Given
    grid: Grid
    view: View
    time: ClipTime
    patient: Patient
    write: Writer

    @property
    def is_by_hand(self) -> bool:
        """Whether a person placed them, who is told what is missing; a network's finds ask for nothing."""
        return not self.given.is_found
