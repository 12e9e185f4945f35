"""What a draft advises: causes, where the probe stood, the few changes, and the points that stand beside them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from fanlight.coach.causes.animal import known_of, rows_knowing, without_advice
from fanlight.coach.causes.corrections import choose_corrections
from fanlight.coach.causes.find import CauseTables, find_causes
from fanlight.coach.causes.noisy_or import models_by
from fanlight.coach.causes.where_cut import Cuts, where_cut
from fanlight.coach.held import held_changes
from fanlight.coach.movements.advise import Advised as Movement
from fanlight.coach.movements.advise import advised
from fanlight.coach.movements.look_for import with_movements
from fanlight.coach.movements.named import Named, named_movements, others_of
from fanlight.coach.priorities import find_priorities, without_followers
from fanlight.plane.kept import set_by_hand, with_kept_told
from fanlight.plane.pose.stands import with_stands
from fanlight.reference.causes import CUT, read_cause_limits, read_causes, read_try_words, read_weights
from fanlight.reference.chambers import read_chambers
from fanlight.reference.criteria import read_criteria
from fanlight.reference.handling import read_handling
from fanlight.reference.letter import read_follows, read_letter_limits
from fanlight.reference.movements import MovementTables, read_movements
from fanlight.reference.plane import read_plane_tables
from fanlight.reference.views import read_views
from fanlight.review.hand_scale import by_hand_scale
from fanlight.study import (
    Breathing,
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
    off_plane: frozenset[str]  # keys of the clips in which a movement is named


@dataclass(frozen=True, slots=True, kw_only=True)
class Moves:
    """What the poses of a study say of the hand."""

    tables: MovementTables
    stands: tuple[WindowStand, ...]
    named: tuple[Named, ...]
    said: tuple[Movement, ...]  # of the movements that are named
    others: tuple[Movement, ...]  # of those that may stand in the place of one

    def in_points(self, points: Iterable[Priority]) -> tuple[Priority, ...]:
        """Return points of a letter, those of the plane with what the pose says in their place."""
        return with_movements(points, self.said, self.named, self.stands, self.tables)


def moves_of(
    stands: tuple[WindowStand, ...], readings: Iterable[ClipReading], house: House, breathing: Breathing
) -> Moves:
    """Return what is said of the movements that poses name.

    Parameters
    ----------
    stands : tuple of WindowStand
        Of the study.
    readings : iterable of ClipReading
        Their findings are counted to the movements that explain them.
    house : House
    breathing : Breathing
        From the request sheet.
    """
    tables = read_movements(house)
    named = named_movements(stands, tables)
    listed, criteria = tuple(readings), read_criteria(house)
    titles = {key: view.title for key, view in read_views(house).items()}
    said = advised(named, listed, tables, criteria, breathing, titles)
    others = advised(others_of(named), listed, tables, criteria, breathing, titles)
    return Moves(tables=tables, stands=stands, named=named, said=said, others=others)


def cuts_of(readings: Iterable[ClipReading], house: House) -> dict[str, Cuts]:
    """Return where chambers are cut off, by the key of the clip.

    Parameters
    ----------
    readings : iterable of ClipReading
        With their findings, and with what the network saw: without it nothing is told of a clip.
    house : House
    """
    chambers, band = read_chambers(house), read_criteria(house)[CUT].band
    narrow_below_deg = read_cause_limits(house).narrow_below_deg
    return {item.clip.key: where_cut(item, chambers, band, narrow_below_deg) for item in readings}


def advise(
    study: Study, readings: tuple[ClipReading, ...], findings: list[Finding], of_study: tuple[Finding, ...],
    house: House, marks: Mapping[str, FileMarks], unjudged: frozenset[str] = frozenset(),
    stood: tuple[WindowStand, ...] = (), undecided: Mapping[str, tuple[Finding, ...]] = MappingProxyType({}),
    cuts: Mapping[str, Cuts] | None = None,
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
        What a person drew, by the key of the clip; what was kept as proposed tells no more than the network.
    unjudged : frozenset of str
        Keys of clips that the mentor judges first: no movement is told of them.
    stood : tuple of WindowStand
        Of an earlier draft: what rests on the same landmarks is not fitted again.
    undecided : mapping of str to tuple of Finding
        Findings of the engine on which no mentor decided, by the key of the clip, where `readings` hold decided ones
        only: of a picture that is mirrored no movement is told, decided or not.
    cuts : mapping of str to mapping of CutPlace to Verdict, optional
        Where chambers are cut off, where `readings` are without what the network saw; by default it is told from them.
    """
    criteria, limits, breathing = read_criteria(house), read_letter_limits(house), study.request.breathing
    known = known_of(study.patient, study.request, house)
    tables = CauseTables(
        rows=rows_knowing(read_causes(house), known), weights=read_weights(house), limits=read_cause_limits(house),
        criteria=criteria, sure_from=limits.sure_from,
    )  # fmt: skip
    models = house.kept("cause models", lambda own: models_by(read_weights(own)))
    causes = find_causes(readings, tables, cuts_of(readings, house) if cuts is None else cuts, models)
    told = (_with_left(item, undecided) for item in readings if item.clip.key not in unjudged)
    scaled = tuple(by_hand_scale(told, marks))
    settings, asks = house.kept("planes", read_plane_tables).settings, read_movements(house).limits
    stands = with_stands(scaled, study.patient, settings, asks, set_by_hand(marks), stood)
    stands = with_kept_told(stands, scaled, marks, asks.landmarks_from)
    moves = moves_of(stands, readings, house, breathing)
    own = [*without_followers(findings, read_follows(house)), *of_study]
    points = find_priorities(own, criteria, breathing, limits.sure_from)
    points = without_advice(points, causes, tables.rows, readings)
    changes = choose_corrections(
        causes, tables.rows, tables.limits, criteria, breathing, tuple(item.candidate for item in moves.said),
        to_try=read_try_words(house),
    )  # fmt: skip
    return Advised(
        causes=causes,
        corrections=held_changes(changes, breathing, read_handling(house)),
        priorities=moves.in_points(points[: limits.findings_max]),
        stands=stands,
        off_plane=frozenset(item.clip for item in moves.named),
    )  # fmt: skip


def _with_left(item: ClipReading, undecided: Mapping[str, tuple[Finding, ...]]) -> ClipReading:
    """Return a reading with its undecided findings beside those that were decided."""
    decided = {found.criterion for found in item.findings}
    left = (found for found in undecided.get(item.clip.key, ()) if found.criterion not in decided)
    return replace(item, findings=(*item.findings, *left))
