"""The picture network: one small tree of convolutions for view, structures, landmarks and phase. Needs PyTorch.

A clip goes in as F frames of about one beat. A trunk shrinks each frame to a tenth of its side; a branch grows back to
half the side for structures and, on the way, to a quarter for landmarks; what the trunk has seen of each frame is
compared over time for the view and the phase.
"""

from __future__ import annotations

from dataclasses import dataclass

import torch
from torch import Tensor, nn

WIDTHS = (24, 48, 88, 160, 240)  # channels at a half, a quarter, … of the side
EMBED = 160
FIRST_LOG_SPREAD = 3.0  # 20 pixels: before anything is learned, a place may be anywhere


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizes:
    """How many things are named."""

    names: int  # views and none
    structures: int
    landmarks: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Answers:
    """What the network says of N clips of F frames."""

    view: Tensor  # (N, names) logits of the clip
    frame_view: Tensor  # (N * F, names) logits of each frame by itself
    mirrored: Tensor  # (N,) logit
    structures: Tensor  # (N * F, structures, side / 2, side / 2) logits
    heat: Tensor  # (N * F, landmarks, side / 4, side / 4) logits of the place, softmax over all places
    shown: Tensor  # (N * F, landmarks) logit that it lies in the plane and in the picture
    log_spread: Tensor  # (N * F, landmarks) natural logarithm of one standard deviation of its place, px of the square
    phase: Tensor  # (N * F, 2) cosine and sine


def _conv(inside: int, outside: int, size: int = 3, stride: int = 1) -> nn.Sequential:
    return nn.Sequential(
        nn.Conv2d(inside, outside, size, stride=stride, padding=size // 2, bias=False),
        nn.BatchNorm2d(outside),
        nn.ReLU(inplace=True),
    )


class Block(nn.Module):
    """Two convolutions beside a way past them."""

    def __init__(self, width: int) -> None:
        super().__init__()
        self.first = _conv(width, width)
        self.second = nn.Sequential(nn.Conv2d(width, width, 3, padding=1, bias=False), nn.BatchNorm2d(width))

    def forward(self, x: Tensor) -> Tensor:
        return torch.relu(x + self.second(self.first(x)))


class Up(nn.Module):
    """Grow to twice the side and join what was seen there on the way down."""

    def __init__(self, below: int, beside: int, outside: int) -> None:
        super().__init__()
        self.narrow = _conv(below, outside, 1)
        self.join = _conv(outside + beside, outside)

    def forward(self, below: Tensor, beside: Tensor) -> Tensor:
        grown = nn.functional.interpolate(self.narrow(below), scale_factor=2.0, mode="nearest")
        return self.join(torch.cat([grown, beside], dim=1))


class PictureNetwork(nn.Module):
    """See the head of the module."""

    def __init__(self, sizes: Sizes) -> None:
        super().__init__()
        a, b, c, d, e = WIDTHS
        self.stem = _conv(2, a, 3, 2)
        self.at_half = _conv(a, a)
        self.at_quarter = nn.Sequential(_conv(a, b, 3, 2), Block(b))
        self.at_eighth = nn.Sequential(_conv(b, c, 3, 2), Block(c))
        self.at_sixteenth = nn.Sequential(_conv(c, d, 3, 2), Block(d), Block(d))
        self.last = nn.Sequential(_conv(d, e, 3, 2), Block(e), Block(e))
        self.up_sixteenth = Up(e, d, 112)
        self.up_eighth = Up(112, c, 80)
        self.up_quarter = Up(80, b, 64)
        self.up_half = Up(64, a, 32)
        self.heat = nn.Conv2d(64, sizes.landmarks, 1)
        self.structures = nn.Conv2d(32, sizes.structures, 1)
        self.embed = nn.Sequential(nn.Linear(e + d, EMBED), nn.ReLU(inplace=True))
        self.shown = nn.Linear(EMBED + sizes.landmarks, sizes.landmarks)
        self.log_spread = nn.Linear(EMBED + 2 * sizes.landmarks, sizes.landmarks)
        nn.init.constant_(self.log_spread.bias, FIRST_LOG_SPREAD)
        self.frame_view = nn.Linear(EMBED, sizes.names)
        self.over_time = nn.Conv1d(2 * EMBED, EMBED, 3, padding=1)
        self.phase = nn.Linear(EMBED, 2)
        self.clip = nn.Sequential(nn.Linear(3 * EMBED, EMBED), nn.ReLU(inplace=True), nn.Dropout(0.1))
        self.view = nn.Linear(EMBED, sizes.names)
        self.mirrored = nn.Linear(EMBED, 1)

    def forward(self, frames: Tensor, n_frames: int) -> Answers:
        """Return what is seen in N * F frames, (N * F, 2, side, side), of clips of F frames each."""
        half = self.at_half(self.stem(frames))
        quarter = self.at_quarter(half)
        eighth = self.at_eighth(quarter)
        sixteenth = self.at_sixteenth(eighth)
        last = self.last(sixteenth)
        up = self.up_quarter(self.up_eighth(self.up_sixteenth(last, sixteenth), eighth), quarter)
        heat = self.heat(up)
        seen = self.embed(torch.cat([last.amax((2, 3)), sixteenth.mean((2, 3))], dim=1))
        by_clip = seen.reshape(-1, n_frames, EMBED)
        mean = by_clip.mean(1, keepdim=True)
        both = torch.cat([by_clip, by_clip - mean], dim=2)
        moving = torch.relu(self.over_time(both.transpose(1, 2))).transpose(1, 2)
        clip = self.clip(torch.cat([mean[:, 0], by_clip.amax(1), moving.mean(1)], dim=1))
        return Answers(
            view=self.view(clip),
            frame_view=self.frame_view(seen),
            mirrored=self.mirrored(clip)[:, 0],
            structures=self.structures(self.up_half(up, half)),
            heat=heat,
            shown=self.shown(torch.cat([seen, heat.amax((2, 3)) * 0.1], dim=1)),
            log_spread=self._log_spread(seen, heat),
            phase=self.phase(moving.reshape(-1, EMBED)),
        )

    def _log_spread(self, seen: Tensor, heat: Tensor) -> Tensor:
        """Return how far off each place may be; learned from what is seen, without changing what is seen."""
        wide = torch.log(heat_places(heat.detach().float())[1].clamp(min=0.1))
        peak = heat.detach().amax((2, 3)) * 0.1
        return self.log_spread(torch.cat([seen.detach(), wide.to(peak.dtype), peak], dim=1))


def heat_places(heat: Tensor) -> tuple[Tensor, Tensor]:
    """Return where heat maps (N, L, side / 4, side / 4) point, (N, L, 2), and their width, (N, L).

    Row, column and width in pixels of the square; the width is that of the map, not of the error.
    """
    _, marks, side, _ = heat.shape
    place = heat.flatten(2).softmax(-1).reshape(-1, marks, side, side)
    cells = torch.arange(side, dtype=heat.dtype, device=heat.device) * 4.0 + 1.5
    rows, cols = place.sum(3), place.sum(2)
    row, col = (rows * cells).sum(-1), (cols * cells).sum(-1)
    width = (rows * (cells - row[..., None]) ** 2).sum(-1) + (cols * (cells - col[..., None]) ** 2).sum(-1)
    return torch.stack([row, col], dim=-1), width.clamp(min=0).sqrt()


def n_parameters(network: nn.Module) -> int:
    """Return the number of trained numbers."""
    return sum(p.numel() for p in network.parameters())
