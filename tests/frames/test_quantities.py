"""Numbers with a unit are read by their unit, whatever stands around them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fanlight.frames.quantities import parse_bare_number, parse_bare_unit, parse_quantities

SEEN = [  # text | quantities | id = where the text was seen
    pytest.param("15cm", [(15, "cm")], id="seen: deid-data 0.0.20 ultrasound-multiframe.dcm"),
    pytest.param("3850Hz", [(3850, "Hz")], id="seen: deid-data ultrasound-multiframe.dcm, flow repetition rate"),
    pytest.param("WF 384Hz", [(384, "Hz")], id="seen: deid-data ultrasound-multiframe.dcm"),
    pytest.param("2.5MHz", [(2.5, "MHz")], id="seen: deid-data ultrasound-multiframe.dcm, flow frequency"),
    pytest.param("75 bpm", [(75, "bpm")], id="seen: deid-data ultrasound-multiframe.dcm"),
    pytest.param("Depth 4 cm", [(4, "cm")], id="seen: deid-data RGB_CINE"),
    pytest.param("17 Hz", [(17, "Hz")], id="seen: deid-data RGB_CINE"),
    pytest.param("4.0cm", [(4.0, "cm")], id="seen: deid-data GREYSCALE_IMAGE.dcm"),
    pytest.param("H4.00 MHz", [(4.0, "MHz")], id="seen: deid-data RGB_IMAGE.dcm"),
    pytest.param("20dB/DR60", [(20, "dB")], id="seen: deid-data RGB_IMAGE.dcm"),
    pytest.param("19fps", [(19, "fps")], id="seen: deid-data RGB_IMAGE.dcm"),
    pytest.param("2D--100%", [(100, "%")], id="seen: deid-data RGB_IMAGE.dcm, dashes are no minus"),
    pytest.param("3cm3cm", [(3, "cm"), (3, "cm")], id="seen: pydicom examples_rgb_color.dcm"),
    pytest.param("1.06 cm", [(1.06, "cm")], id="seen: pydicom examples_palette.dcm"),
]

MENDED = [  # text | quantities | id = what is mended
    pytest.param("+62,5 cm/s", [(62.5, "cm/s")], id="decimal comma"),
    pytest.param("−59.3cm/s", [(-59.3, "cm/s")], id="typographic minus"),
    pytest.param("–0.6 m/s", [(-0.6, "m/s")], id="dash for minus"),
    pytest.param("l5cm", [(15, "cm")], id="l for 1"),
    pytest.param("1O cm", [(10, "cm")], id="O for 0"),
    pytest.param("18HZ 3.5KHz 2MHZ", [(18, "Hz"), (3.5, "kHz"), (2, "MHz")], id="case of units"),
    pytest.param("15crn", [(15, "cm")], id="rn for m"),
    pytest.param("- 17 Hz", [(17, "Hz")], id="a tick mark is no minus"),
    pytest.param("-17Hz", [(17, "Hz")], id="no frequency is negative"),
    pytest.param("50 mm/s", [(50, "mm/s")], id="sweep speed is no length"),
    pytest.param("HR 75/min", [(75, "bpm")], id="beats a minute"),
    pytest.param("94 mW/cm2", [(0.094, "W/cm2")], id="milliwatts"),
]

LEFT_OUT = [
    pytest.param("12-5 MHz", id="range"),
    pytest.param("1,234 Hz", id="thousand or decimal comma"),
    pytest.param("3.2 cm2", id="area"),
    pytest.param("40 cm³", id="volume"),
    pytest.param("1/4 cm", id="fraction"),
    pytest.param("8:48:26 AM 4/14/2020", id="date and time"),
    pytest.param("00079241539", id="case number"),
    pytest.param("00079241539cm", id="case number before a unit"),
    pytest.param("TIS0.5 MI 0.6", id="indices without a unit"),
    pytest.param("*** bpm", id="no number"),
    pytest.param("Ol cm", id="letters alone are no number"),
    pytest.param("5 cmx", id="unit inside a word"),
    pytest.param("", id="nothing"),
]


@pytest.mark.parametrize(("text", "expected"), SEEN + MENDED)
def test_a_number_is_read_by_its_unit(text, expected):
    """Each text gives the quantities that a person reads in it."""
    found = parse_quantities(text)

    assert [q.unit for q in found] == [unit for _, unit in expected]
    assert [q.value for q in found] == pytest.approx([value for value, _ in expected])


@pytest.mark.parametrize("text", LEFT_OUT)
def test_what_cannot_be_told_is_left_out(text):
    """An ambiguous or impossible number gives nothing rather than a guess."""
    assert parse_quantities(text) == ()


UNITS = ["cm", "mm", "Hz", "kHz", "MHz", "cm/s", "m/s", "dB", "bpm", "%", "mm/s", "fps"]
VALUES = st.decimals(min_value=0, max_value=9999, places=1)


@given(value=VALUES, unit=st.sampled_from(UNITS), gap=st.sampled_from(["", " "]), comma=st.booleans())
def test_every_number_with_a_known_unit_comes_back(value, unit, gap, comma):
    """Writing a quantity and reading it gives the same number and unit, with point or comma."""
    written = str(value).replace(".", ",") if comma else str(value)

    (quantity,) = parse_quantities(f"{written}{gap}{unit}")

    assert quantity.value == pytest.approx(float(value))
    assert quantity.unit == unit


@given(value=VALUES.filter(lambda v: v > 0), unit=st.sampled_from(["cm/s", "m/s"]), sign=st.sampled_from("-−–—"))
def test_every_dash_before_a_velocity_is_a_minus(value, unit, sign):
    """The lower end of a colour bar is negative however the dash is drawn."""
    (quantity,) = parse_quantities(f"{sign}{value} {unit}")

    assert quantity.value == pytest.approx(-float(value))


@given(value=st.integers(1, 999), unit=st.sampled_from(UNITS), data=st.data())
def test_look_alike_letters_change_nothing(value, unit, data):
    """0 read as O and 1 read as l or I give the same number as long as one digit is left."""
    swaps = {"0": "O", "1": data.draw(st.sampled_from("lI|"))}
    digits = list(str(value))
    for place in data.draw(st.sets(st.integers(0, len(digits) - 1))):
        digits[place] = swaps.get(digits[place], digits[place])
    if not any(mark.isdigit() for mark in digits):
        return

    (quantity,) = parse_quantities("".join(digits) + " " + unit)

    assert (quantity.value, quantity.unit) == (value, unit)


@given(text=st.text(max_size=60))
def test_any_text_is_survived(text):
    """Whatever was read, parsing ends and gives finite numbers with known units."""
    for quantity in parse_quantities(text):
        assert abs(quantity.value) < 1_000_000
        assert quantity.unit in [*UNITS, "W/cm2"]


def test_numbers_and_units_by_themselves():
    """The ends of a bar and the unit beside it are told apart from words."""
    assert [parse_bare_number(t) for t in ("+59.3", "−59,3", "l5", "19", "x3", "", "4.0cm")] == [
        59.3, -59.3, 15, 19, None, None, None,
    ]  # fmt: skip
    assert [parse_bare_unit(t) for t in ("cm/s", "[dB]", "M/S", "cms", "4 cm")] == ["cm/s", "dB", "m/s", None, None]
