"""Code words, identifiers and shifts follow from the key alone and tell nothing without it."""

import stat
import sys
from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydicom.uid import UID

from fanlight.intake.deidentify_dates import age_text, read_date, read_time, shift_date_time, shift_pair
from fanlight.intake.deidentify_key import KEY_FILE, DeidentificationKey, KeyFileError

KEY = DeidentificationKey(b"an invented key for tests only, 1")
OTHER = DeidentificationKey(b"an invented key for tests only, 2")
MOMENTS = st.datetimes(datetime(1990, 1, 1), datetime(2035, 1, 1))


def a_date(text):
    day = read_date(text)
    assert day is not None
    return day


def a_time(text):
    clock = read_time(text)
    assert clock is not None
    return clock


def written(moment):
    return f"{moment:%Y%m%d}", f"{moment:%H%M%S.%f}"


def read(day, clock):
    return datetime.combine(a_date(day), a_time(clock))


@given(first=MOMENTS, second=MOMENTS, animal=st.text(min_size=1))
def test_intervals_and_order_are_kept(first, second, animal):
    """Two moments of one animal stay as far apart as they were, to the microsecond, and neither stays in place."""
    shift = KEY.shift(animal)

    moved = []
    for moment in (first, second):
        day, clock = written(moment)
        moved.append(read(*shift_pair(day, clock, shift)))

    assert moved[1] - moved[0] == second - first
    assert timedelta(days=365) <= first - moved[0] < timedelta(days=3651)


@given(moment=MOMENTS)
def test_a_date_time_moves_like_its_date_and_time(moment):
    """DT and the pair of DA and TM agree; the offset from UTC, which tells the place, goes."""
    shift = KEY.shift("an animal")
    text = f"{moment:%Y%m%d%H%M%S.%f}+0930"
    day, clock = written(moment)

    assert shift_date_time(text, shift) == "".join(shift_pair(day, clock, shift))


@pytest.mark.parametrize(
    ("day", "clock"),
    [
        ("20210230", "101500"),
        ("yesterday", "noon"),
        ("", ""),
        ("20211301", "256161"),
        ("00010101", "000000"),
    ],
)
def test_what_is_no_date_is_not_kept(day, clock):
    """A name or nonsense in a date gives an empty date, never the text itself."""
    moved = shift_pair(day, clock, timedelta(days=4000))

    assert day not in moved or day == ""
    assert moved[0] == ""


def test_partial_times_are_read_as_the_standard_allows():
    """PS3.5 table 6.2-1: TM may end after the hour, the minute or the second; old files put colons between."""
    assert [a_time(t).isoformat() for t in ("10", "1015", "10:15:20", "101520.5")] == [
        "10:00:00", "10:15:00", "10:15:20", "10:15:20.500000",
    ]  # fmt: skip


def test_ages_by_the_calendar():
    """PS3.5 table 6.2-1: AS is three digits and D, W, M or Y."""
    day = a_date
    assert age_text(day("20140101"), day("20210314")) == "007Y"
    assert age_text(day("20200901"), day("20210314")) == "006M"
    assert age_text(day("20210301"), day("20210314")) == "013D"
    assert age_text(day("20220301"), day("20210314")) == ""


@given(animal=st.text(max_size=40), uid=st.from_regex(r"1\.2\.[1-9][0-9]{0,20}", fullmatch=True))
def test_the_same_key_gives_the_same_and_another_key_something_else(animal, uid):
    """Everything follows from key and input."""
    twin = DeidentificationKey(b"an invented key for tests only, 1")
    for name, value in (("code_word", animal), ("shift", animal), ("uid", uid), ("file_name", uid)):
        assert getattr(KEY, name)(value) == getattr(twin, name)(value)
        assert getattr(KEY, name)(value) != getattr(OTHER, name)(value)


@given(uid=st.from_regex(r"1\.2\.[1-9][0-9]{0,40}", fullmatch=True))
def test_new_identifiers_are_valid_and_the_standards_own_stay(uid):
    """2.25 and an integer of 128 bits, at most 64 characters (PS3.5 B.2), as pydicom judges it."""
    new = UID(KEY.uid(uid))

    assert new.is_valid
    assert new.startswith("2.25.")
    assert KEY.uid("1.2.840.10008.5.1.4.1.1.3.1") == "1.2.840.10008.5.1.4.1.1.3.1"


def test_code_words_of_many_animals_differ():
    """Ten thousand animals, ten thousand words (43 bits; a chance of 1 in 170 000 that two of them fall together)."""
    assert len({KEY.code_word(f"case {number}") for number in range(10_000)}) == 10_000


def test_the_key_is_made_once_and_only_the_user_can_read_it(tmp_path):
    """A new folder gets a key of its own; the next run finds the same one."""
    one, two = (DeidentificationKey.load_or_create(tmp_path / "data") for _ in range(2))

    assert one.code_word("a") == two.code_word("a")
    assert one.code_word("a") != DeidentificationKey.load_or_create(tmp_path / "other").code_word("a")
    if sys.platform != "win32":
        assert stat.S_IMODE((tmp_path / "data" / KEY_FILE).stat().st_mode) == 0o600
    assert "secret not shown" in repr(one)
    assert not any(hasattr(one, name) for name in ("secret", "key", "__dict__"))


@pytest.mark.skipif(sys.platform == "win32", reason="rights of files are another matter there")
def test_a_key_that_others_can_read_is_refused(tmp_path):
    """The message says which file, what is wrong and what to do, and shows no byte of the key."""
    DeidentificationKey.load_or_create(tmp_path)
    (tmp_path / KEY_FILE).chmod(0o644)

    with pytest.raises(KeyFileError, match="a key that others can read"):
        DeidentificationKey.load_or_create(tmp_path)


def test_a_key_that_is_too_short_is_refused(tmp_path):
    """A torn file is never stretched into a key."""
    (tmp_path / KEY_FILE).write_bytes(b"short")
    (tmp_path / KEY_FILE).chmod(0o600)

    with pytest.raises(KeyFileError, match="found 5 bytes"):
        DeidentificationKey.load_or_create(tmp_path)
