"""Changes of a drawn clip that its labels survive: the eye of another machine, of a recorder, of a phone.

Array-API code: NumPy in the tests, a graphics card in training. B clips, F frames, S side, L landmarks.
All ranges are engineering judgement.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import array_api_compat

Array = Any

TURN_DEG, STRETCH, SHIFT_PX = 5.0, 0.05, 7.0
SCALE = (0.84, 1.06)
BEND_PX, BEND_WAVES = 2.2, 4  # of the smooth deformation
MIRRORED_SHARE, UPSIDE_DOWN_SHARE, SCRAMBLED_SHARE = 0.10, 0.02, 0.02
PARTS = 4  # a scrambled picture is cut into so many stripes each way


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Batch:
    """Clips on their way into the network."""

    frames: Array  # (B, F, S, S) float32, 0 to 1
    inside: Array  # (B, S, S) float32
    masks: Array  # (B, F, M, M) int64
    points_px: Array  # (B, F, L, 2) float32, row, col
    off_units: Array  # (B, F, L) float32
    phase: Array  # (B, F) float32
    shares: Array  # (B, V + 1) float32
    mirrored: Array  # (B,) float32; says nothing where the clip is none of the views
    has_anatomy: Array  # (B,) float32; 0 where masks and landmarks say nothing any more


class Dice:
    """Uniform random numbers of a given shape, from whichever library; `draw(shape)` gives 0 to 1."""

    def __init__(self, draw: Any) -> None:
        self._draw = draw

    def between(self, low: float, high: float, *shape: int) -> Array:
        return self._draw(shape) * (high - low) + low

    def normal(self, *shape: int) -> Array:
        """Return nearly normal numbers: the sum of four uniform ones."""
        return (self._draw((4, *shape)).sum(0) - 2.0) * math.sqrt(3.0)

    def chance(self, share: float, *shape: int) -> Array:
        return self._draw(shape) < share


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bend:
    """Where a pixel of the new picture comes from: an affine way and a smooth deformation, clip by clip."""

    matrix: Array  # (B, 2, 2), new offset from the middle to old offset
    shift: Array  # (B, 2)
    waves: Array  # (B, BEND_WAVES, 2, 2) cycles over the picture: (wave, moved axis, along which axis)
    phases: Array  # (B, BEND_WAVES, 2)
    heights: Array  # (B, BEND_WAVES, 2) px

    def source(self, xp: Any, places: Array, side: int) -> Array:
        """Return where places (B, N, 2) of the new picture lie in the old one."""
        away = places - (side - 1) / 2
        affine = xp.matmul(away, xp.permute_dims(self.matrix, (0, 2, 1))) + self.shift[:, None, :] + (side - 1) / 2
        share = places / side
        angle = (
            2
            * math.pi
            * (
                share[:, None, :, None, 0] * self.waves[:, :, None, :, 0]
                + share[:, None, :, None, 1] * self.waves[:, :, None, :, 1]
                + self.phases[:, :, None, :]
            )
        )  # (B, wave, N, axis)
        return affine + xp.sum(xp.sin(angle) * self.heights[:, :, None, :], axis=1)

    def target(self, xp: Any, places: Array, side: int) -> Array:
        """Return where places (B, N, 2) of the old picture come to lie in the new one."""
        det = self.matrix[:, 0, 0] * self.matrix[:, 1, 1] - self.matrix[:, 0, 1] * self.matrix[:, 1, 0]
        a, b = self.matrix[:, 0, 0] / det, self.matrix[:, 0, 1] / det
        c, d = self.matrix[:, 1, 0] / det, self.matrix[:, 1, 1] / det
        back = xp.stack([xp.stack([d, -b], axis=-1), xp.stack([-c, a], axis=-1)], axis=1)
        guess = places
        for _ in range(6):  # the deformation is gentle: this converges by far below a pixel
            missed = places - self.source(xp, guess, side)
            guess = guess + xp.matmul(missed, xp.permute_dims(back, (0, 2, 1)))
        return guess


def draw_bend(xp: Any, dice: Dice, n: int) -> Bend:
    """Draw one way of bending for each of n clips."""
    turn = dice.between(-math.radians(TURN_DEG), math.radians(TURN_DEG), n)
    down, over = (1 / (dice.between(*SCALE, n) * (1 + dice.between(-STRETCH, STRETCH, n))) for _ in range(2))
    over = 0.15 * over + 0.85 * down  # both axes of a screen are scaled nearly alike
    cos, sin = xp.cos(turn), xp.sin(turn)
    matrix = xp.stack(
        [xp.stack([cos * down, -sin * over], axis=-1), xp.stack([sin * down, cos * over], axis=-1)], axis=1
    )
    return Bend(
        matrix=matrix,
        shift=dice.between(-SHIFT_PX, SHIFT_PX, n, 2),
        waves=dice.between(-1.6, 1.6, n, BEND_WAVES, 2, 2),
        phases=dice.between(0.0, 1.0, n, BEND_WAVES, 2),
        heights=dice.between(0.0, BEND_PX, n, 1, 1) * dice.between(-1.0, 1.0, n, BEND_WAVES, 2) / math.sqrt(BEND_WAVES),
    )


def _grid(xp: Any, like: Array, side: int, step: float) -> Array:
    line = xp.astype(xp.arange(side, device=array_api_compat.device(like)), like.dtype) * step + (step - 1) / 2
    rows, cols = xp.meshgrid(line, line, indexing="ij")
    return xp.reshape(xp.stack([rows, cols], axis=-1), (1, side * side, 2))


def _pick(xp: Any, flat: Array, row: Array, col: Array, side: int) -> Array:
    """Return values (B, C, N) of flat pictures (B, C, side²) at whole places (B, N); 0 outside."""
    ok = (row >= 0) & (row < side) & (col >= 0) & (col < side)
    index = xp.clip(row, 0, side - 1) * side + xp.clip(col, 0, side - 1)
    index = xp.broadcast_to(index[:, None, :], (flat.shape[0], flat.shape[1], index.shape[1]))
    return xp.where(ok[:, None, :], xp.take_along_axis(flat, index, axis=2), xp.zeros_like(flat[:1, :1, :1]))


def resampled(xp: Any, pictures: Array, bend: Bend) -> Array:
    """Return pictures (B, C, S, S) bent, linear between pixels."""
    n, channels, side, _ = pictures.shape
    source = bend.source(xp, _grid(xp, pictures, side, 1.0), side)
    low = xp.floor(source)
    share, low = source - low, xp.astype(low, xp.int64)
    flat = xp.reshape(pictures, (n, channels, side * side))
    row, col = low[..., 0], low[..., 1]
    down, over = share[:, None, :, 0], share[:, None, :, 1]
    upper = _pick(xp, flat, row, col, side) * (1 - over) + _pick(xp, flat, row, col + 1, side) * over
    lower = _pick(xp, flat, row + 1, col, side) * (1 - over) + _pick(xp, flat, row + 1, col + 1, side) * over
    return xp.reshape(upper * (1 - down) + lower * down, (n, channels, side, side))


def resampled_labels(xp: Any, masks: Array, bend: Bend, like: Array, side: int) -> Array:
    """Return masks (B, F, M, M) of a picture of this side bent, each pixel with its nearest label."""
    n, frames, mask_side, _ = masks.shape
    step = side / mask_side
    source = bend.source(xp, _grid(xp, like, mask_side, step), side)
    place = xp.astype(xp.floor((source - (step - 1) / 2) / step + 0.5), xp.int64)
    flat = xp.reshape(masks, (n, frames, mask_side * mask_side))
    return xp.reshape(_pick(xp, flat, place[..., 0], place[..., 1], mask_side), masks.shape)


def bent(xp: Any, batch: Batch, bend: Bend) -> Batch:
    """Return the clips bent, with their labels."""
    side = batch.frames.shape[-1]
    both = xp.concat([batch.frames, batch.inside[:, None, :, :]], axis=1)
    moved = resampled(xp, both, bend)
    n, frames, marks, _ = batch.points_px.shape
    points = bend.target(xp, xp.reshape(batch.points_px, (n, frames * marks, 2)), side)
    return _with(
        batch,
        frames=moved[:, :-1, :, :],
        inside=moved[:, -1, :, :],
        masks=resampled_labels(xp, batch.masks, bend, batch.frames, side),
        points_px=xp.reshape(points, (n, frames, marks, 2)),
    )


def mirrored(xp: Any, batch: Batch, which: Array) -> Batch:
    """Return the clips with those chosen (B,) shown with the marker at the other side."""
    side = batch.frames.shape[-1]
    pick = which[:, None, None]
    over = xp.where(pick, side - 1 - batch.points_px[..., 1], batch.points_px[..., 1])
    return _with(
        batch,
        frames=xp.where(pick[..., None], xp.flip(batch.frames, axis=-1), batch.frames),
        inside=xp.where(pick, xp.flip(batch.inside, axis=-1), batch.inside),
        masks=xp.where(pick[..., None], xp.flip(batch.masks, axis=-1), batch.masks),
        points_px=xp.stack([batch.points_px[..., 0], over], axis=-1),
        mirrored=xp.where(which, 1 - batch.mirrored, batch.mirrored),
    )


def spoilt(xp: Any, batch: Batch, upside_down: Array, scrambled: Array) -> Batch:
    """Return the clips with some turned upside down and some cut up and laid together wrongly: none of the views."""
    side = batch.frames.shape[-1]
    part = side // PARTS
    order = [2, 0, 3, 1]
    stripes = [batch.frames[..., k * part : (k + 1) * part, :] for k in order]
    cut = xp.concat(stripes, axis=-2)
    cut = xp.concat([cut[..., k * part : (k + 1) * part] for k in order], axis=-1)
    frames = xp.where(upside_down[:, None, None, None], xp.flip(batch.frames, axis=-2), batch.frames)
    frames = xp.where(scrambled[:, None, None, None], cut, frames)
    inside = xp.where(upside_down[:, None, None], xp.flip(batch.inside, axis=-2), batch.inside)
    gone = upside_down | scrambled
    none = xp.zeros_like(batch.shares)
    none[:, -1] = 1.0
    return _with(
        batch,
        frames=frames,
        inside=inside,
        shares=xp.where(gone[:, None], none, batch.shares),
        has_anatomy=xp.where(gone, xp.zeros_like(batch.has_anatomy), batch.has_anatomy),
    )


def smoothed(xp: Any, frames: Array, share: Array) -> Array:
    """Return frames (B, F, S, S) blurred: each pixel gives `share` (B,) of itself to each neighbour along an axis."""
    for axis in (-1, -2):
        beside = xp.roll(frames, 1, axis=axis) + xp.roll(frames, -1, axis=axis)
        frames = frames * (1 - 2 * share[:, None, None, None]) + beside * share[:, None, None, None]
    return frames


def regraded(xp: Any, dice: Dice, frames: Array, inside: Array) -> Array:
    """Return frames with another grey curve, light, noise and print over them, clip by clip."""
    n, n_frames, side, _ = frames.shape
    frames = smoothed(xp, frames, dice.between(0.0, 0.3, n) * xp.astype(dice.chance(0.6, n), frames.dtype))
    frames = smoothed(xp, frames, dice.between(0.0, 0.3, n) * xp.astype(dice.chance(0.3, n), frames.dtype))
    gamma = xp.exp(dice.normal(n) * 0.3)[:, None, None, None]
    frames = xp.clip(frames, 1e-4, 1.0) ** gamma
    gain = xp.exp(dice.normal(n) * 0.25)[:, None, None, None]
    lift = dice.between(-0.06, 0.10, n)[:, None, None, None]
    line = xp.astype(xp.arange(side, device=array_api_compat.device(frames)), frames.dtype) / side - 0.5
    slope = dice.normal(2, n) * 0.25
    light = 1 + slope[0][:, None, None] * line[None, :, None] + slope[1][:, None, None] * line[None, None, :]
    frames = frames * gain * light[:, None, :, :] + lift
    noise = dice.normal(n, n_frames, side, side)
    frames = frames + noise * (dice.between(0.0, 0.06, n) ** 1)[:, None, None, None]
    frames = _printed(xp, dice, frames, line)
    return xp.clip(frames, 0.0, 1.0) * inside[:, None, :, :]


def _printed(xp: Any, dice: Dice, frames: Array, line: Array) -> Array:
    """Lay up to two boxes of one grey over the picture of some clips: words, calipers, a menu."""
    n = frames.shape[0]
    for share in (0.25, 0.12):
        middle = dice.between(-0.5, 0.5, 2, n)
        half = dice.between(0.01, 0.09, 2, n)
        grey = dice.between(0.0, 1.0, n)[:, None, None, None]
        rows = xp.abs(line[None, :] - middle[0][:, None]) < half[0][:, None]
        cols = xp.abs(line[None, :] - middle[1][:, None]) < half[1][:, None]
        box = rows[:, :, None] & cols[:, None, :] & dice.chance(share, n)[:, None, None]
        frames = xp.where(box[:, None, :, :], grey, frames)
    return frames


def augmented(xp: Any, dice: Dice, batch: Batch) -> Batch:
    """Return the clips with all changes drawn anew."""
    n = batch.frames.shape[0]
    batch = bent(xp, batch, draw_bend(xp, dice, n))
    batch = mirrored(xp, batch, dice.chance(MIRRORED_SHARE, n))
    batch = spoilt(xp, batch, dice.chance(UPSIDE_DOWN_SHARE, n), dice.chance(SCRAMBLED_SHARE, n))
    return _with(batch, frames=regraded(xp, dice, batch.frames, batch.inside))


def _with(batch: Batch, **changes: Array) -> Batch:
    fields = {name: getattr(batch, name) for name in Batch.__dataclass_fields__}
    return Batch(**{**fields, **changes})
