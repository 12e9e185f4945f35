"""Whether the picture is the right way round, and whether it was taken from the window that its name says."""

from __future__ import annotations

import math

from fanlight.plane.sight import Sight
from fanlight.plane.told import NETWORK, PERSON, Told, drawn
from fanlight.study import ViewSource

LEAST_APART = 3.0  # two places nearer than so many of their errors lie in no order (engineering judgement)
NAMED_BY_FILE = (
    ViewSource.MARKS_FILE, ViewSource.VIEW_CODE, ViewSource.VIEW_NAME, ViewSource.SERIES_TEXT, ViewSource.SCREEN_TEXT,
)  # fmt: skip


def right_way_round(sight: Sight) -> Told | str | None:
    """Return the share of landmarks that lie in the order of the standard plane, left to right: 0 is mirrored.

    The network's own doubt speaks only where no two landmarks are known.
    """
    if not sight.asked.order:
        return None
    votes: list[tuple[bool, bool]] = []  # whether a person says so, whether the order is right
    evidence = []
    for moment in sight.moments:
        for first, second in sight.asked.order:
            left, right = sight.shown(moment, first), sight.shown(moment, second)
            if left is None or right is None:
                continue
            apart = right.across - left.across
            if abs(apart) >= LEAST_APART * math.hypot(left.spread, right.spread):
                votes.append((left.by_person and right.by_person, apart > 0))
                evidence.append(drawn(f"{first.value} to {second.value}", moment.frame, left, right))
    by_person = [is_right for is_persons, is_right in votes if is_persons]
    said = by_person or [is_right for _, is_right in votes]
    if said:
        words = f"{sum(said)} of {len(said)} pairs of landmarks lie in their order from left to right"
        by = PERSON if by_person else NETWORK
        return Told(value=sum(said) / len(said), spread=0.0, words=words, by=by, evidence=tuple(evidence[:1]))
    picture = sight.reading.picture
    if picture is None or not picture.views:
        first, second = sight.asked.order[0]
        return f"it takes two landmarks that lie beside each other: mark {first.value} and {second.value}"
    words = f"not mirrored: {100 * (1 - picture.mirrored):.0f} % likely"
    return Told(value=1.0 - picture.mirrored, spread=0.0, words=words, by=NETWORK)


def window_of_label(sight: Sight) -> Told | str | None:
    """Return how likely the picture was taken from the window of the view that the file names; None: no file names one.

    A person who looked at the picture is not doubted here.
    """
    if sight.reading.view.source not in NAMED_BY_FILE:
        return None
    picture = sight.reading.picture
    if picture is None or not picture.views:
        return "the picture network did not look at this clip, and nothing else tells the window"
    own = sight.windows[sight.asked.view]
    first = picture.views[0]
    if not first.view:
        return "the picture looks like none of the standard views; that tells of no window"
    other = sight.windows[first.view]
    if other != own and first.probability < sight.settings.label_from:
        return (
            f"the picture looks like {sight.titles[first.view]} ({100 * first.probability:.0f} %), "
            "which is too unsure to doubt the name"
        )
    share = sum(item.probability for item in picture.views if sight.windows.get(item.view) == own)
    words = f"named {sight.titles[sight.asked.view]}; the picture looks like {sight.titles[first.view]}"
    return Told(
        value=min(share, 1.0), spread=0.0, by=NETWORK, words=f"{words} ({100 * first.probability:.0f} %)",
    )  # fmt: skip
