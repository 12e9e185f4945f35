"""Learn how often each cause raises each Doppler criterion; write cause_weights_doppler.toml of the tables.

python -m training.fit_doppler_causes --answers FOLDER [--commit HASH]

The answers are those of `measure.doppler_criteria` on ring A: a clip of each mode without fault and with each fault
alone. Only criteria that held on ring A, and so may enter a letter, are counted (critique/doppler/confidence.py). A
criterion that no fault in a clip raises beyond chance stands there as without fault: such clips count to chance as
well, since clips without fault are few.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from fanlight.coach.causes.noisy_or import GRADES
from fanlight.critique.doppler.confidence import CONFIDENCE
from fanlight.reference.causes import CauseRow, read_causes
from fanlight.reference.criteria import read_criteria
from fanlight.reference.letter import read_letter_limits
from fanlight.reference.load import load_house
from fanlight.simulate.faults.doppler_faults import DOPPLER_FAULTS
from fanlight.study import Criterion, Side, Verdict
from training.fit_causes import (
    FAR,
    TABLE,
    Clip,
    Sign,
    alone,
    by_chance_of,
    counted,
    keys_of,
    rows_of_table,
    signs_of_cause,
    unraised,
    weights_of,
)

OUT = TABLE.with_name("cause_weights_doppler.toml")


def main() -> None:
    """Read the command line, learn, write, and print which faults no criterion tells from chance."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--answers", type=Path, required=True, help="folder of the answers, one file an animal")
    parser.add_argument("--commit", default="", help="of the code that judged the clips")
    given = parser.parse_args()
    house = load_house()
    sure = sure_criteria(read_criteria(house), read_letter_limits(house).sure_from)
    rows = {key: row for key, row in read_causes(house).items() if set(row.drawn_as) & set(DOPPLER_FAULTS)}
    clips = read_answers(given.answers, "A", sure)
    good = counted(clip for clip in clips if not clip["causes"])
    raisers = {
        fault: signs_of_cause([counted(clip for clip in clips if fault in keys_of(clip))], good)
        for fault in DOPPLER_FAULTS
    }
    chance = counted(unraised(clips, raisers))
    by_chance = by_chance_of(chance)
    single = {(key, grade): counted(alone(clips, row, grade)) for key, row in rows.items() for grade in GRADES}
    by_cause = {
        (key, grade): weights_of(single[key, grade], by_chance, signs_of_row(row, raisers))
        for key, row in rows.items()
        for grade in GRADES
    }
    seeds = sorted({clip["seed"] for clip in clips})
    head = [
        "# How often Doppler criteria are raised by chance and by each cause alone, learnt from simulated clips. Not",
        f"# edited by hand: python -m training.fit_doppler_causes. {len(clips)} clips of {len(seeds)} animals of",
        f"# ring A, seeds {seeds[0]} to {seeds[-1]}, judged at commit {given.commit or 'unknown'}.",
        "# Each weight: raised at all, and missed outright; behind it, how many of the clips with this cause alone, or",
        "# with none that raises the criterion.",
        "version = 1",
        "",
    ]
    OUT.write_text("\n".join(head + rows_of_table(by_chance, by_cause, single, chance)) + "\n", encoding="utf-8")
    print(OUT)
    print("no criterion that may enter a letter tells from chance:", sorted(key for key in raisers if not raisers[key]))


def sure_criteria(criteria: dict[str, Criterion], sure_from: float) -> dict[str, Criterion]:
    """Return the Doppler criteria that may enter a letter."""
    return {key: criteria[key] for key, confidence in CONFIDENCE.items() if confidence >= sure_from}


def read_answers(folder: Path, ring: str, sure: dict[str, Criterion]) -> list[Clip]:
    """Return the clips of a ring, each with its fault as a cause and what the sure criteria said of it.

    A criterion that has nothing to judge in any clip without fault, such as a correction for an angle that nobody
    made, counts as not raised wherever it was asked.

    Raises
    ------
    SystemExit
        If the folder holds none.
    """
    files = sorted(folder.glob(f"{ring}-*.json"))
    if not files:
        raise SystemExit(f"{folder} holds no answers on ring {ring}: run python -m measure.doppler_criteria first")
    read = [row for file in files for row in json.loads(file.read_text("utf-8"))]
    good = [answer for row in read if not row["truth"]["fault"] for answer in row["answers"]]
    judged = {answer["criterion"] for answer in good if answer["verdict"] != Verdict.NOT_ASSESSABLE}
    found = []
    for row in read:
        truth = row["truth"]
        causes = [{"key": truth["fault"], "strength": truth["strength"]}] if truth["fault"] else []
        found.append(
            {
                **{key: truth[key] for key in ("seed", "mode", "view", "valve", "heart")},
                "causes": causes, "findings": list(_signs(row["answers"], sure, judged)),
            }
        )  # fmt: skip
    return found


def _signs(
    answers: Iterable[dict[str, Any]], sure: dict[str, Criterion], judged: set[str]
) -> Iterator[tuple[str, str, int]]:
    """Yield criterion, side and how far it was raised; the sure ones can be missed on one side only."""
    for answer in answers:
        criterion = sure.get(answer["criterion"])
        if criterion is None or (answer["verdict"] == Verdict.NOT_ASSESSABLE and criterion.key in judged):
            continue
        sides = [side.value for side, said in ((Side.LOW, criterion.low), (Side.HIGH, criterion.high)) if said]
        if len(sides) != 1:
            raise ValueError(f"{criterion.key} can be missed on both sides, and the answers hold no side")
        yield criterion.key, sides[0], FAR.get(answer["verdict"], 0)


def signs_of_row(row: CauseRow, raisers: dict[str, set[Sign]]) -> set[Sign]:
    """Return what any fault raises by which a cause was drawn."""
    return {sign for fault in row.drawn_as for sign in raisers.get(fault, set())}


if __name__ == "__main__":
    main()
