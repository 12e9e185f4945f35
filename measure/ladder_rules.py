"""How often each rule of the Doppler ladder is raised where a study breaks it, and quiet where it is kept.

    python -m measure.ladder_rules --records FOLDER --answers FOLDER --looks FOLDER --jets FOLDER
    python -m measure.ladder_rules --records FOLDER --tables-only

Studies of one valve are composed of the answers of `measure.doppler_criteria` on simulated clips, each clip whole, with
all that was said of it: rungs are left out, spectra run out of their scale or are torn, 2-D clips are bad, a clip has
lost its name, and report and reading say what they should not. What is broken follows from what was put in. Each ring
is composed of its own clips. Few of those hold a jet, so clips of animals with one are made beside them, in the folder
of jets, some minutes a ring; they are kept there, and used again (name a new folder after a change of what is drawn or
judged). The angle of the beam takes no part: no clip is kept whose angle is wrong.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from fanlight.reference.criteria import read_criteria
from fanlight.reference.load import load_house
from fanlight.simulate.clip.ring import Ring
from measure._ladder_clips import read_clips
from measure._ladder_jets import keep_jets
from measure._ladder_studies import compose, raised_in, tells_of, truth_of
from measure._ladder_table import ladder_table
from measure._records import Record, Records, seeds_words
from scripts.measured import write_table

PAGE = Path(__file__).resolve().parent.parent / "docs" / "accuracy.md"
FIRST_SEED = {Ring.A: 9000, Ring.B: 14_500, Ring.C: 16_000}
N_STUDIES = 320
DESCRIBES = (
    "measure/ladder_rules.py",
    *(f"measure/_ladder_{name}.py" for name in ("clips", "jets", "studies", "table")),
    "src/fanlight/critique/ladder_rules.py", "src/fanlight/critique/coverage.py",
    "src/fanlight/critique/doppler", "src/fanlight/reference/tables/criteria/doppler_spectrum.toml",
    "src/fanlight/reference/tables/criteria/doppler_spectrum_timing.toml",
    "src/fanlight/reference/ladder.py", "src/fanlight/reference/tables/ladder.toml",
    "src/fanlight/validity/clip_verdict.py",
)  # fmt: skip


def draw(rings: list[Ring], n: int, answers: Path, looks: Path, jets: Path, kept: Records) -> None:
    """Compose the studies of each ring, ask the rules, and keep what is true and what they said."""
    house = load_house()
    for ring in rings:
        criteria = read_criteria(house)
        clips = (*read_clips(answers, looks, ring, criteria), *read_clips(*keep_jets(ring, jets), ring, criteria))
        for seed in range(FIRST_SEED[ring], FIRST_SEED[ring] + n):
            study = compose(seed, clips)
            record: Record = {
                "seed": seed, "valve": study.valve.value, "n_clips": len(study.slots),
                "is_named": all(slot.is_named for slot in study.slots), "truth": truth_of(study),
                "raised": raised_in(study, house), "tells": tells_of(study),
            }  # fmt: skip
            kept.folder.mkdir(parents=True, exist_ok=True)
            (kept.folder / f"{kept.kind}-{ring.value}-{seed:05d}.json").write_text(json.dumps(record), encoding="utf-8")


def main() -> None:
    """Compose, ask, write."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--records", type=Path, required=True, help="folder in which what was said is kept")
    parser.add_argument("--answers", type=Path, help="folder of measure.doppler_criteria, of all rings")
    parser.add_argument("--looks", type=Path, help="the folder of looks beside it")
    parser.add_argument("--jets", type=Path, help="folder in which clips of jets are made and kept")
    parser.add_argument("--ring", action="append", choices=[ring.value for ring in Ring], help="all of them")
    parser.add_argument("--studies", type=int, default=N_STUDIES, help="of each ring")
    parser.add_argument("--print-only", action="store_true", help="write nothing")
    parser.add_argument("--tables-only", action="store_true", help="compose nothing")
    given = parser.parse_args()
    rings = [Ring(value) for value in given.ring] if given.ring else list(Ring)
    kept = Records(folder=given.records, kind="ladder")
    if not given.tables_only:
        if given.answers is None or given.looks is None or given.jets is None:
            parser.error("studies are composed of answers, looks and jets: name the three folders, or --tables-only")
        draw(rings, given.studies, given.answers, given.looks, given.jets, kept)
    records = kept.read(rings)
    table = ladder_table(records)
    if given.print_only:
        print(table)
        return
    write_table(
        PAGE, "ladder-rules", table, script=DESCRIBES[0], describes=sorted(DESCRIBES), seeds=seeds_words(records)
    )


if __name__ == "__main__":
    main()
