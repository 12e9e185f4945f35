"""Where the probe stood, printed: a line for each clip of which landmarks are known."""

from __future__ import annotations

from fanlight.cli.screen import OUT
from fanlight.reference.movements import read_movements
from fanlight.study import House, StudyReview


def say_stands(draft: StudyReview, house: House, is_quiet: bool) -> None:
    """Print where the probe stood in each clip, or why nothing is told of it."""
    if is_quiet:
        return
    from fanlight.report.stands import stand_lines

    for clip, said in stand_lines(draft, read_movements(house)):
        OUT.print(f"where the probe stood, {clip}: {said}", markup=False)
