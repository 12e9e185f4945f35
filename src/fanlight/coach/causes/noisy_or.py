"""One clip: which causes may act in it, given what was raised and what was not. Pure arithmetic.

A finding is raised by chance, or by any of the causes that act, each by itself: P(not raised) is the product of what
each leaves (noisy-OR; Pearl 1988, Probabilistic Reasoning in Intelligent Systems, 4.3.2). What was not raised counts
as much as what was: a cause whose usual signs are missing becomes unlikely.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

# Up to so many causes that explain something, every set of them is weighed; of more, the sets of at most `_AT_ONCE`.
_ALL_SETS_OF, _AT_ONCE = 10, 4

Sign = tuple[str, str]  # a criterion and the side on which it was missed
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClipSigns:
    """What one clip shows.

    Attributes
    ----------
    raised, quiet : tuple of Sign
        Judged signs that were raised, and that were not.
    causes : tuple of str
        Causes that can act in a clip of this mode and view.
    """

    raised: tuple[Sign, ...]
    quiet: tuple[Sign, ...]
    causes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClipModel:
    """All ways in which this clip can have come about, each with its likelihood.

    Attributes
    ----------
    causes : tuple of str
        Those that explain something that was raised; the others are `alone`.
    sets : ndarray of shape (set, cause), bool
        Which of them act.
    likelihood : ndarray of shape (set,)
        Of what the clip shows, if these and no others act.
    alone : mapping of str to float
        Of causes that explain nothing here: how much likelier what is quiet is without them, 0 to 1.
    share : ndarray of shape (sign, cause)
        Weight of each cause for each raised sign.
    chance : ndarray of shape (sign,)
        Of each raised sign.
    """

    causes: tuple[str, ...]
    sets: NDArray[np.bool_]
    likelihood: Floats
    alone: Mapping[str, float]
    share: Floats
    chance: Floats


def clip_model(
    signs: ClipSigns, by_chance: Mapping[Sign, float], by_cause: Mapping[str, Mapping[Sign, float]]
) -> ClipModel:
    """Return the model of one clip.

    Parameters
    ----------
    signs : ClipSigns
        What it shows.
    by_chance : mapping of Sign to float
        Probability that a sign is raised when nothing is wrong; each above 0 and below 1.
    by_cause : mapping of str to mapping of Sign to float
        Probability that a cause raises a sign by itself; a sign that is not named: 0.
    """
    explaining = tuple(key for key in signs.causes if any(by_cause[key].get(sign) for sign in signs.raised))
    left = {key: _left(by_cause[key], signs.quiet) for key in signs.causes}
    share = np.array([[by_cause[key].get(sign, 0.0) for key in explaining] for sign in signs.raised])
    share = share.reshape(len(signs.raised), len(explaining))
    chance = np.array([by_chance[sign] for sign in signs.raised])
    sets = _sets(len(explaining))
    # (set, sign): what is left unraised by the causes of the set
    unraised = np.prod(np.where(sets[:, None, :], 1 - share[None], 1.0), axis=2) * (1 - chance)
    quiet = np.prod(np.where(sets, np.array([left[key] for key in explaining]), 1.0), axis=1)
    return ClipModel(
        causes=explaining, sets=sets, likelihood=np.prod(1 - unraised, axis=1) * quiet,
        alone={key: left[key] for key in signs.causes if key not in explaining}, share=share, chance=chance,
    )  # fmt: skip


def _left(weights: Mapping[Sign, float], quiet: Sequence[Sign]) -> float:
    return float(np.prod([1 - weights.get(sign, 0.0) for sign in quiet])) if quiet else 1.0


def _sets(n: int) -> NDArray[np.bool_]:
    most = n if n <= _ALL_SETS_OF else _AT_ONCE
    rows = [chosen for size in range(most + 1) for chosen in combinations(range(n), size)]
    sets = np.zeros((len(rows), n), np.bool_)
    for place, chosen in enumerate(rows):
        sets[place, list(chosen)] = True
    return sets


def weigh(model: ClipModel, before: Floats) -> Floats:
    """Return the probability of each set, shape (set,); `before` are probabilities of the causes, shape (cause,)."""
    prior = np.prod(np.where(model.sets, before, 1 - before), axis=1)
    joint = prior * model.likelihood
    return np.asarray(joint / joint.sum())


def ratio(model: ClipModel, cause: str, before: Mapping[str, float], slip: float, held: float) -> float:
    """Return how many times likelier this clip is if the cause is a habit than if it is not; others as in `before`."""
    if cause in model.alone:
        left = model.alone[cause]
        return (1 - held + held * left) / (1 - slip + slip * left)
    column = model.causes.index(cause)
    others = np.array([before[key] for key in model.causes])

    def of(probability: float) -> float:
        others[column] = probability
        return float((np.prod(np.where(model.sets, others, 1 - others), axis=1) * model.likelihood).sum())

    return of(held) / of(slip)


def reasons(model: ClipModel, posterior: Floats) -> Floats:
    """Return how likely each cause is behind each raised sign, shape (sign, cause); chance takes the rest."""
    out = np.zeros_like(model.share)
    for sets, probability in zip(model.sets, posterior, strict=True):
        acting = np.where(sets, model.share, 0.0)
        raised = 1 - np.prod(1 - acting, axis=1) * (1 - model.chance)
        out += probability * acting / raised[:, None]
    return np.asarray(np.minimum(out, 1.0))
