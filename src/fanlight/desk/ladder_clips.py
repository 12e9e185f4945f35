"""What the ladders of a study rest on: which clips give which rung at which valve, and where the plan asks for one."""

from __future__ import annotations

from fanlight.critique.coverage import BEST_FIRST, StoredClip, state_of, valves_of
from fanlight.reference.plans import read_plans
from fanlight.reference.views import read_views
from fanlight.study import House, Rung, StudyReview, Valve

Rungs = dict[Valve, dict[Rung, list[str]]]


def ladder_clips(review: StudyReview, house: House) -> Rungs:
    """Return `Clip.key` by valve and rung: first the clip that gives the rung its state, then in the study's order.

    They are the clips that `coverage.ladders` counts.
    """
    plan, views = read_plans(house)[review.coverage.plan], read_views(house)
    stored = [
        StoredClip(key=item.clip.key, view=item.view, mode=item.mode.mode, verdicts=item.verdicts)
        for item in review.readings
    ]
    found: Rungs = {}
    for clip in sorted(stored, key=lambda clip: BEST_FIRST.index(state_of(clip))):
        if clip.rung is not None:
            for valve in valves_of(clip, views, plan):
                found.setdefault(valve, {}).setdefault(clip.rung, []).append(clip.key)
    return found


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
