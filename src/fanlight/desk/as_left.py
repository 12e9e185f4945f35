"""The engine's draft as people left it: told anew where view, marks or ticks say otherwise. Pure.

Worked out once for all that is made of it: the screen, what of it is told anew, papers, and their numbers.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from fanlight.critique.doppler.colour_split import KEY as BOX_SPLIT
from fanlight.critique.picture_masks import HANGS_ON_VIEW, for_another_view, read_mask_tables
from fanlight.desk.clip_view import shown_view, view_said
from fanlight.desk.decided_planes import with_decided_planes
from fanlight.desk.decided_split import with_decided_split
from fanlight.desk.marks_file import lying_on, marks_of
from fanlight.plane.planes import PLANE_CRITERIA
from fanlight.store import StudyState
from fanlight.store.decided_in import landmarks_set
from fanlight.study import ClipReading, FileMarks, Finding, House, StudyReview

HANG_ON_VIEW = (*HANGS_ON_VIEW, *PLANE_CRITERIA)
# The valve of the box follows view and marks as well; once a person marked it, it can be told without a view.
FOLLOW_PEOPLE = (*HANG_ON_VIEW, BOX_SPLIT)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AsLeft:
    """A draft and what people said of it.

    Attributes
    ----------
    draft : StudyReview
        The engine's.
    state : StudyState
        What people said, without decisions that lapsed since.
    house : House
    hidden : frozenset of str
        Keys of clips that are judged first: nothing that is proposed of them is shown.
    marks : mapping of str to FileMarks
        What was drawn and scaled on the desk, by the key of the clip.
    lying : mapping of str to FileMarks
        What lies on each clip: that, and what was sent with the study.
    readings : tuple of ClipReading
        The engine's, in the draft's order, with what hangs on view, marks and ticks told by those that people left.
    """

    draft: StudyReview
    state: StudyState
    house: House
    hidden: frozenset[str]
    marks: Mapping[str, FileMarks]
    lying: Mapping[str, FileMarks]
    readings: tuple[ClipReading, ...]


def as_left(draft: StudyReview, state: StudyState, house: House, hidden: frozenset[str] = frozenset()) -> AsLeft:
    """Return a draft as people left it; see `AsLeft`. Of `state` all decisions may be given, lapsed ones too."""
    state, masks = standing(draft, state), house.kept("masks", read_mask_tables)
    marks, lying = marks_of(state, draft.study.clips), lying_on(state, draft.study)
    views = {item.clip.key: shown_view(item, state, is_hidden=False) for item in draft.readings}
    weighed = tuple(for_another_view(item, views[item.clip.key], masks) for item in draft.readings)
    told = with_decided_planes(weighed, views, draft, state, marks, lying, house, hidden)
    told = with_decided_split(told, views, marks, lying, house)
    return AsLeft(draft=draft, state=state, house=house, hidden=hidden, marks=marks, lying=lying, readings=told)


def told_anew(left: AsLeft) -> dict[str, tuple[Finding, ...]]:
    """Return, by clip, the findings that are told otherwise than in the draft: of the view in which a person left it,
    of planes that marks or ticks tell of, of a colour box whose valve was marked. A clip that is named has all findings
    of its plane here.
    """
    return {
        new.clip.key: tuple(item for item in new.findings if item.criterion in FOLLOW_PEOPLE)
        for old, new in zip(left.draft.readings, left.readings, strict=True)
        if new is not old and new.clip.key not in left.hidden
    }


def standing(draft: StudyReview, state: StudyState) -> StudyState:
    """Return the state without decisions on what was told of a clip otherwise than it is told of it now.

    What hangs on the view was told in another one. How the valve parts the colour box was told in another view, of
    another valve, or by other landmarks than those that a person has set on the clip now.
    """
    gone = set()
    for item in draft.readings:
        clip = item.clip.key
        now = shown_view(item, state, is_hidden=False)
        landmarks = landmarks_set(state.marks, clip)
        for criterion in FOLLOW_PEOPLE:
            if (clip, criterion) not in state.decisions:
                continue
            by_then = state.decided_in[(clip, criterion)]
            then = view_said(item, by_then.placed, by_then.blind)
            is_other_box = then.valve != now.valve or by_then.landmarks != landmarks
            if then.view != now.view or (criterion == BOX_SPLIT and is_other_box):
                gone.add((clip, criterion))
    if not gone:
        return state
    return replace(state, decisions={key: said for key, said in state.decisions.items() if key not in gone})
