"""The generator of a ring: what animal and machine it makes. Ring C is another world beside the usual one.

A figure that holds in ring C does not hang on the shapes, the beam or the screens that the bands were set on. There

- the heart is deformed freely, outside the family that the model draws, and its axis is turned by up to 15°;
- the pulse has another length and the aperture another size, so that the speckle has another grain;
- the console shows another dynamic range with another grey map, and may smooth what it shows;
- the screens are others.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from fanlight.heart.animal import Animal
from fanlight.heart.heart_frame import HeartFrame
from fanlight.heart.thorax import draw_thorax
from fanlight.heart.triple import cross, turned
from fanlight.heart.warp import draw_warp
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.machine.console import Console, GreyMap, default_console
from fanlight.simulate.machine.probe import PROBES, ArrayKind, Probe, default_probe
from fanlight.simulate.machine.tissue_echo import ECHOES, SILENT_DB, EchoTable, echo_table
from fanlight.simulate.screen.screen_layout import Layout
from fanlight.simulate.screen.screen_layouts import LAYOUTS
from fanlight.simulate.screen.screen_layouts_shifted import SHIFTED_LAYOUTS
from fanlight.study import Species

ECHO_DB = 2.0  # one standard deviation of a tissue's echo level; engineering judgement
AXIS_DEG = 15.0  # each way: breeds differ by tens of degrees, the main generator by single ones


@dataclass(frozen=True, slots=True, kw_only=True)
class Generator:
    """Machine and screens of one examination, and how its animal differs from what the model draws."""

    ring: Ring
    probe: Probe
    console: Console  # its depth, width and focus are set for each view
    layout: Layout
    warp_seed: int | None = None  # ring C: of the deformation
    turn_deg: tuple[float, float, float] = (0.0, 0.0, 0.0)  # ring C: upright, sideways, roll
    echo_seed: int | None = None  # ring C: of the tissues' echo levels

    def shape(self, animal: Animal) -> Animal:
        """Return the animal as this ring has it: in rings A and B as it was drawn."""
        if self.warp_seed is None:
            return animal
        rng = np.random.default_rng(self.warp_seed)
        anatomy = replace(
            animal.anatomy,
            frame=_turned_frame(animal.anatomy.frame, self.turn_deg),
            warp=draw_warp(animal.anatomy.sizes.lv_diameter_mm, rng),
        )
        thorax = draw_thorax(
            species=animal.species, weight_kg=animal.weight_kg, chest=animal.chest, anatomy=anatomy, rng=rng
        )
        return replace(animal, anatomy=anatomy, thorax=thorax)

    def table(self) -> EchoTable | None:
        """Return the echo levels of the tissues; None: the usual ones."""
        if self.echo_seed is None:
            return None
        rng = np.random.default_rng(self.echo_seed)
        # One shift for each kind of matter, not for each label: two walls of one heart stay alike.
        shift = {echo: (rng.normal(0, ECHO_DB), rng.uniform(0.5, 1.6)) for echo in dict.fromkeys(ECHOES.values())}
        return echo_table(
            np,
            {
                label: replace(
                    echo,
                    scatter_db=echo.scatter_db + (float(shift[echo][0]) if echo.scatter_db > SILENT_DB else 0.0),
                    gaps_db=echo.gaps_db * float(shift[echo][1]),
                )
                for label, echo in ECHOES.items()
            },
        )


def generator_of(ring: Ring, species: Species, weight_kg: float, rng: np.random.Generator) -> Generator:
    """Draw the machine of one examination, and in ring C how animal and machine are shifted."""
    if ring is not Ring.C:
        probe = default_probe(weight_kg)
        console = default_console(probe, species, weight_kg, is_harmonic=True)
        console = replace(
            console,
            dynamic_range_db=float(rng.uniform(55, 68)),
            grey_map=GreyMap(rng.choice([GreyMap.STEEP.value, GreyMap.EVEN.value])),
            persistence_fraction=float(rng.uniform(0.0, 0.25)),
        )
        return Generator(ring=ring, probe=probe, console=console, layout=_one_of(LAYOUTS, rng))
    probe = _shifted_probe(weight_kg, rng)
    console = default_console(probe, species, weight_kg, is_harmonic=bool(rng.random() < 0.6))
    console = replace(
        console,
        frequency_mhz=float(np.clip(console.frequency_mhz * rng.uniform(0.85, 1.15), probe.low_mhz, probe.high_mhz)),
        dynamic_range_db=float(rng.uniform(46, 80)),
        grey_map=GreyMap(rng.choice([GreyMap.SOFT.value, GreyMap.EVEN.value])),
        n_looks=int(rng.choice([1, 1, 2])),
        persistence_fraction=float(rng.uniform(0.0, 0.4)),
        edge_enhancement_fraction=float(rng.uniform(0.0, 0.4)),
        reject_fraction=float(rng.uniform(0.0, 0.06)),
    )
    return Generator(
        ring=ring,
        probe=probe,
        console=console,
        layout=_one_of(SHIFTED_LAYOUTS, rng),
        warp_seed=int(rng.integers(2**31)),
        echo_seed=int(rng.integers(2**31)),
        turn_deg=tuple(float(v) for v in rng.uniform(-AXIS_DEG, AXIS_DEG, 3)),  # type: ignore[arg-type]
    )


def _one_of(layouts: dict[str, Layout], rng: np.random.Generator) -> Layout:
    return layouts[sorted(layouts)[int(rng.integers(len(layouts)))]]


def _shifted_probe(weight_kg: float, rng: np.random.Generator) -> Probe:
    """A curved array now and then, else a phased one whose face, lens and pulse are others."""
    usual = default_probe(weight_kg)
    if rng.random() < 0.3:
        usual = PROBES["curved small" if weight_kg < 28 else "curved large"]
    scale = float(rng.uniform(0.75, 1.3))
    return replace(
        usual,
        name=f"{usual.name}, other",
        aperture_mm=usual.aperture_mm * (min(scale, 1.0) if usual.kind is ArrayKind.CURVED else scale),
        elevation_mm=usual.elevation_mm * float(rng.uniform(0.8, 1.3)),
        elevation_focus_mm=usual.elevation_focus_mm * float(rng.uniform(0.7, 1.4)),
        pulse_cycles=float(rng.choice([rng.uniform(1.4, 1.7), rng.uniform(2.4, 3.2)])),
    )


def _turned_frame(frame: HeartFrame, turn_deg: tuple[float, float, float]) -> HeartFrame:
    upright, sideways, roll = (math.radians(v) for v in turn_deg)
    long, depth = frame.long, frame.depth
    for axis, angle in (((0.0, -1.0, 0.0), upright), ((0.0, 0.0, 1.0), sideways)):
        long, depth = turned(long, axis, angle), turned(depth, axis, angle)
    depth = turned(depth, long, roll)
    return HeartFrame(long=long, front=cross(depth, long), depth=depth)
