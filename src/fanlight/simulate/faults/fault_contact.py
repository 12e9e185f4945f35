"""Faults between probe and heart: an edge of the face that is lifted, lung, a rib, haze near the face."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fanlight.heart.animal import Animal
from fanlight.simulate.clip.clip_setting import ClipSetting, Cover, Obstacle
from fanlight.simulate.faults.fault import Fault, FaultGroup, FaultKind


def _lifted(setting: ClipSetting, _: Animal, fault: Fault) -> ClipSetting:
    share = max(setting.contact.lifted_fraction, fault.amount)
    return replace(setting, contact=replace(setting.contact, lifted_fraction=share, side=int(fault.parameter("side"))))


def _dry(setting: ClipSetting, _: Animal, fault: Fault) -> ClipSetting:
    loss = setting.contact.overall_loss_db + fault.amount
    return replace(setting, contact=replace(setting.contact, overall_loss_db=loss))


def _which_side(rng: np.random.Generator) -> dict[str, float]:
    return {"side": float(rng.choice((-1.0, 1.0)))}


def _lung(setting: ClipSetting, _: Animal, fault: Fault) -> ClipSetting:
    share = fault.amount
    at = 1 - share / 2 if fault.parameter("side") > 0 else share / 2  # lung slides in from an edge
    item = Obstacle(cover=Cover.LUNG, share_fraction=share, at_fraction=at)
    return replace(setting, obstacles=(*setting.obstacles, item))


def _rib(setting: ClipSetting, _: Animal, fault: Fault) -> ClipSetting:
    item = Obstacle(cover=Cover.RIB, share_fraction=fault.amount, at_fraction=fault.parameter("at_fraction"))
    return replace(setting, obstacles=(*setting.obstacles, item))


def _where(rng: np.random.Generator) -> dict[str, float]:
    return {"at_fraction": float(rng.uniform(0.25, 0.75))}


def _fundamental(setting: ClipSetting, _: Animal, fault: Fault) -> ClipSetting:
    haze = setting.contact.reverberation_db + fault.amount
    console = setting.console
    if console.is_harmonic:  # without harmonics a console sends what it listened to before, as far as the band goes
        sent = min(2 * console.frequency_mhz, setting.probe.high_mhz)
        console = replace(console, is_harmonic=False, frequency_mhz=sent)
    return replace(
        setting,
        console=console,
        contact=replace(setting.contact, reverberation_db=haze),
    )


CONTACT_FAULTS = (
    FaultKind(
        key="contact_lifted", title="one edge of the probe lifted off", group=FaultGroup.CONTACT, knob="contact",
        unit="1", steps=(0.08, 0.14, 0.2, 0.28, 0.38), change=_lifted, draw=_which_side,
        why="share of the face: engineering judgement; a tenth of the width is the least that is worth a word",
    ),
    FaultKind(
        key="contact_dry", title="too little gel", group=FaultGroup.CONTACT, knob="gel", unit="dB",
        steps=(2, 4, 6, 8.5, 11), change=_dry,
        why="one way, mean of the face: hair and air lie in patches, so that some beams lose twice as much as others. "
        "At 11 dB the pericardium and the better beams are still seen. Engineering judgement",
    ),
    FaultKind(
        key="lung_in_the_way", title="lung over part of the picture", group=FaultGroup.CONTACT, knob="cover", unit="1",
        steps=(0.1, 0.17, 0.25, 0.35, 0.48), change=_lung, draw=_which_side,
        why="share of the width in expiration; it grows with each breath. Engineering judgement",
    ),
    FaultKind(
        key="rib_shadow", title="a rib under the face", group=FaultGroup.CONTACT, knob="cover", unit="1",
        steps=(0.06, 0.1, 0.14, 0.19, 0.25), change=_rib, draw=_where,
        why="share of the width: a rib of a dog of 10 kg is 5 to 8 mm wide under a face of 10 to 20 mm",
    ),
    FaultKind(
        key="near_field_clutter", title="haze near the probe, harmonics off", group=FaultGroup.CONTACT,
        knob="harmonics", unit="dB", steps=(4, 8, 12, 16, 20), change=_fundamental,
        why="reverberation above what a good contact has; harmonics alone take about 10 to 15 dB off (engineering "
        "judgement)",
    ),
)  # fmt: skip
