"""What the network is blamed for. Needs PyTorch."""

from __future__ import annotations

import math
from typing import Any

import torch
from torch import Tensor
from torch.nn import functional

from training.label_sets import GONE_UNITS, SHOWN_UNITS
from training.network import Answers, heat_places

HEAT_SIGMA = 0.8  # of the landmark's place, in cells of the heat map
WEIGHTS = {
    "view": 1.0, "frame_view": 0.3, "structures": 1.0, "dice": 0.5, "heat": 0.25, "shown": 0.5, "phase": 0.5,
    "mirrored": 0.2, "spread": 0.1,
}  # fmt: skip
LOG_SPREAD_LEAST = -3.0  # of a pixel of the square: nothing is known as well
OUTSIDE_WEIGHT = 0.1  # of pixels outside the picture
N_DICE_FROM = 1  # the first structure counts for nothing in the overlap


def soft_cross_entropy(logits: Tensor, shares: Tensor) -> Tensor:
    """Return the mean cross-entropy with soft names."""
    return -(shares * functional.log_softmax(logits.float(), dim=1)).sum(1).mean()


def losses(answers: Answers, batch: Any) -> dict[str, Tensor]:
    """Return each blame; see `augment.Batch`."""
    n, frames = batch.phase.shape
    anatomy = batch.has_anatomy[:, None].expand(n, frames).reshape(-1)
    found = {
        "view": soft_cross_entropy(answers.view, batch.shares),
        "frame_view": soft_cross_entropy(answers.frame_view, batch.shares.repeat_interleave(frames, dim=0)),
        "mirrored": (
            functional.binary_cross_entropy_with_logits(answers.mirrored.float(), batch.mirrored, reduction="none")
            * batch.has_anatomy
            * (1 - batch.shares[:, -1])
        ).mean(),
    }
    found |= _structures(answers, batch, anatomy)
    found |= _landmarks(answers, batch, anatomy)
    angle = 2 * math.pi * batch.phase.reshape(-1)
    aim = torch.stack([torch.cos(angle), torch.sin(angle)], dim=1)
    found["phase"] = (((answers.phase.float() - aim) ** 2).sum(1) * anatomy).mean()
    return found


def total(found: dict[str, Tensor]) -> Tensor:
    """Return the weighed sum."""
    return torch.stack([WEIGHTS[name] * value for name, value in found.items()]).sum()


def _structures(answers: Answers, batch: Any, anatomy: Tensor) -> dict[str, Tensor]:
    logits = answers.structures.float()
    masks = batch.masks.reshape(-1, *batch.masks.shape[2:])
    inside = functional.avg_pool2d(batch.inside[:, None], 2)[:, 0]
    weight = (OUTSIDE_WEIGHT + (1 - OUTSIDE_WEIGHT) * inside).repeat_interleave(batch.phase.shape[1], dim=0)
    weight = weight * anatomy[:, None, None]
    cross = functional.cross_entropy(logits, masks, reduction="none")
    probability = logits.softmax(1)
    truth = functional.one_hot(masks, logits.shape[1]).permute(0, 3, 1, 2).to(probability.dtype)
    probability, truth = (part * weight[:, None] for part in (probability, truth))
    both = (probability * truth).sum((0, 2, 3))
    either = probability.sum((0, 2, 3)) + truth.sum((0, 2, 3))
    dice = 1 - (2 * both + 1) / (either + 1)
    return {
        "structures": (cross * weight).sum() / weight.sum().clamp(min=1),
        "dice": dice[N_DICE_FROM:].mean(),
    }


def _landmarks(answers: Answers, batch: Any, anatomy: Tensor) -> dict[str, Tensor]:
    heat = answers.heat.float()
    n, marks, side, _ = heat.shape
    step = batch.frames.shape[-1] / side
    place = (batch.points_px.reshape(n, marks, 2) - (step - 1) / 2) / step
    off = batch.off_units.reshape(n, marks)
    within = ((place > -0.5) & (place < side - 0.5)).all(-1)
    is_shown = (off < SHOWN_UNITS) & within
    is_gone = (off > GONE_UNITS) | ~within
    cells = torch.arange(side, device=heat.device, dtype=heat.dtype)
    row = torch.exp(-0.5 * ((cells - place[..., :1]) / HEAT_SIGMA) ** 2)
    col = torch.exp(-0.5 * ((cells - place[..., 1:]) / HEAT_SIGMA) ** 2)
    row, col = (part / part.sum(-1, keepdim=True).clamp(min=1e-6) for part in (row, col))
    log = functional.log_softmax(heat.reshape(n, marks, -1), dim=-1).reshape(n, marks, side, side)
    cross = -(torch.einsum("nmr,nmc,nmrc->nm", row, col, log))
    weight = is_shown.to(heat.dtype) * anatomy[:, None]
    asked = (is_shown | is_gone).to(heat.dtype) * anatomy[:, None]
    error_px2 = ((heat_places(heat.detach())[0] - batch.points_px.reshape(n, marks, 2)) ** 2).sum(-1)
    log_spread = answers.log_spread.float().clamp(min=LOG_SPREAD_LEAST)
    # -ln of a normal in both directions, less ln 2π
    doubt = 2 * log_spread + error_px2 / (2 * torch.exp(2 * log_spread))
    said = functional.binary_cross_entropy_with_logits(answers.shown.float(), is_shown.to(heat.dtype), reduction="none")
    return {
        "heat": (cross * weight).sum() / weight.sum().clamp(min=1),
        "spread": (doubt * weight).sum() / weight.sum().clamp(min=1),
        "shown": (said * asked).sum() / asked.sum().clamp(min=1),
    }
