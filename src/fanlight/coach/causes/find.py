"""All clips of a study: which causes act, which of them are habits, and what they explain."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.coach.causes.noisy_or import (
    GRADES,
    ClipModel,
    ClipSigns,
    Graded,
    Sign,
    clip_model,
    likelihoods,
    reasons,
    weigh,
)
from fanlight.reference.causes import CauseLimits, CauseRow, Weights
from fanlight.study import CauseFound, ClipReading, Criterion, Explained, Side, Verdict

_ROUNDS = 30  # of messages between clips and study; settled long before (numerical)
_SETTLED = 1e-4
_ACTS = 0.5  # more likely than not
_SURE = 1e-9  # no state is ever impossible (numerical)

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseTables:
    """What the House says of causes."""

    rows: Mapping[str, CauseRow]
    weights: Weights
    limits: CauseLimits
    criteria: Mapping[str, Criterion]
    sure_from: float  # findings below this confidence say nothing


def find_causes(readings: Iterable[ClipReading], tables: CauseTables) -> tuple[CauseFound, ...]:
    """Return the causes that act more likely than not, the one that explains most first.

    Each clip is a noisy-OR of the causes that can act in its mode and view. A habit makes a cause likely in every
    clip; clips tell the study how likely the habit is, and the study tells the clips (sum-product messages on a graph
    of habits and clips; exact where two clips share one cause, else the usual approximation; Pearl 1988, chapter 4).
    What misleads in one view misleads in each of its clips: all clips of a view together count as much as one.

    Parameters
    ----------
    readings : iterable of ClipReading
        All clips; their findings below `tables.sure_from` and those that were not assessable say nothing.
    tables : CauseTables
        Of the House.
    """
    by_chance = _with_sides(tables.weights.by_chance)
    by_cause = {
        key: {grade: _with_sides(grades[grade]) for grade in GRADES} for key, grades in tables.weights.by_cause.items()
    }
    clips = [_Clip.of(reading, tables, by_chance, by_cause) for reading in readings]
    clips = [clip for clip in clips if clip.signs.causes]
    study = _weighed(clips, tables)
    found = [item for cause in tables.rows if (item := _found(cause, study, tables)) is not None]
    return tuple(sorted(found, key=lambda item: (-_weight(item, tables), item.cause)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Clip:
    key: str
    view: str  # a name of its own where the view is not known
    signs: ClipSigns
    model: ClipModel

    @classmethod
    def of(
        cls, reading: ClipReading, tables: CauseTables, by_chance: Mapping[Sign, float], by_cause: Mapping[str, Graded]
    ) -> _Clip:
        signs = signs_of(reading, tables)
        return cls(
            key=reading.clip.key, view=reading.view.view or reading.clip.key, signs=signs,
            model=clip_model(signs, by_chance, by_cause),
        )  # fmt: skip


def signs_of(reading: ClipReading, tables: CauseTables) -> ClipSigns:
    """Return what a clip shows: each judged criterion once for each side on which it can be missed."""
    raised: list[Sign] = []
    quiet: list[Sign] = []
    for item in reading.findings:
        criterion = tables.criteria[item.criterion]
        if item.verdict is Verdict.NOT_ASSESSABLE or item.confidence < tables.sure_from or criterion.study_level:
            continue
        for side in _sides(criterion):
            if (item.criterion, side) in tables.weights.by_chance:
                is_raised = item.verdict in (Verdict.MISSED, Verdict.BORDERLINE) and item.side is side
                (raised if is_raised else quiet).append((item.criterion, side.value))
    mode = reading.mode.mode
    causes = () if mode is None else tuple(k for k, row in tables.rows.items() if row.acts_in(mode, reading.view.view))
    if not raised and not quiet:
        causes = ()
    return ClipSigns(raised=tuple(raised), quiet=tuple(quiet), causes=causes)


def _sides(criterion: Criterion) -> tuple[Side, ...]:
    sides = ((Side.LOW, criterion.low), (Side.HIGH, criterion.high))
    return tuple(side for side, advice in sides if advice is not None)


def _with_sides(by_chance: Mapping[tuple[str, Side], float]) -> dict[Sign, float]:
    return {(criterion, side.value): value for (criterion, side), value in by_chance.items()}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Study:
    """All clips, how likely each set of causes is in each of them, and how likely each habit is."""

    clips: Sequence[_Clip]
    acting: Mapping[str, Floats]  # by clip, (set,)
    habits: Mapping[str, float]

    def in_clip(self, clip: _Clip, *causes: str) -> float:
        """Return how likely at least one of these acts in a clip."""
        columns = [clip.model.causes.index(cause) for cause in causes if cause in clip.model.causes]
        return float(self.acting[clip.key][clip.model.states[:, columns].any(axis=1)].sum())

    def somewhere(self, *causes: str) -> float:
        """Return how likely at least one of these acts in at least one view."""
        views: dict[str, float] = {}
        for clip in self.clips:
            views[clip.view] = max(views.get(clip.view, 0.0), self.in_clip(clip, *causes))
        return 1 - float(np.prod([1 - probability for probability in views.values()]))


def _weighed(clips: Sequence[_Clip], tables: CauseTables) -> _Study:
    """Pass messages between clips and study until they settle."""
    rows, states = tables.rows, _acts_if(tables.limits)
    counts = Counter(clip.view for clip in clips)
    before = {key: np.array([1 - row.before, *[row.before / len(GRADES)] * len(GRADES)]) for key, row in rows.items()}
    said = {clip.key: {cause: np.ones(len(GRADES) + 1) for cause in clip.signs.causes} for clip in clips}
    weights = {clip.key: 1 / counts[clip.view] for clip in clips}

    def habit(cause: str, but: str = "") -> Floats:
        """Return the probabilities of a habit's states, without the word of one clip."""
        log = np.log(before[cause])
        for key, messages in said.items():
            if key != but and cause in messages:
                log = log + weights[key] * np.log(messages[cause])
        out = np.exp(log - log.max())
        return np.asarray(out / out.sum())

    def told(clip: _Clip) -> dict[str, Floats]:
        return {cause: np.maximum(habit(cause, clip.key) @ states, _SURE) for cause in clip.signs.causes}

    for _ in range(_ROUNDS):
        change = 0.0
        for clip in clips:
            acts = told(clip)
            for cause in clip.signs.causes:
                message = states @ likelihoods(clip.model, cause, acts)
                message = message / message[0]
                change = max(change, float(np.abs(np.log(message / said[clip.key][cause])).max()))
                said[clip.key][cause] = message
        if change < _SETTLED:
            break
    acting = {}
    for clip in clips:
        acts = told(clip)
        in_order = np.array([acts[cause] for cause in clip.model.causes]).reshape(-1, len(GRADES) + 1)
        acting[clip.key] = weigh(clip.model, in_order)
    return _Study(clips=clips, acting=acting, habits={cause: 1 - float(habit(cause)[0]) for cause in rows})


def _acts_if(limits: CauseLimits) -> Floats:
    """Return how a cause acts in a clip, (state of the habit, state in the clip); a habit keeps its grade."""
    n = len(GRADES)
    out = np.zeros((n + 1, n + 1))
    out[0] = [1 - limits.slip, *[limits.slip / n] * n]
    for grade in range(1, n + 1):
        out[grade, 0], out[grade, grade] = 1 - limits.held, limits.held
    return out


def _found(cause: str, study: _Study, tables: CauseTables) -> CauseFound | None:
    row, limits = tables.rows[cause], tables.limits
    clips = [clip for clip in study.clips if study.in_clip(clip, cause) >= _ACTS]
    probability, habit = study.somewhere(cause), study.habits[cause]
    rivals = [
        other
        for other in row.alike
        if max(probability, study.somewhere(other)) < limits.either_from <= study.somewhere(cause, other)
    ]
    if not clips and not rivals:
        return None
    return CauseFound(
        cause=cause, title=row.title, level=row.level, probability=probability, habit=habit,
        is_habit=habit >= limits.habit_from and len({clip.view for clip in clips}) >= limits.habit_views,
        clips=tuple(clip.key for clip in clips), explains=tuple(_explained(cause, clips, study)),
        alternatives=tuple(rivals), tells_apart=" ".join(row.alike[other] for other in rivals),
    )  # fmt: skip


def _explained(cause: str, clips: Iterable[_Clip], study: _Study) -> Iterator[Explained]:
    for clip in clips:
        behind = reasons(clip.model, study.acting[clip.key])[:, clip.model.causes.index(cause)]
        for (criterion, _), share in zip(clip.signs.raised, behind, strict=True):
            if share >= _ACTS:
                yield Explained(criterion=criterion, clip=clip.key)


def _weight(item: CauseFound, tables: CauseTables) -> float:
    return sum(tables.criteria[each.criterion].weight for each in item.explains)
