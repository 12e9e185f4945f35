"""The mentor's decisions laid over the engine's draft. Pure: a draft as people left it in, another out.

Two forms. For the screen the proposals that nobody decided on are still there; for letter and summary they are gone:
what a person kept passes, what a person overruled carries that person's verdict and reason, and nothing else.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from fanlight.desk.as_left import HANG_ON_VIEW, AsLeft
from fanlight.desk.clip_view import shown_view
from fanlight.desk.decided_named import with_named
from fanlight.desk.points import letter_points
from fanlight.measure.marked import GIVEN_BY
from fanlight.reference.criteria import read_criteria
from fanlight.review.advise import cuts_of
from fanlight.review.conclude import conclude
from fanlight.store import StudyState
from fanlight.store.actions import OverruleFinding, TakeClipOut
from fanlight.study import (
    ClipReading,
    Criterion,
    Finding,
    Measurement,
    Side,
    StudyReview,
    Verdict,
)

SENT_MARKS = "marked by hand in the files sent"  # beside `GIVEN_BY`, which is what was drawn on the desk


def for_screen(left: AsLeft) -> StudyReview:
    """Return the draft with decisions laid over it; undecided proposals stay, those of hidden clips do not."""
    draft, state, house, hidden = left.draft, left.state, left.house, left.hidden
    criteria = read_criteria(house)
    readings = tuple(
        replace(
            item,
            view=shown_view(item, state, is_hidden=item.clip.key in hidden),
            findings=() if item.clip.key in hidden else tuple(_as_decided(f, state, criteria) for f in item.findings),
            picture=None if item.clip.key in hidden else item.picture,
            measured=_measured(item, state, is_hidden=item.clip.key in hidden),
        )
        for item in left.readings
    )
    # What is said of the whole study is drawn from all clips, hidden ones too.
    shown = [f for f in draft.study_findings if not hidden or (f.clip, f.criterion) in state.decisions]
    general = tuple(_as_decided(item, state, criteria) for item in shown)
    study = with_named(draft.study, state, house)
    review = conclude(
        study, readings, draft.refused, house, study_findings=general, marks=left.marks, unjudged=hidden,
        stood=draft.stands, posed=left.lying,
    )  # fmt: skip
    return _with_sent_marks(review, draft, hidden)


def for_papers(left: AsLeft) -> StudyReview:
    """Return the draft with nothing in it but what the mentor decided; letter and summary are built from this.

    Numbers that the engine measured are weighed by its undecided findings too, and say so: a flow that wraps must not
    be printed as a number because nobody came to say so. Nor is a movement advised of a picture that the engine finds
    mirrored. Where a chamber is cut off, as somebody decided, the network's masks tell, as on the screen. Of a clip
    that is to be judged first nothing of the engine's is told: no movement, no number, and no finding weighs what was
    marked there.
    """
    draft, state, house, hidden = left.draft, left.state, left.house, left.hidden
    criteria = read_criteria(house)
    readings = tuple(_on_paper(item, state, criteria, is_hidden=item.clip.key in hidden) for item in left.readings)
    seen = (
        replace(item, picture=None if item.clip.key in hidden else engines.picture)
        for item, engines in zip(readings, left.readings, strict=True)
    )
    general = _decided(draft.study_findings, state, criteria)
    concluded = conclude(
        with_named(draft.study, state, house), readings, draft.refused, house, study_findings=general,
        marks=left.marks, undecided=weighing(left), unjudged=hidden, stood=draft.stands, posed=left.lying,
        cuts=cuts_of(seen, house),
    )  # fmt: skip
    review = _with_sent_marks(concluded, draft, hidden)
    stands = tuple(item for item, is_kept in letter_points(review, state, house) if is_kept)
    return replace(review, priorities=stands)


def weighing(left: AsLeft) -> dict[str, tuple[Finding, ...]]:
    """Return the engine's findings by clip that weigh numbers on papers; none of a clip that is judged first."""
    return {item.clip.key: item.findings for item in left.readings if item.clip.key not in left.hidden}


def _on_paper(
    item: ClipReading, state: StudyState, criteria: Mapping[str, Criterion], *, is_hidden: bool
) -> ClipReading:
    view = shown_view(item, state, is_hidden=is_hidden, keeps_proposals=False)
    stands = (found for found in item.findings if view.view or found.criterion not in HANG_ON_VIEW)
    findings = _decided(stands, state, criteria)
    measured = _measured(item, state, is_hidden=is_hidden)
    return replace(item, view=view, findings=findings, picture=None, measured=measured)  # landmarks kept are marks


def _measured(item: ClipReading, state: StudyState, *, is_hidden: bool) -> tuple[Measurement, ...]:
    """Return what was measured on a clip; nothing of one that is judged first, or that the mentor took out."""
    if is_hidden or isinstance(state.placements.get(item.clip.key), TakeClipOut):
        return ()
    return item.measured


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
