"""Learn how often each cause raises each criterion; write src/fanlight/reference/tables/cause_weights.toml.

python -m training.fit_causes --clips FILE.json.gz [--commit HASH]

Clips come from `training.draw_causes`: ring A only. Those with one cause give the weights, those with none what is
raised by chance. With two causes they are kept back: the script says how well the weights foretell them.
"""

from __future__ import annotations

import argparse
import gzip
import json
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from fanlight.coach.causes.noisy_or import GRADES
from fanlight.reference.causes import CauseRow, read_causes
from fanlight.reference.criteria import read_criteria
from fanlight.reference.load import load_house
from fanlight.study import Criterion, Side
from measure._wilson import wilson
from training.cause_masks import mask_findings

TABLE = Path(__file__).resolve().parent.parent / "src" / "fanlight" / "reference" / "tables" / "cause_weights.toml"
RAISED = ("borderline", "missed")
GRADE_OF = {2: "plain", 3: "plain", 4: "strong", 5: "strong"}  # by strength
# A sign is taken up where so many more clips with the cause raise it than by chance, beyond both intervals.
LEAST = 0.02

Sign = tuple[str, str]
Counts = dict[Sign, list[int]]  # raised, judged


def main() -> None:
    """Read the command line, learn, write, and say how well clips with two causes are foretold."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--clips", type=Path, required=True)
    parser.add_argument("--commit", default="", help="of the code that drew the clips")
    given = parser.parse_args()
    house = load_house()
    rows, criteria = read_causes(house), read_criteria(house)
    clips = json.loads(gzip.decompress(given.clips.read_bytes()))["clips"]
    clips = [clip | {"findings": signs_in(clip, criteria)} for clip in clips]
    chance = counted(clip for clip in clips if not clip["causes"])
    by_chance = {sign: smooth(*counts) for sign, counts in chance.items()}
    single = {(key, grade): counted(alone(clips, row, grade)) for key, row in rows.items() for grade in GRADES}
    signs = {key: signs_of_cause([single[key, grade] for grade in GRADES], chance) for key in rows}
    by_cause = {(key, grade): weights_of(single[key, grade], by_chance, signs[key]) for key in rows for grade in GRADES}
    TABLE.write_text(table(by_chance, by_cause, single, clips, given.commit), encoding="utf-8")
    print(TABLE)
    foretold(clips, rows, by_chance, by_cause)


def signs_in(clip: dict[str, Any], criteria: dict[str, Criterion]) -> list[tuple[str, str, bool]]:
    """Return criterion, side and whether it was raised, once for each side on which it can be missed."""
    found = []
    masks = mask_findings(clip) if "picture" in clip else []
    for name, verdict, side in [*clip["findings"], *masks]:
        row = criteria[name]
        sides = [s.value for s, advice in ((Side.LOW, row.low), (Side.HIGH, row.high)) if advice is not None]
        if verdict:
            found += [(name, s, verdict in RAISED and (side == s or len(sides) == 1)) for s in sides]
    return found


def counted(clips: Iterable[dict[str, Any]]) -> Counts:
    """Return how often each sign was raised, and judged."""
    out: Counts = defaultdict(lambda: [0, 0])
    for clip in clips:
        for name, side, is_raised in clip["findings"]:
            out[name, side][0] += is_raised
            out[name, side][1] += 1
    return dict(out)


def smooth(raised: int, judged: int) -> float:
    """Return a share that is never 0 or 1 (Jeffreys' prior of half a case on each side)."""
    return (raised + 0.5) / (judged + 1)


def alone(clips: Iterable[dict[str, Any]], row: CauseRow, grade: str) -> Iterator[dict[str, Any]]:
    """Yield the clips in which this cause acts alone, in this grade."""
    for clip in clips:
        if len(clip["causes"]) == 1:
            cause = clip["causes"][0]
            # a fault of one grade only, such as a wrong export, is as strong as it is plain
            if cause["key"] in row.drawn_as and GRADE_OF[max(cause["strength"], 2)] == grade:
                yield clip


def signs_of_cause(grades: list[Counts], chance: Counts) -> set[Sign]:
    """Return the signs that the cause raises beyond chance, by the 95 % intervals of both shares."""
    found = set()
    for sign, by_chance in chance.items():
        raised, judged = (sum(counts.get(sign, [0, 0])[k] for counts in grades) for k in (0, 1))
        if judged and wilson(raised, judged)[0] > wilson(*by_chance)[1] + LEAST:
            found.add(sign)
    return found


def weights_of(single: Counts, by_chance: dict[Sign, float], signs: set[Sign]) -> dict[Sign, float]:
    """Return what the cause adds to chance: 1 - (1 - P) / (1 - chance)."""
    out = {}
    for sign in sorted(signs):
        raised, judged = single.get(sign, [0, 0])
        weight = 1 - (1 - smooth(raised, judged)) / (1 - by_chance[sign])
        if judged and weight > 0:
            out[sign] = weight
    return out


def table(
    by_chance: dict[Sign, float], by_cause: dict[tuple[str, str], dict[Sign, float]],
    single: dict[tuple[str, str], Counts],
    clips: list[dict[str, Any]], commit: str,
) -> str:  # fmt: skip
    """Return the text of the table."""
    seeds = sorted({clip["seed"] for clip in clips})
    lines = [
        "# How often criteria are raised by chance and by each cause alone, learnt from simulated clips. Not edited by",
        f"# hand: python -m training.fit_causes. {len(clips)} clips of {len(seeds)} animals of ring A,",
        f"# seeds {seeds[0]} to {seeds[-1]}, drawn at commit {commit or 'unknown'}.",
        "# Behind each weight: raised of judged clips with this cause alone.",
        "version = 1",
        "",
    ]
    return "\n".join([*lines, *rows_of_table(by_chance, by_cause, single)]) + "\n"


def rows_of_table(
    by_chance: dict[Sign, float], by_cause: dict[tuple[str, str], dict[Sign, float]],
    single: dict[tuple[str, str], Counts], chance: Counts | None = None,
) -> list[str]:  # fmt: skip
    """Return the rows of a table, with counts behind the weights, and behind chance where they are given."""
    lines: list[str] = []
    sides: dict[str, dict[str, float]] = defaultdict(dict)
    for (name, side), value in sorted(by_chance.items()):
        sides[name][side] = value
    lines.append("[by_chance]")
    for name, row in sides.items():
        behind = "" if chance is None else " # " + ", ".join("{} of {}".format(*chance[name, side]) for side in row)
        said = ", ".join(f"{side} = {value:.4f}" for side, value in row.items())
        lines.append(f"{name} = {{ {said} }}{behind}")
    for (key, grade), weights in by_cause.items():
        lines += ["", f"[by_cause.{key}.{grade}]"]
        for name in sorted({name for name, _ in weights}):
            sides_of = {side: value for (own, side), value in weights.items() if own == name}
            counts = ", ".join("{} of {}".format(*single[key, grade][name, side]) for side in sides_of)
            said = ", ".join(f"{side} = {value:.3f}" for side, value in sides_of.items())
            lines.append(f"{name} = {{ {said} }} # {counts}")
    return lines


def foretold(
    clips: list[dict[str, Any]], rows: dict[str, CauseRow], by_chance: dict[Sign, float],
    by_cause: dict[tuple[str, str], dict[Sign, float]],
) -> None:  # fmt: skip
    """Print, for clips with two known causes, the share of signs that should be raised and was."""
    known = {name: key for key, row in rows.items() for name in row.drawn_as}
    said: defaultdict[int, float] = defaultdict(float)
    true: Counter[int] = Counter()
    total: Counter[int] = Counter()
    for clip in clips:
        keys = [(known.get(c["key"], ""), GRADE_OF[max(c["strength"], 2)]) for c in clip["causes"]]
        if len(keys) != 2 or not all(key for key, _ in keys):
            continue
        for name, side, is_raised in clip["findings"]:
            left = 1 - by_chance.get((name, side), 0.0)
            for key in keys:
                left *= 1 - by_cause[key].get((name, side), 0.0)
            place = min(int(10 * (1 - left)), 9)
            said[place] += 1 - left
            true[place] += is_raised
            total[place] += 1
    for place in sorted(total):
        n = total[place]
        print(f"foretold {said[place] / n:.2f}, raised {true[place] / n:.2f}, n {n}")


if __name__ == "__main__":
    main()
