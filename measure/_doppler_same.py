"""Whether clips that other code made come out of this code as they are: some are made anew and held against them."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from pydicom import dcmread

from fanlight.simulate.clip.ring import Ring
from measure._doppler_bench import draw_bench, rungs_of, wanted_of
from measure._doppler_clips import LIST, Camera

# Grey levels between two decoded pixels: sums taken in another order move a value over a rounding now and then.
MOST_APART, MOST_APART_SHARE = 12.0, 0.001


def differences(folder: Path) -> list[str]:
    """Return in words which files of the first subject of each ring are not what this code makes; one of each rung."""
    return [text for ring in Ring for text in _of_ring(folder, ring)]


def _of_ring(folder: Path, ring: Ring) -> Iterator[str]:
    subjects = sorted(path for path in folder.glob(f"{ring.value}-*") if (path / LIST).is_file())
    if not subjects:
        return
    bench = draw_bench(int(subjects[0].name.split("-")[1]), ring)
    rungs = rungs_of(bench)
    with tempfile.TemporaryDirectory() as scratch:
        for wanted in wanted_of(rungs):
            if wanted.fault is not None:
                continue
            truth = Camera(bench, wanted.rung).store(wanted, Path(scratch))
            old = subjects[0] / truth.file
            if not old.is_file():
                yield f"{old} is missing"
                continue
            words = apart(Path(scratch) / truth.file, old)
            if words:
                yield f"{old}: {words}"


def apart(new: Path, old: Path) -> str:
    """Return how the pictures of two files differ, "" where they do not."""
    a, b = dcmread(new).pixel_array.astype(np.int16), dcmread(old).pixel_array.astype(np.int16)
    if a.shape != b.shape:
        return f"{b.shape} pixels, now {a.shape}"
    share = float((np.abs(a - b) > MOST_APART).mean())
    return f"{100 * share:.2f} % of the pixels differ" if share > MOST_APART_SHARE else ""
