"""What the engine's own calipers measured, for papers of decided findings: in the views that the mentor left. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from fanlight.desk.as_left import AsLeft
from fanlight.desk.decided import weighing
from fanlight.reference.criteria import read_criteria
from fanlight.reference.letter import read_letter_limits
from fanlight.reference.validity import read_standings
from fanlight.review.numbers import Weighed, found_numbers
from fanlight.study import ClipReading, PictureReading, StudyReview
from fanlight.validity.measured import Rules
from fanlight.validity.unconfirmed import find_unconfirmed


def with_unconfirmed(paper: StudyReview, left: AsLeft) -> StudyReview:
    """Return a paper's review with what calipers of the draft measure, apart from all that a person decided.

    Parameters
    ----------
    paper : StudyReview
        Of `for_papers`: without what the pixels proposed.
    left : AsLeft
        What people said: their scale measures before the file's, and what the engine finds in the view that they named,
        with their marks and ticks, weighs the numbers as on the screen. Of clips that are judged first nothing is told.
    """
    house, hidden = left.house, left.hidden
    laid = {item.clip.key: item.picture for item in left.draft.readings if item.picture is not None}
    readings = tuple(_with_lines(item, laid) for item in paper.readings if item.clip.key not in hidden)
    limits = read_letter_limits(house)
    rules = Rules(standings=read_standings(house), criteria=read_criteria(house), sure_from=limits.sure_from)
    by = Weighed(study=paper.study, house=house, rules=rules, undecided=weighing(left))
    found = found_numbers(readings, by, left.marks)
    numbers = find_unconfirmed(paper.study, paper.readings, (*paper.measurements, *found), house)
    return replace(paper, unconfirmed=numbers)


def _with_lines(item: ClipReading, laid: Mapping[str, PictureReading]) -> ClipReading:
    picture = laid.get(item.clip.key)
    return replace(item, picture=None if picture is None else PictureReading(lines=picture.lines))
