"""Faults at the console: gain, sliders, focus, depth, width, frequency, frame rate, smoothing, harmonics.

The grades are chosen so that 1 is just there, 3 is plain to an eye that knows, 5 is gross. Where a published or trade
limit is known it stands beside the grade; all else is engineering judgement, marked so.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from fanlight.heart.animal import Animal
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.faults.fault import Change, Fault, FaultGroup, FaultKind
from fanlight.simulate.machine.console import N_TGC, Console
from fanlight.simulate.machine.probe import PROBES, ArrayKind, Probe

NARROWEST_DEG = 15.0  # of a sector that a console offers; engineering judgement
# The first two eighths of the depth hold chest wall and right ventricle in the right-sided views, the third the septum.
NEAR_SHARES = (1.0, 1.0, 0.5) + (0.0,) * (N_TGC - 3)
# What a hand finds on the rack from the largest array to the smallest. The last is for rodents and birds and suits no
# animal of the simulator. Invented, as all probes are.
RACK = (
    *(PROBES[name] for name in ("phased large", "phased medium", "phased small")),
    Probe(
        name="phased tiny", kind=ArrayKind.PHASED, aperture_mm=7.0, elevation_mm=4.5, elevation_focus_mm=25.0,
        low_mhz=8.0, high_mhz=22.0,
    ),
)  # fmt: skip


def _on_console(change: Callable[[ClipSetting, Fault], Console]) -> Change:
    """Make a change of a setting from one of its console."""

    def apply(setting: ClipSetting, _: Animal, fault: Fault) -> ClipSetting:
        return replace(setting, console=change(setting, fault))

    return apply


def _gain(setting: ClipSetting, fault: Fault) -> Console:
    console = setting.console
    return replace(console, gain_db=float(np.clip(console.gain_db + fault.amount, -60, 60)))


def _slider(setting: ClipSetting, fault: Fault) -> Console:
    console = setting.console
    place = int(fault.parameter("slider"))
    step = fault.amount * fault.parameter("sign")
    tgc = tuple(t + step * (i == place) for i, t in enumerate(console.tgc_db))
    return replace(console, tgc_db=tgc)


def _which_slider(rng: np.random.Generator) -> dict[str, float]:
    # The outermost sliders are faults of their own: near field and far field.
    return {"slider": float(rng.integers(2, N_TGC - 1)), "sign": float(rng.choice((-1.0, 1.0)))}


def _far(setting: ClipSetting, fault: Fault) -> Console:
    console = setting.console
    # From the third slider on, all the more the deeper: what a forgotten slope of the sliders does.
    ramp = np.clip((np.arange(N_TGC) - 2) / (N_TGC - 3), 0, 1)
    return replace(
        console, tgc_db=tuple(float(t + fault.amount * r) for t, r in zip(console.tgc_db, ramp, strict=True))
    )


def _near(setting: ClipSetting, fault: Fault) -> Console:
    console = setting.console
    return replace(
        console, tgc_db=tuple(t + fault.amount * s for t, s in zip(console.tgc_db, NEAR_SHARES, strict=True))
    )


def _focus(setting: ClipSetting, fault: Fault) -> Console:
    console = setting.console
    return replace(console, focus_mm=float(np.clip(console.focus_mm * fault.amount, 2.0, 400.0)))


def _depth(setting: ClipSetting, fault: Fault) -> Console:
    console = setting.console
    depth = float(np.clip(console.depth_mm * fault.amount, 10.0, 400.0))
    # The beam follows as a machine does it: samples keep their distance as far as memory goes. The focus stays.
    n = int(np.clip(console.n_samples * fault.amount, 32, 1024)) // 16 * 16
    return replace(console, depth_mm=depth, n_samples=max(n, 32))


def _wide(setting: ClipSetting, fault: Fault) -> Console:
    console = setting.console
    room = max(setting.probe.widest_deg - 2 * abs(console.steer_deg) - console.width_deg, 0.0)
    width = console.width_deg + fault.amount * room
    # Line density stays, so the frame rate falls as it does on a machine.
    return replace(console, width_deg=width, n_lines=round(console.n_lines * width / console.width_deg))


def _narrow(setting: ClipSetting, fault: Fault) -> Console:
    console = setting.console
    width = max(console.width_deg * fault.amount, NARROWEST_DEG)
    return replace(console, width_deg=width, n_lines=max(round(console.n_lines * width / console.width_deg), 24))


def _lower(setting: ClipSetting, fault: Fault) -> Console:
    console = setting.console
    return replace(console, frequency_mhz=max(console.frequency_mhz * fault.amount, 1.0))


def _higher(setting: ClipSetting, _: Animal, fault: Fault) -> ClipSetting:
    """Send a higher frequency; beyond the band of the array, with the array of smaller animals left plugged in."""
    console = setting.console
    harmonics = 2.0 if console.is_harmonic else 1.0
    wished = console.frequency_mhz * fault.amount

    def sent_mhz(probe: Probe) -> float:
        highest = probe.high_mhz / harmonics  # an echo above the band would not be heard
        return max(min(wished, highest), min(probe.low_mhz, highest))

    own = setting.probe
    others = RACK if own.kind is ArrayKind.PHASED else ()
    offered = (own, *(other for other in others if other.high_mhz > own.high_mhz))
    probe = min(offered, key=lambda one: abs(math.log(sent_mhz(one) / wished)))
    frequency = max(sent_mhz(probe), console.frequency_mhz)
    return replace(setting, probe=probe, console=replace(console, frequency_mhz=frequency))


def _rate(setting: ClipSetting, fault: Fault) -> Console:
    console = setting.console
    # First the lines received together go, then foci are added: both are how presets of other organs lose pictures.
    wanted = console.frame_rate_hz * fault.amount
    slower = replace(console, lines_per_pulse=1)
    foci = max(1, math.floor(slower.frame_rate_hz / wanted))
    slower = replace(slower, n_foci=min(foci, 8))
    lines = round(slower.n_lines * slower.frame_rate_hz / wanted)
    return replace(slower, n_lines=min(max(lines, console.n_lines), 320))


def _persistence(setting: ClipSetting, fault: Fault) -> Console:
    return replace(setting.console, persistence_fraction=max(setting.console.persistence_fraction, fault.amount))


def _compounding(setting: ClipSetting, fault: Fault) -> Console:
    # The lines are not made sparser: every direction costs its own pulses, so the frame rate falls.
    return replace(setting.console, n_looks=max(setting.console.n_looks, round(fault.amount)))


CONSOLE_FAULTS = (
    FaultKind(
        key="gain_high", title="gain too high", group=FaultGroup.CONSOLE, knob="gain", unit="dB",
        steps=(6, 10, 14, 19, 25), change=_on_console(_gain),
        why="engineering judgement: of a 60 dB display 6 dB lift the picture by a tenth, 25 dB by two fifths",
    ),
    FaultKind(
        key="gain_low", title="gain too low", group=FaultGroup.CONSOLE, knob="gain", unit="dB",
        steps=(-6, -9, -13, -17, -21), change=_on_console(_gain),
        why="engineering judgement: at 21 dB the pericardium and the brightest muscle are still seen",
    ),
    FaultKind(
        key="tgc_slider", title="one TGC slider out of line", group=FaultGroup.CONSOLE, knob="tgc", unit="dB",
        steps=(6, 9, 12, 15, 19), change=_on_console(_slider), draw=_which_slider,
        why="a jump above a tenth of the display's range is a band (house setting); 6 dB is that tenth",
    ),
    FaultKind(
        key="far_field_loss", title="sliders turned down towards the depth", group=FaultGroup.CONSOLE, knob="tgc",
        unit="dB", steps=(-12, -18, -25, -33, -42), change=_on_console(_far),
        why="engineering judgement: what is lost at the bottom of the picture; half of the display's range at grade 4",
    ),
    FaultKind(
        key="near_field_dark", title="first sliders turned down", group=FaultGroup.CONSOLE, knob="tgc", unit="dB",
        steps=(-8, -13, -18, -24, -30), change=_on_console(_near),
        why="engineering judgement: chest wall and wall of the right ventricle fade at grade 2 and are gone at 5",
    ),
    FaultKind(
        key="focus_shallow", title="focus too near the probe", group=FaultGroup.CONSOLE, knob="focus", unit="1",
        steps=(0.62, 0.48, 0.36, 0.27, 0.2), change=_on_console(_focus),
        why="times the focus of a steady hand (60 % of the depth). The receive focus stays everywhere, so points below "
        "are at most 1.4 to 1.8 times as wide as they should be (box times raised cosine against the latter, physics) "
        "from grade 2 on; what falls further is the echo against the noise, 12 to 19 dB",
    ),
    FaultKind(
        key="focus_deep", title="focus below the target", group=FaultGroup.CONSOLE, knob="focus", unit="1",
        steps=(1.35, 1.6, 1.85, 2.15, 2.5), change=_on_console(_focus),
        why="a focus more than a fifth below the target is a fault (house setting); grade 3 lies beyond the picture. "
        "Above its focus a phased array is unfocused with a good setting too: near widths change by a tenth (physics)",
    ),
    FaultKind(
        key="depth_large", title="depth too large", group=FaultGroup.CONSOLE, knob="depth", unit="1",
        steps=(1.25, 1.45, 1.7, 2.05, 2.5), change=_on_console(_depth),
        why="the heart fills less than 55 % of the depth (house setting) from grade 2 to 3 on",
    ),
    FaultKind(
        key="depth_small", title="depth too small", group=FaultGroup.CONSOLE, knob="depth", unit="1",
        steps=(0.88, 0.8, 0.72, 0.64, 0.55), change=_on_console(_depth),
        why="a steady hand leaves a little room below the heart; grade 2 cuts its far wall",
    ),
    FaultKind(
        key="sector_wide", title="sector too wide", group=FaultGroup.CONSOLE, knob="width", unit="1",
        steps=(0.25, 0.45, 0.65, 0.83, 1.0), change=_on_console(_wide),
        why="share of what the array still has: of 24° beside a steady hand's 76°, of 10° where the view asks for 90°",
    ),
    FaultKind(
        key="sector_narrow", title="sector too narrow", group=FaultGroup.CONSOLE, knob="width", unit="1",
        steps=(0.78, 0.66, 0.55, 0.45, 0.36), change=_on_console(_narrow),
        why="times the opening angle: required structures leave the picture from grade 2 on",
    ),
    FaultKind(
        key="frequency_low", title="frequency too low for the animal", group=FaultGroup.CONSOLE, knob="frequency",
        unit="1", steps=(0.75, 0.62, 0.52, 0.43, 0.36), change=_on_console(_lower),
        why="times a fitting frequency: 6 MHz becomes 3.1 at grade 3, what suits an animal of five times the weight",
    ),
    FaultKind(
        key="frequency_high", title="frequency too high for the animal", group=FaultGroup.CONSOLE, knob="frequency",
        unit="1", steps=(1.15, 1.3, 1.6, 1.85, 2.1), change=_higher,
        why="loss grows with frequency (1 to 1.4 dB/cm/MHz both ways, physics). The array's own band ends at about "
        "1.3; what lies above is sent by the array of smaller animals",
    ),
    FaultKind(
        key="frame_rate_low", title="frame rate too low", group=FaultGroup.CONSOLE, knob="frame rate", unit="1",
        steps=(0.6, 0.45, 0.33, 0.24, 0.16), change=_on_console(_rate),
        why="times the rate of a steady hand; below 12 pictures a beat (house setting) from grade 3 to 4 on",
    ),
    FaultKind(
        key="persistence_heavy", title="too much persistence", group=FaultGroup.CONSOLE, knob="persistence", unit="1",
        steps=(0.45, 0.6, 0.72, 0.82, 0.9), change=_on_console(_persistence),
        why="share of the last picture that stays: its trace fades to a third in 1.3 pictures at grade 1, 9.5 at 5",
    ),
    FaultKind(
        key="compounding_heavy", title="too much compounding", group=FaultGroup.CONSOLE, knob="compounding", unit="1",
        steps=(2, 3, 4, 6, 9), change=_on_console(_compounding),
        why="directions averaged; each costs a picture's time, so the rate falls to a ninth at grade 5",
    ),
)  # fmt: skip
