"""House settings for colour are shown as such, beside the screen, and limited by physics."""

from __future__ import annotations

from dataclasses import replace

from fanlight.reference.load import load_house
from fanlight.report.colour_settings import colour_facts
from fanlight.study import Box, ClipReading, Mode, ModeReading, Quantity, ScreenText, Valve
from tests.report.sample import sample_review


def colour_clip(valve: Valve | None, *quantities: Quantity) -> ClipReading:
    reading = sample_review().readings[0]
    text = ScreenText(text="", box=Box(row0=0, col0=0, row1=9, col1=9), confidence=1, quantities=quantities)
    return replace(
        reading,
        mode=ModeReading(mode=Mode.COLOUR, probability=1, reasons=()),
        view=replace(reading.view, valve=valve),
        layout=replace(reading.layout, texts=(text,)),
    )


def test_scale_and_box_are_shown_as_common_practice() -> None:
    """Tricuspid about 60 to 75 cm/s, one third of the box upstream: common practice, no source."""
    facts = dict(colour_facts(colour_clip(Valve.TRICUSPID, Quantity(value=-59.3, unit="cm/s")), load_house()))

    assert "59 cm/s on the screen; house setting 60 to 75 cm/s (common practice, no source)" in facts["Colour scale"]
    assert "33% of the box upstream of the valve, 67% in the receiving chamber" in facts["Colour box"]
    assert "common practice, no source" in facts["Colour box"]


def test_depth_and_frequency_limit_what_is_asked() -> None:
    """v = c^2 / (8 f d): 1540^2 / (8 x 5 MHz x 117.6 mm) = 50 cm/s, below the 80 that the mitral valve is set to."""
    clip = colour_clip(Valve.MITRAL, Quantity(value=5.0, unit="MHz"))
    facts = dict(colour_facts(clip, load_house()))

    assert "lowered: 50 cm/s is the most that 11.8 cm and 5 MHz allow" in facts["Colour scale"]


def test_without_a_named_valve_nothing_is_said() -> None:
    assert colour_facts(colour_clip(None), load_house()) == ()
