"""The measured part of the model card about clips in files: every figure, rings side by side."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from fanlight.reference.load import load_house
from fanlight.reference.recognition import read_recognition_limits
from measure._described import described
from measure._recognition_file_figures import (
    Rings,
    colour_table,
    landmark_table,
    limit_table,
    odd_table,
    photo_table,
    view_table,
    way_table,
    wrong_words,
)
from measure._recognition_file_held import held_table
from measure._recognition_file_time import time_table
from scripts.measured import write_table

MEASURED_BY = (
    "measure/recognition_files.py", "measure/_recognition_file_answers.py", "measure/_recognition_file_clips.py",
    "measure/_recognition_file_card.py", "measure/_recognition_file_colour.py",
    "measure/_recognition_file_figures.py", "measure/_recognition_file_held.py", "measure/_recognition_file_odd.py",
    "measure/_recognition_file_time.py", "measure/_recognition_clips.py", "measure/_criterion_clips.py",
    "measure/_one_clip.py", "measure/_other_organs.py", "measure/_screen_photo.py", "training/plane_rule.py",
    "training/randomise.py", "src/fanlight/reference/tables/recognition.toml",
    "src/fanlight/reference/tables/chambers.toml", "src/fanlight/review/clip_pass.py",
    *(f"src/fanlight/recognise/{name}" for name in (
        "beat_frames.py", "found_lines.py", "lasting_structure.py", "mode.py", "mode_features.py", "mode_weights.py",
        "picture.onnx", "odd_picture.py", "picture_network.py", "picture_reading.py", "picture_square.py",
        "structure_summary.py")),
    *(f"src/fanlight/frames/{name}.py" for name in (
        "beats", "clip_time", "edge_snap", "even_fan", "fan_fit", "find_picture", "painted", "picture_candidate",
        "polar", "regions")),
)  # fmt: skip
_HELD = (
    "Of the first animals only: the others were read before. What a clip is called and where its landmarks lie did not "
    "change with what the masks hold off, nor with how frames are kept. The tables before this one tell what would be "
    "proposed by the share alone."
)
_PHOTOS = (
    "The first frame of the same clips as a photograph: a little from the side, with a lamp's light, stripes, blur and "
    "JPEG drawn by hand; no real photograph was at hand."
)
_COLOUR = (
    "Colour over a valve by a steady hand, in six standard views. The product shows the network their grey as the "
    "criteria see it. Displaced planes and other views were not measured; of landmarks only the hinges of valves were "
    "(colour-critique.md)."
)


def write_card(page: Path, found: Mapping[str, Rings]) -> None:
    """Put all figures into the page."""
    limits = read_recognition_limits(load_house())
    echo = found["echo"]
    parts = [
        "### From the file to the network", way_table(echo),
        "### Views in files", view_table(echo),
        "### What is proposed in files", limit_table(echo, limits.view_from),
        "Proposed: the surest name is a view and its share reaches the limit. All: every clip with a clear name, also "
        "where the fan was not found. Target: wrong of all at most 1 % on ring B.",
        wrong_words(echo, limits.view_from),
        "### What the masks hold off", held_table(echo, limits.view_from), _HELD,
        "### Landmarks in files", landmark_table(echo, limits.landmark_from),
        "### Time of the stage", time_table(echo),
        "Processor times on one thread, of clips that were read since the calipers are timed apart; the target is 1.2. "
        "Calipers are a measurement that is made of the masks, not a part of what names view and landmarks.",
    ]  # fmt: skip
    if "colour" in found:
        parts += ["### Colour clips", _COLOUR, colour_table(found["colour"], limits.view_from)]
    if any(r["kind"] == "photo" for records in echo.values() for r in records):
        parts += ["### Photographs of a screen", _PHOTOS, photo_table(echo, limits.view_from)]
    if "odd" in found:
        parts += ["### No heart of a dog or cat", odd_table(found["odd"], limits.view_from)]
    write_table(
        page, "recognition-files", "\n\n".join(parts), script="measure/recognition_files.py",
        describes=described(*MEASURED_BY), seeds=_seeds(echo),
    )  # fmt: skip


def _seeds(rings: Rings) -> str:
    spans = {name: sorted({r["seed"] for r in records}) for name, records in rings.items()}
    return ", ".join(f"ring {name} {seeds[0]}-{seeds[-1]}" for name, seeds in spans.items())
