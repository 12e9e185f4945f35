"""What is right, said first."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping

from fanlight.study import Criterion, Finding, Strength, Verdict


def find_strengths(
    findings: Iterable[Finding], criteria: Mapping[str, Criterion], share: float, sure_from: float
) -> tuple[Strength, ...]:
    """Return what most judged clips meet, the weightiest first.

    Parameters
    ----------
    findings : iterable of Finding
        Of all clips and of the study.
    criteria : mapping of str to Criterion
        By key.
    share : float
        A criterion counts when at least this share of the clips on which it was judged meets it.
    sure_from : float
        Smallest confidence of a finding that counts, 0 to 1.
    """
    judged: dict[str, list[Finding]] = defaultdict(list)
    for item in findings:
        weighs = criteria[item.criterion].weight > 0  # a criterion of no weight is no merit either
        if weighs and item.verdict is not Verdict.NOT_ASSESSABLE and item.confidence >= sure_from:
            judged[item.criterion].append(item)
    strengths = []
    for key, group in judged.items():
        met = tuple(item.clip for item in group if item.verdict is Verdict.MET)
        if criteria[key].right and met and len(met) >= share * len(group):
            strengths.append(Strength(criterion=key, words=criteria[key].right, clips=tuple(filter(None, met))))
    # Of equal weight, what holds in more clips says more about how this trainee scans.
    return tuple(
        sorted(strengths, key=lambda item: (-criteria[item.criterion].weight * len(item.clips or "1"), item.criterion))
    )
