"""How well causes are told in many studies composed of answers that criteria gave on simulated clips.

    python -m measure.cause_findings --records FOLDER --answers FOLDER
    python -m measure.cause_findings --records FOLDER --answers FOLDER --print-only --ring A

Pictures come from the records of `measure.causes`, Doppler from the answers of `measure.doppler_criteria`, each clip
whole, with all that was said of it. A study has six pictures, three colour clips and three pulsed-wave strips of three
views, and one of continuous wave. Each ring is composed of its own answers; two causes in one clip raise what either
raised. What the animal brings is drawn from the judged weights, since no clip of it was made.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from fanlight.reference.causes import read_causes, read_weights
from fanlight.reference.criteria import read_criteria
from fanlight.reference.load import load_house
from fanlight.simulate.clip.ring import Ring
from measure._cause_answers import answered
from measure._cause_table import Record, reliability_table
from measure._described import imported
from measure._finding_pools import read_pool
from measure._finding_studies import Makings, compose
from measure._finding_table import finding_table
from measure._records import Records
from scripts.measured import write_table

PAGE = Path(__file__).resolve().parent.parent / "docs" / "causes.md"
FIRST_SEED = {Ring.A: 8000, Ring.B: 14_000, Ring.C: 19_000}
N_STUDIES = 400
SCRIPTS = tuple(
    f"measure/{name}.py"
    for name in (
        "cause_findings", "_finding_pools", "_finding_studies", "_finding_table", "_cause_answers", "_cause_table",
        "_cause_places",
    )
)  # fmt: skip
TABLES = ("causes", "cause_weights", "cause_weights_doppler", "cause_weights_beside")


def main() -> None:
    """Compose, ask, write."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--records", type=Path, required=True, help="folder of measure.causes")
    parser.add_argument("--answers", type=Path, required=True, help="folder of measure.doppler_criteria, of all rings")
    parser.add_argument("--ring", action="append", choices=[ring.value for ring in Ring], help="all of them")
    parser.add_argument("--studies", type=int, default=N_STUDIES, help="of each ring")
    parser.add_argument("--print-only", action="store_true", help="write nothing")
    given = parser.parse_args()
    rings = [Ring(value) for value in given.ring] if given.ring else list(Ring)
    house = load_house()
    rows, criteria = read_causes(house), read_criteria(house)
    kept = Records(folder=given.records, kind="causes").read(rings)
    found: dict[str, list[Record]] = {}
    for ring in rings:
        pool = read_pool(kept[ring.value], given.answers, ring.value, rows, criteria)
        makings = Makings(pool=pool, rows=rows, weights=read_weights(house), criteria=criteria)
        seeds = range(FIRST_SEED[ring], FIRST_SEED[ring] + given.studies)
        found[ring.value] = [answered(compose(seed, makings)) for seed in seeds]
    tables = {"causes-findings": finding_table(found), "causes-findings-reliability": reliability_table(found)}
    if given.print_only:
        print("\n\n".join(tables.values()))
        return
    made_by = {
        *SCRIPTS, *imported(("fanlight.coach.causes",)), "src/fanlight/reference/causes.py",
        "src/fanlight/reference/animal_facts.py",
        *(f"src/fanlight/reference/tables/{name}.toml" for name in TABLES),
    }  # fmt: skip
    drawn = ", ".join(f"ring {ring} {FIRST_SEED[Ring(ring)]} on ({len(own)} studies)" for ring, own in found.items())
    for name, text in tables.items():
        write_table(PAGE, name, text, script=SCRIPTS[0], describes=sorted(made_by), seeds=drawn)


if __name__ == "__main__":
    main()
