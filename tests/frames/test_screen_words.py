"""Only technical text may stay on a teaching copy; every doubt counts as identity."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fanlight.frames.screen_words import ScreenWords, is_technical
from fanlight.reference.load import load_house

WORDS = ScreenWords.of(load_house())

TECHNICAL = [
    "H4.00 MHz", "MI 0.6", "TIS0.0 MI 0.6", "2D--100%", "20dB/DR60", "Gn 55 DR 63", "2D", "Dyn R 58", "19", "4.0cm-",
    "Depth 4 cm", "+59.3", "cm/s", "CF", "THI", "WF 384Hz", "Gen THI", "Vmax 1.2 m/s", "TIS<0.4 MI=0.8 AO=100%", "0",
]  # fmt: skip
IDENTITY = [
    "ZZZDOWNTIME,MARY", "00079241539", "30 M 01/30/1986", "8:48:26 AM 4/14/2020", "AC", "AGMC Sports Medicine", "DOB:",
    "5/25/11", "5-25-11", "25.05.11", "5/25/2O11", "12:34", "1951", "7-OCT-2016", "Max", "Max 15cm", "Gray", "Long",
    "Page", "Café 3 cm", "Лапа", "犬", "", "???", "M", "123 45 678", "22G22", "Depth 4 cm Rex", "C 50 Mueller",
    "L12-5", "0004 7431",
]  # fmt: skip


@pytest.mark.parametrize("text", TECHNICAL)
def test_settings_and_units_stay(text):
    """Numbers with units, indices and trade abbreviations are technical."""
    assert is_technical(text, WORDS)


@pytest.mark.parametrize("text", IDENTITY)
def test_names_numbers_and_dates_go(text):
    """Names, case numbers, dates, times, years, unknown words and unreadable text are possible identity."""
    assert not is_technical(text, WORDS)


@given(name=st.text(st.characters(categories=["Lu", "Ll"]), min_size=3, max_size=12), value=st.integers(1, 300))
def test_a_word_off_the_list_is_never_excused_by_a_number(name, value):
    """A name keeps its box from being technical however technical its neighbours are."""
    if name.lower() in WORDS.alone | WORDS.beside_others:
        return
    spelt_as_unit = is_technical(f"{value} {name}", WORDS)
    if spelt_as_unit:  # e.g. "rnm/s": the characters form a unit
        return

    assert not is_technical(f"Depth 15 cm {name} MI 0.6", WORDS)


@given(year=st.integers(1900, 2099), month=st.integers(1, 12), day=st.integers(1, 31), mark=st.sampled_from("/-.: "))
def test_no_date_is_technical(year, month, day, mark):
    """Dates in any order and with any mark between go, with full and with short years."""
    for parts in ((day, month, year), (month, day, year), (year, month, day)):
        assert not is_technical(mark.join(f"{part:02d}" for part in parts), WORDS)
    if mark != " ":
        assert not is_technical(mark.join(f"{part:02d}" for part in (day, month, year % 100)), WORDS)
