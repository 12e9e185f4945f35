"""The table of the ladder's rules: raised where they are truly broken, quiet where they are kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from measure._wilson import wilson

Record = dict[str, Any]
# Engine's rules in words, and what is true by construction.
WORDS = {
    "L1": "Doppler without a 2-D clip of its view that can be looked at",
    "L2": "spectra without colour of the valve",
    "L3": "pulsed wave runs out, none fits, no continuous wave",
    "L4": "colour of a leak or a narrow tract, no continuous wave",
    "L5": "a velocity is reported, and no two windows have a whole spectrum of three beats",
    "L6": "“no leak” is written, colour in fewer than two views",
    "L7": "“not measurable” is written, no spectrum",
}
FEWEST = 10  # studies, below which no share is told


def ladder_table(records: Mapping[str, Sequence[Record]]) -> str:
    """Return the table, a row a rule and ring."""
    named = {ring: [row for row in rows if row["is_named"]] for ring, rows in records.items()}
    lines = [
        "| rule | truly broken where | ring | raised where broken | of them surely | quiet where kept |",
        "|---|---|---|---|---|---|",
    ]
    for rule, words in WORDS.items():
        for ring, rows in named.items():
            broken = [row["raised"][rule] for row in rows if row["truth"][rule]]
            kept = [row["raised"][rule] for row in rows if not row["truth"][rule]]
            surely = f"{sum(said == 'sure' for said in broken)} of {sum(map(bool, broken))}"
            lines.append(
                f"| {rule} | {words} | {ring} | {_words(sum(map(bool, broken)), len(broken))} | {surely} | "
                f"{_words(sum(not said for said in kept), len(kept))} |"
            )
    return "\n".join((*lines, "", _open_words(records), "", _few_words(named)))


def _few_words(records: Mapping[str, Sequence[Record]]) -> str:
    """On how few clips the rules that read findings rest: each is in many studies."""
    n = {
        ring: [len({name for row in rows for name in row["tells"][rule]}) for rule in ("L3", "L4")]
        for ring, rows in records.items()
    }
    said = "; ".join(f"ring {ring}: {out} and {jets}" for ring, (out, jets) in n.items())
    return (
        "The intervals are of studies, not of animals. L3 rests on few pulsed strips that run out, L4 on few colour "
        f"clips with a jet: {said}."
    )


def _open_words(records: Mapping[str, Sequence[Record]]) -> str:
    """What becomes of studies in which the name of a clip is lost: it may be the one that is wanted."""
    parts = []
    for ring, rows in records.items():
        said = [(row["truth"][rule], row["raised"][rule]) for row in rows if not row["is_named"] for rule in WORDS]
        broken, kept = ([bool(raised) for truly, raised in said if truly is is_so] for is_so in (True, False))
        parts.append(
            f"ring {ring}: {sum(broken)} of {len(broken)} rules that are broken are raised, {sum(kept)} of {len(kept)} "
            "that are kept"
        )
    return (
        "Above are studies whose clips are all named. Where the name of one is lost, it may be the one that is wanted; "
        f"{'; '.join(parts)}."
    )


def _words(k: int, n: int) -> str:
    if n < FEWEST:
        return f"too few to tell: {k} of {n}"
    low, high = wilson(k, n)
    return f"{k} of {n}, {100 * k / n:.0f} % ({100 * low:.0f}–{100 * high:.0f})"
