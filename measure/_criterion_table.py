"""The tables of the accuracy page: shares with their intervals, rings side by side."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.faults.fault import STRENGTHS
from measure._criterion_cases import CASES, CRITERIA, NUISANCES, Case
from measure._criterion_record import Answer, GoodClip, SubjectRecord
from measure._wilson import wilson

Rings = Mapping[Ring, list[SubjectRecord]]
AIM = 0.95
FEWEST_OF_A_LEVEL = 10  # judged good clips of a level of nuisance, below which nothing is said


@dataclass(frozen=True, slots=True, kw_only=True)
class Count:
    """How many of the clips that could be judged were raised."""

    raised: int
    judged: int
    asked: int

    @property
    def left_out(self) -> int:
        """Not assessable."""
        return self.asked - self.judged


def count(answers: Iterable[Answer]) -> Count:
    """Count answers of one criterion."""
    all_of = list(answers)
    return Count(raised=sum(a.is_raised for a in all_of), judged=sum(a.is_judged for a in all_of), asked=len(all_of))


def share_words(k: int, n: int, left_out: int = 0) -> str:
    """Return a share in percent with its interval, n and what could not be assessed."""
    if n == 0:
        return f"none judged, {left_out} n. a."
    low, high = wilson(k, n)
    words = f"{100 * k / n:.0f} % ({100 * low:.0f}–{100 * high:.0f}), n {n}"
    return f"**{words}**" + _n_a(left_out) if k / n < AIM else words + _n_a(left_out)


def _n_a(left_out: int) -> str:
    return f"; {left_out} n. a." if left_out else ""


def hits(records: list[SubjectRecord], case: Case, strengths: Iterable[int]) -> Count:
    """Count the faulty clips of these strengths that the criterion raised."""
    wanted = set(strengths)
    return count(
        answer
        for record in records
        for clip in record.faulty
        if clip.fault == case.fault and clip.strength in wanted
        for answer in clip.answers
        if answer.criterion == case.criterion
    )


def good_clips(records: list[SubjectRecord]) -> list[GoodClip]:
    """Return all good clips."""
    return [clip for record in records for clip in record.good]


def alarms(clips: Iterable[GoodClip], criterion: str) -> Count:
    """Count the good clips that the criterion raised."""
    return count(answer for clip in clips for answer in clip.answers if answer.criterion == criterion)


def _right(found: Count) -> str:
    return share_words(found.judged - found.raised, found.judged, found.left_out)


def _row(cells: Iterable[str]) -> str:
    return f"| {' | '.join(cells)} |"


def _table(head: list[str], rows: Iterable[list[str]]) -> str:
    return "\n".join([_row(head), "|---" * len(head) + "|", *(_row(row) for row in rows)])


def main_table(rings: Rings) -> str:
    """Sensitivity from the stated strength on and specificity, rings side by side."""
    head = ["fault", "criterion", "from", *(f"{w}, ring {r}" for w in ("sensitivity", "specificity") for r in rings)]
    rows = []
    for case in CASES:
        found = [hits(records, case, range(case.from_strength, 6)) for records in rings.values()]
        raised = [share_words(c.raised, c.judged, c.left_out) for c in found]
        quiet = [_right(alarms(good_clips(records), case.criterion)) for records in rings.values()]
        rows.append([case.title, f"`{case.criterion}`", str(case.from_strength), *raised, *quiet])
    reasons = "; ".join(f"{case.title} ({case.criterion}): {case.why}" for case in CASES if case.why)
    return f"{_table(head, rows)}\n\nWhere it is not from strength 3 on: {reasons}."


def strength_table(rings: Rings) -> str:
    """Sensitivity at each strength, all rings but the tuned one where there are others."""
    records = [record for ring, part in rings.items() if ring is not Ring.A or len(rings) == 1 for record in part]
    head = ["fault", "criterion", *(f"strength {s}" for s in STRENGTHS)]
    rows = []
    for case in CASES:
        cells = []
        for strength in STRENGTHS:
            c = hits(records, case, [strength])
            share = f"{100 * c.raised / c.judged:.0f} %, n {c.judged}" if c.judged else "none judged"
            cells.append(share + _n_a(c.left_out))
        rows.append([case.title, f"`{case.criterion}`", *cells])
    return _table(head, rows)


def class_table(rings: Rings) -> str:
    """Specificity by class of heart."""
    records = [record for ring, part in rings.items() if ring is not Ring.A or len(rings) == 1 for record in part]
    clips = good_clips(records)
    hearts = list(dict.fromkeys(clip.heart for clip in clips))
    rows = []
    for criterion in CRITERIA:
        cells = []
        for heart in sorted(hearts):
            c = alarms([clip for clip in clips if clip.heart == heart], criterion)
            cells.append(share_words(c.judged - c.raised, c.judged, c.left_out))
        rows.append([f"`{criterion}`", *cells])
    return _table(["criterion", *(heart.replace("_", " ") for heart in sorted(hearts))], rows)


def nuisance_table(rings: Rings) -> str:
    """Share of good clips on which each level of variation raises nothing, and which criteria fall short there."""
    records = [record for ring, part in rings.items() if ring is not Ring.A or len(rings) == 1 for record in part]
    clips = good_clips(records)
    rows = []
    for name, level_of in NUISANCES.items():
        for level in sorted({level_of(clip) for clip in clips}):
            part = [clip for clip in clips if level_of(clip) == level]
            told = [a for clip in part for a in clip.answers if a.is_judged and a.criterion in CRITERIA]
            quiet = sum(not a.is_raised for a in told)
            short = []
            for criterion in CRITERIA:
                c = alarms(part, criterion)
                if c.judged >= FEWEST_OF_A_LEVEL and (c.judged - c.raised) / c.judged < AIM:
                    short.append(f"`{criterion}` {100 * (c.judged - c.raised) / c.judged:.0f} % of {c.judged}")
            rows.append([name, level, str(len(part)), f"{100 * quiet / max(1, len(told)):.1f} %", "; ".join(short)])
    return _table(["what varies", "level", "clips", "answers without alarm", "criteria below 95 %"], rows)


def tables(rings: Rings) -> dict[str, str]:
    """Return the page's tables by name."""
    return {
        "criteria": main_table(rings),
        "criteria-by-strength": strength_table(rings),
        "criteria-by-class": class_table(rings),
        "criteria-by-variation": nuisance_table(rings),
    }
