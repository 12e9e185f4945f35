"""What became of the advice of earlier studies, printed."""

from __future__ import annotations

from fanlight.cli.screen import OUT
from fanlight.study import StudyReview


def say_follow_up(draft: StudyReview, is_quiet: bool) -> None:
    """Print what is mended, what is not, and which earlier study does not count, a line each."""
    if is_quiet:
        return
    from fanlight.report.followed import follow_up_lines

    for line in (*follow_up_lines(draft), *draft.follow_up.not_followed):
        OUT.print(f"earlier advice: {line}", markup=False)
