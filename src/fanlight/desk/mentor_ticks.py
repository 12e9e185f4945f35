"""The mentor's ticks, held against the lists of the views in which their clips lie now."""

from __future__ import annotations

from collections.abc import Mapping

from fanlight.desk.clip_view import shown_view
from fanlight.reference.views import View
from fanlight.report.shown import ShownInClip
from fanlight.store import Requirement, StudyState
from fanlight.study import StudyReview, ViewSource


def shown_in_clips(draft: StudyReview, state: StudyState, views: Mapping[str, View]) -> tuple[ShownInClip, ...]:
    """Return what the mentor ticked, clip by clip in the order of the study.

    A tick counts while its item stands in the list of the view in which its clip lies: one that was made before the
    clip went to another view is silent until it comes back. A view that was only recognised is not named.
    """
    there: dict[str, set[str]] = {}  # by view: what one of its clips is said to show
    lying = {item.clip.key: shown_view(item, state, is_hidden=False) for item in draft.readings}
    for (clip, requirement, item), is_shown in state.ticks.items():
        if clip in lying and requirement is Requirement.MUST_SHOW and is_shown:
            there.setdefault(lying[clip].view, set()).add(item)
    found = []
    for reading in draft.readings:
        key = reading.clip.key
        view = views.get(lying[key].view)
        if view is None:
            continue
        must = [state.ticks.get((key, Requirement.MUST_SHOW, item)) for item in view.must_show]
        must_not = [state.ticks.get((key, Requirement.MUST_NOT_SHOW, item)) for item in view.must_not_show]
        if all(said is None for said in (*must, *must_not)):
            continue
        lacking = tuple(item for item, said in zip(view.must_show, must, strict=True) if said is False)
        unwanted = tuple(item for item, said in zip(view.must_not_show, must_not, strict=True) if said)
        found.append(
            ShownInClip(
                clip=reading.clip.number,
                view="" if lying[key].source is ViewSource.RECOGNISED else view.title,
                lacking=lacking,
                unwanted=unwanted,
                is_whole=bool(must) and all(must) and not unwanted,
                elsewhere=frozenset(lacking) & there.get(view.key, set()),
            )
        )
    return tuple(found)
