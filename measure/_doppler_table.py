"""The Doppler tables of the accuracy page: shares with their intervals, rings side by side."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.faults.doppler_faults import DOPPLER_FAULTS
from fanlight.simulate.faults.fault import STRENGTHS
from measure._criterion_table import AIM, Count, count, share_words
from measure._doppler_answers import AskedClip
from measure._doppler_cases import CASES, NUISANCES, UNCLAIMED, DopplerCase, Unclaimed, doppler_criteria

Rings = Mapping[Ring, list[AskedClip]]
WRAPS = ("spectrum_wrap", "spectrum_at_limit")  # what these see may be no fault of the hand
FEWEST_OF_A_LEVEL = 10  # answers on good clips of a level, below which nothing is said
FEWEST_QUIET = 10  # good clips that were judged, below which no share of quiet ones is told
UNJUDGED = "quiet or not assessable"
FEWEST_IN_A_CELL, NOTED = 3, 0.25  # clips, and share of them from which another fault is named


def counted(clips: Iterable[AskedClip], criterion: str) -> Count:
    """Count what a criterion said; clips of another mode are no part of it."""
    return count(answer for clip in clips if (answer := clip.answer(criterion)) is not None)


def good_clips(clips: Iterable[AskedClip], criterion: str) -> list[AskedClip]:
    """Return the clips on which a criterion has nothing to raise."""
    return [clip for clip in clips if clip.is_good and not (criterion in WRAPS and clip.truth.truly_wraps)]


def hits(clips: Iterable[AskedClip], case: DopplerCase, strengths: Iterable[int]) -> Count:
    """Count the faulty clips of these grades that are claimed."""
    wanted = set(strengths)
    faulty = (c for c in clips if c.truth.fault == case.fault and c.truth.strength in wanted and case.counts(c.truth))
    return counted(faulty, case.criterion)


def _row(cells: Iterable[str]) -> str:
    return f"| {' | '.join(cells)} |"


def _table(head: list[str], rows: Iterable[list[str]]) -> str:
    return "\n".join([_row(head), "|---" * len(head) + "|", *(_row(row) for row in rows)])


def quiet_words(found: Count) -> str:
    """Return the share of good clips that were not raised, or that there are too few of them for a share."""
    quiet = found.judged - found.raised
    if not 0 < found.judged < FEWEST_QUIET:
        return share_words(quiet, found.judged, found.left_out)
    left_out = f"; {found.left_out} n. a." if found.left_out else ""
    return f"too few to tell: {quiet} of {found.judged} quiet{left_out}"


def main_table(rings: Rings) -> str:
    """Sensitivity from the stated grade on and specificity, rings side by side."""
    head = ["fault", "criterion", "from", *(f"{w}, ring {r}" for w in ("sensitivity", "specificity") for r in rings)]
    rows = []
    for case in CASES:
        found = [hits(clips, case, range(case.from_strength, 6)) for clips in rings.values()]
        raised = [share_words(c.raised, c.judged, c.left_out) for c in found]
        quiet = [quiet_words(counted(good_clips(clips, case.criterion), case.criterion)) for clips in rings.values()]
        rows.append([case.title, f"`{case.criterion}`", str(case.from_strength), *raised, *quiet])
    words = [_table(head, rows), *_by_network_words(rings), *_unjudged_words(rings)]
    claimed = {case.criterion for case in CASES}
    others = [key for key in doppler_criteria() if key not in claimed]
    if others:
        alone = [
            [f"`{key}`", *(quiet_words(counted(good_clips(clips, key), key)) for clips in rings.values())]
            for key in others
        ]
        words.append("Criteria for which no fault of the simulator is claimed; on good clips:")
        words.append(_table(["criterion", *(f"specificity, ring {ring}" for ring in rings)], alone))
    reasons = "; ".join(f"{case.title} ({case.criterion}): {case.why}" for case in CASES if case.why)
    if reasons:
        words.append(f"Where it is not from grade 3 on: {reasons}.")
    words.append("No claim is made for these faults; what the nearest criterion raised of them, all grades:")
    words.append(_unclaimed_table(rings))
    words.append(_modes_words(rings))
    return "\n\n".join(words)


def _by_network_words(rings: Rings) -> list[str]:
    """What is told of the valve by the network's landmarks, where nobody marked it; nothing where it was not asked."""
    heard = {ring: [replace(c, answers=c.by_network) for c in clips if c.by_network] for ring, clips in rings.items()}
    cases = [case for case in CASES if any(c.answer(case.criterion) for clips in heard.values() for c in clips)]
    rows = []
    for case in cases:
        found = [hits(clips, case, range(case.from_strength, 6)) for clips in heard.values()]
        raised = [share_words(c.raised, c.judged, c.left_out) for c in found]
        quiet = [quiet_words(counted(good_clips(clips, case.criterion), case.criterion)) for clips in heard.values()]
        rows.append([case.title, f"`{case.criterion}`", *raised, *quiet])
    head = ["fault", "criterion", *(f"{w}, ring {r}" for w in ("sensitivity", "specificity") for r in rings)]
    said = (
        "The same clips by the network's landmarks, as where nobody marked the valve; view and valve are named. "
        "Such a finding is a proposal that enters no letter by itself:"
    )
    return [said, _table(head, rows)] if rows else []


def is_never_judged(rings: Rings, criterion: str) -> bool:
    """Whether a criterion was asked of good clips and judged none of them on some ring."""
    found = [counted(good_clips(clips, criterion), criterion) for clips in rings.values()]
    return any(c.asked and not c.judged for c in found)


def _unjudged_words(rings: Rings) -> list[str]:
    """Good clips on which a criterion raised nothing, those among them on which it could say nothing."""
    keys = [key for key in dict.fromkeys(case.criterion for case in CASES) if is_never_judged(rings, key)]
    rows = []
    for key in keys:
        found = [counted(good_clips(clips, key), key) for clips in rings.values()]
        cells = [f"{c.asked - c.raised} of {c.asked}; {c.left_out} of them n. a." for c in found]
        rows.append([f"`{key}`", *cells])
    head = ["criterion", *(f"{UNJUDGED}, ring {ring}" for ring in rings)]
    said = (
        "Of these no good clip was judged on one ring or more: they speak only where something is off, so what is "
        "counted is on how many good clips they raised nothing:"
    )
    return [said, _table(head, rows)] if rows else []


def _unclaimed_table(rings: Rings) -> str:
    head = ["fault, no claim", "nearest criterion", *(f"raised, ring {ring}" for ring in rings), "why"]
    return _table(head, [[*_unclaimed_cells(each, rings), each.why] for each in UNCLAIMED])


def _unclaimed_cells(each: Unclaimed, rings: Rings) -> list[str]:
    if not each.criterion:
        return [each.title, "none", *("–" for _ in rings)]
    of = [counted((c for c in clips if c.truth.fault == each.fault), each.criterion) for clips in rings.values()]
    said = [f"{c.raised} of {c.judged}" + (f"; {c.left_out} n. a." if c.left_out else "") for c in of]
    return [each.title, f"`{each.criterion}`", *said]


def _modes_words(rings: Rings) -> str:
    """How often the mode was told: without it nothing is asked."""
    parts = []
    for ring, clips in rings.items():
        right = sum(clip.mode_read == clip.truth.mode for clip in clips)
        parts.append(f"ring {ring} {share_words(right, len(clips))}")
    return f"The mode was told rightly on {'; '.join(parts)}."


def _untuned(rings: Rings) -> list[AskedClip]:
    return [clip for ring, part in rings.items() if ring is not Ring.A or len(rings) == 1 for clip in part]


def strength_table(rings: Rings) -> str:
    """Sensitivity at each grade, all rings but the tuned one where there are others."""
    clips = _untuned(rings)
    rows = []
    for case in CASES:
        cells = []
        for strength in STRENGTHS:
            c = hits(clips, case, [strength])
            share = f"{100 * c.raised / c.judged:.0f} %, n {c.judged}" if c.judged else "none judged"
            cells.append(share + (f"; {c.left_out} n. a." if c.left_out else ""))
        rows.append([case.title, f"`{case.criterion}`", *cells])
    return _table(["fault", "criterion", *(f"grade {s}" for s in STRENGTHS)], rows)


def variation_table(rings: Rings) -> str:
    """Share of answers on good clips without alarm at each level of variation, and which criteria fall short there."""
    clips = [clip for clip in _untuned(rings) if clip.is_good]
    rows = []
    for name, level_of in NUISANCES.items():
        for level in sorted({level_of(clip.truth) for clip in clips} - {""}):
            part = [clip for clip in clips if level_of(clip.truth) == level]
            counts = {key: counted(good_clips(part, key), key) for key in doppler_criteria()}
            judged = sum(c.judged for c in counts.values())
            quiet = judged - sum(c.raised for c in counts.values())
            short = [
                f"`{key}` {100 * (c.judged - c.raised) / c.judged:.0f} % of {c.judged}" for key, c in counts.items()
                if c.judged >= FEWEST_OF_A_LEVEL and (c.judged - c.raised) / c.judged < AIM
            ]  # fmt: skip
            rows.append([name, level, str(len(part)), f"{100 * quiet / max(1, judged):.1f} %", "; ".join(short)])
    return _table(["what varies", "level", "clips", "answers without alarm", "criteria below 95 %"], rows)


def crossing_table(rings: Rings) -> str:
    """What else each fault raises: criteria that are not claimed for it, all grades."""
    clips = _untuned(rings)
    rows = []
    for fault, kind in DOPPLER_FAULTS.items():
        part = [clip for clip in clips if clip.truth.fault == fault]
        claimed = {case.criterion for case in CASES if case.fault == fault}
        also = []
        for key in doppler_criteria():
            c = counted(part, key)
            if key not in claimed and c.judged >= FEWEST_IN_A_CELL and c.raised / c.judged >= NOTED:
                also.append(f"`{key}` {c.raised} of {c.judged}")
        rows.append([kind.title, str(len(part)), "; ".join(also)])
    return _table(["fault", "clips", "criteria raised on a quarter of them or more, beyond those above"], rows)


def tables(rings: Rings) -> dict[str, str]:
    """Return the page's tables by name."""
    return {
        "doppler-criteria": main_table(rings),
        "doppler-criteria-by-grade": strength_table(rings),
        "doppler-criteria-by-variation": variation_table(rings),
        "doppler-criteria-crossing": crossing_table(rings),
    }
