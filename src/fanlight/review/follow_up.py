"""A study held against the earlier ones of its trainee, by the tables and limits of the House."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fanlight.coach.followed import follow
from fanlight.reference.criteria import read_criteria
from fanlight.reference.letter import read_letter_limits
from fanlight.reference.views import read_views
from fanlight.study import ClipReading, FollowUp, House, StudyRecord


def followed(
    earlier: Sequence[StudyRecord], now: StudyRecord, readings: Sequence[ClipReading], house: House
) -> FollowUp:
    """Return what became of the advice of earlier studies, with as much praise as a letter takes.

    Parameters
    ----------
    earlier : sequence of StudyRecord
        Those that do not count are named.
    now : StudyRecord
        This study; its advice is not looked at.
    readings : sequence of ClipReading
        Of this study.
    house : House
    """
    limits, criteria = read_letter_limits(house), read_criteria(house)
    titles = {key: view.title for key, view in read_views(house).items()}
    found = follow(earlier, now, readings, criteria, titles, limits.strength_share, limits.sure_from)
    return replace(found, met_now=found.met_now[: limits.strengths_max])
