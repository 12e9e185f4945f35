"""Changes that labels survive: what is moved in the picture is moved in every label alike."""

from dataclasses import replace

import array_api_compat.numpy as xp
import numpy as np
import pytest

from training.augment import (
    Batch,
    Bend,
    Dice,
    augmented,
    bent,
    draw_bend,
    mirrored,
    regraded,
    smoothed,
    spoilt,
)

SIDE, MASK = 40, 20


def dice(seed: int = 1) -> Dice:
    rng = np.random.default_rng(seed)
    return Dice(lambda shape: rng.random(shape, dtype=np.float32))


def batch(n: int = 3, place: tuple[float, float] = (22.0, 13.0)) -> Batch:
    """Clips with one bright blob, a mask of the same blob, and a landmark in its middle."""
    row, col = np.mgrid[0:SIDE, 0:SIDE].astype(np.float32)
    blob = np.exp(-((row - place[0]) ** 2 + (col - place[1]) ** 2) / (2 * 2.5**2)).astype(np.float32)
    frames = np.broadcast_to(blob, (n, 2, SIDE, SIDE)).copy()
    row, col = np.mgrid[0:MASK, 0:MASK] * 2 + 0.5  # a pixel of the mask covers two of the picture
    near = np.hypot(row - place[0], col - place[1]) < 3.0
    masks = np.broadcast_to(near, (n, 2, MASK, MASK)).astype(np.int64)
    points = np.broadcast_to(np.array(place, np.float32), (n, 2, 1, 2)).copy()
    ones = np.ones(n, np.float32)
    return Batch(
        frames=frames, inside=np.ones((n, SIDE, SIDE), np.float32), masks=masks, points_px=points,
        off_units=np.zeros((n, 2, 1), np.float32), phase=np.zeros((n, 2), np.float32),
        shares=np.eye(4, dtype=np.float32)[:n], mirrored=0 * ones, has_anatomy=ones,
    )  # fmt: skip


def centre(picture: np.ndarray) -> np.ndarray:
    row, col = np.mgrid[0 : picture.shape[0], 0 : picture.shape[1]]
    return np.array([(row * picture).sum() / picture.sum(), (col * picture).sum() / picture.sum()])


def still(n: int) -> Bend:
    return Bend(
        matrix=np.broadcast_to(np.eye(2, dtype=np.float32), (n, 2, 2)), shift=np.zeros((n, 2), np.float32),
        waves=np.zeros((n, 1, 2, 2), np.float32), phases=np.zeros((n, 1, 2), np.float32),
        heights=np.zeros((n, 1, 2), np.float32),
    )  # fmt: skip


def test_no_bend_changes_nothing() -> None:
    before = batch()
    after = bent(xp, before, still(3))

    np.testing.assert_allclose(after.frames, before.frames, atol=1e-6)
    np.testing.assert_array_equal(after.masks, before.masks)
    np.testing.assert_allclose(after.points_px, before.points_px, atol=1e-5)


@pytest.mark.parametrize("seed", range(6))
def test_a_bend_moves_picture_mask_and_landmark_alike(seed: int) -> None:
    bend = draw_bend(xp, dice(seed), 3)
    after = bent(xp, batch(), replace(bend, shift=bend.shift * 0.5, heights=bend.heights * 0.5))

    for clip in range(3):
        found = centre(after.frames[clip, 0])
        np.testing.assert_allclose(after.points_px[clip, 0, 0], found, atol=0.6)
        np.testing.assert_allclose(centre(after.masks[clip, 0]) * 2 + 0.5, found, atol=1.6)  # its pixels are two wide


def test_masks_are_not_shifted_against_pictures() -> None:
    off = []
    for seed in range(30):
        after = bent(xp, batch(place=(19.5, 19.5)), draw_bend(xp, dice(seed), 3))
        off += [centre(after.masks[clip, 0]) * 2 + 0.5 - centre(after.frames[clip, 0]) for clip in range(3)]

    np.testing.assert_allclose(np.mean(off, axis=0), 0.0, atol=0.25)  # half a pixel would be a mistake


def test_the_way_back_is_the_way_forth() -> None:
    bend = draw_bend(xp, dice(9), 5)
    places = np.random.default_rng(0).uniform(4, SIDE - 4, (5, 30, 2)).astype(np.float32)

    np.testing.assert_allclose(bend.source(xp, bend.target(xp, places, SIDE), SIDE), places, atol=0.05)


def test_a_mirrored_clip_is_mirrored_throughout_and_twice_is_never() -> None:
    before, which = batch(), np.array([True, False, True])
    once = mirrored(xp, before, which)
    twice = mirrored(xp, once, which)

    assert once.mirrored.tolist() == [1.0, 0.0, 1.0]
    for clip in range(3):
        np.testing.assert_allclose(centre(once.frames[clip, 0]), once.points_px[clip, 0, 0], atol=0.05)
    np.testing.assert_array_equal(twice.frames, before.frames)
    np.testing.assert_array_equal(twice.masks, before.masks)
    np.testing.assert_array_equal(twice.points_px, before.points_px)


def test_a_spoilt_clip_is_none_of_the_views() -> None:
    after = spoilt(xp, batch(), np.array([True, False, False]), np.array([False, True, False]))

    assert after.shares.argmax(axis=1).tolist() == [3, 3, 2]
    assert after.has_anatomy.tolist() == [0.0, 0.0, 1.0]
    np.testing.assert_array_equal(after.frames[0], batch().frames[0][:, ::-1])
    assert sorted(after.frames[1].ravel()) == pytest.approx(sorted(batch().frames[1].ravel()))


def test_smoothing_keeps_the_sum() -> None:
    before = batch().frames
    after = smoothed(xp, before, np.array([0.0, 0.2, 0.3], np.float32))

    np.testing.assert_array_equal(after[0], before[0])
    np.testing.assert_allclose(after.sum((2, 3)), before.sum((2, 3)), rtol=1e-4)
    assert after[2].max() < before[2].max()


def test_regrading_stays_within_black_and_white_and_within_the_picture() -> None:
    inside = np.ones((3, SIDE, SIDE), np.float32)
    inside[:, :5] = 0
    after = regraded(xp, dice(), batch().frames, inside)

    assert after.min() >= 0
    assert after.max() <= 1
    assert (after[:, :, :5] == 0).all()
    assert np.abs(after - batch().frames).max() > 0.05


def test_all_changes_together_keep_shapes_and_shares() -> None:
    after = augmented(xp, dice(4), batch())

    assert after.frames.shape == batch().frames.shape
    assert after.masks.dtype == np.int64
    np.testing.assert_allclose(after.shares.sum(axis=1), 1.0)
    np.testing.assert_array_equal(augmented(xp, dice(4), batch()).frames, after.frames)
