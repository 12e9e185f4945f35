"""Which mode the product tells of each clip, by true mode and ring, in one table: 2-D pictures, colour, spectra.

    python -m measure.recognition_modes --records FOLDER

Nothing is drawn: 2-D pictures are the records of `measure.recognition_files` in that folder, Doppler clips the answers
of `measure.doppler_criteria`. Both must have been asked with the present reader of modes: name a folder that was.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from fanlight.simulate.clip.ring import Ring
from fanlight.study import MODE_WORDS, Mode
from measure._described import described
from measure._recognition_figures import share_words
from measure.doppler_criteria import N_SUBJECTS, ask, clips_folder
from measure.recognition import NAMES
from measure.recognition_files import PAGE, read_records
from scripts.measured import write_table

SCRIPT = "measure/recognition_modes.py"
TABLE = "recognition-modes"
MEASURED_BY = (
    SCRIPT, "measure/recognition_files.py", "measure/_recognition_file_clips.py", "measure/_doppler_clips.py",
    *(f"src/fanlight/recognise/{name}.py" for name in (
        "lasting_structure", "mode", "mode_features", "mode_weights", "strip_look")),
)  # fmt: skip
ASKED = ("standard", "displaced", "off")  # of the 2-D records: photographs and clips for the time stand elsewhere

Told = tuple[str, str]  # true mode and the one that was told, "" where it was not sure
Rings = Mapping[str, Sequence[Told]]


def table(rings: Rings) -> str:
    """Return how often each mode is told rightly, and what it is taken for otherwise."""
    heads = [f"{what}, ring {name}" for name in rings for what in ("right", "taken for")]
    lines = ["| " + " | ".join(["shown", *heads]) + " |", "|---" * (len(heads) + 1) + "|"]
    there = {true for told in rings.values() for true, _ in told}
    for mode in (mode for mode in Mode if mode.value in there):
        cells = [MODE_WORDS[mode]]
        for told in rings.values():
            mine = [said for true, said in told if true == mode.value]
            wrong = Counter(said for said in mine if said != mode.value)
            cells.append(share_words(mine.count(mode.value), len(mine)))
            cells.append(", ".join(f"{_words(said)} ({n})" for said, n in wrong.most_common()) or "–")
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines)


def _words(said: str) -> str:
    return MODE_WORDS[Mode(said)] if said else "not sure"


def told_of(records: Path, n_subjects: int) -> dict[str, list[Told]]:
    """Return what was told of all clips, by ring."""
    echo = read_records(records)["echo"]
    with ProcessPoolExecutor(1) as pool:
        doppler = ask(list(Ring), n_subjects, clips_folder(), pool)
    return {
        NAMES[ring]: [
            *((Mode.TWO_D.value, str(r["mode"])) for r in echo[NAMES[ring]] if r["kind"] in ASKED),
            *((clip.truth.mode, clip.mode_read) for clip in clips),
        ]
        for ring, clips in doppler.items()
    }


def main() -> None:
    """Read the command line, write."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--records", type=Path, required=True, help="a folder of measure.recognition_files")
    parser.add_argument("--subjects", type=int, default=N_SUBJECTS, help="of each ring, of the Doppler clips")
    given = parser.parse_args()
    rings = told_of(given.records, given.subjects)
    write_table(
        PAGE, TABLE, table(rings), script=SCRIPT, describes=described(*MEASURED_BY),
        seeds=", ".join(f"ring {name} ({len(told)} clips)" for name, told in rings.items()),
    )  # fmt: skip


if __name__ == "__main__":
    main()
