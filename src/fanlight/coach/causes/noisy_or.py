"""One clip: which causes may act in it, given what was raised, how far, and what was not. Pure arithmetic.

A finding is raised by chance, or by any of the causes that act, each by itself: P(not raised) is the product of what
each leaves (noisy-OR; Pearl 1988, Probabilistic Reasoning in Intelligent Systems, 4.3.2). Each raises it to borderline
or until it is missed, and the one that raises it most is what is seen: P(not missed) is a product as well (noisy-MAX;
Diez 1993, Parameter adjustment in Bayes networks, UAI 9). What was not raised counts as much as what was: a cause whose
usual signs are missing becomes unlikely. A cause acts plainly or strongly: what is strong raises nearly all of its
signs at once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import combinations, product
from math import prod

import numpy as np
from numpy.typing import NDArray

from fanlight.reference.causes import Weight, Weights
from fanlight.study import Side

GRADES = ("plain", "strong")  # how a cause acts; a state is 0 where it does not, else one more than the place here
N_STATES = len(GRADES) + 1
# Up to so many causes that explain something, every set of them is weighed; of more, the sets of at most `_AT_ONCE`.
_ALL_SETS_OF, _AT_ONCE = 6, 4
_MOST_KEPT = 2000  # models, some 10 kB each: clips of several long studies

Sign = tuple[str, Side]  # a criterion and the side on which it was missed
Graded = Mapping[str, Mapping[Sign, Weight]]  # by grade
_NEVER = Weight(0.0, 0.0)
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipSigns:
    """What one clip shows.

    Attributes
    ----------
    raised, quiet : tuple of Sign
        Judged signs that were raised, and that were not.
    causes : tuple of str
        Causes that can act in a clip of this mode and view.
    missed : frozenset of Sign
        Of those that were raised: missed outright; the others are borderline.
    """

    raised: tuple[Sign, ...]
    quiet: tuple[Sign, ...]
    causes: tuple[str, ...]
    missed: frozenset[Sign]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClipModel:
    """All ways in which this clip can have come about, each with its likelihood.

    Attributes
    ----------
    causes : tuple of str
        Those that explain something that was raised; the others are `alone`.
    states : ndarray of shape (set, cause), int
        How each of them acts; see `GRADES`.
    likelihood : ndarray of shape (set,)
        Of what the clip shows, if these and no others act.
    alone : mapping of str to ndarray of shape (N_STATES,)
        Of causes that explain nothing here: likelihood of what is quiet, by state; 1 where it does not act.
    share : ndarray of shape (sign, cause, N_STATES, 2)
        Of each cause and each raised sign: how likely it raises the sign as far as was seen, and further.
    chance : ndarray of shape (sign, 2)
        The same of chance.
    """

    causes: tuple[str, ...]
    states: NDArray[np.intp]
    likelihood: Floats
    alone: Mapping[str, Floats]
    share: Floats
    chance: Floats


def clip_model(signs: ClipSigns, by_chance: Mapping[Sign, Weight], by_cause: Mapping[str, Graded]) -> ClipModel:
    """Return the model of one clip.

    Parameters
    ----------
    signs : ClipSigns
        What it shows.
    by_chance : mapping of Sign to Weight
        Probability that a sign is raised, and missed, when nothing is wrong; each above 0 and below 1.
    by_cause : mapping of str to mapping
        By cause and grade: the same of what it raises by itself; a sign that is not named: 0.
    """
    explaining = tuple(key for key in signs.causes if any(_explains(by_cause[key], sign) for sign in signs.raised))
    left = {key: _left(by_cause[key], signs.quiet) for key in signs.causes}
    share = np.zeros((len(signs.raised), len(explaining), N_STATES, 2))
    for place, sign in enumerate(signs.raised):
        for column, key in enumerate(explaining):
            share[place, column, 1:] = [
                _as_far(by_cause[key][grade].get(sign, _NEVER), sign, signs) for grade in GRADES
            ]
    chance = np.array([_as_far(by_chance[sign], sign, signs) for sign in signs.raised]).reshape(-1, 2)
    n = len(explaining)
    states = sets_of(n, n if n <= _ALL_SETS_OF else _AT_ONCE)
    quiet = np.ones(len(states))
    for column, key in enumerate(explaining):
        quiet *= left[key][states[:, column]]
    return ClipModel(
        causes=explaining, states=states, likelihood=np.prod(_seen(share, chance, states), axis=0) * quiet,
        alone={key: left[key] for key in signs.causes if key not in explaining}, share=share, chance=chance,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClipModels:
    """Models of clips by the same weights, each made once: on the desk a study is weighed anew with each act.

    Attributes
    ----------
    by_chance, by_cause : mapping
        As for `clip_model`.
    """

    by_chance: Mapping[Sign, Weight]
    by_cause: Mapping[str, Graded]
    _made: dict[ClipSigns, ClipModel] = field(default_factory=dict, init=False, repr=False)

    def of(self, signs: ClipSigns) -> ClipModel:
        """Return the model of one clip; nobody changes it."""
        model = self._made.get(signs)  # other threads of the desk ask too
        if model is None:
            if len(self._made) >= _MOST_KEPT:
                self._made.clear()
            model = self._made[signs] = clip_model(signs, self.by_chance, self.by_cause)
        return model


def models_by(weights: Weights) -> ClipModels:
    """Return models of clips by these weights, none made yet."""
    return ClipModels(by_chance=weights.by_chance, by_cause=weights.by_cause)


def _as_far(weight: Weight, sign: Sign, signs: ClipSigns) -> tuple[float, float]:
    """Return how likely a sign is raised as far as was seen, and further."""
    return (weight.missed, 0.0) if sign in signs.missed else (weight.raised, weight.missed)


def _seen(share: Floats, chance: Floats, states: NDArray[np.intp]) -> Floats:
    """Return how likely each raised sign comes out as it was seen, shape (sign, set)."""
    left = np.prod(1 - share[:, np.arange(share.shape[1]), states], axis=2) * (1 - chance)[:, None]
    return np.asarray(left[:, :, 1] - left[:, :, 0])


def parts_of(signs: ClipSigns, by_cause: Mapping[str, Graded]) -> tuple[ClipSigns, ...]:
    """Return a clip in parts that share no cause: its likelihood is the product of theirs, and they are far smaller.

    Raised signs that a cause may explain together stay together; causes that explain nothing stand in a part of
    their own.
    """
    groups: list[tuple[set[str], list[Sign]]] = []
    for sign in signs.raised:
        causes, own = {key for key in signs.causes if _explains(by_cause[key], sign)}, [sign]
        for other in [group for group in groups if group[0] & causes]:
            groups.remove(other)
            causes, own = causes | other[0], [*other[1], *own]
        groups.append((causes, own))
    taken = {key for causes, _ in groups for key in causes}
    groups.append(({key for key in signs.causes if key not in taken}, []))
    return tuple(
        ClipSigns(
            raised=tuple(own),
            quiet=signs.quiet,
            causes=tuple(key for key in signs.causes if key in causes),
            missed=signs.missed,
        )
        for causes, own in groups
        if causes
    )


def _explains(weights: Graded, sign: Sign) -> bool:
    return any(weights[grade].get(sign, _NEVER).raised > 0 for grade in GRADES)


def _left(weights: Graded, quiet: Sequence[Sign]) -> Floats:
    graded = (weights[grade] for grade in GRADES)
    return np.array(
        [1.0, *(prod((1 - own[sign].raised for sign in quiet if sign in own), start=1.0) for own in graded)]
    )


@lru_cache(maxsize=64)
def sets_of(n: int, most: int) -> NDArray[np.intp]:
    """Return all states (set, cause) of n causes of which at most so many act; nobody changes them."""
    rows = []
    for size in range(min(n, most) + 1):
        for chosen in combinations(range(n), size):
            for grades in product(range(1, N_STATES), repeat=size):
                row = [0] * n
                for column, grade in zip(chosen, grades, strict=True):
                    row[column] = grade
                rows.append(row)
    found = np.array(rows, np.intp).reshape(len(rows), n)
    found.setflags(write=False)
    return found


def joint(model: ClipModel, before: Mapping[str, Floats]) -> Floats:
    """Return how likely each set acts and the clip comes about, shape (case, set).

    Parameters
    ----------
    model : ClipModel
        Of the clip.
    before : mapping of str to ndarray of shape (case, N_STATES)
        Probability of the states of each cause that can act in the clip, in each case that is weighed.
    """
    (n_cases,) = {len(value) for value in before.values()}
    out = np.broadcast_to(model.likelihood, (n_cases, len(model.likelihood))).copy()
    for column, key in enumerate(model.causes):
        out *= before[key][:, model.states[:, column]]
    for key, likelihood in model.alone.items():
        if key in before:
            out *= (before[key] @ likelihood)[:, None]
    return out


def reasons(model: ClipModel, posterior: Floats) -> Floats:
    """Return how likely each cause is behind each raised sign, shape (sign, cause); chance takes the rest."""
    columns = np.arange(len(model.causes))
    as_far, further = np.moveaxis(model.share[:, columns, model.states], 3, 0)  # each (sign, set, cause)
    seen = _seen(model.share, model.chance, model.states)
    none_further = np.prod(1 - further, axis=2) * (1 - model.chance[:, 1])[:, None]  # (sign, set)
    by_itself = (as_far - further) / (1 - further) * none_further[:, :, None]
    return np.asarray(np.minimum(np.einsum("s,gsc->gc", posterior, by_itself / seen[:, :, None]), 1.0))
