"""How well the left heart is measured by what the picture network finds: diameters, walls, shortening, LA:Ao.

    python -m measure.found_values --records FOLDER                 draws, measures, writes docs/picture-values.md
    python -m measure.found_values --records FOLDER --print-only --ring A --first-seed 300 --subjects 2
    python -m measure.found_values --records FOLDER --tables-only

Through the pixels: a clip of each view is drawn by the simulator and shown to the network, calipers are laid on its
masks, and what is measured of them, with its stated error, is held against calipers on the animal itself in that very
plane, at the true moment of the beat. The choice of the plane is not in these figures. A run that was cut off goes on
where it ended; other code needs another folder of records.
"""

from __future__ import annotations

import os
import sys
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")  # one core a worker

import numpy as np

from fanlight.simulate.clip.ring import Ring
from measure._described import described, imported
from measure._picture_table import FROM_MASKS, FROM_MASKS_BY_CLASS, by_class_table, main_table
from measure._record_run import ByRing, Measurement, run
from measure._records import Record

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "picture-values.md"
FIRST_SEED = {Ring.A: 1000, Ring.B: 11_000, Ring.C: 16_000}
N_SUBJECTS = 300
SCALE_SD = 0.005  # share of a scale, as one read off a ruler
LANDMARK_FROM = 0.9  # probability from which on the landmarks beside the lines count
PERIOD = 30  # frames of a beat of the clip; the network is shown every fifth
MEASURED_BY = (
    "measure/found_values.py", "measure/_picture_clips.py", "measure/_picture_table.py",
    "measure/_recognition_clips.py", "measure/_criterion_clips.py", "src/fanlight/measure/picture",
    "src/fanlight/measure/shapes.py", "src/fanlight/recognise/picture.onnx",
)  # fmt: skip


def one(job: tuple[int, Ring]) -> Record:
    """Return what the network's finds measure on one subject, and what is true."""
    from measure._criterion_clips import draw_subject
    from measure._picture_clips import BASE, CHORDAE, OUTFLOW, see
    from measure._recognition_clips import shot_of
    from training.randomise import PoseKind, subject_of

    seed, ring = job
    drawn = draw_subject(seed, ring)
    subject, rng = subject_of(seed, drawn.animal), np.random.default_rng([seed, 139])
    record: Record = {
        "seed": seed, "heart": drawn.animal.heart.value, "species": drawn.animal.species.value,
        "kg": drawn.animal.weight_kg, "masks": {}, "not_seen": {},
    }  # fmt: skip
    for view in (CHORDAE, BASE, OUTFLOW):
        shot = shot_of(subject, drawn.generator, view, PoseKind.STANDARD, drawn.start_ms, rng)
        try:
            seen = _by_the_ring(see(drawn.animal, shot.setting.pose, view))
        except ValueError as err:  # the whole heart lies behind the probe, or the beat lacks a moment
            record["not_seen"][view] = str(err)
            continue
        record["masks"] |= _of_view(shot, seen, rng)
    return record


def _by_the_ring(seen: Any) -> Any:
    """Return a view in which the true line of the atrium goes by the mitral ring alone, wherever the apex is taken.

    An emptied cavity may reach farthest into its outflow tract: of 100 animals of ring A the line lay the wrong way in
    one. Marks on pictures (`measure.picture_values`) are held against the other truth until they are measured anew.
    """
    from fanlight.heart.calipers import measure_la_long_axis
    from fanlight.heart.calipers.mitral_side import find_mitral_side
    from measure._picture_clips import OUTFLOW

    if seen.view != OUTFLOW:
        return seen
    calipers = {}
    for moment, own in seen.calipers.items():
        atrium = measure_la_long_axis(seen.maps[moment], axis=find_mitral_side(seen.maps[moment]))
        calipers[moment] = {**own, atrium.name: atrium}
    return replace(seen, calipers=calipers)


def _of_view(shot: Any, seen: Any, rng: np.random.Generator) -> dict[str, Any]:
    """Return value, error and truth by view and label; what is asked and not given has no value and its reason."""
    from fanlight.measure.picture import Grid, given_by_network, measure_picture
    from fanlight.measure.shapes import Pixel
    from fanlight.recognise.picture_network import shipped_network
    from fanlight.recognise.picture_reading import reading_of
    from fanlight.recognise.picture_square import square_of
    from fanlight.simulate.machine.beams import line_geometry
    from fanlight.study import Patient, ViewReading, ViewSource
    from measure._picture_clips import BASE, BY_WAY, SHORT, true_by_label
    from measure._recognition_clips import FRAMES, show

    sample, view = show(shot).sample, seen.view
    indices = tuple(PERIOD // FRAMES * k for k in range(len(sample.frames)))
    network = shipped_network()
    lines = line_geometry(shot.setting.probe, shot.setting.console)
    square = square_of(lines.on_screen(apex_row_px=0.0, apex_col_px=0.0, mm_per_px=1.0)).sector
    read = reading_of(network.ask(sample.frames, sample.inside), network, indices, square)
    found = given_by_network(read, _layout(square), None, LANDMARK_FROM)
    said: tuple[Any, ...] = ()
    if found is not None:
        mm = sample.mm_per_px * float(1 + rng.normal(0, SCALE_SD))
        grid = Grid(pixel=Pixel(down=mm, across=mm), has_mm=True, mm_share=SCALE_SD)
        here = ViewReading(view=view, source=ViewSource.MENTOR)
        said = measure_picture(found[0], grid, here, _time(sample.phase), Patient(), _house())
    values = {item.label: item for item in said if item.value is not None}
    reasons = "; ".join(dict.fromkeys(item.reason for item in said if item.value is None))
    true = {label: v for way in (BY_WAY if view == BASE else ("",)) for label, v in true_by_label(seen, way).items()}
    return {
        f"{SHORT[view]} {label}": {
            "value": None if (item := values.get(label)) is None else item.value,
            "uncertainty": None if item is None else item.uncertainty,
            "true": truth,
            "reason": "" if item is not None else reasons or "no line was laid",
        }
        for label, truth in true.items()
    }


def _layout(picture: Any) -> Any:
    """Return a screen that is the square of the network."""
    from fanlight.recognise.picture_square import SIDE_PX
    from fanlight.study import Layout

    return Layout(
        rows=SIDE_PX, cols=SIDE_PX, picture=picture, picture_confidence=1.0, picture_reason="", scale=None,
        scale_reason="",
    )  # fmt: skip


def _time(phase: Any) -> Any:
    """Return the beats as they are found with an ECG; the phase of the frames tells when the aortic valve shuts."""
    from fanlight.study import BeatSource, ClipTime, FrameTimes

    closes = float(np.interp(0.5, phase, np.arange(len(phase)) * PERIOD / len(phase)))
    return ClipTime(
        times=FrameTimes(), beat_source=BeatSource.R_WAVE_TAG, beat_period_frames=float(PERIOD),
        end_diastole_frames=(0,), end_systole_frames=(round(closes),),
    )  # fmt: skip


@cache
def _house() -> Any:
    from fanlight.reference.load import load_house

    return load_house()


def tables(records: ByRing) -> dict[str, str]:
    """Return the tables by name; what shows nothing to measure is told apart."""
    left_out = sum(len(record["not_seen"]) for rows in records.values() for record in rows)
    print(f"{left_out} views show nothing to measure and are left out", file=sys.stderr)
    return {
        "found-values": main_table(records, "masks", FROM_MASKS),
        "found-values-by-class": by_class_table(records, "masks", FROM_MASKS_BY_CLASS, FROM_MASKS),
    }


def describes() -> list[str]:
    """Return the files by which clips are drawn, shown to the network and measured."""
    return sorted({*described(*MEASURED_BY), *imported(("fanlight.recognise",))})


MEASUREMENT = Measurement(
    kind="masks", one=one, first_seed=FIRST_SEED, n_subjects=N_SUBJECTS, tables=tables, page=PAGE,
    measured_by=MEASURED_BY, describes=describes, drawn_by=(
        "measure._criterion_clips", "measure._picture_clips", "measure._recognition_clips",
        "fanlight.recognise.picture_reading",
    ),
)  # fmt: skip


if __name__ == "__main__":
    run(MEASUREMENT, __doc__)
