"""Settings that are wrong in the hands of several trainees of one practice: said once, to the practice."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType

from fanlight.reference.causes import CauseRow
from fanlight.study import CauseFound, CauseLevel, about_cause, name_key

# What sits at the machine or its export; what sits in a hand is its owner's, and is told to nobody else.
_OF_THE_MACHINE = (CauseLevel.CONSOLE, CauseLevel.RECORD)


@dataclass(frozen=True, slots=True, kw_only=True)
class ScannedStudy:
    """What of one study counts for its practice."""

    trainee: str
    practice: str
    causes: tuple[CauseFound, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedHabit:
    """A wrong setting that runs through studies of several trainees."""

    cause: str
    title: str
    when: str
    correction: str
    right_when: str
    n_trainees: int
    n_studies: int
    told_on: date | None = None  # when the practice was told; None: it was not


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticeHabits:
    """One practice: how much was looked at, and which settings are shared; those of most trainees first."""

    practice: str
    n_trainees: int
    n_studies: int
    habits: tuple[SharedHabit, ...]


def shared_habits(
    studies: Iterable[ScannedStudy], rows: Mapping[str, CauseRow], least_probability: float, least_trainees: int,
    otherwise: Mapping[str, str] = MappingProxyType({}),
) -> tuple[PracticeHabits, ...]:  # fmt: skip
    """Return each practice with the settings that are a habit in studies of several of its trainees.

    Parameters
    ----------
    studies : iterable of ScannedStudy
        Those that name no trainee or no practice tell nothing and are passed over.
    rows : mapping of str to CauseRow
        Of the House.
    least_probability : float
        From which a setting is named for change, 0 to 1.
    least_trainees : int
        Fewer are no matter of the practice.
    otherwise : mapping of str to str
        Of a change that touches the animal too, what sits at the machine, by `about_cause`; without a word of it the
        change is no matter of the practice.
    """
    by_practice: dict[str, list[ScannedStudy]] = defaultdict(list)
    for study in studies:
        if name_key(study.trainee) and name_key(study.practice):
            by_practice[name_key(study.practice)].append(study)
    return tuple(
        PracticeHabits(
            practice=those[0].practice.strip(), n_trainees=len({name_key(item.trainee) for item in those}),
            n_studies=len(those), habits=_shared(those, rows, least_probability, least_trainees, otherwise),
        )
        for _, those in sorted(by_practice.items())
    )  # fmt: skip


def _shared(
    studies: Iterable[ScannedStudy], rows: Mapping[str, CauseRow], least_probability: float, least_trainees: int,
    otherwise: Mapping[str, str],
) -> tuple[SharedHabit, ...]:  # fmt: skip
    changes = {
        key: otherwise.get(about_cause(key), "") if row.handling else row.correction for key, row in rows.items()
    }
    trainees: dict[str, list[str]] = defaultdict(list)
    for study in studies:
        for item in study.causes:
            is_sure = item.is_habit and item.probability >= least_probability
            if is_sure and item.level in _OF_THE_MACHINE and changes.get(item.cause):
                trainees[item.cause].append(name_key(study.trainee))
    found = [
        SharedHabit(
            cause=cause, title=rows[cause].title, when=rows[cause].when, correction=changes[cause],
            right_when=rows[cause].right_when, n_trainees=len(set(who)), n_studies=len(who),
        )
        for cause, who in trainees.items()
        if len(set(who)) >= least_trainees
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda item: (-item.n_trainees, -item.n_studies, item.cause)))
