"""All clips of a study: which causes act, which of them are habits, and what they explain."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.coach.causes.noisy_or import ClipModel, ClipSigns, Sign, clip_model, ratio, reasons, weigh
from fanlight.reference.causes import CauseLimits, CauseRow, Weights
from fanlight.study import CauseFound, ClipReading, Criterion, Explained, Side, Verdict

_ROUNDS = 30  # of messages between clips and study; settled long before (numerical)
_SETTLED = 1e-4
_ACTS = 0.5  # more likely than not
_SURE = 1e-6  # probabilities are kept this far from 0 and 1 (numerical)


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

    Parameters
    ----------
    readings : iterable of ClipReading
        All clips; their findings below `tables.sure_from` and those that were not assessable say nothing.
    tables : CauseTables
        Of the House.
    """
    clips = [(reading.clip.key, signs_of(reading, tables)) for reading in readings]
    models = {
        key: clip_model(signs, _with_sides(tables.weights.by_chance), _by_cause(tables))
        for key, signs in clips
        if signs.causes
    }
    signs = {key: item for key, item in clips if key in models}
    habits = _habits(models, signs, tables)
    study = _Study(
        models=models, signs=signs, acting={key: _acting(models[key], habits[key], tables.limits) for key in models},
        habits=habits[""],
    )  # fmt: skip
    found = [item for cause in tables.rows if (item := _found(cause, study, tables)) is not None]
    return tuple(sorted(found, key=lambda item: (-_weight(item, tables), item.cause)))


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


def _by_cause(tables: CauseTables) -> dict[str, dict[Sign, float]]:
    return {key: _with_sides(weights) for key, weights in tables.weights.by_cause.items()}


def _habits(
    models: Mapping[str, ClipModel], signs: Mapping[str, ClipSigns], tables: CauseTables
) -> dict[str, dict[str, float]]:
    """Return the probability of each habit as each clip is told it, without that clip's own word; "" with all."""
    limits = tables.limits
    before = {key: row.before for key, row in tables.rows.items()}
    said = {key: dict.fromkeys(signs[key].causes, 1.0) for key in models}
    told: dict[str, dict[str, float]] = {}
    for _ in range(_ROUNDS):
        told = {key: {c: _without(before[c], c, key, said) for c in signs[key].causes} for key in models}
        change = 0.0
        for key, model in models.items():
            acts = {c: _in_clip(p, limits) for c, p in told[key].items()}
            for cause in signs[key].causes:
                new = ratio(model, cause, acts, limits.slip, limits.held)
                change = max(change, abs(float(np.log(new / said[key][cause]))))
                said[key][cause] = new
        if change < _SETTLED:
            break
    told[""] = {cause: _without(before[cause], cause, "", said) for cause in tables.rows}
    return told


def _without(before: float, cause: str, clip: str, said: Mapping[str, Mapping[str, float]]) -> float:
    log_odds = float(np.log(before / (1 - before)))
    log_odds += sum(float(np.log(ratios[cause])) for key, ratios in said.items() if key != clip and cause in ratios)
    return float(np.clip(1 / (1 + np.exp(-np.clip(log_odds, -50, 50))), _SURE, 1 - _SURE))


def _in_clip(habit: float, limits: CauseLimits) -> float:
    return habit * limits.held + (1 - habit) * limits.slip


def _acting(model: ClipModel, told: Mapping[str, float], limits: CauseLimits) -> NDArray[np.float64]:
    return weigh(model, np.array([_in_clip(told[cause], limits) for cause in model.causes]))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Study:
    """All clips, and how likely each set of causes is in each of them."""

    models: Mapping[str, ClipModel]
    signs: Mapping[str, ClipSigns]
    acting: Mapping[str, NDArray[np.float64]]
    habits: Mapping[str, float]

    def in_clip(self, key: str, *causes: str) -> float:
        """Return how likely at least one of these acts in a clip."""
        model = self.models[key]
        columns = [model.causes.index(cause) for cause in causes if cause in model.causes]
        return float(self.acting[key][model.sets[:, columns].any(axis=1)].sum())

    def somewhere(self, *causes: str) -> float:
        """Return how likely at least one of these acts in at least one clip."""
        return 1 - float(np.prod([1 - self.in_clip(key, *causes) for key in self.models]))


def _found(cause: str, study: _Study, tables: CauseTables) -> CauseFound | None:
    row, limits = tables.rows[cause], tables.limits
    clips = tuple(key for key in study.models if study.in_clip(key, cause) >= _ACTS)
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
        is_habit=habit >= limits.habit_from and len(clips) >= limits.habit_clips, clips=clips,
        explains=tuple(_explained(cause, clips, study)), alternatives=tuple(rivals),
        tells_apart=" ".join(row.alike[other] for other in rivals),
    )  # fmt: skip


def _explained(cause: str, clips: Iterable[str], study: _Study) -> Iterator[Explained]:
    for key in clips:
        model = study.models[key]
        behind = reasons(model, study.acting[key])[:, model.causes.index(cause)]
        for (criterion, _), share in zip(study.signs[key].raised, behind, strict=True):
            if share >= _ACTS:
                yield Explained(criterion=criterion, clip=key)


def _weight(item: CauseFound, tables: CauseTables) -> float:
    return sum(tables.criteria[each.criterion].weight for each in item.explains)
