"""Which faults matter most across a study, and what to do about each."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping

from fanlight.study import Advice, Breathing, Criterion, Finding, Priority, Side, Verdict

# Such an animal is not scanned on for a better plane; without a word on breathing, moving the probe is no handling.
FIGHTS_FOR_AIR = (Breathing.LABOURED, Breathing.DISTRESSED)


def withheld_words(breathing: Breathing) -> str:
    """Return why advice that touches the animal is not given."""
    if breathing is Breathing.NOT_STATED:
        said = "does not say whether breathing is normal"
    else:
        said = f"says that breathing is {breathing}"
    return (
        f"Advice on handling the animal is withheld: the request sheet {said}. "
        "Follow the attending veterinarian and local rules."
    )


def is_withheld(breathing: Breathing, *, touches: bool, moves: bool) -> bool:
    """Return whether advice is kept back for the animal's sake: the one rule of all papers.

    Parameters
    ----------
    breathing : Breathing
        From the request sheet.
    touches : bool
        The advice touches the animal: given only when breathing is normal.
    moves : bool
        It moves the probe where it lies: not while the animal fights for air.
    """
    return (touches and breathing is not Breathing.NORMAL) or (moves and breathing in FIGHTS_FOR_AIR)


def without_followers(findings: Iterable[Finding], follows: Mapping[str, tuple[str, ...]]) -> list[Finding]:
    """Return the findings less those whose whole reason may be another miss in the same clip.

    Parameters
    ----------
    findings : iterable of Finding
        Of all clips and of the study.
    follows : mapping of str to tuple of str
        For a criterion those that must be met in the same clip before its own miss counts.
    """
    findings = list(findings)
    met = {(item.clip, item.criterion) for item in findings if item.verdict is Verdict.MET}
    asked = {(item.clip, item.criterion) for item in findings}
    return [
        item
        for item in findings
        if item.verdict is Verdict.MET
        or all(
            (item.clip, cause) in met or (item.clip, cause) not in asked for cause in follows.get(item.criterion, ())
        )
    ]


def find_priorities(
    findings: Iterable[Finding], criteria: Mapping[str, Criterion], breathing: Breathing, sure_from: float
) -> tuple[Priority, ...]:
    """Return missed criteria, gathered over the clips that show them, the weightiest first.

    The score is the criterion's weight times the summed confidence of its missed findings: a fault that
    returns in many clips is a habit and outranks a single slip of equal weight.

    Parameters
    ----------
    findings : iterable of Finding
        Of all clips and of the study.
    criteria : mapping of str to Criterion
        By key.
    breathing : Breathing
        From the request sheet; advice that touches the animal is given only when it is normal.
    sure_from : float
        Smallest confidence of a finding that counts, 0 to 1.
    """
    groups: dict[tuple[str, Side], list[Finding]] = defaultdict(list)
    for item in findings:
        weighs = criteria[item.criterion].weight > 0  # a criterion of no weight states a fact, not a fault
        if weighs and item.verdict is Verdict.MISSED and item.confidence >= sure_from:
            groups[(item.criterion, item.side)].append(item)
    priorities = []
    for (key, side), group in groups.items():
        criterion = criteria[key]
        advice = criterion.low if side is Side.LOW else criterion.high
        if advice is None:
            raise ValueError(f"criterion {key} was missed on the {side} side, which has no advice; add it to its table")
        priorities.append(_priority(criterion, side, advice, group, breathing))
    return tuple(sorted(priorities, key=lambda item: (-item.score, item.criterion, item.side)))


def _priority(criterion: Criterion, side: Side, advice: Advice, group: list[Finding], breathing: Breathing) -> Priority:
    withheld = is_withheld(breathing, touches=advice.handling, moves=advice.moves)
    clips = tuple(dict.fromkeys(item.clip for item in group if item.clip))
    worst = max(group, key=lambda item: (item.confidence * _distance(item), item.clip))
    return Priority(
        criterion=criterion.key,
        title=criterion.title,
        side=side,
        means=advice.means,
        cause=advice.cause or worst.reason,
        correction=advice.otherwise if withheld else advice.correction,
        clips=clips,
        worst_clip=worst.clip,
        score=criterion.weight * sum(item.confidence for item in group),
        withheld=withheld_words(breathing) if withheld else "",
    )


def _distance(finding: Finding) -> float:
    """How far a value lies outside its band, as a share of the limit that it broke."""
    limit = finding.band.met_low if finding.side is Side.LOW else finding.band.met_high
    if finding.value is None or limit is None:
        return 0.0
    return abs(finding.value - limit) / max(abs(limit), 1e-9)
