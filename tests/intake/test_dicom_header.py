"""Values that break the standard's rules are read, and repeated nowhere."""

import logging
import warnings

import pytest
from pydicom.dataset import Dataset

from fanlight.intake import Kind, Limits, dicom_header
from fanlight.intake.dicom_header import lenient, value_of
from tests.intake.deidentify_phantoms import NAME, as_file

PYDICOM = logging.getLogger("pydicom")


@pytest.fixture
def heard():
    """Every line that pydicom's own logger lets through, as a program that listens to it would get it."""
    lines = []

    class Listener(logging.Handler):
        def emit(self, record):
            lines.append(record.getMessage())

    listener, level = Listener(), PYDICOM.level
    PYDICOM.addHandler(listener)
    PYDICOM.setLevel(logging.DEBUG)
    yield lines
    PYDICOM.removeHandler(listener)
    PYDICOM.setLevel(level)


def test_no_line_of_a_log_repeats_a_value(heard):
    """pydicom logs what it finds wrong, with the value; within `lenient` it says nothing, outside it says it again."""
    with lenient():
        PYDICOM.warning("Invalid value %s", NAME)
        assert not PYDICOM.isEnabledFor(logging.CRITICAL)
    assert heard == []

    PYDICOM.warning("Invalid value %s", NAME)
    assert heard == [f"Invalid value {NAME}"]


def test_a_file_with_values_that_break_the_rules_is_read_in_silence(tmp_path, heard):
    """An age, a date and a number that are names, read as intake reads them."""
    with lenient():
        data = Dataset()
        data.PatientAge, data.StudyDate, data.PatientID = NAME, NAME, NAME * 9
        data.NumberOfFrames = "1"
        file = tmp_path / "a.dcm"
        file.write_bytes(as_file(data))
    heard.clear()

    with warnings.catch_warnings():
        warnings.simplefilter("error")
        source_of = dicom_header.open_dicom(file, "a.dcm", Kind.DICOM, Limits())
        with source_of as source:
            assert value_of(source.data, "PatientAge") is not None
    assert NAME not in " ".join(heard)


def test_it_may_lie_within_itself_and_ends_with_an_error():
    """Silence of the outer one holds after the inner one; an error ends both and the logger speaks again."""
    with lenient():
        with lenient():
            pass
        assert PYDICOM.disabled
    with pytest.raises(ZeroDivisionError), lenient():
        raise ZeroDivisionError
    assert not PYDICOM.disabled
