"""From blurred echoes to grey levels: amplifier, clutter, noise, detection, log compression, grey map.

The display range ends at a fixed level above heart muscle; dynamic range opens or closes it towards the weak side, as a
console does. Array-API code, except where a clip's fixed arrays are made once.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fanlight.simulate.machine.beams import LineGeometry
from fanlight.simulate.machine.console import Console, GreyMap
from fanlight.simulate.machine.contact import Contact
from fanlight.simulate.machine.convolve import along_blocks, blur_across, blur_along
from fanlight.simulate.machine.point_spread import PointSpread, echo_mhz, pulse_mm
from fanlight.simulate.machine.probe import Probe

Array = Any
Floats = NDArray[np.floating[Any]]

WHITE_DB = 22.0  # above the mean of heart muscle: pericardium and pleura saturate (engineering judgement)
# The machine's own depth gain: four fifths of soft tissue at 0.5 dB/cm/MHz, since part of the way is blood.
TGC_DB_CM_MHZ = 0.4
# Electronic noise under the speckle of heart muscle at the face; 88 dB puts the end of penetration at 5 MHz near
# 100 to 120 dB of total range. The harmonic is weaker than what is sent (engineering judgement).
NOISE_DB, NOISE_HARMONIC_DB = -88.0, -82.0
# Near-field reverberation at the face against muscle, before it decays. The harmonic arises below the layers that
# reverberate and has 17 dB less (engineering judgement, by eye).
CLUTTER_DB, CLUTTER_HARMONIC_DB = -5.0, -22.0
# Its sound runs to and fro between the face and the layers of the body wall: it fades by what soft tissue absorbs on so
# long a way, and by what each turn loses at face and layer. A turn takes about three quarters of an aperture: wall and
# array grow with the animal alike (engineering judgement).
CLUTTER_ABSORBED_DB_CM_MHZ = 0.5
CLUTTER_TURN_DB, CLUTTER_TURN_SHARE = 8.0, 0.75
RING_DOWN_DB = 16.0  # of the transducer itself at the face
LIFTED_DB = -50.0  # echo of a line whose part of the face has left the skin
LIFTED_RING_DB, LIFTED_FADE_DB_MM = 20.0, 2.2  # sound rings between face and air over some millimetres
LIFTED_BAND_MM = 1.2  # distance of the bands in the layer of gel and air under a lifted face
DRY_PATCHES = 24  # width of a patch without gel, as part of the face; how unlike patches are (engineering judgement)
DRY_SPREAD = 0.5
_FLOOR = 1e-12  # power, -120 dB
_NOISE_ROWS = 3  # the noise of a frame starts at a random place in a store so many times as deep


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Receiver:
    """What the receiving side needs from frame to frame."""

    gain: Array  # (sample, 1) amplitude: depth gain, sliders, overall gain
    line_gain: Array  # (1, line) amplitude: contact
    added: Array  # (2, sample, line) real and imaginary: clutter and ring-down, after gain
    noise: Array  # (2, several samples, line): store of receiver noise, unit power
    noise_gain: Array  # (sample, 1) amplitude
    console: Console
    sharpen_down: Array | None  # (sample, sample)
    sharpen_over: Array | None  # (line, line)


def slider_db(console: Console, depth_mm: Floats) -> Floats:
    """Return what the TGC sliders add at each depth: straight between the middles of their parts."""
    middles = (np.arange(len(console.tgc_db)) + 0.5) / len(console.tgc_db) * console.depth_mm
    return np.interp(depth_mm, middles, console.tgc_db)


def depth_gain_db(console: Console, depth_mm: Floats) -> Floats:
    """Return the machine's own gain at each depth, before the amplifier's end."""
    return np.asarray(2 * TGC_DB_CM_MHZ * echo_mhz(console) * depth_mm / 10)


def time_gain_db(console: Console, depth_mm: Floats) -> Floats:
    """Return what the time-gain amplifier does at each depth: depth gain and sliders, as far as it goes."""
    wished = depth_gain_db(console, depth_mm) + slider_db(console, depth_mm)
    return np.asarray(np.minimum(wished, console.depth_gain_most_db))


def clutter_db(probe: Probe, console: Console, contact: Contact, depth_mm: Floats) -> Floats:
    """Return the level of near-field reverberation at each depth, dB against muscle, before gain."""
    absorbed = 2 * CLUTTER_ABSORBED_DB_CM_MHZ * echo_mhz(console) / 10
    turned = CLUTTER_TURN_DB / (CLUTTER_TURN_SHARE * probe.aperture_mm)
    at_face = (CLUTTER_HARMONIC_DB if console.is_harmonic else CLUTTER_DB) + contact.reverberation_db
    return np.asarray(at_face - (absorbed + turned) * depth_mm)


def make_receiver(
    xp: Any,
    probe: Probe,
    console: Console,
    lines: LineGeometry,
    spread: PointSpread,
    contact: Contact,
    rng: np.random.Generator,
) -> Receiver:
    """Draw clutter and noise of a clip and settle its gains."""
    depth = (np.arange(lines.n_samples) + 0.5) * lines.sample_mm
    harmonic = console.is_harmonic
    gain_db = time_gain_db(console, depth) + console.gain_db
    gain = _amplitude(gain_db)[:, None]

    white = rng.standard_normal((2, lines.n_samples, lines.n_lines), np.float32) * np.float32(math.sqrt(0.5))
    wide = _lateral_mean(lines.n_lines, max(lines.n_lines // 12, 1))  # repeats come from all over the aperture
    veil = np.asarray(blur_across(np, spread.lateral, blur_along(np, along_blocks(np, spread), white @ wide)))
    clutter = _amplitude(clutter_db(probe, console, contact, depth))
    ring = _amplitude(RING_DOWN_DB) * np.exp(-depth / pulse_mm(probe, console))
    edge, lifted = _contact_lines(contact, lines.n_lines, rng)
    veil = veil * clutter[:, None] * edge[None, :]  # it has been in the body wall: it passes the contact as echoes do
    added = (veil + np.stack([np.ones_like(veil[0]), np.zeros_like(veil[0])]) * ring[:, None]) * gain
    if contact.lifted_fraction > 0:
        bands = _amplitude(LIFTED_RING_DB - LIFTED_FADE_DB_MM * depth) * (
            0.55 + 0.45 * np.cos(2 * np.pi * depth / LIFTED_BAND_MM)
        )
        added[0] += (bands[:, None] * gain) * lifted[None, :]
    store = rng.standard_normal((2, _NOISE_ROWS * lines.n_samples, lines.n_lines), np.float32)
    store *= np.float32(math.sqrt(0.5))
    pulse = np.exp(-0.5 * (np.arange(-4, 5) / max(1.5 * pulse_mm(probe, console) / 2.355 / lines.sample_mm, 0.4)) ** 2)
    store = _filter_rows(store, pulse / math.sqrt(float((pulse**2).sum())))
    # Speckle is levelled over depth, as the machine's focal gain does; noise rises where the beam is weak.
    noise_db = (NOISE_HARMONIC_DB if harmonic else NOISE_DB) + gain_db - np.maximum(spread.focal_gain_db, -20)
    strength = console.edge_enhancement_fraction
    return Receiver(
        gain=_as(xp, gain),
        line_gain=_as(xp, edge[None, :]),
        added=_as(xp, added),
        noise=_as(xp, store),
        noise_gain=_as(xp, _amplitude(noise_db)[:, None]),
        console=console,
        sharpen_down=_as(xp, _sharpen(lines.n_samples, 3, strength)) if strength else None,
        sharpen_over=_as(xp, _sharpen(lines.n_lines, 1, strength)) if strength else None,
    )


def receive(xp: Any, receiver: Receiver, blurred: Array, noise_at: tuple[int, int]) -> Array:
    """Return the amplitude of one frame (sample, line) after gain, clutter and noise, from its (2, sample, line)."""
    samples = blurred.shape[1]
    row, col = noise_at
    noise = xp.roll(receiver.noise[:, row : row + samples, :], col, axis=2)
    echo = blurred * (receiver.gain * receiver.line_gain) + receiver.added + noise * receiver.noise_gain
    return xp.sqrt(echo[0, ...] ** 2 + echo[1, ...] ** 2)


def levels(xp: Any, receiver: Receiver, amplitude: Array) -> Array:
    """Return grey, 0 to 1, of amplitudes (sample, line)."""
    console = receiver.console
    db = 20.0 * xp.log10(amplitude + math.sqrt(_FLOOR))
    if receiver.sharpen_down is not None:
        db = xp.matmul(xp.matmul(receiver.sharpen_down, db), receiver.sharpen_over)
    grey = (db - (WHITE_DB - console.dynamic_range_db)) / console.dynamic_range_db
    grey = xp.clip(grey, 0.0, 1.0)
    if console.reject_fraction:
        grey = xp.where(grey < console.reject_fraction, 0.0, grey)
    return curve(xp, console.grey_map, grey)


def curve(xp: Any, grey_map: GreyMap, grey: Array) -> Array:
    """Apply one of our own grey curves to values 0 to 1; each keeps 0 and 1 and never falls."""
    if grey_map is GreyMap.SOFT:
        return xp.sqrt(grey) * (0.4 + 0.6 * xp.sqrt(grey))
    if grey_map is GreyMap.STEEP:
        return grey * xp.sqrt(grey) * (1.3 - 0.3 * grey)
    return grey


def quantise(xp: Any, grey: Array) -> Array:
    """Return grey 0 to 1 as bytes."""
    return xp.astype(xp.floor(grey * 255.0 + 0.5), xp.uint8)


def _as(xp: Any, values: NDArray[Any]) -> Array:
    return xp.asarray(np.ascontiguousarray(values, dtype=np.float32))


def _amplitude(db: Floats | float) -> Floats:
    return np.asarray(10 ** (np.asarray(db) / 20))


def _lateral_mean(n: int, half: int) -> NDArray[np.float32]:
    apart = np.abs(np.arange(n)[:, None] - np.arange(n)[None, :])
    bell = np.exp(-0.5 * (apart / half) ** 2)
    return np.asarray(bell / np.sqrt((bell**2).sum(axis=0, keepdims=True)), np.float32)


def _filter_rows(store: NDArray[np.float32], kernel: Floats) -> NDArray[np.float32]:
    """Filter the sample axis, wrapping round."""
    half = len(kernel) // 2
    out = np.zeros_like(store)
    for k, weight in enumerate(kernel):
        out += np.float32(weight) * np.roll(store, k - half, axis=1)
    return out


def _sharpen(n: int, half: int, strength: float) -> Floats:
    """Return the matrix that adds the difference to the local mean."""
    apart = np.abs(np.arange(n)[:, None] - np.arange(n)[None, :])
    box = (apart <= half).astype(float)
    box /= box.sum(axis=1, keepdims=True)
    return np.asarray((1 + strength) * np.eye(n) - strength * box)


def _patches(n_lines: int, rng: np.random.Generator) -> Floats:
    """Return how much of the mean loss each line has where hair and air lie under the face: 0.3 to 2, mean about 1."""
    wave = _lateral_mean(n_lines, max(n_lines // DRY_PATCHES, 1)).T @ rng.standard_normal(n_lines)
    return np.asarray(np.clip(1 + DRY_SPREAD * wave, 0.3, 2.0))


def _contact_lines(contact: Contact, n_lines: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Return the amplitude of each line, and how far it is lifted (0 to 1)."""
    loss = contact.overall_loss_db * _patches(n_lines, rng) if contact.overall_loss_db else np.zeros(n_lines)
    base = _amplitude(-2 * loss)
    if contact.lifted_fraction == 0:
        return base, np.zeros(n_lines)
    place = (np.arange(n_lines) + 0.5) / n_lines
    place = place if contact.side > 0 else 1 - place
    # the edge is as soft as a tenth of the face: part of the aperture of a line still touches
    lifted = 1 / (1 + np.exp(-(place - (1 - contact.lifted_fraction)) / 0.025))
    return base * _amplitude(LIFTED_DB * lifted), lifted
