"""What the House sets for colour Doppler at a valve, beside what stands on the screen. A fact, not a verdict."""

from __future__ import annotations

from fanlight.reference.valves import read_box_split, read_valves, scale_band_at
from fanlight.study import ClipReading, House, Mode


def _read_on_screen(reading: ClipReading, units: dict[str, float]) -> list[float]:
    """Values of the screen text in these units, each turned by its factor."""
    found = [item for text in reading.layout.texts for item in text.quantities]
    return [abs(item.value) * units[item.unit] for item in found if item.unit in units]


def colour_facts(reading: ClipReading, house: House) -> tuple[tuple[str, str], ...]:
    """Return pairs of a name and words for a colour clip whose valve is named; nothing for any other clip.

    The scale on the screen is the largest velocity written there. It is not judged: whether it suits the flow needs the
    colour itself to be read.
    """
    valve = reading.view.valve
    if reading.mode.mode is not Mode.COLOUR or valve is None:
        return ()
    written = _read_on_screen(reading, {"cm/s": 1.0, "m/s": 100.0})
    megahertz = _read_on_screen(reading, {"MHz": 1.0})
    tagged = reading.clip.tags.transducer_frequency_khz
    frequency = min(megahertz) if megahertz else tagged / 1000 if tagged else None
    shown = f"{max(written):.0f} cm/s on the screen" if written else "not read on the screen"
    band = scale_band_at(house, valve, reading.layout.depth_mm, frequency)
    row, split = read_valves(house)[valve], read_box_split(house)
    scale = band.words if band is not None else "no house setting for this valve"
    note = f" {row.scale_note}" if row.scale_note else ""
    box = (
        f"{split.upstream_fraction:.0%} of the box upstream of the valve, {split.receiving_fraction:.0%} in the "
        f"receiving chamber: {row.receives} ({split.basis})"
    )
    return (("Colour scale", f"{shown}; {scale}.{note}"), ("Colour box", box))
