"""The echoes of one packet: clutter that turns with the tissue, blood that turns with its flow, and noise.

An echo's phase turns by π · velocity / scale from pulse to pulse (Doppler). Tissue is one strong scatterer a cell, its
speckle that of the grey picture. Blood is a handful of weak ones, each with a velocity of its own: their spread is
turbulence and the time they need to cross the cell. What flows differently within a resolution cell mixes in the blur.
"""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.heart.motion import Motion
from fanlight.heart.pose import Pose
from fanlight.heart.sampled import Sampled
from fanlight.heart.tissue import Tissue
from fanlight.simulate.colour.colour_former import ColourFormer, packet_rows, planes_of
from fanlight.simulate.machine.beam_grid import MIDDLE_WEIGHT, SIDE_WEIGHT
from fanlight.simulate.machine.convolve import blur_across
from fanlight.simulate.machine.echo_field import echoes, way_db

Floats = NDArray[np.float32]
Complexes = NDArray[np.complex64]

# Of blood in a cell, in the middle plane and in either side plane: enough for Gaussian noise, few enough for speed
# (engineering judgement). Their power is that of the planes in the slice.
_IN_MIDDLE, _IN_SIDE = 5, 2
# Tremor, drift of the machine and motion within a cell keep tissue from being one line: standard deviation of its
# velocity from cell to cell (engineering judgement).
TISSUE_SPREAD_M_S = 0.003
# Of the power of turbulence, the part in eddies larger than a cell: they move whole patches, which makes a mosaic;
# their size (engineering judgement).
_EDDY_SHARE, _EDDY_MM = 0.5, 2.5
_NEARBY = (5, 7)  # lines and samples in which a cell of blood finds the tissue whose echo reaches it


def along_beam(former: ColourFormer, motion: Motion, pose: Pose, drift_mm_s: Floats | None) -> tuple[Floats, Floats]:
    """Return velocity towards the probe and the spread that crossing the cell adds, m/s, of the points given.

    Parameters
    ----------
    motion : Motion
        At the packet's points, (row, line + side line), patient frame.
    drift_mm_s : ndarray of shape (row, line + side line, 3), optional
        Velocity of the points themselves through the patient, where the hand moves.
    """
    parts = [np.asarray(part, np.float32) for part in motion.velocity_mm_s]
    if drift_mm_s is not None:
        parts = [part - drift_mm_s[..., k] for k, part in enumerate(parts)]
    turned = [
        sum(np.float32(pose.axes[k, axis]) * parts[k] for k in range(3)) for axis in range(3)
    ]  # in the probe's frame
    x, y, z = (np.asarray(part, np.float32) for part in turned)
    along = x * former.beam[:, 0] + z * former.beam[:, 2]
    across = x * former.aside[:, 0] + z * former.aside[:, 2]
    first, second, third = former.transit
    spread = np.sqrt((first * along) ** 2 + (second * across) ** 2 + (third * y) ** 2)
    return np.asarray(along * np.float32(-1e-3)), np.asarray(spread, np.float32)


def _normal(rng: np.random.Generator, *shape: int) -> Complexes:
    """Return complex Gaussian numbers of power 1."""
    both = rng.standard_normal((*shape, 2), np.float32) * np.float32(math.sqrt(0.5))
    return np.asarray(both.view(np.complex64)[..., 0])


def _turn(phase: Floats) -> Complexes:
    out = np.empty(phase.shape, np.complex64)
    out.real, out.imag = np.cos(phase), np.sin(phase)
    return out


def _eddies(former: ColourFormer, rng: np.random.Generator) -> Floats:
    """Return a smooth random field (row, line) of standard deviation 1."""
    geometry = former.geometry
    middle = geometry.apex_mm + geometry.first_mm + geometry.n_samples / 2 * geometry.step_mm
    line_mm = middle * math.radians(geometry.right_deg - geometry.left_deg) / geometry.n_lines
    sigma = [max(_EDDY_MM / 2.355 / step, 0.3) for step in (line_mm, geometry.step_mm)]
    kernels = [cv2.getGaussianKernel(2 * math.ceil(2.5 * s) + 1, s, cv2.CV_32F) for s in sigma]
    kernels = [kernel / math.sqrt(float((kernel**2).sum())) for kernel in kernels]
    white = rng.standard_normal(former.strength.shape, np.float32)
    return np.asarray(cv2.sepFilter2D(white, -1, kernels[0], kernels[1], borderType=cv2.BORDER_REFLECT), np.float32)


def passed_amplitude(former: ColourFormer, label: NDArray[np.int32]) -> Floats:
    """Return what the way through the tissues (depth, line) leaves of blood's amplitude (row, line): 0 behind air."""
    passed = 10 ** (way_db(np, former.medium, label) * np.float32(-0.05))
    passed = np.where(np.cumsum(label == int(Tissue.LUNG), axis=0) > 0, 0.0, passed)
    return np.asarray(passed[former.first_row :], np.float32)


def packet(
    former: ColourFormer,
    sampled: Sampled,
    motion: Motion,
    pose: Pose,
    rng: np.random.Generator,
    drift_mm_s: Floats | None = None,
) -> Complexes:
    """Return the echoes of one frame, (pulse, row, line), in units of the receiver's noise.

    Parameters
    ----------
    sampled : Sampled
        Tissue at the points of the grid.
    motion : Motion
        At the packet's points (`packet_rows` of the grid).
    """
    velocity, crossing = along_beam(former, motion, pose, drift_mm_s)
    label = np.asarray(sampled.tissue, np.int32)
    middle = former.grid.split(label)[0]
    sent = _clutter(former, sampled, tissue_velocity(former, middle, planes_of(former, velocity)[0]), rng)
    unsteady = np.asarray(motion.unsteady_mm_s, np.float32) * np.float32(1e-3)
    spread = np.sqrt(crossing**2 + np.float32(1 - _EDDY_SHARE) * unsteady**2)
    passed = passed_amplitude(former, middle) * former.blood_gain
    eddies = _eddies(former, rng) * np.float32(math.sqrt(_EDDY_SHARE))
    parts = (planes_of(former, sheet) for sheet in (packet_rows(former, label), velocity, spread, unsteady))
    weights = ((_IN_MIDDLE, MIDDLE_WEIGHT), (_IN_SIDE, SIDE_WEIGHT), (_IN_SIDE, SIDE_WEIGHT))
    for (count, weight), *plane in zip(weights, *parts, strict=True):
        tissue, mean, about, swirl = plane
        amplitude = former.blood[tissue] * passed * np.float32(math.sqrt(weight / count))
        _add_blood(former, sent, amplitude, mean + swirl * eddies, about, count, rng)
    return _heard(former, sent, rng)


def tissue_velocity(former: ColourFormer, label: NDArray[np.int32], velocity_m_s: Floats) -> Floats:
    """Return how fast clutter moves, (row, line): as the tissue does, and in blood as the tissue nearby.

    What is heard from a cell of blood besides blood comes from borders and from tissue beside the image plane. Behind
    air nothing is heard but repeats of what lies before it: they move as its surface does.

    Parameters
    ----------
    label : ndarray of shape (depth, line)
        Tissue of the middle plane, from the face down.
    velocity_m_s : ndarray of shape (row, line)
        Of whatever lies at the cells.
    """
    first = former.first_row
    solid = (former.blood[label[first:]] == 0).astype(np.float32)
    near = cv2.blur(solid, _NEARBY, borderType=cv2.BORDER_REFLECT)
    beside = cv2.blur(solid * velocity_m_s, _NEARBY, borderType=cv2.BORDER_REFLECT) / np.maximum(near, 1e-3)
    velocity = np.where(solid > 0, velocity_m_s, beside)
    air = label == int(Tissue.LUNG)
    if air.any():
        surface = np.where(air.any(axis=0), np.argmax(air, axis=0), len(label))  # of each line
        rows = np.arange(first, len(label))[:, None]
        at = np.clip(surface - first, 0, len(velocity) - 1)
        moving = np.where(surface > first, velocity[at, np.arange(velocity.shape[1])], 0.0)
        velocity = np.where(rows > surface, moving, velocity)
    return np.asarray(velocity, np.float32)


def _clutter(former: ColourFormer, sampled: Sampled, velocity_m_s: Floats, rng: np.random.Generator) -> Complexes:
    """Return what tissue scatters and mirrors, (pulse, row, line), before the blur."""
    setting, first = former.setting, former.first_row
    real, imag = echoes(np, former.medium, sampled, 0)
    sent = np.empty((setting.ensemble, *velocity_m_s.shape), np.complex64)
    sent[0].real, sent[0].imag = real[first:], imag[first:]
    tremor = rng.standard_normal(velocity_m_s.shape, np.float32) * np.float32(TISSUE_SPREAD_M_S)
    step = _turn((velocity_m_s + tremor) * np.float32(math.pi / setting.scale_m_s))
    for pulse in range(1, setting.ensemble):
        np.multiply(sent[pulse - 1], step, out=sent[pulse])
    return sent


def _add_blood(
    former: ColourFormer, sent: Complexes, amplitude: Floats, mean_m_s: Floats, spread_m_s: Floats, count: int,
    rng: np.random.Generator,
) -> None:  # fmt: skip
    """Add the echoes of `count` scatterers in each cell of one plane, in place."""
    at = np.flatnonzero(amplitude)
    own = rng.standard_normal((count, len(at)), np.float32)
    own = own * spread_m_s.reshape(-1)[at] + mean_m_s.reshape(-1)[at]
    step = _turn(own * np.float32(math.pi / former.setting.scale_m_s))
    echo = _normal(rng, count, len(at)) * amplitude.reshape(-1)[at]
    flat = sent.reshape(len(sent), -1)
    for pulse in flat:
        pulse[at] += echo.sum(axis=0)
        np.multiply(echo, step, out=echo)


def _heard(former: ColourFormer, sent: Complexes, rng: np.random.Generator) -> Complexes:
    """Return what the receiver puts out: blurred by beam and pulse, and noise that has passed the same filter."""
    n, rows, lines = sent.shape
    planes = np.empty((2 * n, rows, lines), np.float32)
    planes[:n], planes[n:] = sent.real, sent.imag
    wide = blur_across(np, former.lateral, planes) * former.strength
    wide += rng.standard_normal(wide.shape, np.float32) * (former.noise_gain * np.float32(math.sqrt(0.5)))
    long = np.matmul(former.axial, wide)
    out = np.empty((n, rows, lines), np.complex64)
    out.real, out.imag = long[:n], long[n:]
    return out
