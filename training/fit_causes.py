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
from fanlight.reference.causes import CauseRow, Weight, criterion_of, read_causes
from fanlight.reference.criteria import read_criteria
from fanlight.reference.load import load_house
from fanlight.study import Criterion, Side
from measure._wilson import wilson
from training.cause_masks import mask_findings

TABLE = Path(__file__).resolve().parent.parent / "src" / "fanlight" / "reference" / "tables" / "cause_weights.toml"
FAR = {"borderline": 1, "missed": 2}  # how far a finding is raised; 0 not at all
GRADE_OF = {2: "plain", 3: "plain", 4: "strong", 5: "strong"}  # by strength
# A sign is taken up where so many more clips with the cause raise it than by chance, beyond both intervals.
LEAST = 0.02
LEAST_CHANCE = Weight(0.005, 0.002)  # engineering judgement: on a machine that was never simulated any criterion errs
LEAST_OF_RAISED, MOST_OF_RAISED = 0.02, 0.98  # missed outright: neither borderline nor missed is impossible

NEVER = Weight(0.0, 0.0)

Sign = tuple[str, str]
Clip = dict[str, Any]
Counts = dict[Sign, list[int]]  # raised, missed outright, judged


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
    simple = [clip for clip in clips if len(clip["causes"]) <= 1]
    good = counted(clip for clip in simple if not clip["causes"])
    faults = {fault for clip in simple for fault in keys_of(clip)}
    raisers = {
        fault: signs_of_cause([counted(clip for clip in simple if fault in keys_of(clip))], good) for fault in faults
    }
    chance = counted(unraised(simple, raisers))
    by_chance = by_chance_of(chance)
    single = {(key, grade): counted(alone(clips, row, grade)) for key, row in rows.items() for grade in GRADES}
    signs = {key: signs_of_cause([single[key, grade] for grade in GRADES], good) for key in rows}
    by_cause = {(key, grade): weights_of(single[key, grade], by_chance, signs[key]) for key in rows for grade in GRADES}
    TABLE.write_text(table(by_chance, by_cause, single, clips, given.commit), encoding="utf-8")
    print(TABLE)
    foretold(clips, rows, by_chance, by_cause)


def signs_in(clip: dict[str, Any], criteria: dict[str, Criterion]) -> list[tuple[str, str, int]]:
    """Return criterion, side and how far it was raised, once for each side on which it can be missed."""
    found = []
    masks = mask_findings(clip) if "picture" in clip else []
    for name, verdict, side in [*clip["findings"], *masks]:
        row = criteria[criterion_of(name)]
        sides = [s.value for s, advice in ((Side.LOW, row.low), (Side.HIGH, row.high)) if advice is not None]
        if verdict:
            found += [(name, s, FAR.get(verdict, 0) if side == s or len(sides) == 1 else 0) for s in sides]
    return found


def counted(clips: Iterable[dict[str, Any]]) -> Counts:
    """Return how often each sign was raised, missed outright, and judged."""
    out: Counts = defaultdict(lambda: [0, 0, 0])
    for clip in clips:
        for name, side, far in clip["findings"]:
            for place, counts in enumerate((far > 0, far > 1, True)):
                out[name, side][place] += counts
    return dict(out)


def keys_of(clip: Clip) -> set[str]:
    """Return the faults in a clip."""
    return {cause["key"] for cause in clip["causes"]}


def unraised(clips: Iterable[Clip], raisers: dict[str, set[Sign]]) -> Iterator[Clip]:
    """Yield the clips, each with what none of its faults raises."""
    for clip in clips:
        raised_by = {sign for fault in keys_of(clip) for sign in raisers[fault]}
        yield clip | {"findings": [item for item in clip["findings"] if (item[0], item[1]) not in raised_by]}


def shares(counts: list[int]) -> Weight:
    """Return shares that are never 0, 1 or alike (Jeffreys' prior: half a case on each side, of both steps)."""
    raised, missed, judged = counts
    share = (raised + 0.5) / (judged + 1)
    return Weight(share, share * (missed + 0.5) / (raised + 1))


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
        raised, _, judged = (sum(counts.get(sign, [0, 0, 0])[k] for counts in grades) for k in range(3))
        if judged and wilson(raised, judged)[0] > wilson(by_chance[0], by_chance[2])[1] + LEAST:
            found.add(sign)
    return found


def by_chance_of(chance: Counts) -> dict[Sign, Weight]:
    """Return how often chance raises each sign."""
    return {
        sign: Weight(*(max(share, least) for share, least in zip(shares(counts), LEAST_CHANCE, strict=True)))
        for sign, counts in chance.items()
    }


def weights_of(single: Counts, by_chance: dict[Sign, Weight], signs: set[Sign]) -> dict[Sign, Weight]:
    """Return what the cause adds to chance: 1 - (1 - P) / (1 - chance); it misses outright no more than it raises."""
    out = {}
    for sign in sorted(signs):
        counts = single.get(sign, [0, 0, 0])
        both = zip(shares(counts), by_chance[sign], strict=True)
        raised, missed = (1 - (1 - share) / (1 - chance) for share, chance in both)
        if counts[2] and raised > 0:
            out[sign] = Weight(raised, min(max(missed, LEAST_OF_RAISED * raised), MOST_OF_RAISED * raised))
    return out


def table(
    by_chance: dict[Sign, Weight], by_cause: dict[tuple[str, str], dict[Sign, Weight]],
    single: dict[tuple[str, str], Counts],
    clips: list[dict[str, Any]], commit: str,
) -> str:  # fmt: skip
    """Return the text of the table."""
    seeds = sorted({clip["seed"] for clip in clips})
    lines = [
        "# How often criteria are raised by chance and by each cause alone, learnt from simulated clips. Not edited by",
        f"# hand: python -m training.fit_causes. {len(clips)} clips of {len(seeds)} animals of ring A,",
        f"# seeds {seeds[0]} to {seeds[-1]}, drawn at commit {commit or 'unknown'}.",
        "# Each weight: raised at all, and missed outright; behind it, how many of the clips with this cause alone.",
        "version = 1",
        "",
    ]
    return "\n".join([*lines, *rows_of_table(by_chance, by_cause, single)]) + "\n"


def rows_of_table(
    by_chance: dict[Sign, Weight], by_cause: dict[tuple[str, str], dict[Sign, Weight]],
    single: dict[tuple[str, str], Counts], chance: Counts | None = None,
) -> list[str]:  # fmt: skip
    """Return the rows of a table, with counts behind the weights, and behind chance where they are given."""
    lines: list[str] = []
    sides: dict[str, dict[str, Weight]] = defaultdict(dict)
    for (name, side), value in sorted(by_chance.items()):
        sides[name][side] = value
    lines.append("[by_chance]")
    for name, row in sides.items():
        behind = "" if chance is None else " # " + ", ".join(_count_words(chance[name, side]) for side in row)
        said = ", ".join(f"{side} = [{value.raised:.4f}, {value.missed:.4f}]" for side, value in row.items())
        lines.append(f"{_key(name)} = {{ {said} }}{behind}")
    for (key, grade), weights in by_cause.items():
        lines += ["", f"[by_cause.{key}.{grade}]"]
        for name in sorted({name for name, _ in weights}):
            sides_of = {side: value for (own, side), value in weights.items() if own == name}
            counts = ", ".join(_count_words(single[key, grade][name, side]) for side in sides_of)
            said = ", ".join(f"{side} = [{value.raised:.3f}, {value.missed:.3f}]" for side, value in sides_of.items())
            lines.append(f"{_key(name)} = {{ {said} }} # {counts}")
    return lines


def _key(name: str) -> str:
    """Return the name of a sign as a key of the table; one with a place needs quotation marks."""
    return f'"{name}"' if ":" in name else name


def _count_words(counts: list[int]) -> str:
    return "{}, {} outright, of {}".format(*counts)


def foretold(
    clips: list[dict[str, Any]], rows: dict[str, CauseRow], by_chance: dict[Sign, Weight],
    by_cause: dict[tuple[str, str], dict[Sign, Weight]],
) -> None:  # fmt: skip
    """Print, for clips with two known causes, the share of signs that should be raised, or missed, and was."""
    for least, words in ((1, "raised"), (2, "missed outright")):
        print(words)
        _foretold(clips, rows, by_chance, by_cause, least)


def _foretold(
    clips: list[dict[str, Any]], rows: dict[str, CauseRow], by_chance: dict[Sign, Weight],
    by_cause: dict[tuple[str, str], dict[Sign, Weight]], least: int,
) -> None:  # fmt: skip
    known = {name: key for key, row in rows.items() for name in row.drawn_as}
    said: defaultdict[int, float] = defaultdict(float)
    true: Counter[int] = Counter()
    total: Counter[int] = Counter()
    for clip in clips:
        keys = [(known.get(c["key"], ""), GRADE_OF[max(c["strength"], 2)]) for c in clip["causes"]]
        if len(keys) != 2 or not all(key for key, _ in keys):
            continue
        for name, side, far in clip["findings"]:
            left = 1 - by_chance.get((name, side), NEVER)[least - 1]
            for key in keys:
                left *= 1 - by_cause[key].get((name, side), NEVER)[least - 1]
            place = min(int(10 * (1 - left)), 9)
            said[place] += 1 - left
            true[place] += far >= least
            total[place] += 1
    for place in sorted(total):
        n = total[place]
        print(f"foretold {said[place] / n:.2f}, was {true[place] / n:.2f}, n {n}")


if __name__ == "__main__":
    main()
