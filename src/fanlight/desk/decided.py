"""The mentor's decisions laid over the engine's draft. Pure: draft and state in, another draft out.

Two forms. For the screen the proposals that nobody decided on are still there; for letter and summary they are gone:
what a person kept passes, what a person overruled carries that person's verdict and reason, and nothing else.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from fanlight.critique.doppler.colour_split import KEY as BOX_SPLIT
from fanlight.critique.picture_masks import HANGS_ON_VIEW, for_another_view, read_mask_tables
from fanlight.desk.decided_named import with_named
from fanlight.desk.decided_planes import with_decided_planes
from fanlight.desk.decided_split import with_decided_split
from fanlight.desk.marks_file import lying_on, marks_of
from fanlight.desk.points import letter_points
from fanlight.measure.marked import GIVEN_BY
from fanlight.plane.planes import PLANE_CRITERIA
from fanlight.reference.criteria import read_criteria
from fanlight.review.advise import cuts_of
from fanlight.review.conclude import conclude
from fanlight.store import StudyState
from fanlight.store.actions import JudgeBlind, OverruleFinding, PlaceClip, TakeClipOut
from fanlight.store.decided_in import landmarks_set
from fanlight.study import (
    ClipReading,
    Criterion,
    Finding,
    House,
    Measurement,
    Side,
    StudyReview,
    Valve,
    Verdict,
    ViewReading,
    ViewSource,
)

SENT_MARKS = "marked by hand in the files sent"  # beside `GIVEN_BY`, which is what was drawn on the desk

HANG_ON_VIEW = (*HANGS_ON_VIEW, *PLANE_CRITERIA)
# The valve of the box follows view and marks as well; once a person marked it, it can be told without a view.
FOLLOW_PEOPLE = (*HANG_ON_VIEW, BOX_SPLIT)

_TAKEN_OUT = ViewReading(view="", source=ViewSource.MENTOR, probability=1.0, reason="taken out by the mentor")
_NOT_DECIDED = ViewReading(
    view="", source=ViewSource.NOT_KNOWN, probability=0.0, reason="recognised, and not confirmed by the mentor"
)
_HIDDEN = ViewReading(
    view="", source=ViewSource.NOT_KNOWN, probability=0.0, reason="to be judged before a proposal is shown"
)


def without_proposals(item: ClipReading) -> ClipReading:
    """Return a reading that says nothing the mentor could be led by: what it is made of, and no more."""
    return replace(item, findings=(), verdicts=(), view=_unproposed(item), picture=None, measured=())


def _unproposed(item: ClipReading) -> ViewReading:
    """Return the view without what was recognised: neither a proposal, nor why there is none, nor a doubt in words."""
    view = item.view
    if view.source is ViewSource.RECOGNISED:
        return _HIDDEN
    if item.picture is None:
        return view
    # The pixels were asked: the reason may tell what they say.
    return replace(_HIDDEN, valve=view.valve) if view.source is ViewSource.NOT_KNOWN else replace(view, reason="")


def for_screen(
    draft: StudyReview, state: StudyState, house: House, hidden: frozenset[str],
    told: tuple[ClipReading, ...] | None = None,
) -> StudyReview:  # fmt: skip
    """Return the draft with decisions laid over it; undecided proposals stay, those of hidden clips do not.

    `told` are the readings `by_named_views`, where somebody has them already.
    """
    state, criteria = standing(draft, state), read_criteria(house)
    readings = tuple(
        replace(
            item,
            view=_view(item, state, is_hidden=item.clip.key in hidden, keeps_proposals=True),
            findings=() if item.clip.key in hidden else tuple(_as_decided(f, state, criteria) for f in item.findings),
            picture=None if item.clip.key in hidden else item.picture,
            measured=_measured(item, state, is_hidden=item.clip.key in hidden),
        )
        for item in (by_named_views(draft, state, house, hidden) if told is None else told)
    )
    # What is said of the whole study is drawn from all clips, hidden ones too.
    shown = [f for f in draft.study_findings if not hidden or (f.clip, f.criterion) in state.decisions]
    general = tuple(_as_decided(item, state, criteria) for item in shown)
    marks = marks_of(state, draft.study.clips)
    study = with_named(draft.study, state, house)
    review = conclude(
        study, readings, draft.refused, house, study_findings=general, marks=marks, unjudged=hidden,
        stood=draft.stands, posed=lying_on(state, draft.study),
    )  # fmt: skip
    return _with_sent_marks(review, draft, hidden)


def for_papers(
    draft: StudyReview, state: StudyState, house: House, hidden: frozenset[str] = frozenset(),
    told: tuple[ClipReading, ...] | None = None,
) -> StudyReview:  # fmt: skip
    """Return the draft with nothing in it but what the mentor decided; letter and summary are built from this.

    Numbers that the engine measured are weighed by its undecided findings too, and say so: a flow that wraps must not
    be printed as a number because nobody came to say so. Nor is a movement advised of a picture that the engine finds
    mirrored. Where a chamber is cut off, as somebody decided, the network's masks tell, as on the screen. Of a clip
    that is to be judged first (`hidden`) nothing of the engine's is told: no movement, no number, and no finding
    weighs what was marked there. `told` as for `for_screen`.
    """
    state, criteria = standing(draft, state), read_criteria(house)
    told = by_named_views(draft, state, house, hidden) if told is None else told
    readings = tuple(_on_paper(item, state, criteria, is_hidden=item.clip.key in hidden) for item in told)
    seen = (
        replace(item, picture=None if item.clip.key in hidden else engines.picture)
        for item, engines in zip(readings, told, strict=True)
    )
    general = _decided(draft.study_findings, state, criteria)
    marks = marks_of(state, draft.study.clips)
    concluded = conclude(
        with_named(draft.study, state, house), readings, draft.refused, house, study_findings=general, marks=marks,
        undecided=weighing(told, hidden), unjudged=hidden, stood=draft.stands,
        posed=lying_on(state, draft.study), cuts=cuts_of(seen, house),
    )  # fmt: skip
    review = _with_sent_marks(concluded, draft, hidden)
    stands = tuple(item for item, is_kept in letter_points(review, state, house) if is_kept)
    return replace(review, priorities=stands)


def weighing(told: Iterable[ClipReading], hidden: frozenset[str]) -> dict[str, tuple[Finding, ...]]:
    """Return the engine's findings by clip that weigh numbers on papers; none of a clip that is judged first."""
    return {item.clip.key: item.findings for item in told if item.clip.key not in hidden}


def _on_paper(
    item: ClipReading, state: StudyState, criteria: Mapping[str, Criterion], *, is_hidden: bool
) -> ClipReading:
    view = _view(item, state, is_hidden=is_hidden, keeps_proposals=False)
    stands = (found for found in item.findings if view.view or found.criterion not in HANG_ON_VIEW)
    findings = _decided(stands, state, criteria)
    measured = _measured(item, state, is_hidden=is_hidden)
    return replace(item, view=view, findings=findings, picture=None, measured=measured)  # landmarks kept are marks


def _measured(item: ClipReading, state: StudyState, *, is_hidden: bool) -> tuple[Measurement, ...]:
    """Return what was measured on a clip; nothing of one that is judged first, or that the mentor took out."""
    if is_hidden or isinstance(state.placements.get(item.clip.key), TakeClipOut):
        return ()
    return item.measured


def standing(draft: StudyReview, state: StudyState) -> StudyState:
    """Return the state without decisions on what was told of a clip otherwise than it is told of it now.

    What hangs on the view was told in another one. How the valve parts the colour box was told in another view, of
    another valve, or by other landmarks than those that a person has set on the clip now.
    """
    gone = set()
    for item in draft.readings:
        clip = item.clip.key
        now = _view(item, state, is_hidden=False, keeps_proposals=True)
        landmarks = landmarks_set(state.marks, clip)
        for criterion in FOLLOW_PEOPLE:
            if (clip, criterion) not in state.decisions:
                continue
            by_then = state.decided_in[(clip, criterion)]
            then = _view_said(item, by_then.placed, by_then.blind)
            is_other_box = then.valve != now.valve or by_then.landmarks != landmarks
            if then.view != now.view or (criterion == BOX_SPLIT and is_other_box):
                gone.add((clip, criterion))
    if not gone:
        return state
    return replace(state, decisions={key: said for key, said in state.decisions.items() if key not in gone})


def told_anew(
    draft: StudyReview, state: StudyState, house: House, hidden: frozenset[str],
    told: tuple[ClipReading, ...] | None = None,
) -> dict[str, tuple[Finding, ...]]:  # fmt: skip
    """Return, by clip, the findings that are told otherwise than in the draft: of the view in which a person left it,
    of planes that marks or ticks tell of, of a colour box whose valve was marked. A clip that is named has all findings
    of its plane here. `told` as for `for_screen`.
    """
    now = by_named_views(draft, state, house, hidden) if told is None else told
    pairs = zip(draft.readings, now, strict=True)
    return {
        new.clip.key: tuple(item for item in new.findings if item.criterion in FOLLOW_PEOPLE)
        for old, new in pairs
        if new is not old and new.clip.key not in hidden
    }


def by_named_views(
    draft: StudyReview, state: StudyState, house: House, hidden: frozenset[str] = frozenset()
) -> tuple[ClipReading, ...]:
    """Return the engine's readings, with what hangs on view or marks told by those that the mentor left."""
    masks = house.kept("masks", read_mask_tables)
    views = {item.clip.key: _view(item, state, is_hidden=False, keeps_proposals=True) for item in draft.readings}
    weighed = tuple(for_another_view(item, views[item.clip.key], masks) for item in draft.readings)
    told = with_decided_planes(weighed, views, draft, state, house, hidden)
    return with_decided_split(told, views, draft, state, house)


def _with_sent_marks(review: StudyReview, draft: StudyReview, hidden: frozenset[str]) -> StudyReview:
    """Return a review with what the practice's own marks measure: drawn in a file that came with the study.

    Those on clips that are judged first wait: the draft weighed them by its findings.
    """
    waits = {item.clip.name for item in draft.readings if item.clip.key in hidden}
    # What the engine was told of the desk's own marks it measured too.
    own = {(item.label, item.clip, item.frames) for item in review.measurements if item.given_by == GIVEN_BY}
    sent = (
        replace(item, given_by=SENT_MARKS)
        for item in draft.measurements
        if item.given_by == GIVEN_BY and item.clip not in waits and (item.label, item.clip, item.frames) not in own
    )
    return replace(review, measurements=(*review.measurements, *sent))


def shown_view(item: ClipReading, state: StudyState, is_hidden: bool) -> ViewReading:
    """Return the view of a clip as the screen shows it."""
    return _view(item, state, is_hidden=is_hidden, keeps_proposals=True)


def _view(item: ClipReading, state: StudyState, *, is_hidden: bool, keeps_proposals: bool) -> ViewReading:
    view = _view_said(item, state.placements.get(item.clip.key), state.blind.get(item.clip.key))
    if view is not item.view:
        return view
    if is_hidden:
        return _unproposed(item)
    if view.source is ViewSource.RECOGNISED and not keeps_proposals:
        return _NOT_DECIDED
    return view


def _view_said(item: ClipReading, said: PlaceClip | TakeClipOut | None, blind: JudgeBlind | None) -> ViewReading:
    """Return where a clip lies by what people said of it; the reading's own where they said nothing."""
    if isinstance(said, TakeClipOut):
        return _TAKEN_OUT
    if isinstance(said, PlaceClip):
        return ViewReading(view=said.view, source=ViewSource.MENTOR, valve=said.valve or _valve_read(item, said.view))
    if blind is not None and blind.view:
        # The mentor named a view. A valve stands if the files name it; one that was recognised is a proposal.
        valve = None if item.view.source is ViewSource.RECOGNISED else item.view.valve
        return ViewReading(view=blind.view, source=ViewSource.MENTOR, valve=valve)
    return item.view


def _valve_read(item: ClipReading, view: str) -> Valve | None:
    """Return as which valve's a strip was measured in this view: the file may name one where the mentor did not."""
    return item.measured_as[1] if item.measured and item.measured_as[0] == view else None


def _decided(findings: Iterable[Finding], state: StudyState, criteria: Mapping[str, Criterion]) -> tuple[Finding, ...]:
    kept = (item for item in findings if (item.clip, item.criterion) in state.decisions)
    return tuple(_as_decided(item, state, criteria) for item in kept)


def _as_decided(item: Finding, state: StudyState, criteria: Mapping[str, Criterion]) -> Finding:
    """Return a finding as the mentor left it: for a decided one a person stands, however sure the engine was."""
    if (item.clip, item.criterion) not in state.decisions:
        return item
    return replace(_overruled(item, state, criteria), confidence=1.0)


def _overruled(item: Finding, state: StudyState, criteria: Mapping[str, Criterion]) -> Finding:
    """Return the finding with the mentor's verdict, if there is one that it can carry."""
    said = state.decisions.get((item.clip, item.criterion))
    if not isinstance(said, OverruleFinding):
        return item
    return _with_verdict(item, said, criteria[item.criterion])


def _with_verdict(item: Finding, said: OverruleFinding, criterion: Criterion) -> Finding:
    verdict, side = said.verdict, item.side
    if verdict is Verdict.MISSED:
        side = _advised_side(item, criterion)
        if side is Side.INSIDE:
            verdict = Verdict.NOT_ASSESSABLE  # no advice exists: the mentor's words alone go into the letter
    if item.value is None or verdict is Verdict.NOT_ASSESSABLE:
        return replace(
            item, verdict=Verdict.NOT_ASSESSABLE, side=Side.INSIDE, value=None, uncertainty=None, evidence=(),
            reason=said.reason, confidence=1.0,
        )  # fmt: skip
    return replace(item, verdict=verdict, side=side, reason=said.reason, confidence=1.0)


def _advised_side(item: Finding, criterion: Criterion) -> Side:
    """Return the side on which a miss can be told, the engine's own first; INSIDE when there is none."""
    advised = [side for side, advice in ((Side.LOW, criterion.low), (Side.HIGH, criterion.high)) if advice is not None]
    if item.side in advised or not advised:
        return item.side if item.side in advised else Side.INSIDE
    return advised[0]
