"""Measurements out of structured reports that pydicom writes."""

import pytest
from pydicom import uid
from pydicom.dataset import Dataset
from pydicom.sr.codedict import codes

from fanlight.intake import probe_item
from tests.intake import dicom_files as make


def coded(value, scheme, meaning):
    item = Dataset()
    item.CodeValue, item.CodingSchemeDesignator, item.CodeMeaning = value, scheme, meaning
    return item


def number(concept, value, unit="cm", children=()):
    item = Dataset()
    item.RelationshipType = "CONTAINS"
    item.ValueType = "NUM"
    item.ConceptNameCodeSequence = [coded(*concept)]
    measured = Dataset()
    measured.NumericValue = value
    measured.MeasurementUnitsCodeSequence = [coded(unit, "UCUM", unit)]
    item.MeasuredValueSequence = [measured]
    if children:
        item.ContentSequence = list(children)
    return item


def code_item(concept, value):
    item = Dataset()
    item.RelationshipType = "HAS CONCEPT MOD"
    item.ValueType = "CODE"
    item.ConceptNameCodeSequence = [coded(*concept)]
    item.ConceptCodeSequence = [coded(*value)]
    return item


def container(*children):
    item = Dataset()
    item.RelationshipType = "CONTAINS"
    item.ValueType = "CONTAINER"
    item.ConceptNameCodeSequence = [coded("125202", "DCM", "Echo Section")]
    item.ContentSequence = list(children)
    return item


def report(path, *children, sop_class=uid.ComprehensiveSRStorage):
    data = container(*children)
    data.SOPClassUID, data.SOPInstanceUID, data.Modality = sop_class, "1.2.3.4", "SR"
    return make.write_dicom(path, data, uid.ExplicitVRLittleEndian)


def measurements(path):
    probed = probe_item(make.item_of(path), make.LIMITS)
    assert probed.refused == ()
    assert probed.clips == ()
    return probed.measurements


def ln(keyword):
    """A LOINC code as pydicom's own dictionary carries it (PS3.16 CID 12200 to 12300)."""
    code = getattr(codes.LN, keyword)
    return (code.value, "LN", code.meaning)


@pytest.mark.parametrize(
    ("keyword", "quantity", "method"),
    [
        ("LeftVentricularInternalDiastolicDimension2D", "lvidd", "2-D"),
        ("LeftVentricularInternalDiastolicDimensionMM", "lvidd", "M-mode"),
        ("LeftVentricularInternalSystolicDimensionMM", "lvids", "M-mode"),
        ("LeftVentricleInternalEndDiastolicDimension", "lvidd", ""),
        ("InterventricularSeptumDiastolicDimension2D", "ivsd", "2-D"),
        ("LeftVentricularPosteriorWallSystolicThicknessByUSMMode", "lvws", "M-mode"),
        ("LeftAtriumToAorticRootRatio", "la_ao", ""),
        ("MitralValveEWaveVmax", "mitral_e", ""),
        ("TricuspidRegurgitationVmax", "tr_vmax", ""),
        ("MitralValveEPSSEWave", "epss", "M-mode"),
    ],
)
def test_codes_lead_to_quantities(tmp_path, keyword, quantity, method):
    """The meaning of each code is checked against pydicom's dictionary by its keyword."""
    given = measurements(report(tmp_path / "a.dcm", container(number(ln(keyword), 3.1))))[0]

    assert (given.quantity, given.method) == (quantity, method)
    assert (given.value, given.unit, given.given_by) == (3.1, "cm", "machine report")
    assert given.label == ln(keyword)[2]


@pytest.mark.parametrize(
    "sop_class",
    [
        uid.BasicTextSRStorage,
        uid.EnhancedSRStorage,
        uid.ComprehensiveSRStorage,
        uid.Comprehensive3DSRStorage,
        uid.SimplifiedAdultEchoSRStorage,
    ],
)
def test_all_report_classes_are_read(tmp_path, sop_class):
    """PS3.4 B.5."""
    path = report(tmp_path / "a.dcm", number(ln("HeartRate"), 120, "{beats}/min"), sop_class=sop_class)

    assert measurements(path)[0].value == 120


def test_unknown_concepts_are_kept_under_their_own_name(tmp_path):
    """A maker's own code: no quantity, its label as written."""
    given = measurements(report(tmp_path / "a.dcm", number(("X1", "99MAKER", "Spleen length"), 61, "mm")))[0]

    assert (given.quantity, given.label, given.value, given.unit) == ("", "Spleen length", 61, "mm")


def test_a_makers_code_never_counts_as_a_loinc_code(tmp_path):
    """The scheme belongs to the code."""
    given = measurements(report(tmp_path / "a.dcm", number(("80007-8", "99MAKER", "Spleen length"), 61, "mm")))[0]

    assert given.quantity == ""


def test_imaging_mode_of_the_item_or_its_group_is_the_method(tmp_path):
    """Image Mode (CID 12224) as a modifier of the number, or of the container around it."""
    mode = ("399264008", "SCT", "Image Mode")
    in_item = number(
        ln("LeftVentricleInternalEndDiastolicDimension"),
        3.0,
        children=[code_item(mode, ("399155008", "SCT", "M mode"))],
    )
    in_group = container(
        code_item(mode, ("399064001", "SCT", "2D mode")), number(ln("LeftVentricleInternalSystolicDimension"), 2.0)
    )

    assert [item.method for item in measurements(report(tmp_path / "a.dcm", in_item, in_group))] == ["M-mode", "2-D"]


def test_numbers_without_a_value_are_passed_over(tmp_path):
    """An empty Measured Value Sequence is legal (PS3.3 C.18.1)."""
    empty = number(ln("HeartRate"), 1)
    empty.MeasuredValueSequence = []

    assert measurements(report(tmp_path / "a.dcm", empty, number(ln("HeartRate"), 90)))[0].value == 90


def test_endless_nesting_ends(tmp_path):
    """Sixty containers inside each other: the reader stops, the file is no danger."""
    inner = number(ln("HeartRate"), 90)
    for _ in range(60):
        inner = container(inner)

    assert measurements(report(tmp_path / "a.dcm", inner, number(ln("HeartRate"), 80)))[-1].value == 80


def test_reference_librarys_own_report_is_read():
    """pydicom's test-SR.dcm holds two diameters of 3 cm, seen in its dump."""
    given = measurements(make.pydicom_file("test-SR.dcm"))

    assert [(item.label, item.value, item.unit) for item in given] == [("Diameter", 3.0, "cm")] * 2
