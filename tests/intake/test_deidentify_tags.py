"""The list of what may stay, held against Table E.1-1 of DICOM PS3.15 and the dictionary of pydicom."""

import pytest
from pydicom.datadict import dictionary_VR, tag_for_keyword
from pydicom.dataset import Dataset

from fanlight.intake.deidentify_key import DeidentificationKey
from fanlight.intake.deidentify_tags import KeepList, clean_tags
from fanlight.reference.load import load_house

HOUSE = load_house()
KEEP = KeepList.of(HOUSE)
KEY = DeidentificationKey(b"an invented key for tests only, 1")
PROFILE = HOUSE.table("confidentiality")["profile"]
NUMERIC = {"IS", "DS", "US", "UL", "SL", "SS", "FL", "FD"}


def actions(keyword):
    """Name and actions of an attribute in Table E.1-1, or nothing where the table has no row for it."""
    return PROFILE.get(f"{tag_for_keyword(keyword):08x}")


def test_the_table_is_whole():
    """PS3.15 2020: 433 rows, one of them printed twice; spot rows as printed there."""
    assert len(PROFILE) == 432
    assert tuple(PROFILE["00100010"]) == ("Patient's Name", "Z", "", "")
    assert tuple(PROFILE["00101030"]) == ("Patient's Weight", "X", "K", "")
    assert tuple(PROFILE["00080020"]) == ("Study Date", "Z", "", "C")
    assert tuple(PROFILE["00081030"])[1] == "X"  # Study Description


@pytest.mark.parametrize("keyword", sorted(KEEP.names() | KEEP.region_numbers))
def test_nothing_stays_that_the_profile_takes_away(keyword):
    """An attribute that Table E.1-1 names may stay only as the table and our two options allow."""
    assert tag_for_keyword(keyword) is not None
    row = actions(keyword)
    if row is None:
        return
    _, basic, characteristics, dates = row
    if keyword in KEEP.uids:
        assert basic == "U"
    elif keyword in (*KEEP.dates, *KEEP.times, *KEEP.date_times):
        assert dates == "C"
    elif keyword in KEEP.code_words | KEEP.emptied:
        assert "Z" in basic
    else:
        assert characteristics in ("K", "C")


def test_only_numbers_are_kept_as_numbers():
    """No text can hide behind the list of numbers."""
    tags = [tag_for_keyword(name) for name in KEEP.numbers | KEEP.region_numbers]
    assert {dictionary_VR(tag) for tag in tags if tag is not None} <= NUMERIC
    assert None not in tags


def test_dates_and_times_are_paired():
    """Each date has its time at the same place of the list."""
    assert [name.removesuffix("Date") for name in KEEP.dates] == [name.removesuffix("Time") for name in KEEP.times]


@pytest.mark.parametrize("keyword", sorted(KEEP.enumerated))
def test_a_listed_attribute_keeps_listed_values_only(keyword):
    """A name in an attribute with a list of values goes; each listed value stays."""
    for value in KEEP.enumerated[keyword]:
        data = Dataset()
        setattr(data, keyword, value)
        kept = clean_tags(data, KEEP, KEY, "animal").data
        assert str(kept.get(keyword, "")) == value
    data = Dataset()
    setattr(data, keyword, "MUFFINSECRET")
    cleaned = clean_tags(data, KEEP, KEY, "animal")
    assert keyword not in cleaned.data
    assert any(name.startswith(keyword) for name, _ in cleaned.removed)


def test_the_original_is_not_changed():
    """Cleaning returns a new data set."""
    data = Dataset()
    data.PatientName, data.StudyDate, data.PatientComments = "Quillfeather^Muffinsecret", "20210314", "shy"
    before = data.to_json()

    clean_tags(data, KEEP, KEY, "animal")

    assert data.to_json() == before


def test_numbers_that_are_none_go():
    """Not-a-number and text in a number are not kept."""
    data = Dataset()
    data.DepthOfScanField = 60
    data.ActualFrameDuration = 33
    data.SoftTissueThermalIndex = "0.7"
    raw = Dataset()
    raw.RegionSpatialFormat, raw.PhysicalDeltaX = 1, float("nan")
    data.SequenceOfUltrasoundRegions = [raw]

    kept = clean_tags(data, KEEP, KEY, "animal").data

    assert (int(kept.DepthOfScanField), int(kept.ActualFrameDuration), float(kept.SoftTissueThermalIndex)) == (
        60, 33, 0.7,
    )  # fmt: skip
    assert "PhysicalDeltaX" not in kept.SequenceOfUltrasoundRegions[0]
