"""What is right, said first."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping

from fanlight.study import Criterion, Finding, Verdict

VERSION = 1


def find_strengths(
    findings: Iterable[Finding], criteria: Mapping[str, Criterion], share: float, sure_from: float
) -> tuple[str, ...]:
    """Return a sentence for each criterion that most judged clips meet, the weightiest first.

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
    judged: dict[str, list[bool]] = defaultdict(list)
    for item in findings:
        weighs = criteria[item.criterion].weight > 0  # a criterion of no weight is no merit either
        if weighs and item.verdict is not Verdict.NOT_ASSESSABLE and item.confidence >= sure_from:
            judged[item.criterion].append(item.verdict is Verdict.MET)
    good = [
        criteria[key]
        for key, met in judged.items()
        if criteria[key].right and sum(met) >= share * len(met) and any(met)
    ]
    return tuple(item.right for item in sorted(good, key=lambda item: (-item.weight, item.key)))
