"""What a draft advises: causes, where the probe stood, the few changes, and the points that stand beside them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fanlight.coach.causes.animal import known_of, rows_knowing, without_advice
from fanlight.coach.causes.corrections import choose_corrections
from fanlight.coach.causes.find import CauseTables, find_causes
from fanlight.coach.movements.advise import advised
from fanlight.coach.movements.look_for import with_movements
from fanlight.coach.movements.named import named_movements
from fanlight.coach.priorities import find_priorities, without_followers
from fanlight.plane.pose.stands import with_stands
from fanlight.reference.causes import read_cause_limits, read_causes, read_weights
from fanlight.reference.criteria import read_criteria
from fanlight.reference.letter import read_follows, read_letter_limits
from fanlight.reference.movements import read_movements
from fanlight.reference.plane import read_plane_tables
from fanlight.study import (
    CauseFound,
    ClipReading,
    Correction,
    FileMarks,
    Finding,
    House,
    Priority,
    Study,
    WindowStand,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Advised:
    """The part of a draft that a trainee can act on."""

    causes: tuple[CauseFound, ...]
    corrections: tuple[Correction, ...]
    priorities: tuple[Priority, ...]
    stands: tuple[WindowStand, ...]


def advise(
    study: Study, readings: tuple[ClipReading, ...], findings: list[Finding], of_study: tuple[Finding, ...],
    house: House, marks: Mapping[str, FileMarks], unjudged: frozenset[str] = frozenset(),
    stood: tuple[WindowStand, ...] = (),
) -> Advised:  # fmt: skip
    """Return what the draft of a study advises.

    Parameters
    ----------
    study : Study
    readings : tuple of ClipReading
        Judged, with the findings on their planes.
    findings : list of Finding
        Of the clips, that may become points.
    of_study : tuple of Finding
        The same, on the study as a whole.
    house : House
    marks : mapping of str to FileMarks
        What a person drew, by the key of the clip.
    unjudged : frozenset of str
        Keys of clips that the mentor judges first: no movement is told of them.
    stood : tuple of WindowStand
        Of an earlier draft: what rests on the same landmarks is not fitted again.
    """
    criteria, limits, breathing = read_criteria(house), read_letter_limits(house), study.request.breathing
    known = known_of(study.patient, study.request, house)
    tables = CauseTables(
        rows=rows_knowing(read_causes(house), known), weights=read_weights(house), limits=read_cause_limits(house),
        criteria=criteria, sure_from=limits.sure_from,
    )  # fmt: skip
    causes = find_causes(readings, tables)
    moves = read_movements(house)
    told = (item for item in readings if item.clip.key not in unjudged)
    stands = with_stands(told, study.patient, read_plane_tables(house).settings, moves.limits, marks, stood)
    named = named_movements(stands, moves)
    movements = advised(named, readings, moves, criteria, breathing)
    own = [*without_followers(findings, read_follows(house)), *of_study]
    points = find_priorities(own, criteria, breathing, limits.sure_from)
    points = without_advice(points, causes, tables.rows, readings)
    return Advised(
        causes=causes,
        corrections=choose_corrections(
            causes, tables.rows, tables.limits, criteria, breathing, tuple(item.candidate for item in movements)
        ),
        priorities=with_movements(points[: limits.findings_max], movements, named, stands, moves),
        stands=stands,
    )  # fmt: skip
