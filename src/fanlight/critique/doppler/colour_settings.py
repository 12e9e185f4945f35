"""How colour was set: velocity at the ends of the bar, Doppler frequency, and the most that the box's depth allows."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.critique.accumulator import ClipContext
from fanlight.frames.doppler.colour_bar import ColourBar
from fanlight.frames.doppler.colour_outline import ColourOutline
from fanlight.reference.formulas.flow import SOUND_M_S, attainable_scale_cm_s
from fanlight.study import PhysicalUnit, Region

_BESIDE_BAR_PX = 40  # from the bar to its numbers
_COLOUR_FLOW = 2  # Region Data Type (0018,6014), PS3.3 C.8.5.5.1.2
_TO_CM_S = {"cm/s": 1.0, "m/s": 100.0}
_TO_HZ = {"Hz": 1.0, "kHz": 1000.0}
# A screen that writes pulses a second in hertz writes frames a second so as well: nothing pulses slower than this, no
# picture is renewed as often (engineering judgement; 1 kHz serves a box of 77 cm).
_LEAST_PULSE_HZ = 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """A number and who says it."""

    value: float
    said_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Attainable:
    """The highest scale that the pulses could give at a depth, c²/(8 · f · depth), and what it rests on."""

    cm_s: float
    depth_mm: float
    frequency_mhz: float
    is_floor: bool  # reckoned for the whole depth of the picture: the box ends higher up, and leaves at least as much
    words: str


def read_scale(context: ClipContext, bar: ColourBar) -> Known | None:
    """Return half the span of the bar in cm/s: what is written beside it, what its region says, what pulses give.

    A baseline that was moved leaves the span as it is.
    """
    if (written := _written_beside(context, bar)) is not None:
        return Known(value=written, said_by="written beside the colour bar")
    for region in _regions(context):
        on_bar = region.box.overlap_px(bar.box) >= 0.5 * bar.box.area_px
        if on_bar and region.unit_y == PhysicalUnit.CM_PER_S and region.delta_y:
            return Known(value=abs(region.delta_y) * region.box.height_px / 2, said_by="region of the colour bar")
    pulses, frequency = _pulses_hz(context), doppler_mhz(context)
    if pulses is None or frequency is None:
        return None
    # Doppler equation at half the pulse rate: v = c · PRF / (4 · f).
    value = 100 * SOUND_M_S * pulses.value / (4e6 * frequency.value)
    return Known(value=value, said_by=f"{pulses.value:.0f} pulses a second at {frequency.value:g} MHz")


def doppler_mhz(context: ClipContext) -> Known | None:
    """Return the Doppler frequency: of the colour region, else the lowest that is known.

    Doppler is sent lower than the picture (by 20 to 50 %, common practice, no source), so the lowest number is the one
    that may be it; where only the picture's frequency is known, less seems attainable than was.
    """
    for region in _regions(context):
        if region.data_type == _COLOUR_FLOW and region.transducer_frequency_khz:
            return Known(value=region.transducer_frequency_khz / 1000, said_by="region of the colour box")
    written = _written(context, {"MHz": 1.0})
    if written:
        return Known(value=min(written), said_by="on the screen")
    tagged = context.clip.tags.transducer_frequency_khz
    return Known(value=tagged / 1000, said_by="of the probe in the file") if tagged else None


def attainable(context: ClipContext, outline: ColourOutline | None) -> Attainable | str:
    """Return the highest scale for the lower edge of the box, or why it is not known."""
    frequency, depth_mm = doppler_mhz(context), context.layout.depth_mm
    if frequency is None:
        return "the Doppler frequency is not known, so what the depth allows is not"
    if depth_mm is None:
        return "the depth of the picture is not known, so what it allows is not"
    is_drawn = outline is not None and outline.is_drawn
    edge_mm = outline.far * depth_mm if outline is not None and is_drawn else depth_mm
    place = "the lower edge of the box" if is_drawn else "the whole picture, since no outline of the box was found"
    most = attainable_scale_cm_s(edge_mm, frequency.value)
    return Attainable(
        cm_s=most, depth_mm=edge_mm, frequency_mhz=frequency.value, is_floor=not is_drawn,
        words=f"{most:.0f} cm/s is the most for {edge_mm / 10:.1f} cm ({place}) and {frequency.value:g} MHz",
    )  # fmt: skip


def _regions(context: ClipContext) -> tuple[Region, ...]:
    return tuple(item.region for item in context.layout.regions if item.trusted)


def _written(context: ClipContext, factors: dict[str, float]) -> list[float]:
    found = [quantity for text in context.layout.texts for quantity in text.quantities]
    return [abs(item.value) * factors[item.unit] for item in found if item.unit in factors and item.value]


def _pulses_hz(context: ClipContext) -> Known | None:
    for region in _regions(context):
        if region.data_type == _COLOUR_FLOW and region.pulse_repetition_hz:
            return Known(value=region.pulse_repetition_hz, said_by="region of the colour box")
    written = [value for value in _written(context, _TO_HZ) if value >= _LEAST_PULSE_HZ]
    return Known(value=max(written), said_by="on the screen") if written else None


def _written_beside(context: ClipContext, bar: ColourBar) -> float | None:
    near = bar.box.width_px + _BESIDE_BAR_PX
    found: list[float] = []
    for text in context.layout.texts:
        apart_cols = max(text.box.col0 - bar.box.col1, bar.box.col0 - text.box.col1)
        apart_rows = max(text.box.row0 - bar.box.row1, bar.box.row0 - text.box.row1)
        if apart_cols <= near and apart_rows <= near:
            found += [item.value * _TO_CM_S[item.unit] for item in text.quantities if item.unit in _TO_CM_S]
    if not found:
        return None
    if min(found) < 0 < max(found):
        return (max(found) - min(found)) / 2
    return max(abs(value) for value in found)
