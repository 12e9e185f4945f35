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
# Of the criteria that limit a clip for Doppler so many must surely be met, and none may be off, before it is called
# diagnostic for it (engineering judgement): some are judged in few clips, and one alone tells little.
MET_FOR_DOPPLER = 3
_SPECTRUM = (Purpose.MEASURE, Purpose.DOPPLER)  # what a spectrum is there for: one and the same


def _worse(one: ClipVerdict, other: ClipVerdict) -> ClipVerdict:
    return one if _RANK[one] >= _RANK[other] else other


def judge_clip(
    mode: ModeReading, findings: tuple[Finding, ...], criteria: Mapping[str, Criterion], sure_from: float
) -> tuple[tuple[Purpose, ClipVerdict], ...]:
    """Return the verdict on a clip for each purpose.

    To look at and to measure a moving picture is diagnostic until a missed criterion says otherwise; how far a miss
    lowers it stands in the criterion's row. Findings below `sure_from` confidence never lower it. For Doppler a clip
    must show that it is good (`MET_FOR_DOPPLER`), and there a doubtful miss keeps it from being called so. A spectrum
    is judged as what it measures. Where nothing could be judged (the mode is not known, or no criterion exists for it
    yet) the verdict is "not assessable".

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
    verdicts = dict.fromkeys(Purpose, ClipVerdict.NOT_ASSESSABLE)
    is_picture = mode.mode is not None and mode.mode.is_moving_picture
    if not judged or not (is_picture or mode.is_spectrum):
        return tuple(verdicts.items())
    if is_picture:
        verdicts |= dict.fromkeys((Purpose.LOOK, Purpose.MEASURE), ClipVerdict.DIAGNOSTIC)
    if _suits_doppler(judged, criteria, sure_from, is_spectrum=mode.is_spectrum):
        verdicts |= dict.fromkeys(_SPECTRUM if mode.is_spectrum else (Purpose.DOPPLER,), ClipVerdict.DIAGNOSTIC)
    for item in judged:
        if item.verdict is Verdict.MISSED and item.confidence >= sure_from:
            for purpose, limit in criteria[item.criterion].limits:
                for each in _SPECTRUM if mode.is_spectrum else (purpose,):
                    verdicts[each] = _worse(verdicts[each], limit)
    return tuple(verdicts.items())


def off_its_plane(verdicts: tuple[tuple[Purpose, ClipVerdict], ...]) -> tuple[tuple[Purpose, ClipVerdict], ...]:
    """Return the verdicts on a clip whose plane surely lies beside its view: it is limited to measure, at best.

    What a moved plane cuts is another section, whose diameters are not those of the view; how far off they are hangs
    on the movement (engineering judgement: limited, not worthless, since a mentor can see what the plane still meets).
    """
    return tuple(
        (purpose, _worse(verdict, ClipVerdict.LIMITED) if purpose is Purpose.MEASURE else verdict)
        for purpose, verdict in verdicts
    )


def _suits_doppler(
    judged: list[Finding], criteria: Mapping[str, Criterion], sure_from: float, *, is_spectrum: bool
) -> bool:  # fmt: skip
    """Whether enough of what spoils Doppler is surely absent, and nothing of it even doubtfully there."""
    asked = set(_SPECTRUM) if is_spectrum else {Purpose.DOPPLER}
    limiting = [item for item in judged if asked & {purpose for purpose, _ in criteria[item.criterion].limits}]
    met = [item for item in limiting if item.verdict is Verdict.MET]
    return len(met) == len(limiting) and sum(item.confidence >= sure_from for item in met) >= MET_FOR_DOPPLER
