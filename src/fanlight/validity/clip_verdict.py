"""What a clip is good for, from its mode and its findings."""

from __future__ import annotations

from collections.abc import Mapping

from fanlight.study import ClipVerdict, Criterion, Finding, Mode, ModeReading, Purpose, Verdict

_RANK = {
    ClipVerdict.NOT_ASSESSABLE: -1,
    ClipVerdict.DIAGNOSTIC: 0,
    ClipVerdict.LIMITED: 1,
    ClipVerdict.NON_DIAGNOSTIC: 2,
}
# Whether a plane or a box suits Doppler is not measured yet: no clip is called diagnostic for it, only less.
_START = {
    Purpose.LOOK: ClipVerdict.DIAGNOSTIC,
    Purpose.MEASURE: ClipVerdict.DIAGNOSTIC,
    Purpose.DOPPLER: ClipVerdict.NOT_ASSESSABLE,
}


def _worse(one: ClipVerdict, other: ClipVerdict) -> ClipVerdict:
    return one if _RANK[one] >= _RANK[other] else other


def judge_clip(
    mode: ModeReading, findings: tuple[Finding, ...], criteria: Mapping[str, Criterion], sure_from: float
) -> tuple[tuple[Purpose, ClipVerdict], ...]:
    """Return the verdict on a clip for each purpose.

    To look at and to measure a clip is diagnostic until a missed criterion says otherwise; how far a miss lowers it
    stands in the criterion's row. Findings below `sure_from` confidence never lower it. Where nothing could be judged
    (the mode is not known, or no criterion exists for it yet) the verdict is "not assessable".

    Parameters
    ----------
    mode : ModeReading
        Mode of the clip.
    findings : tuple of Finding
        All findings of this clip.
    criteria : mapping of str to Criterion
        By key.
    sure_from : float
        Smallest confidence of a finding that counts, 0 to 1.
    """
    if mode.mode is Mode.NO_CONTACT:
        return tuple((purpose, ClipVerdict.NON_DIAGNOSTIC) for purpose in Purpose)
    judged = [item for item in findings if item.verdict is not Verdict.NOT_ASSESSABLE]
    if mode.mode is None or not mode.mode.is_moving_picture or not judged:
        return tuple((purpose, ClipVerdict.NOT_ASSESSABLE) for purpose in Purpose)
    verdicts = dict(_START)
    for item in judged:
        if item.verdict is Verdict.MISSED and item.confidence >= sure_from:
            for purpose, limit in criteria[item.criterion].limits:
                verdicts[purpose] = _worse(verdicts[purpose], limit)
    return tuple(verdicts.items())
