"""What the product names in real files (ring D), beside what a person saw in them before; one row a file.

    python -m measure.recognition_real       reads the files, writes docs/model-card.md; half a minute

The files come with packages that the tests install (tests/real/expected.toml): people, other organs, probes in air, and
no dog or cat. Nothing is tuned on them; what comes out wrong stands in the table.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")  # one core

from fanlight.recognise.picture_reading import why_not_asked
from fanlight.reference.load import load_house
from fanlight.reference.recognition import read_recognition_limits
from fanlight.reference.views import read_views
from fanlight.study import MODE_WORDS, House, Mode, ViewShare, ViewSource
from measure._recognition_figures import share_words
from scripts.measured import write_table
from tests.real.real_files import EXPECTED, NAMES, read_real

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "model-card.md"
SCRIPT = "measure/recognition_real.py"
TABLE = "recognition-real"
MEASURED_BY = (
    SCRIPT, "tests/real/expected.toml", "tests/real/real_files.py",
    "src/fanlight/reference/tables/recognition.toml", "src/fanlight/reference/tables/chambers.toml",
    "src/fanlight/review/clip_pass.py",
    *(f"src/fanlight/recognise/{name}" for name in (
        "beat_frames.py", "lasting_structure.py", "mode.py", "mode_features.py", "mode_weights.py", "odd_picture.py",
        "picture.onnx", "picture_network.py", "picture_reading.py", "picture_square.py", "spectrum_kind.py",
        "spectrum_signs.py", "strip_look.py", "structure_summary.py")),
    *(f"src/fanlight/frames/{name}.py" for name in (
        "beats", "clip_time", "edge_snap", "even_fan", "fan_fit", "find_picture", "painted", "picture_candidate",
        "polar", "regions")),
)  # fmt: skip
NOT_KNOWN = "not_known"  # as the list of what a person saw calls a view that nobody names
_SHOWN_NAMES = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What the product said of one file."""

    file: str
    mode: Mode | None  # None: not sure
    not_asked: str  # why it was not shown to the network, "" where it was
    names: tuple[ViewShare, ...]  # likeliest first
    proposed: str  # view, "" for none


def titles(house: House) -> dict[str, str]:
    """Return the words of each view."""
    return {key: view.title for key, view in read_views(house).items()}


def tell(name: str, house: House) -> Told:
    """Read a file as a review does."""
    with tempfile.TemporaryDirectory() as scratch:
        read, view = read_real(name, house, Path(scratch))
    return Told(
        file=name, mode=read.mode.mode, not_asked=why_not_asked(read.mode, read.layout) or read.picture.reason,
        names=read.picture.views, proposed=view.view if view.source is ViewSource.RECOGNISED else "",
    )  # fmt: skip


def table(every: Sequence[Told], expected: Mapping[str, Mapping[str, Any]], words_of: Mapping[str, str]) -> str:
    """Return one row a file, then the totals."""
    heads = ["file", "what a person sees", "mode expected", "mode found", "view expected", "view found"]
    lines = ["| " + " | ".join(heads) + " |", "|---" * len(heads) + "|"]
    for told in every:
        entry = expected[told.file]
        mode = "not sure" if told.mode is None else MODE_WORDS[told.mode]
        cells = [
            f"`{told.file}`", seen_words(entry), expected_mode_words(entry),
            mode if is_mode_right(told, entry) or told.mode is None else f"{mode}, WRONG",
            "not known" if entry["view"] == NOT_KNOWN else words_of[entry["view"]], view_words(told, entry, words_of),
        ]  # fmt: skip
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join([*lines, "", *totals(every, expected)])


def totals(every: Sequence[Told], expected: Mapping[str, Mapping[str, Any]]) -> list[str]:
    """Return the lines of the totals: of all files, and of what shows a heart."""
    groups = {
        "all files": list(every),
        "shown to the network": [told for told in every if not told.not_asked],
        "a human heart": [told for told in every if expected[told.file]["subject"] == "heart"],
    }
    rows = {
        "mode right": lambda told: is_mode_right(told, expected[told.file]),
        "mode wrong (not: not sure)": lambda told: (
            told.mode is not None and not is_mode_right(told, expected[told.file])
        ),
        "a view proposed": lambda told: bool(told.proposed),
        "confident and wrong: a view proposed that is not the expected one": lambda told: is_confidently_wrong(
            told, expected[told.file]
        ),
    }
    lines = ["| of | " + " | ".join(groups) + " |", "|---" * (len(groups) + 1) + "|"]
    for words, chosen in rows.items():
        shares = (share_words(sum(map(chosen, group)), len(group)) for group in groups.values())
        lines.append(f"| {words} | " + " | ".join(shares) + " |")
    return lines


def allowed_modes(entry: Mapping[str, Any]) -> tuple[str, ...]:
    """Return the modes that a person calls true, the most telling first."""
    return (entry["mode"], *entry.get("mode_also", []), *entry.get("mode_alternatives", []))


def is_mode_right(told: Told, entry: Mapping[str, Any]) -> bool:
    """Return whether the mode is one that a person calls true; not sure is not right."""
    return told.mode is not None and told.mode.value in allowed_modes(entry)


def is_confidently_wrong(told: Told, entry: Mapping[str, Any]) -> bool:
    """Return whether a view is proposed that a person does not see; where nobody names one, any is wrong."""
    return bool(told.proposed) and told.proposed != entry["view"]


def expected_mode_words(entry: Mapping[str, Any]) -> str:
    """Return the modes that are right, and whether the person was sure."""
    words = " or ".join(MODE_WORDS[Mode(mode)] for mode in allowed_modes(entry))
    return f"{words} (the person not sure)" if entry.get("mode_confidence") == "low" else words


def seen_words(entry: Mapping[str, Any]) -> str:
    """Return what the person saw, in the words that were written down then."""
    return str(entry.get("subject_why") or entry["reason"].split("; ", 1)[1].removeprefix("but "))


def view_words(told: Told, entry: Mapping[str, Any], words_of: Mapping[str, str]) -> str:
    """Return the view proposed or why none is, with the shares of the likeliest names."""
    if told.not_asked:
        return f"not shown to the network: {told.not_asked}"
    named = ", ".join(
        f"{words_of[share.view] if share.view else 'none of these'} {share.probability:.2f}"
        for share in told.names[:_SHOWN_NAMES]
    )
    if not told.proposed:
        return f"not sure: {named}"
    wrong = ", WRONG" if is_confidently_wrong(told, entry) else ""
    return f"{words_of[told.proposed]}{wrong}: {named}"


def main() -> None:
    """Read the files, write the table."""
    house = load_house()
    every = [tell(name, house) for name in sorted(NAMES, key=lambda name: EXPECTED[name]["subject"] != "heart")]
    limit = read_recognition_limits(house).view_from
    words = f"A view is proposed from a share of {limit:.2f} on. Intervals: Wilson, 95 %."
    write_table(
        PAGE, TABLE, f"{table(every, EXPECTED, titles(house))}\n\n{words}", script=SCRIPT, describes=MEASURED_BY,
        seeds=f"none: {len(every)} real files",
    )  # fmt: skip


if __name__ == "__main__":
    main()
