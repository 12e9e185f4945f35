"""Stored values become the levels of a screen as PS3.3 C.11 says."""

import numpy as np
import pydicom
import pytest
from pydicom import uid
from pydicom.pixels.processing import apply_modality_lut, apply_voi_lut

from tests.intake import dicom_files as make


def ramp(bits: int, signed: bool = False) -> np.ndarray:
    """Every stored value once, as one frame."""
    kind = np.int16 if signed else np.uint16
    low = -(2 ** (bits - 1)) if signed else 0
    return (np.arange(2**bits) + low).astype(kind).reshape(1, 2 ** (bits // 2), -1)


@pytest.mark.parametrize("bits", [9, 10, 12, 16])
@pytest.mark.parametrize("signed", [False, True])
def test_without_window_the_whole_range_is_shown(tmp_path, bits, signed):
    """The smallest value is black, the largest white, and the order is kept."""
    path = make.native(tmp_path / "a.dcm", ramp(bits, signed), BitsStored=bits)

    actual = make.pixels_of(path).ravel().astype(int)

    assert (actual[0], actual[-1]) == (0, 255)
    assert np.all(np.diff(actual) >= 0)
    assert abs(int(actual[len(actual) // 2]) - 128) <= 1


@pytest.mark.parametrize("function", ["LINEAR", "LINEAR_EXACT", "SIGMOID"])
@pytest.mark.parametrize("signed", [False, True])
@pytest.mark.parametrize("rescale", [None, (2.0, -300.0)])
def test_window_agrees_with_the_reference_library(tmp_path, function, signed, rescale):
    """pydicom's apply_voi_lut, scaled to 8 bits; one level for rounding."""
    tags = {"BitsStored": 12, "WindowCenter": 700, "WindowWidth": 900, "VOILUTFunction": function}
    if rescale:
        tags |= {"RescaleSlope": rescale[0], "RescaleIntercept": rescale[1]}
    path = make.native(tmp_path / "a.dcm", ramp(12, signed), **tags)
    data = pydicom.dcmread(path)
    shown = apply_voi_lut(apply_modality_lut(data.pixel_array, data), data)
    low, high = shown.min(), shown.max()
    if function == "SIGMOID":  # never reaches its ends
        values = data.pixel_array.astype(float) * (rescale or (1, 0))[0] + (rescale or (1, 0))[1]
        expected = 255.0 / (1.0 + np.exp(-4.0 * (values - 700.0) / 900.0))  # PS3.3 C.11.2.1.3.1
    else:
        expected = (shown - low) / (high - low) * 255.0

    assert np.abs(make.pixels_of(path)[0] - expected).max() <= 1.0


@pytest.mark.parametrize(("centre", "width"), [(127, 254), (127.5, 255), (128, 256)])
def test_full_window_of_8_bits_changes_nothing(tmp_path, rng, centre, width):
    """Machines write it in three ways; the pixels are the levels."""
    pixels = make.speckle(rng, 1, 16, 24)
    path = make.native(tmp_path / "a.dcm", pixels, WindowCenter=centre, WindowWidth=width)

    np.testing.assert_array_equal(make.pixels_of(path), pixels)


def test_monochrome1_is_turned_round(tmp_path, rng):
    """The smallest value is white, PS3.3 C.7.6.3.1.2."""
    pixels = make.speckle(rng, 2, 16, 24)
    path = make.native(tmp_path / "a.dcm", pixels, PhotometricInterpretation="MONOCHROME1")

    np.testing.assert_array_equal(make.pixels_of(path), 255 - pixels)


def test_bits_beside_the_stored_ones_do_not_count(tmp_path, rng):
    """Twelve bits stored high in sixteen, rubbish in the low four (PS3.5 8.1.1)."""
    values = rng.integers(0, 4096, (1, 16, 24)).astype(np.uint16)
    clean = make.native(tmp_path / "a.dcm", values, BitsStored=12)
    dirty = make.native(
        tmp_path / "b.dcm",
        (values << 4 | rng.integers(0, 16, values.shape).astype(np.uint16)),
        BitsStored=12,
        HighBit=15,
    )

    np.testing.assert_array_equal(make.pixels_of(clean), make.pixels_of(dirty))


def test_big_endian_words_are_turned_round(tmp_path, rng):
    """The same twelve-bit picture in both byte orders."""
    values = rng.integers(0, 4096, (2, 16, 24)).astype(np.uint16)
    little = make.native(tmp_path / "a.dcm", values, BitsStored=12)
    big = make.native(tmp_path / "b.dcm", values, uid.ExplicitVRBigEndian, BitsStored=12)

    np.testing.assert_array_equal(make.pixels_of(little), make.pixels_of(big))


@pytest.mark.parametrize("syntax", [uid.RLELossless, uid.JPEGLSLossless, uid.JPEG2000Lossless])
def test_deep_grey_survives_compression(tmp_path, rng, syntax):
    """Twelve bits through three codecs: the same levels as uncompressed."""
    values = rng.integers(0, 4096, (2, 64, 48)).astype(np.uint16)
    plain = make.native(tmp_path / "a.dcm", values, BitsStored=12)
    packed = make.encoded(tmp_path / "b.dcm", values, syntax, BitsStored=12)

    np.testing.assert_array_equal(make.pixels_of(plain), make.pixels_of(packed))


def test_stated_smallest_and_largest_value_set_the_range(tmp_path):
    """(0028,0106) and (0028,0107), PS3.3 C.7.6.3."""
    path = make.native(tmp_path / "a.dcm", ramp(16), SmallestImagePixelValue=1000, LargestImagePixelValue=2020)
    actual = make.pixels_of(path).ravel()

    assert actual[1000] == 0
    assert actual[2020] == 255
    assert actual[1510] in (127, 128)


def test_voi_table_agrees_with_the_reference_library(tmp_path, rng):
    """A VOI LUT Sequence, PS3.3 C.11.2.1.1."""
    item = pydicom.Dataset()
    item.LUTDescriptor = [4096, 0, 16]
    table = np.sort(rng.integers(0, 65536, 4096)).astype(np.uint16)
    item.add_new(0x00283006, "OW", table.tobytes())
    path = make.native(tmp_path / "a.dcm", ramp(12), BitsStored=12, VOILUTSequence=[item])

    actual = make.pixels_of(path).ravel().astype(float)

    assert np.abs(actual - table / 65535.0 * 255.0).max() <= 0.5001
