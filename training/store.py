"""Drawn clips kept on the graphics card, growing while more are drawn. Needs PyTorch."""

from __future__ import annotations

import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import torch
from torch import Tensor

from training.augment import Batch
from training.shards import FIELDS, Shard, read

KINDS = {
    "frames": torch.uint8, "masks": torch.uint8, "points_px": torch.float16, "off_units": torch.float16,
    "phase": torch.float32, "shares": torch.float32, "mirrored": torch.bool, "inside": torch.bool,
}  # fmt: skip


class Store:
    """Clips read from a folder of shards; `refresh` takes up what has come since."""

    def __init__(self, folder: Path, capacity: int, device: torch.device) -> None:
        self.folder, self.capacity, self.device = folder, capacity, device
        self.n = 0
        self.taken: tuple[str, ...] = ()  # names of files, in their order
        self._kept: dict[str, Tensor] = {}

    def refresh(self, most_s: float = 1e9) -> int:
        """Take up new shards for so many seconds at most; return how many clips there are."""
        until = time.monotonic() + most_s
        for path in sorted(self.folder.glob("*.npz")):
            if path.name in self.taken or time.monotonic() > until:
                continue
            self.take_up([path.name])
        return self.n

    def take_up(self, names: Sequence[str]) -> None:
        """Take up files by name, in this order: what a step learns from hangs on it.

        Raises
        ------
        ValueError
            If one is no longer there or is no file of clips; the message names it.
        """
        for name in names:
            self._add(read(self.folder / name))
            self.taken = (*self.taken, name)

    def _add(self, shard: Shard) -> None:
        count = min(len(shard.phase), self.capacity - self.n)
        for name in FIELDS:
            values = np.ascontiguousarray(getattr(shard, name)[:count])
            if name not in self._kept:
                shape = (self.capacity, *values.shape[1:])
                self._kept[name] = torch.zeros(shape, dtype=KINDS[name], device=self.device)
            self._kept[name][self.n : self.n + count] = torch.from_numpy(values).to(self.device)
        self.n += count

    def batch(self, index: Tensor, n_frames: int | None = None) -> Batch:
        """Return clips by number, with all their frames or, in order, as many as asked from a random one on."""
        part: dict[str, Any] = {name: self._kept[name][index] for name in FIELDS}
        if n_frames is not None and n_frames < part["frames"].shape[1]:
            first = int(torch.randint(0, part["frames"].shape[1] - n_frames + 1, ()))
            for name in ("frames", "masks", "points_px", "off_units", "phase"):
                part[name] = part[name][:, first : first + n_frames]
        ones = torch.ones(len(index), device=self.device)
        return Batch(
            frames=part["frames"].float() / 255, inside=part["inside"].float(), masks=part["masks"].long(),
            points_px=part["points_px"].float(), off_units=part["off_units"].float(), phase=part["phase"],
            shares=part["shares"], mirrored=part["mirrored"].float(), has_anatomy=ones,
        )  # fmt: skip


def net_input(batch: Batch) -> Tensor:
    """Return (N * F, 2, side, side): grey and where the picture is."""
    inside = batch.inside[:, None].expand_as(batch.frames)
    return torch.stack([batch.frames, inside], dim=2).flatten(0, 1)
