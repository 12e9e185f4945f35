"""What the ladders of a study rest on: which clips give which rung at which valve, and where the plan asks for one."""

from __future__ import annotations

from fanlight.critique.coverage import StoredClip
from fanlight.reference.plans import Plan, read_plans
from fanlight.reference.views import View, read_views
from fanlight.study import ClipReading, ClipVerdict, House, Mode, Purpose, Rung, StudyReview, Valve

Rungs = dict[Valve, dict[Rung, list[str]]]
# As the ladders weigh: a clip that was not judged counts as limited.
_RANK = {
    ClipVerdict.DIAGNOSTIC: 0,
    ClipVerdict.LIMITED: 1,
    ClipVerdict.NOT_ASSESSABLE: 1,
    ClipVerdict.NON_DIAGNOSTIC: 2,
}


def ladder_clips(review: StudyReview, house: House) -> Rungs:
    """Return `Clip.key` by valve and rung: first the clip that gives the rung its state, then in the study's order.

    They are the clips that `coverage.ladders` counts.
    """
    plan = read_plans(house)[review.coverage.plan]
    views = read_views(house)
    found: Rungs = {}
    for item in sorted(review.readings, key=_rank):
        rung = StoredClip(key=item.clip.key, view=item.view, mode=item.mode.mode).rung
        view = views.get(item.view.view)
        if rung is None or view is None:
            continue
        for valve in _valves(item, rung, view, plan):
            found.setdefault(valve, {}).setdefault(rung, []).append(item.clip.key)
    return found


def _rank(item: ClipReading) -> int:
    purpose = Purpose.LOOK if item.mode.mode in (Mode.TWO_D, Mode.M_MODE) else Purpose.DOPPLER
    return _RANK[item.verdict(purpose)]


def _valves(item: ClipReading, rung: Rung, view: View, plan: Plan) -> tuple[Valve, ...]:
    """Return the valve that was said; else of those that the view can carry the ones that the plan asks for, or all."""
    able, said = view.valves_at(rung), item.view.valve
    if said is not None and (said in able or rung is not Rung.TWO_D):
        return (said,)
    asked = {valve for step in plan.steps if step.view == view.key for valve in step.valves_at(rung)}
    return tuple(valve for valve in able if valve in asked) or able


def asked_in(review: StudyReview, house: House) -> Rungs:
    """Return by valve and rung the titles of the views in which the plan asks for it; for 2-D, for Doppler there."""
    views = read_views(house)
    found: Rungs = {}
    for step in read_plans(house)[review.coverage.plan].steps:
        for rung, valves in step.doppler:
            for valve in valves:
                for asked in (Rung.TWO_D, rung):
                    titles = found.setdefault(valve, {}).setdefault(asked, [])
                    if views[step.view].title not in titles:
                        titles.append(views[step.view].title)
    return found
