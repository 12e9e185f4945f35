"""What the plan asks for, held against what was stored: present, missing, and how far up each valve's ladder."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from fanlight.critique.ladder_rules import SPECTRAL as _SPECTRAL
from fanlight.critique.ladder_rules import AtValve, RungClip, Said, broken_rules
from fanlight.reference.ladder import read_ladder
from fanlight.reference.plans import Plan, Step
from fanlight.reference.views import View
from fanlight.study import (
    MODE_WORDS,
    ClipVerdict,
    Coverage,
    Finding,
    House,
    Mode,
    PlanStep,
    Purpose,
    Rung,
    RungState,
    Valve,
    ValveLadder,
    Verdict,
    ViewReading,
    ViewSource,
)

_RUNG_OF_MODE = {
    Mode.TWO_D: Rung.TWO_D,
    Mode.DUAL: Rung.TWO_D,  # one of the two pictures is 2-D; what the other is, is not told
    Mode.COLOUR: Rung.COLOUR,
    Mode.POWER: Rung.COLOUR,
    Mode.PULSED_WAVE: Rung.PULSED_WAVE,
    Mode.CONTINUOUS_WAVE: Rung.CONTINUOUS_WAVE,
}
_NO_VIEW_MODES = (Mode.NO_CONTACT, Mode.NOT_ECHO)
BEST_FIRST = (RungState.DIAGNOSTIC, RungState.LIMITED, RungState.NON_DIAGNOSTIC)


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredClip:
    """What coverage needs to know of a clip."""

    key: str
    view: ViewReading
    mode: Mode | None  # None: not sure
    verdicts: tuple[tuple[Purpose, ClipVerdict], ...] = ()
    acquired_at: datetime | None = None
    number: int = 0  # as the user counts; 0: the place in the list is used
    # Rules of the ladder read them: those that are sure enough to stand on, and all others, which only hint.
    findings: tuple[Finding, ...] = ()
    hints: tuple[Finding, ...] = ()
    n_beats: float | None = None  # on a strip

    @property
    def rung(self) -> Rung | None:
        """The rung that its mode belongs to."""
        return _RUNG_OF_MODE.get(self.mode) if self.mode is not None else None


def state_of(clip: StoredClip) -> RungState:
    """Return how good a stored clip is for its rung.

    A clip that could not be judged counts as limited: it is there, and nobody has said that it is good.
    """
    purpose = Purpose.LOOK if clip.rung is Rung.TWO_D or clip.mode is Mode.M_MODE else Purpose.DOPPLER
    verdict = dict(clip.verdicts).get(purpose, ClipVerdict.NOT_ASSESSABLE)
    return RungState.LIMITED if verdict is ClipVerdict.NOT_ASSESSABLE else RungState(verdict.value)


def _best(states: Iterable[RungState], *, asked: bool) -> RungState:
    found = set(states)
    for state in BEST_FIRST:
        if state in found:
            return state
    return RungState.MISSING if asked else RungState.NOT_ASKED


def _numbered(stored: Sequence[StoredClip]) -> dict[str, int]:
    return {clip.key: clip.number or place for place, clip in enumerate(stored, start=1)}


def _listed(clips: Iterable[StoredClip], numbers: Mapping[str, int]) -> str:
    return ", ".join(str(number) for number in sorted({numbers[clip.key] for clip in clips}))


def _plan_step(step: Step, view: View, placed: Sequence[StoredClip]) -> PlanStep:
    here = [clip for clip in placed if clip.view.view == step.view]
    states = tuple(
        (rung, _best((state_of(clip) for clip in here if clip.rung is rung), asked=rung in step.asked)) for rung in Rung
    )
    m_mode = _best((state_of(clip) for clip in here if clip.mode is Mode.M_MODE), asked=step.m_mode)
    return PlanStep(
        view=step.view,
        title=view.title,
        asked=step.asked,
        clips=tuple(clip.key for clip in here),
        states=states,
        m_mode=m_mode,
    )


def valves_of(clip: StoredClip, views: Mapping[str, View], plan: Plan) -> tuple[Valve, ...]:
    """Return the valves that a placed clip may show at its rung: one when it is said or the view has only one."""
    if clip.rung is None or clip.view.view not in views:
        return ()
    able = views[clip.view.view].valves_at(clip.rung)
    if clip.view.valve in able and clip.view.valve is not None:
        return (clip.view.valve,)
    if clip.view.valve is not None and clip.rung is not Rung.TWO_D:
        return (clip.view.valve,)  # a valve that the table does not give this view: what was said stands
    asked = {valve for step in plan.steps if step.view == clip.view.view for valve in step.valves_at(clip.rung)}
    return tuple(valve for valve in able if valve in asked) or able


def _asked_at(valve: Valve, rung: Rung, plan: Plan) -> bool:
    """Whether a plan asks for a rung of a valve; a valve at which it asks for no Doppler is not on its path."""
    rungs = [asked for step in plan.steps for asked in Rung if valve in step.valves_at(asked)]
    return bool(rungs) if rung is Rung.TWO_D else rung in rungs


def _rung_clip(clip: StoredClip, numbers: Mapping[str, int], views: Mapping[str, View], plan: Plan) -> RungClip | None:
    if clip.rung is None:
        return None
    return RungClip(
        key=clip.key, number=numbers[clip.key], view=clip.view.view, rung=clip.rung, mode=clip.mode,
        can_be_looked_at=state_of(clip) in (RungState.DIAGNOSTIC, RungState.LIMITED),
        is_of_this_valve=len(valves_of(clip, views, plan)) == 1, findings=clip.findings,
        hints=clip.hints, n_beats=clip.n_beats, is_proposed=clip.view.source is ViewSource.RECOGNISED,
    )  # fmt: skip


def _wants_continuous_wave(valve: Valve, plan: Plan) -> bool:
    asked = [pair for step in plan.steps for pair in (*step.doppler, *step.if_needed)]
    return any(rung is Rung.CONTINUOUS_WAVE and valve in valves for rung, valves in asked)


def _unjudged_note(at_valve: Sequence[StoredClip], numbers: Mapping[str, int]) -> list[str]:
    spectral = [clip for clip in at_valve if clip.rung in _SPECTRAL]
    unjudged = [clip for clip in spectral if all(each.verdict is Verdict.NOT_ASSESSABLE for each in clip.findings)]
    if not unjudged:
        return []
    return [f"Clip {_listed(unjudged, numbers)}: stored, and not judged from its pixels; counted as limited."]


def _ladders(
    plan: Plan,
    placed: Sequence[StoredClip],
    unplaced: Sequence[StoredClip],
    views: Mapping[str, View],
    house: House,
    numbers: Mapping[str, int],
    said: Said,
) -> tuple[ValveLadder, ...]:
    ladders = []
    rules = read_ladder(house)
    may_hide = {clip.rung for clip in unplaced} | ({*Rung} if any(clip.mode is None for clip in unplaced) else set())

    def seen(clips: Iterable[StoredClip]) -> tuple[RungClip, ...]:
        return tuple(found for clip in clips if (found := _rung_clip(clip, numbers, views, plan)) is not None)

    for valve in Valve:
        at_valve = [clip for clip in placed if valve in valves_of(clip, views, plan)]
        asked = {rung: _asked_at(valve, rung, plan) for rung in Rung}
        if not any(asked.values()) and all(clip.rung is Rung.TWO_D for clip in at_valve):
            continue
        states = tuple(
            (rung, _best((state_of(clip) for clip in at_valve if clip.rung is rung), asked=asked[rung]))
            for rung in Rung
        )
        broken = broken_rules(
            AtValve(
                valve=valve, clips=seen(at_valve), two_d=seen(clip for clip in placed if clip.rung is Rung.TWO_D),
                may_hide=frozenset(rung for rung in may_hide if rung is not None),
                wants_continuous_wave=_wants_continuous_wave(valve, plan), views=views, rules=rules, said=said,
            )
        )  # fmt: skip
        notes = [*(item.words for item in broken), *_unjudged_note(at_valve, numbers)]
        unsaid = [clip for clip in at_valve if clip.rung is not Rung.TWO_D and len(valves_of(clip, views, plan)) > 1]
        if unsaid:
            notes.append(f"Clip {_listed(unsaid, numbers)} does not say at which valve it was taken; counted here too.")
        ladders.append(ValveLadder(valve=valve, states=states, notes=tuple(notes), findings=broken))
    return tuple(ladders)


def _could_be_missing(steps: Sequence[PlanStep], unplaced: Sequence[StoredClip]) -> bool:
    """Whether a clip whose view is not known could be one that the plan asks for and does not find."""
    missing = {rung for step in steps for rung, state in step.states if state is RungState.MISSING}
    m_mode_missing = any(step.m_mode is RungState.MISSING for step in steps)
    return any(
        (clip.mode is None and bool(missing or m_mode_missing))
        or clip.rung in missing
        or (clip.mode is Mode.M_MODE and m_mode_missing)
        for clip in unplaced
    )


def _first(clips: Iterable[StoredClip], when: Mapping[str, tuple[datetime, int]]) -> StoredClip | None:
    return min(clips, key=lambda clip: when[clip.key], default=None)


def _order_notes(
    plan: Plan, placed: Sequence[StoredClip], views: Mapping[str, View], numbers: Mapping[str, int]
) -> tuple[str, ...]:
    """Return what the order of acquisition teaches; never a verdict."""
    if len(placed) < 2:
        return ()
    when: dict[str, tuple[datetime, int]] = {}
    for clip in placed:
        if clip.acquired_at is None:
            return ("The order of the examination was not looked at: not every file says when it was taken.",)
        when[clip.key] = (clip.acquired_at, numbers[clip.key])
    if len({moment for moment, _ in when.values()}) < 2:
        return ()
    notes = []
    windows = tuple(dict.fromkeys(views[step.view].window for step in plan.steps))
    begun = [
        (window, first)
        for window in windows
        if (first := _first((clip for clip in placed if views[clip.view.view].window == window), when)) is not None
    ]
    for (earlier, early_clip), (later, late_clip) in pairwise(begun):
        if when[late_clip.key] < when[early_clip.key]:
            notes.append(
                f"Order: the {later.replace('_', ' ')} window was begun (clip {numbers[late_clip.key]}) before the "
                f"{earlier.replace('_', ' ')} one (clip {numbers[early_clip.key]}), which the plan puts first."
            )
    for step in plan.steps:
        here = [clip for clip in placed if clip.view.view == step.view]
        two_d = _first((clip for clip in here if clip.rung is Rung.TWO_D), when)
        doppler = _first((clip for clip in here if clip.rung not in (None, Rung.TWO_D)), when)
        if two_d and doppler and when[doppler.key] < when[two_d.key]:
            notes.append(
                f"Order: {MODE_WORDS[doppler.mode or Mode.COLOUR]} (clip {numbers[doppler.key]}) came before 2-D (clip "
                f"{numbers[two_d.key]}) in the view “{views[step.view].title}”: let the plane hold first."
            )
    for valve in Valve:
        at_valve = [clip for clip in placed if valves_of(clip, views, plan) == (valve,)]
        colour = _first((clip for clip in at_valve if clip.rung is Rung.COLOUR), when)
        spectral = _first((clip for clip in at_valve if clip.rung in _SPECTRAL), when)
        if colour and spectral and when[spectral.key] < when[colour.key]:
            notes.append(
                f"Order: spectral Doppler of the {valve} valve (clip {numbers[spectral.key]}) came before colour (clip "
                f"{numbers[colour.key]}): colour first shows where the flow runs."
            )
    return tuple(notes)


def hold_against_plan(
    plan: Plan,
    because: str,
    views: Mapping[str, View],
    house: House,
    stored: Sequence[StoredClip],
    said: Said | None = None,
) -> Coverage:
    """Return what of the plan was stored, what was not, and how far each valve's ladder was climbed.

    Parameters
    ----------
    plan : Plan
        What was asked for. What it does not ask for is never called missing.
    because : str
        Why this plan was chosen.
    views : mapping of str to View
        Views of the House.
    house : House
        Table "ladder".
    stored : sequence of StoredClip
        Clips in the order of the study.
    said : Said, optional
        What the report, the sheet and the trainee's reading say, for the rules that hold words against clips.

    Returns
    -------
    Coverage
        `can_judge_missing` is False while a clip whose view is not known could be one of the missing ones.
    """
    numbers = _numbered(stored)
    echoes = [clip for clip in stored if clip.mode not in _NO_VIEW_MODES]
    placed = [clip for clip in echoes if clip.view.view in views]
    unplaced = [clip for clip in echoes if clip.view.view not in views]
    steps = tuple(_plan_step(step, views[step.view], placed) for step in plan.steps)
    return Coverage(
        plan=plan.key,
        plan_title=plan.title,
        chosen_because=because,
        steps=steps,
        ladders=_ladders(plan, placed, unplaced, views, house, numbers, said or Said()),
        unplaced=tuple(clip.key for clip in unplaced),
        can_judge_missing=not _could_be_missing(steps, unplaced),
        order_notes=_order_notes(plan, placed, views, numbers),
    )
