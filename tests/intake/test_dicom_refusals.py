"""What cannot be used is refused per file: expected, found, what to do; before memory is asked for."""

import re
import tracemalloc
from typing import Any

import numpy as np
import pytest
from pydicom import uid

from fanlight.intake import probe_item
from tests.intake import dicom_files as make


def refusal_of(path):
    probed = probe_item(make.item_of(path), make.LIMITS)
    assert probed.clips == ()
    assert len(probed.refused) == 1
    refusal = probed.refused[0]
    assert refusal.name == path.name
    assert refusal.expected
    assert refusal.remedy
    return refusal


PICTURE = np.zeros((1, 16, 24), np.uint8)


@pytest.mark.parametrize(
    ("sop_class", "modality", "words"),
    [
        (uid.DigitalXRayImageStorageForPresentation, "DX", r"a radiograph \(DX\)"),
        (uid.ComputedRadiographyImageStorage, "CR", r"a radiograph \(CR\)"),
        (uid.CTImageStorage, "CT", r"a computed tomography \(CT\)"),
        (uid.MRImageStorage, "MR", r"a magnetic resonance scan \(MR\)"),
        (uid.SecondaryCaptureImageStorage, "CT", r"a computed tomography \(CT\)"),
        (uid.EnhancedUSVolumeStorage, "US", r"a three-dimensional ultrasound volume \(US\)"),
        (uid.KeyObjectSelectionDocumentStorage, "KO", r"a list of marked pictures \(KO\)"),
        (uid.GrayscaleSoftcopyPresentationStateStorage, "PR", r"a display setting without pictures \(PR\)"),
        (uid.EncapsulatedPDFStorage, "DOC", r"a PDF document \(DOC\)"),
        (uid.TwelveLeadECGWaveformStorage, "ECG", r"an ECG recording \(ECG\)"),
        (uid.VLPhotographicImageStorage, "", "VL Photographic Image Storage"),
    ],
)
def test_other_objects_are_named_in_plain_words(tmp_path, sop_class, modality, words):
    """The refusal says what it is, not a number of the standard."""
    path = make.native(tmp_path / "a.dcm", PICTURE, SOPClassUID=sop_class, Modality=modality)

    refusal = refusal_of(path)

    assert refusal.expected == "an ultrasound picture or clip"
    assert re.search(words, refusal.found)


@pytest.mark.parametrize(
    ("sop_class", "modality"),
    [
        (uid.UltrasoundImageStorage, "US"),
        (uid.UltrasoundMultiFrameImageStorage, "US"),
        ("1.2.840.10008.5.1.4.1.1.6", "US"),
        ("1.2.840.10008.5.1.4.1.1.3", "US"),
        (uid.SecondaryCaptureImageStorage, "US"),
        (uid.SecondaryCaptureImageStorage, "OT"),
        (uid.MultiFrameGrayscaleByteSecondaryCaptureImageStorage, "OT"),
        (uid.MultiFrameGrayscaleWordSecondaryCaptureImageStorage, "OT"),
        (uid.MultiFrameTrueColorSecondaryCaptureImageStorage, "US"),
        ("1.2.3.4.5", "US"),
    ],
)
def test_ultrasound_and_captures_are_accepted(tmp_path, sop_class, modality):
    """Storage classes of PS3.4 B.5, the two retired ones, and a private class that says it is ultrasound."""
    path = make.native(tmp_path / "a.dcm", PICTURE, SOPClassUID=sop_class, Modality=modality)

    assert make.clip_of(path).rows == 16


def test_radiotherapy_plan_without_pixels_is_refused():
    """pydicom's RT plan."""
    assert "radiotherapy plan" in refusal_of(make.pydicom_file("rtplan.dcm")).found


def test_no_pixels_are_named(tmp_path):
    """An ultrasound header without Pixel Data."""
    path = make.write_dicom(tmp_path / "a.dcm", make.us_header(PICTURE), uid.ExplicitVRLittleEndian)

    refusal = refusal_of(path)

    assert (refusal.expected, refusal.found) == ("a picture", "no pixels")


def test_file_cut_in_its_first_frame_is_refused(tmp_path):
    """The numbers of bytes expected and found are told."""
    whole = make.native(tmp_path / "a.dcm", PICTURE).read_bytes()
    path = tmp_path / "b.dcm"
    path.write_bytes(whole[:-100])

    refusal = refusal_of(path)

    assert refusal.expected == "384 bytes of pixels"
    assert refusal.found.startswith("284: the file ends before its first frame")


@pytest.mark.parametrize("n_bytes", [132, 140, 200, 330])
def test_file_cut_in_its_header_is_refused(tmp_path, n_bytes):
    """Wherever the copy stopped."""
    path = tmp_path / "b.dcm"
    path.write_bytes(make.native(tmp_path / "a.dcm", PICTURE).read_bytes()[:n_bytes])

    refusal_of(path)


@pytest.mark.parametrize(("rows", "cols"), [(65535, 65535), (65535, 100), (8000, 8000)])
def test_huge_header_is_refused_before_memory_is_asked_for(tmp_path, rows, cols):
    """Rows and Columns are 16-bit numbers: 65 535 is the most a header can say; less than 8 MB is used to refuse it."""
    path = make.native(tmp_path / "a.dcm", PICTURE, Rows=rows, Columns=cols)
    tracemalloc.start()

    refusal = refusal_of(path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()

    assert f"{rows} rows x {cols} columns" in refusal.found
    assert peak < 8e6


def test_100_000_squared_is_refused_in_every_form(tmp_path):
    """Written as a 32-bit value (VR UL), as no honest file does."""
    data = make.us_header(PICTURE)
    data.PixelData = PICTURE.tobytes()
    data["PixelData"].VR = "OB"
    data.add_new(0x00280010, "UL", 100_000)
    data.add_new(0x00280011, "UL", 100_000)

    refusal = refusal_of(make.write_dicom(tmp_path / "a.dcm", data, uid.ExplicitVRLittleEndian))

    assert "100000 rows x 100000 columns" in refusal.found


@pytest.mark.parametrize(
    ("tags", "expected", "found"),
    [
        ({"NumberOfFrames": 2_000_000}, "1 to 20000 frames", "2e"),
        ({"NumberOfFrames": -5}, "1 to 20000 frames", "-5"),
        ({"SamplesPerPixel": 4}, "1 or 3 samples a pixel", "4"),
        ({"BitsAllocated": 32, "BitsStored": 32}, "8 or 16 bits a sample", "32 allocated, 32 stored"),
        ({"BitsAllocated": 8, "BitsStored": 12}, "8 or 16 bits a sample", "8 allocated, 12 stored"),
        ({"HighBit": 3}, "a high bit from 7 to 7", "3"),
        ({"PhotometricInterpretation": "HSV"}, "a photometric interpretation for 1 sample a pixel", "HSV"),
        ({"PhotometricInterpretation": "RGB"}, "a photometric interpretation for 1 sample a pixel", "RGB"),
        ({"PhotometricInterpretation": "PALETTE COLOR"}, "the palette of a palette picture", "none"),
        ({"Rows": 0}, "the size of the picture", "0 rows"),
    ],
)
def test_contradicting_headers_are_refused(tmp_path, tags, expected, found):
    """Each says what was expected and what stood there."""
    refusal = refusal_of(make.native(tmp_path / "a.dcm", PICTURE, **tags))

    assert expected in refusal.expected
    assert found in refusal.found


def test_unknown_compression_is_refused(tmp_path):
    """A transfer syntax that nothing here decodes."""
    path = make.fragmented(tmp_path / "a.dcm", PICTURE, [b"\0" * 64], "1.2.840.10008.1.2.4.94")

    refusal = refusal_of(path)

    assert refusal.expected == "a compression that can be read"
    assert "without compression" in refusal.remedy


def test_compressed_pixels_without_fragments_are_refused(tmp_path):
    """Bytes where the first item should start."""
    whole = make.jpeg_baseline(tmp_path / "a.dcm", PICTURE).read_bytes()
    at = whole.index(b"\xfe\xff\x00\xe0")
    path = tmp_path / "b.dcm"
    path.write_bytes(whole[:at] + b"\x00\x01\x02\x03" + whole[at + 4 :])

    assert "fragment" in refusal_of(path).found


def test_bare_data_set_is_read(tmp_path, rng):
    """A data set without preamble and file meta, as old exports write it."""
    pixels = make.speckle(rng, 2, 16, 24)
    data = make.us_header(pixels)
    data.PixelData = pixels.tobytes()
    data["PixelData"].VR = "OW"
    for syntax in (uid.ImplicitVRLittleEndian, uid.ExplicitVRLittleEndian):
        path = make.write_dicom(tmp_path / "a.dcm", data, syntax, preamble=False)

        np.testing.assert_array_equal(make.pixels_of(path), pixels)


def test_endless_value_in_the_file_meta_asks_for_no_memory(tmp_path):
    """(0002,0001) states 4 GB in a file of 1 kB; found by scripts/fuzz.py, seed 4."""
    data = bytearray(make.native(tmp_path / "a.dcm", PICTURE).read_bytes())
    at = data.index(b"\x02\x00\x01\x00OB")
    data[at + 8 : at + 12] = b"\xf0\xff\xff\xff"
    path = tmp_path / "b.dcm"
    path.write_bytes(bytes(data))
    tracemalloc.start()

    refusal_of(path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()

    assert peak < 8e6


def test_inflating_stops_at_the_limit(tmp_path):
    """A deflated file of 64 kB that would grow to 64 MB: refused at the limit."""
    path = make.deflated(tmp_path / "a.dcm", np.zeros((64, 1024, 1024), np.uint8))

    probed = probe_item(make.item_of(path), make.Limits(file_bytes=4_000_000))

    assert path.stat().st_size < 200_000
    assert "when inflated" in probed.refused[0].expected


def test_refusals_never_repeat_identity(tmp_path):
    """No value of the header but the technical ones appears in the words."""
    tags: dict[str, Any] = {"PatientName": "Invented^Pepper", "PatientID": "case-77", "Modality": "CT"}
    path = make.native(tmp_path / "a.dcm", PICTURE, SOPClassUID=uid.CTImageStorage, **tags)

    text = str(refusal_of(path))

    assert "Pepper" not in text
    assert "case-77" not in text
