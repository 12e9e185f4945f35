"""Files of drawn clips: written whole or not at all, so that a reader may come at any time."""

from __future__ import annotations

import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from training.draw import Sample

HIDDEN_OFF = 9.0  # stands for an infinite distance off the plane


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shard:
    """N clips of F frames; see `draw.Sample`."""

    frames: NDArray[np.uint8]  # (N, F, side, side)
    masks: NDArray[np.uint8]  # (N, F, mask side, mask side)
    points_px: NDArray[np.float16]  # (N, F, L, 2)
    off_units: NDArray[np.float16]  # (N, F, L)
    phase: NDArray[np.float32]  # (N, F)
    shares: NDArray[np.float32]  # (N, V + 1)
    mirrored: NDArray[np.bool_]  # (N,)
    inside: NDArray[np.bool_]  # (N, side, side)


FIELDS = ("frames", "masks", "points_px", "off_units", "phase", "shares", "mirrored", "inside")


def shard_of(samples: Sequence[Sample]) -> Shard:
    """Return clips side by side."""
    return Shard(
        frames=np.stack([s.frames for s in samples]),
        masks=np.stack([s.masks for s in samples]),
        points_px=np.stack([np.clip(s.points_px, -500, 500) for s in samples]).astype(np.float16),
        off_units=np.stack([np.minimum(s.off_units, HIDDEN_OFF) for s in samples]).astype(np.float16),
        phase=np.stack([s.phase for s in samples]),
        shares=np.stack([s.shares for s in samples]),
        mirrored=np.array([s.mirrored for s in samples]),
        inside=np.stack([s.inside for s in samples]),
    )


def shard_name(seeds: range) -> str:
    """Return the name of the file of these animals' clips; it tells them, so that drawing can go on after them."""
    return f"{seeds[0]:05d}-{seeds[-1]:05d}-{seeds.step}.npz"


def drawn_seeds(folder: Path) -> set[int]:
    """Return the seeds of all animals whose clips lie in a folder.

    Raises
    ------
    ValueError
        If the name of a file tells no seeds.
    """
    seeds: set[int] = set()
    for path in folder.glob("*.npz"):
        try:
            first, last, step = map(int, path.stem.split("-"))
            seeds.update(range(first, last + 1, step))
        except ValueError as error:
            raise ValueError(
                f"{path}: which animals it shows cannot be told from its name, first-last-step.npz; move it elsewhere"
            ) from error
    return seeds


def write(path: Path, shard: Shard) -> None:
    """Write a shard; it has its name only once it is whole."""
    part = path.with_suffix(".part")
    with part.open("wb") as file:
        np.savez(file, **{name: getattr(shard, name) for name in FIELDS})
    part.rename(path)


def read(path: Path) -> Shard:
    """Read a shard.

    Raises
    ------
    ValueError
        If the file is no shard; the message names it.
    """
    try:
        with path.open("rb") as file, np.load(file) as stored:
            return Shard(**{name: stored[name] for name in FIELDS})
    except (KeyError, ValueError, OSError, zipfile.BadZipFile) as error:
        raise ValueError(f"{path} is no file of drawn clips ({error}); delete it and draw again") from error
