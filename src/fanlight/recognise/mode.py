"""Say what a clip is made of: two-dimensional picture, colour, spectrum, M-mode, a probe in the air, no scan at all."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fanlight.frames.doppler.colour_bar import find_colour_bar
from fanlight.recognise.mode_features import ModeFeatures, look_for_mode
from fanlight.recognise.mode_weights import BIASES, WEIGHTS
from fanlight.recognise.spectrum_kind import shares_of, tell_kind
from fanlight.study import MODE_WORDS, SPECTRA, Clip, Layout, Mode, ModeReading, Region, SpatialFormat

VERSION = 6  # raise it when the mode of the same pixels can come out otherwise: kept results are then made anew

_LEAST_PROBABILITY = 0.6  # below: not sure (house default; an undecided clip goes to the mentor)
_LEAST_OF_POWER = (
    0.75  # colour that flows one way looks like it, and hearts are rarely looked at with it (house default)
)
# What a declaration of the file is worth, in log-odds: a region that the frame bears out is wrong about once in
# fifty (e to the fourth); Image Type is often left from another preset (engineering judgement).
_REGION_WORTH = 4.0
# Real screens vary more than the drawn ones that the model was fitted on: its log-odds are toned down by a fifth.
_TEMPERATURE = 1.25
_MIN_SIDE_PX = 96  # a smaller frame is a thumbnail or a fragment: nothing can be said (engineering judgement)
_IMAGE_TYPE_WORTH = 1.5
# Structures that last beyond the near field are no air, though lung hides most of the picture: 0.1 grey levels and
# less in drawn probes in air that move, 1.5 and more where 2-D clips of ring A were taken for one.
_LASTING_FROM, _LASTING_FULL = 0.5, 1.5
_LEAST_COLOUR = 0.02  # of the feature: less is no paint
# Image Type value 4, bits (PS3.3 C.8.5.6.1.1): 2-D, M-mode, CW, PW, colour, power.
_BITS = (
    (0x0001, Mode.TWO_D),
    (0x0002, Mode.M_MODE),
    (0x0004, Mode.CONTINUOUS_WAVE),
    (0x0008, Mode.PULSED_WAVE),
    (0x0010, Mode.COLOUR),
    (0x0100, Mode.POWER),
)
# Region Data Type (0018,6014), PS3.3 C.8.5.5.1.3.
_TISSUE, _COLOUR_FLOW, _PW, _CW = 1, 2, 3, 4


_STRIPS = (Mode.M_MODE, *SPECTRA)


def read_mode(clip: Clip, layout: Layout, pixels: NDArray[np.uint8]) -> ModeReading:
    """Decide the mode of one clip from the regions that the pixels bear out, and from the pixels themselves.

    Parameters
    ----------
    clip : Clip
        For Image Type.
    layout : Layout
        From ``frames.layout_of.read_layout``: picture, checked regions, texts.
    pixels : ndarray of shape (frame, row, col) or (frame, row, col, 3)
        The first frames.

    Returns
    -------
    ModeReading
        ``mode`` is None below a probability of 0.6.

    Notes
    -----
    Probabilities come from a multinomial logistic model of some thirty features, fitted on drawn screens
    (``design/fit_mode_weights.py``); they order the modes well and are only roughly calibrated on real screens. Which
    kind of spectrum it is, is told by signs of its own (`spectrum_kind`).
    Where a spectrum is seen but not of which kind, ``mode`` is None and ``is_spectrum`` of the reading says so.
    """
    if min(layout.rows, layout.cols) < _MIN_SIDE_PX:
        reason = f"the frame has only {layout.cols} × {layout.rows} pixels, too few to tell a mode"
        return ModeReading(mode=None, probability=0.0, reasons=(reason,))
    features = look_for_mode(layout, pixels)
    row = np.array(features.as_row())
    modes = list(WEIGHTS)
    logits = {mode: float(BIASES[mode] + np.array(WEIGHTS[mode]) @ row) / _TEMPERATURE for mode in modes}
    lasts = (features.lasting - _LASTING_FROM) / (_LASTING_FULL - _LASTING_FROM)
    logits[Mode.NO_CONTACT] -= _REGION_WORTH * min(max(lasts, 0.0), 1.0)
    if _has_two_way_bar(layout, pixels, features):
        logits[Mode.COLOUR] += _REGION_WORTH
    declared, said = _declared(clip, layout)
    for mode, worth in declared.items():
        # A declaration cannot conjure up paint: colour that is nowhere seen, or a scan in an empty frame.
        if worth < 0 or not _contradicted(mode, features):
            logits[mode] += worth
    chances = _chances(logits)
    kinds, by = tell_kind(features, _region_mode(item.region for item in layout.regions if item.trusted))
    spectral = sum(chances[mode] for mode in SPECTRA)
    chances |= {mode: spectral * share for mode, share in shares_of(kinds).items()}
    ranked = sorted(chances.items(), key=lambda pair: -pair[1])
    best, probability = ranked[0]
    sure = probability >= (_LEAST_OF_POWER if best is Mode.POWER else _LEAST_PROBABILITY)
    reading = ModeReading(
        mode=best if sure else None, probability=probability, reasons=(), per_mode=tuple(ranked)
    )  # fmt: skip
    seen = _seen(best, features, layout)
    if reading.is_spectrum:
        seen = (*seen, by)
    return replace(reading, reasons=(*([] if sure else [_not_sure(reading)]), *seen, *said))


def _has_two_way_bar(layout: Layout, pixels: NDArray[np.uint8], features: ModeFeatures) -> bool:
    """Whether a bar of warm and cold colours stands beside a coloured picture: velocity has two ways, power one."""
    if pixels.ndim == 3 or layout.picture is None or features.colour < _LEAST_COLOUR:
        return False
    return find_colour_bar(np.ascontiguousarray(pixels[0]), layout.picture) is not None


def _chances(logits: Mapping[Mode, float]) -> dict[Mode, float]:
    """Turn log-odds into probabilities."""
    highest = max(logits.values())
    weights = {mode: math.exp(value - highest) for mode, value in logits.items()}
    total = sum(weights.values())
    return {mode: weight / total for mode, weight in weights.items()}


def _not_sure(reading: ModeReading) -> str:
    (best, probability), (second, other) = reading.per_mode[:2]
    between = f"{MODE_WORDS[best]} {probability:.0%}, {MODE_WORDS[second]} {other:.0%}"
    if reading.is_spectrum:
        return f"not sure: a spectrum, but which kind is not known: {between}"
    return f"not sure: {between}"


def _declared(clip: Clip, layout: Layout) -> tuple[dict[Mode, float], tuple[str, ...]]:
    """What the file says, in log-odds, and in words."""
    worth: dict[Mode, float] = {}
    words: list[str] = []
    believed = [item.region for item in layout.regions if item.trusted]
    named = _region_mode(believed)
    if named is None and any(region.spatial_format == SpatialFormat.TWO_D for region in believed):
        # PS3.3 C.8.5.5: a strip along time is a region of its own, and so is each of two pictures; some machines put
        # one region round both pictures, so that counts half.
        worth = dict.fromkeys(_STRIPS, -_REGION_WORTH) | {Mode.DUAL: -_REGION_WORTH / 2}
        words.append("the regions of the file name one picture and no strip along time")
    if named is not None:
        if named in _STRIPS:  # the picture beside a strip guides it
            worth = dict.fromkeys((Mode.TWO_D, Mode.COLOUR, Mode.DUAL), -_REGION_WORTH)
        for mode in _pulsed_alike(named):
            worth[mode] = _REGION_WORTH
        words.append(f"the regions of the file name it {MODE_WORDS[named]}")
    if len(clip.tags.image_type) > 3:
        try:
            bits = int(clip.tags.image_type[3], 16)
        except ValueError:
            bits = 0
        listed = [mode for bit, mode in _BITS if bits & bit]
        if listed:
            # Bits add up along the ladder: a colour picture carries the bit of the 2-D picture under it as well.
            last = next((mode for mode in reversed(listed) if mode is not Mode.TWO_D), listed[0])
            for mode in _pulsed_alike(last):
                worth[mode] = worth.get(mode, 0.0) + _IMAGE_TYPE_WORTH
            words.append(f"Image Type (0008,0008) names it {MODE_WORDS[last]}")
    return worth, tuple(words)


def _pulsed_alike(mode: Mode) -> tuple[Mode, ...]:
    """Return what a declaration may mean: the standard has no code of its own for tissue Doppler, which is pulsed."""
    return (Mode.PULSED_WAVE, Mode.TISSUE_DOPPLER) if mode is Mode.PULSED_WAVE else (mode,)


def _region_mode(regions: Iterable[Region]) -> Mode | None:
    """The mode that the believed regions name; a strip counts before the small picture that guides it."""
    kinds = [(region.spatial_format, region.data_type) for region in regions]
    if (SpatialFormat.SPECTRAL, _CW) in kinds:
        return Mode.CONTINUOUS_WAVE
    if (SpatialFormat.SPECTRAL, _PW) in kinds:
        return Mode.PULSED_WAVE
    if any(kind == SpatialFormat.M_MODE for kind, _ in kinds):
        return Mode.M_MODE
    pictures = [data for kind, data in kinds if kind == SpatialFormat.TWO_D]
    if pictures.count(_TISSUE) >= 2:
        return Mode.DUAL
    if _COLOUR_FLOW in pictures:
        return Mode.COLOUR
    # A two-dimensional tissue region stands under every colour picture and in every probe in the air too.
    return None


def _contradicted(mode: Mode, features: ModeFeatures) -> bool:
    if mode in (Mode.COLOUR, Mode.POWER):
        return features.colour < _LEAST_COLOUR
    if mode in _STRIPS:
        return features.time_strip == 0.0
    return False


def _seen(mode: Mode, f: ModeFeatures, layout: Layout) -> tuple[str, ...]:
    """What speaks for the mode, in plain words."""
    words: list[str] = []
    if mode is Mode.NOT_ECHO:
        if layout.picture is None:
            words.append(layout.picture_reason)
        if f.bright_page > 0.3:
            words.append(f"{f.bright_page:.0%} of the frame is white")
        if f.few_greys > 0.5:
            words.append("few grey levels, as in drawings and text")
        return tuple(words) or ("the paint has neither outline nor grain of an ultrasound picture",)
    if layout.picture is not None:
        words.append(layout.picture_reason)
    if mode is Mode.NO_CONTACT:
        words.append(f"rows explain {f.banded:.0%} of the brightness: bands that run straight across, no structures")
        words.append("nothing but even noise below them" if f.fades > 0.6 else "little below them")
        if f.beats < 0.3:
            words.append("nothing moves as a heart does")
    if mode in (Mode.COLOUR, Mode.POWER):
        if f.colour > 0:
            words.append("coloured pixels inside the picture")
        if mode is Mode.COLOUR and f.two_sided > 0.1:
            words.append("in hues of two directions")
        if mode is Mode.POWER:
            words.append("in one scale of hues, without a direction")
    if mode in SPECTRA:
        words.append("a strip whose paint hangs on a baseline")
    if mode is Mode.M_MODE:
        words.append("a strip with layers that run along it")
    if mode in (Mode.M_MODE, *SPECTRA) and f.sweeps > 0.3:
        words.append("change runs along it from frame to frame")
    if mode is Mode.DUAL:
        words.append("a second picture of like size stands beside the first")
    if mode is Mode.TWO_D and f.colour < _LEAST_COLOUR:
        words.append("no coloured pixels inside it")
    return tuple(words)
