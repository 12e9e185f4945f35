"""All clips of a study: which causes act, which of them are habits, and what they explain."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from fanlight.coach.causes.noisy_or import (
    GRADES,
    ClipModel,
    ClipModels,
    ClipSigns,
    Sign,
    joint,
    models_by,
    parts_of,
    reasons,
    sets_of,
)
from fanlight.coach.causes.told_by import ToldBy
from fanlight.coach.causes.where_cut import Cuts
from fanlight.reference.causes import CUT, CauseLimits, CauseRow, Weights, criterion_of
from fanlight.study import CauseFound, ClipReading, Criterion, Explained, Side, Verdict

# Habits are weighed in sets of those that by themselves explain the study nearly as well as none or better; of more
# than so many of these, in sets of few (numerical).
_LEAST_GAIN, _MOST_HABITS, _ALL_OF, _AT_ONCE = -3.0, 9, 6, 4
_FORGOTTEN = 14.0  # sets of habits a millionth as likely as the best are forgotten (numerical)
_ACTS = 0.5  # more likely than not
_WORTH_NAMING = 0.1  # of the less likely of two that look alike (engineering judgement)
_RAISED = (Verdict.MISSED, Verdict.BORDERLINE)

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseTables:
    """What the House says of causes."""

    rows: Mapping[str, CauseRow]
    weights: Weights
    limits: CauseLimits
    criteria: Mapping[str, Criterion]
    sure_from: float  # findings below this confidence say nothing


def find_causes(
    readings: Iterable[ClipReading], tables: CauseTables, cuts: Mapping[str, Cuts] = MappingProxyType({}),
    models: ClipModels | None = None,
) -> tuple[CauseFound, ...]:  # fmt: skip
    """Return the causes that act more likely than not, the one that explains most first.

    Each clip is a noisy-OR of the causes that can act in its mode and view. A habit makes a cause likely in every
    clip. All sets of habits are weighed by all clips together (Bayes' rule, summed in full: messages between clips
    and habits would run away where two causes look alike). What misleads in one view misleads in each of its clips:
    all clips of a view together count as much as one.

    Parameters
    ----------
    readings : iterable of ClipReading
        All clips; their findings below `tables.sure_from` and those that were not assessable say nothing.
    tables : CauseTables
        Of the House.
    cuts : mapping of str to mapping of CutPlace to Verdict, optional
        Where chambers are cut off (`where_cut`), by the key of the clip; where that is not known the finding itself
        counts, which cannot tell the depth from the width.
    models : ClipModels, optional
        By the weights of `tables`, kept from call to call.
    """
    models = models or models_by(tables.weights)
    if models.by_cause is not tables.weights.by_cause:
        raise ValueError("models of clips were kept by other weights than those of the tables")
    told_by = (ToldBy.picture(tables.weights, tables.criteria), ToldBy.flow(tables.weights, tables.criteria))
    clips = [
        part for reading in readings
        for part in _parts(reading, tables, cuts.get(reading.clip.key, {}), told_by, models)
    ]  # fmt: skip
    clips = [clip for clip in clips if clip.model.causes or clip.model.alone]
    if not any(clip.model.causes for clip in clips):  # nothing was raised that a cause could explain
        return ()
    study = _weighed(clips, tables)
    found = [item for cause in tables.rows if (item := _found(cause, study, tables)) is not None]
    return tuple(sorted(found, key=lambda item: (-weight_of(item, tables.criteria), item.cause)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Clip:
    """A part of a clip: signs of its picture, or of the flow that is shown in it, that share causes."""

    key: str
    view: str  # a name of its own where the view is not known
    group: tuple[str, ...]  # of clips that are misled alike
    signs: ClipSigns
    model: ClipModel


def _parts(
    reading: ClipReading, tables: CauseTables, cuts: Cuts, told_by: tuple[ToldBy, ToldBy], models: ClipModels
) -> Iterator[_Clip]:  # fmt: skip
    """Yield what the picture shows and what the flow shows: what misleads in one need not mislead in the other."""
    signs, key = signs_of(reading, tables, cuts), reading.clip.key
    view = reading.view.view or key
    flow = (view, str(reading.mode.mode), str(reading.view.valve))
    for told, group in zip(told_by, ((view,), flow), strict=True):
        own = ClipSigns(
            raised=told.signs(signs.raised),
            quiet=told.signs(signs.quiet),
            causes=tuple(cause for cause in signs.causes if cause in told.causes),
            missed=signs.missed,
        )
        for part in parts_of(own, tables.weights.by_cause) if own.raised or own.quiet else ():
            yield _Clip(key=key, view=view, group=group, signs=part, model=models.of(part))


def signs_of(reading: ClipReading, tables: CauseTables, cuts: Cuts) -> ClipSigns:
    """Return what a clip shows: each judged criterion once for each side on which it can be missed, or each place."""
    signs: dict[Sign, Verdict] = {}
    for item in reading.findings:
        criterion = tables.criteria[item.criterion]
        if item.verdict is Verdict.NOT_ASSESSABLE or item.confidence < tables.sure_from or criterion.study_level:
            continue
        if item.criterion == CUT and cuts:
            signs |= {(place.sign, Side.HIGH): verdict for place, verdict in cuts.items()}
            continue
        for side in _sides(criterion):
            signs[item.criterion, side] = item.verdict if item.side is side else Verdict.MET
    known = {sign: verdict for sign, verdict in signs.items() if sign in tables.weights.by_chance}
    mode = reading.mode.mode
    causes = () if mode is None else tuple(k for k, row in tables.rows.items() if row.acts_in(mode, reading.view.view))
    return ClipSigns(
        raised=tuple(sign for sign, verdict in known.items() if verdict in _RAISED),
        quiet=tuple(sign for sign, verdict in known.items() if verdict not in _RAISED),
        causes=causes,
        missed=frozenset(sign for sign, verdict in known.items() if verdict is Verdict.MISSED),
    )


def _sides(criterion: Criterion) -> tuple[Side, ...]:
    sides = ((Side.LOW, criterion.low), (Side.HIGH, criterion.high))
    return tuple(side for side, advice in sides if advice is not None)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Study:
    """All clips, how likely each set of habits is, and what acts in each clip if that is the one."""

    clips: Sequence[_Clip]
    posterior: Floats  # (case,)
    within: Mapping[int, Floats]  # by the place of the clip, (case, set of the clip)
    habits: Mapping[str, float]

    def acting(self, clip: _Clip) -> Floats:
        """Return how likely each set of causes acts in a clip."""
        return np.asarray(self.posterior @ self._within(clip))

    def in_clip(self, clip: _Clip, *causes: str) -> float:
        """Return how likely at least one of these acts in a clip."""
        return float(self.posterior @ self._by_case(clip, causes))

    def _by_case(self, clip: _Clip, causes: tuple[str, ...]) -> Floats:
        columns = [clip.model.causes.index(cause) for cause in causes if cause in clip.model.causes]
        return np.asarray(self._within(clip)[:, clip.model.states[:, columns].any(axis=1)].sum(axis=1))

    def _within(self, clip: _Clip) -> Floats:
        return self.within[next(place for place, own in enumerate(self.clips) if own is clip)]

    def somewhere(self, *causes: str) -> float:
        """Return how likely at least one of these acts in at least one group; clips hang together by the habits."""
        groups: dict[tuple[str, ...], Floats] = {}
        for clip in self.clips:
            groups[clip.group] = np.maximum(groups.get(clip.group, 0.0), self._by_case(clip, causes))
        return float(self.posterior @ (1 - np.prod([1 - by_case for by_case in groups.values()], axis=0)))


def _weighed(clips: Sequence[_Clip], tables: CauseTables) -> _Study:
    """Weigh sets of habits by all clips together, and with them what acts in each clip."""
    causes = tuple(key for key in tables.rows if any(key in clip.model.causes for clip in clips))
    alone = _Habits.of(causes, sets_of(len(causes), 1), clips, tables)
    likely = tuple(causes[place] for place in alone.better_than_none())[:_MOST_HABITS]
    together = sets_of(len(likely), len(likely) if len(likely) <= _ALL_OF else _AT_ONCE)
    placed = np.zeros((len(together), len(causes)), np.intp)
    placed[:, [causes.index(key) for key in likely]] = together
    log = _Habits.of(causes, placed, clips, tables).log
    near = log >= log.max() - _FORGOTTEN
    habits = _Habits.of(causes, placed[near], clips, tables, keeps_ways=True)
    posterior = np.exp(habits.log - habits.log.max())
    posterior /= posterior.sum()
    return _Study(
        clips=clips, posterior=posterior, within=habits.within,
        habits={cause: float(posterior[habits.sets[:, place] > 0].sum()) for place, cause in enumerate(causes)},
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Habits:
    """Sets of habits, and what all clips say of each."""

    sets: NDArray[np.intp]  # (case, cause)
    log: Floats  # (case,): prior and likelihood, without a common term
    within: Mapping[
        int, Floats
    ]  # by the place of the clip, (case, set of the clip): what acts there, if these are the habits

    @classmethod
    def of(
        cls, causes: tuple[str, ...], sets: NDArray[np.intp], clips: Sequence[_Clip], tables: CauseTables, *,
        keeps_ways: bool = False,
    ) -> _Habits:  # fmt: skip
        states = {cause: _acts_if(tables.limits, tables.rows[cause]) for cause in causes}
        column = {cause: place for place, cause in enumerate(causes)}
        counts = Counter(group for group, _ in {(clip.group, clip.key) for clip in clips})
        log, within = np.zeros(len(sets)), {}
        for place, cause in enumerate(causes):
            before = tables.rows[cause].before
            log += np.log(np.array([1 - before, *[before / len(GRADES)] * len(GRADES)]))[sets[:, place]]
        for place, clip in enumerate(clips):
            acts = {key: states[key][sets[:, column[key]]] for key in clip.signs.causes if key in column}
            ways = joint(clip.model, acts) if acts else np.ones((len(sets), 1))
            total = ways.sum(axis=1)
            log += np.log(total) / counts[clip.group]
            if keeps_ways:  # of all sets of habits they would fill gigabytes
                within[place] = ways / total[:, None]
        return cls(sets=sets, log=log, within=within)

    def better_than_none(self) -> list[int]:
        """Return the places of the causes that, as the only habit, are likelier than no habit; the likeliest first."""
        none = self.log[(self.sets == 0).all(axis=1)].max()
        gains = [(self.log[self.sets[:, place] > 0].max() - none, place) for place in range(self.sets.shape[1])]
        return [place for gain, place in sorted(gains, reverse=True) if gain > _LEAST_GAIN]


def _acts_if(limits: CauseLimits, row: CauseRow) -> Floats:
    """Return how a cause acts in a clip, (state of the habit, state in the clip); a habit keeps its grade."""
    n, slip = len(GRADES), min(limits.slip * row.slip_times, limits.held)
    out = np.zeros((n + 1, n + 1))
    out[0] = [1 - slip, *[slip / n] * n]
    for grade in range(1, n + 1):
        out[grade, 0], out[grade, grade] = 1 - limits.held, limits.held
    return out


def _found(cause: str, study: _Study, tables: CauseTables) -> CauseFound | None:
    row, limits = tables.rows[cause], tables.limits
    probability, habit = study.somewhere(cause), study.habits.get(cause, 0.0)
    rivals = [
        other
        for other in row.alike
        if max(probability, study.somewhere(other)) < limits.either_from <= study.somewhere(cause, other)
        and min(probability, study.somewhere(other)) >= _WORTH_NAMING
    ]
    clips = [clip for clip in study.clips if study.in_clip(clip, cause, *rivals) >= _ACTS]
    if not clips:
        return None
    return CauseFound(
        cause=cause, title=row.title, level=row.level, probability=probability, habit=habit,
        is_habit=habit >= limits.habit_from and len({clip.view for clip in clips}) >= limits.habit_views,
        clips=tuple(dict.fromkeys(clip.key for clip in clips)),
        explains=tuple(dict.fromkeys(_explained((cause, *rivals), clips, study))),
        alternatives=tuple(rivals), tells_apart=" ".join(row.alike[other] for other in rivals),
    )  # fmt: skip


def _explained(causes: tuple[str, ...], clips: Iterable[_Clip], study: _Study) -> Iterator[Explained]:
    """Yield the findings of which one or the other of these is the likeliest reason."""
    for clip in clips:
        columns = [clip.model.causes.index(cause) for cause in causes if cause in clip.model.causes]
        behind = reasons(clip.model, study.acting(clip))[:, columns].sum(axis=1)
        for (sign, _), share in zip(clip.signs.raised, behind, strict=True):
            if share >= _ACTS:
                yield Explained(criterion=criterion_of(sign), clip=clip.key)


def weight_of(item: CauseFound, criteria: Mapping[str, Criterion]) -> float:
    """Return how much the findings matter that a cause explains."""
    return sum(criteria[each.criterion].weight for each in item.explains)
