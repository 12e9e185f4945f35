"""Which clips reach which rung at which valve: what the ladders of a study rest on."""

from __future__ import annotations

from fanlight.critique.coverage import StoredClip
from fanlight.reference.plans import Plan, read_plans
from fanlight.reference.views import View, read_views
from fanlight.study import ClipReading, House, Rung, StudyReview, Valve

Rungs = dict[Valve, dict[Rung, list[str]]]


def ladder_clips(review: StudyReview, house: House) -> Rungs:
    """Return `Clip.key` by valve and rung, in the order of the study; the same clips as `coverage.ladders` counts."""
    plan = read_plans(house)[review.coverage.plan]
    views = read_views(house)
    found: Rungs = {}
    for item in review.readings:
        rung = StoredClip(key=item.clip.key, view=item.view, mode=item.mode.mode).rung
        view = views.get(item.view.view)
        if rung is None or view is None:
            continue
        for valve in _valves(item, rung, view, plan):
            found.setdefault(valve, {}).setdefault(rung, []).append(item.clip.key)
    return found


def _valves(item: ClipReading, rung: Rung, view: View, plan: Plan) -> tuple[Valve, ...]:
    """Return the valve that was said; else of those that the view can carry the ones that the plan asks for, or all."""
    able, said = view.valves_at(rung), item.view.valve
    if said is not None and (said in able or rung is not Rung.TWO_D):
        return (said,)
    asked = {valve for step in plan.steps if step.view == view.key for valve in step.valves_at(rung)}
    return tuple(valve for valve in able if valve in asked) or able
