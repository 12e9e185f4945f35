"""Joins findings to the numbers that the engine measured: what each stands on, and what a miss makes of it. Pure."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace

from fanlight.measure.marked import GIVEN_BY
from fanlight.reference.validity import Effect, Standing, TakenFrom
from fanlight.study import Criterion, Finding, Measurement, Side, Verdict

HOLDS = "holds"
_OF_VIEWS = "plane"  # its criteria are asked only of views that show what they judge
_OF_EFFECT = {Effect.AT_LEAST: "at least", Effect.AT_MOST: "at most", Effect.NOTE: "note"}
_UNDECIDED = " (the engine's finding; the mentor has not decided)"
_GRAVEST_FIRST = tuple(Effect)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """What numbers are weighed by.

    Attributes
    ----------
    standings : tuple of Standing
        Of several that fit a number the first counts.
    criteria : mapping of str to Criterion
        By key, for their titles and what a miss means.
    sure_from : float
        Smallest confidence of a finding that may change a number, 0 to 1; what is less sure is noted.
    """

    standings: tuple[Standing, ...]
    criteria: Mapping[str, Criterion]
    sure_from: float


def weigh_measured(
    measured: Iterable[Measurement],
    findings: Iterable[Finding],
    rules: Rules,
    undecided: Iterable[Finding] = (),
    *,
    taken_from: TakenFrom = TakenFrom.STRIP,
    view: str = "",
) -> list[Measurement]:
    """Return the numbers of one clip with their validity, or the reason in place of the number.

    Parameters
    ----------
    measured : iterable of Measurement
        Of one clip, from its pixels or from marks on it. Those without a value pass as they are.
    findings : iterable of Finding
        Of the same clip.
    rules : Rules
        Of the house.
    undecided : iterable of Finding
        The engine's own on which no mentor decided, where one decides: they count as the engine found them, and the
        number says so. Of one criterion, what was decided goes before.
    taken_from : TakenFrom, optional
        What they were measured on: rows may hold for numbers of strips or of pictures only.
    view : str, optional
        Key of the view they were taken in: of some numbers the row lets only those of certain views into the summary.

    Notes
    -----
    What a person marked stands in the summary where its row says so, all else on the study sheet only; of the engine's
    the summary names what `find_unconfirmed` returns. A sure miss refuses the number, makes it a bound, or is
    noted, as the house says; a bound to both sides is no bound and is refused. A miss that is not sure, and a
    borderline finding, are noted. What a number stands on and nobody could judge is said.
    """
    decided = {item.criterion: item for item in findings}
    left = {item.criterion: item for item in undecided if item.criterion not in decided}
    standings = tuple(row for row in rules.standings if row.taken_from in (None, taken_from))
    rules = replace(rules, standings=standings)
    return [_weighed(_placed(item, rules, view), decided | left, rules, left) for item in measured]


def is_bound(item: Measurement) -> bool:
    """Whether a number tells only how much it is at least, or at most."""
    return item.validity.startswith((Effect.AT_LEAST.value, Effect.AT_MOST.value))


def standing_of(name: str, standings: Iterable[Standing]) -> Standing | None:
    """Return the row that a number of this name stands on, the first that fits; None where no row does."""
    return next((row for row in standings if row.fits(name)), None)


def _placed(item: Measurement, rules: Rules, view: str) -> Measurement:
    """Return a number with whether it stands on the study sheet only."""
    standing = standing_of(item.name, rules.standings)
    if standing is None or item.given_by != GIVEN_BY:
        return replace(item, sheet_only=True)
    rows = standing.summary
    return replace(item, sheet_only=not rows.has(rows.kept if item.kept else rows.by_hand, item.name, view))


def _weighed(item: Measurement, found: Mapping[str, Finding], rules: Rules, undecided: Collection[str]) -> Measurement:
    standing = standing_of(item.name, rules.standings)
    if item.value is None or standing is None:
        return item
    item = replace(item, stands_on=tuple(criterion for criterion, _ in standing.stands_on))
    sure: dict[Effect, list[str]] = {}
    notes: list[str] = []
    open_: list[str] = []
    for criterion, effect in standing.stands_on:
        finding, row = found.get(criterion), rules.criteria[criterion]
        if finding is None and row.family == _OF_VIEWS:
            continue
        whose = _UNDECIDED if criterion in undecided else ""
        if finding is None or finding.verdict is Verdict.NOT_ASSESSABLE:
            open_.append(_lower(row.title))
        elif finding.verdict is Verdict.MISSED and finding.confidence >= rules.sure_from:
            sure.setdefault(effect, []).append(_fault(finding, row, whose))
        elif finding.verdict in (Verdict.MISSED, Verdict.BORDERLINE):
            notes.append(f"perhaps: {_lower(_fault(finding, row, whose))}")
    if Effect.REFUSE in sure or (Effect.AT_LEAST in sure and Effect.AT_MOST in sure):
        because = sure.get(Effect.REFUSE) or [*sure[Effect.AT_LEAST], *sure[Effect.AT_MOST]]
        reason = f"not given: {_lower(' '.join(because))}"
        return replace(
            item, value=None, uncertainty=None, reason=reason.rstrip("."),
            validity=f"refused: {_lower(because[0]).rstrip('.')}",
        )  # fmt: skip
    if left := sum(criterion in undecided for criterion, _ in standing.stands_on):
        notes.append(f"not decided by the mentor: {left} of the {len(standing.stands_on)} findings it stands on")
    if open_:
        notes.append(f"not judged: {', '.join(open_)}")
    if standing.not_judged:
        notes.append(f"never judged: {standing.not_judged}")
    return replace(item, validity=_words(sure, notes))


def _fault(finding: Finding, row: Criterion, whose: str) -> str:
    """Return what a miss means, in the words of the house, and whose word it is where that must be said."""
    side = row.low if finding.side is Side.LOW else row.high
    words = side.means if side is not None else f"{row.title} is not right."
    return f"{words.rstrip('.')}{whose}." if whose else words


def _words(sure: Mapping[Effect, list[str]], notes: list[str]) -> str:
    parts = [
        f"{_OF_EFFECT[effect]}: {_lower(' '.join(sure[effect])).rstrip('.')}"
        for effect in _GRAVEST_FIRST
        if effect in sure
    ]
    if notes:
        parts.append(f"note: {'; '.join(note.rstrip('.') for note in notes)}")
    return "; ".join(parts) if parts else HOLDS


def _lower(text: str) -> str:
    return text if text[1:2].isupper() else text[:1].lower() + text[1:]  # ECG stays ECG
