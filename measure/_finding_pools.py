"""What the criteria said of simulated clips, ring by ring, to compose studies of: clips with no cause, or with one."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fanlight.critique.doppler.confidence import CONFIDENCE
from fanlight.reference.causes import CauseRow
from fanlight.study import Criterion, Mode, Side, Verdict
from measure._cause_places import with_places

LEAST = 3  # clips in which a cause acts alone, so that studies can be composed of them
_PLAIN = 3  # grade from which a fault is plain to an eye that knows; studies have no gentler ones
Said = tuple[str, str, str, float]  # criterion, verdict, side, confidence


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptClip:
    """One clip of which all answers were kept."""

    seed: int
    heart: str
    mode: Mode
    view: str
    valve: str  # "" of a picture
    findings: tuple[Said, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """All clips of a ring, by mode and by the one cause that acts, "" none."""

    clips: Mapping[tuple[Mode, str], tuple[KeptClip, ...]]

    def of(self, mode: Mode, cause: str) -> tuple[KeptClip, ...]:
        """Return the clips of a mode with this cause alone."""
        return self.clips.get((mode, cause), ())

    def causes(self) -> set[str]:
        """Return the causes of which there are clips enough in some mode."""
        return {cause for (_, cause), clips in self.clips.items() if cause and len(clips) >= LEAST}


def read_pool(
    records: Iterable[dict[str, Any]], answers: Path, ring: str, rows: Mapping[str, CauseRow],
    criteria: Mapping[str, Criterion],
) -> Pool:  # fmt: skip
    """Return the clips of a ring.

    Parameters
    ----------
    records : iterable of dict
        Of `measure.causes`: what was said of pictures.
    answers : Path
        Folder of `measure.doppler_criteria`: what was said of Doppler clips, a file an animal.
    ring : str
    rows : mapping of str to CauseRow
        Of the House, as are `criteria`.

    Raises
    ------
    SystemExit
        If the folder holds no answers on this ring.
    """
    found: dict[tuple[Mode, str], list[KeptClip]] = defaultdict(list)
    for record in records:
        for clip in with_places(record).get("clips", ()):
            if len(clip["acting"]) <= 1:
                kept = KeptClip(
                    seed=record["seed"], heart=record["heart"], mode=Mode.TWO_D, view=clip["view"], valve="",
                    findings=tuple((*item[:3], float(item[3])) for item in clip["findings"]),
                )  # fmt: skip
                found[Mode.TWO_D, "".join(clip["acting"])].append(kept)
    files = sorted(answers.glob(f"{ring}-*.json"))
    if not files:
        raise SystemExit(f"{answers} holds no answers on ring {ring}: run python -m measure.doppler_criteria first")
    by_fault = {fault: key for key, row in rows.items() for fault in row.drawn_as}
    for file in files:
        for row in json.loads(file.read_text("utf-8")):
            truth = row["truth"]
            cause = by_fault.get(truth["fault"], "") if truth["fault"] else ""
            if truth["fault"] and (not cause or truth["strength"] < _PLAIN):
                continue
            mode = Mode(truth["mode"])
            found[mode, cause].append(
                KeptClip(
                    seed=truth["seed"], heart=truth["heart"], mode=mode, view=truth["view"], valve=truth["valve"],
                    findings=tuple(_sure(row["answers"], criteria)),
                )
            )  # fmt: skip
    return Pool(clips={key: tuple(clips) for key, clips in found.items()})


def _sure(answers: Iterable[dict[str, Any]], criteria: Mapping[str, Criterion]) -> Iterable[Said]:
    """Yield what may enter a letter; each of these criteria can be missed on one side only."""
    for answer in answers:
        key, verdict = answer["criterion"], Verdict(answer["verdict"])
        if key in CONFIDENCE and verdict is not Verdict.NOT_ASSESSABLE:
            raised = Side.LOW if criteria[key].low else Side.HIGH
            side = Side.INSIDE if verdict is Verdict.MET else raised
            yield key, verdict.value, side.value, CONFIDENCE[key]
