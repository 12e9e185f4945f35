"""What the causes of a study come out as, as one hash a thing: held against other code by `scripts.carry_over`.

python measure/_same_causes.py     prints a JSON object, name: SHA-256

Studies of invented findings: every criterion in every verdict, on either side, in each mode and in views that are known
and not, with habits that run through a study and without, chambers cut off at known places and at none.
"""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np

from fanlight.coach.causes.find import CauseTables, find_causes
from fanlight.coach.causes.where_cut import Cuts
from fanlight.reference.causes import CutPlace, read_cause_limits, read_causes, read_weights
from fanlight.reference.criteria import read_criteria
from fanlight.reference.letter import read_letter_limits
from fanlight.reference.load import load_house
from fanlight.reference.views import read_views
from fanlight.study import ClipReading, Criterion, Finding, Mode, Side, Valve, Verdict, ViewReading, ViewSource
from measure._hash_of import hash_of
from measure._store_samples import sample_reading, sample_study

N_STUDIES, N_CLIPS = 100, 13
SEED = 9100
_CALM = 0.8  # of a study's criteria, those that nothing raises
_VERDICTS = (Verdict.MET, Verdict.BORDERLINE, Verdict.MISSED, Verdict.NOT_ASSESSABLE)
_OFTEN = {True: (0.1, 0.35, 0.5, 0.05), False: (0.88, 0.05, 0.02, 0.05)}  # of a criterion that is raised; of another


def hashes() -> dict[str, str]:
    """Return the hash of each study's causes, by name."""
    house = load_house()
    tables = CauseTables(
        rows=read_causes(house), weights=read_weights(house), limits=read_cause_limits(house),
        criteria=read_criteria(house), sure_from=read_letter_limits(house).sure_from,
    )  # fmt: skip
    views = ("", *read_views(house))
    found = {}
    for k in range(N_STUDIES):
        rng = np.random.default_rng([SEED, k])
        readings, cuts = _study(rng, tables, views)
        causes = find_causes(readings, tables, cuts)
        found[f"study {k}, {len(causes)} causes"] = hash_of(causes)
    return found


def _study(
    rng: np.random.Generator, tables: CauseTables, views: tuple[str, ...]
) -> tuple[tuple[ClipReading, ...], dict[str, Cuts]]:
    raised = {key for key in tables.criteria if rng.random() > _CALM}
    few = tuple(rng.choice(views, size=4))
    readings: list[ClipReading] = []
    cuts: dict[str, Cuts] = {}
    for clip in sample_study(N_CLIPS).clips:
        mode = Mode(rng.choice([item.value for item in Mode]))
        plain = sample_reading(clip, 0)
        view = ViewReading(
            view=str(rng.choice(few)), source=ViewSource.MENTOR, probability=1.0, valve=Valve(rng.choice(list(Valve))),
        )  # fmt: skip
        findings = tuple(_finding(rng, item, clip.key, item.key in raised) for item in tables.criteria.values())
        readings.append(replace(plain, mode=replace(plain.mode, mode=mode), view=view, findings=findings))
        if rng.random() < 0.5:
            cuts[clip.key] = {place: _verdict(rng, is_raised=True) for place in CutPlace}
    return tuple(readings), cuts


def _finding(rng: np.random.Generator, criterion: Criterion, clip: str, is_raised: bool) -> Finding:
    sides = [side for side, advice in ((Side.LOW, criterion.low), (Side.HIGH, criterion.high)) if advice is not None]
    verdict = _verdict(rng, is_raised=is_raised)
    is_off = verdict in (Verdict.BORDERLINE, Verdict.MISSED)
    return Finding(
        criterion=criterion.key, clip=clip, value=0.4, unit=criterion.unit, band=criterion.band, verdict=verdict,
        side=sides[int(rng.integers(len(sides)))] if is_off and sides else Side.INSIDE,
        confidence=float(rng.uniform(0.6, 1)),
        reason="not seen" if verdict is Verdict.NOT_ASSESSABLE else "",
    )  # fmt: skip


def _verdict(rng: np.random.Generator, *, is_raised: bool) -> Verdict:
    return _VERDICTS[int(rng.choice(len(_VERDICTS), p=_OFTEN[is_raised]))]


if __name__ == "__main__":
    print(json.dumps(hashes(), indent=0))
