"""What is no echo of a dog's or a cat's heart: pictures that must not be proposed as a view."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from fanlight.simulate.clip.ring import Ring
from fanlight.study import Mode
from measure._other_organs import ORGANS, draw_organ
from measure._recognition_file_answers import read_file, said_of
from measure._recognition_file_clips import store_odd
from tests.intake.dicom_files import native
from tests.recognise.mode_screens import draw_mode

# Screens of the tests of modes: report pages and photographs, probe in air, and fans of speckle without a heart.
DRAWN = {Mode.NOT_ECHO: "report page or photograph", Mode.NO_CONTACT: "probe in air", Mode.TWO_D: "fan of speckle"}
N_DRAWN = 2  # of each


def odd_records(seed: int, ring: Ring, folder: Path) -> Iterator[dict[str, Any]]:
    """Yield the records of all odd pictures of a subject."""
    for stored in store_odd(seed, ring, folder):
        yield {"seed": seed, "kind": stored.kind, **said_of(read_file(stored.path))}
    rng = np.random.default_rng([seed, 151])
    for mode, kind in DRAWN.items():
        for number in range(N_DRAWN):
            pixels = draw_mode(rng, mode).pixels
            path = native(folder / f"{mode.value}-{number}.dcm", pixels)
            yield {"seed": seed, "kind": kind, **said_of(read_file(path))}
    for number, organ in enumerate(ORGANS):
        for turn in range(N_DRAWN):
            pixels = np.repeat(
                draw_organ(np.random.default_rng([seed, 157, number, turn]), organ)[..., None], 3, axis=-1
            )
            path = native(folder / f"organ-{number}-{turn}.dcm", pixels)
            yield {"seed": seed, "kind": organ, **said_of(read_file(path))}
