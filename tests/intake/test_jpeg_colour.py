"""JPEG in DICOM says in four places what its components are; the stream's own word comes first."""

import io
import struct

import numpy as np
import pytest
from PIL import Image
from pydicom import uid

from fanlight.intake.jpeg_frames import read_jpeg_header
from tests.intake import dicom_files as make

LEVELS = 3.0  # mean error at quality 95 without subsampling, with room for chroma


def _patches() -> np.ndarray:
    """Large patches of strong colours: a wrong colour space is off by tens of levels."""
    colours = np.array([[200, 30, 30], [30, 180, 40], [40, 60, 210], [220, 200, 40]], dtype=np.uint8)
    return np.repeat(np.repeat(colours.reshape(1, 2, 2, 3), 16, axis=1), 16, axis=2)


def _rgb_stream(picture: np.ndarray, marker: bytes) -> bytes:
    """Components stored as red, green, blue, without a transform; Pillow writes Adobe's marker with transform 0."""
    out = io.BytesIO()
    Image.fromarray(picture).save(out, "JPEG", quality=95, subsampling=0, keep_rgb=True)
    code = out.getvalue()
    at = code.index(b"\xff\xee")
    (length,) = struct.unpack(">H", code[at + 2 : at + 4])
    return code[:at] + marker + code[at + 2 + length :]


def _with_ids(code: bytes, ids: bytes) -> bytes:
    """Rename the three components in frame and scan header."""
    code_ = bytearray(code)
    frame = code.index(b"\xff\xc0")
    for at in range(3):
        code_[frame + 10 + 3 * at] = ids[at]
    scan = code.index(b"\xff\xda")
    for at in range(3):
        code_[scan + 5 + 2 * at] = ids[at]
    return bytes(code_)


def _without_jfif(code: bytes) -> bytes:
    at = code.index(b"\xff\xe0")
    (length,) = struct.unpack(">H", code[at + 2 : at + 4])
    return code[:at] + code[at + 2 + length :]


ADOBE_RGB = b"\xff\xee\x00\x0eAdobe\x00\x64\x00\x00\x00\x00\x00"
ADOBE_YBR = b"\xff\xee\x00\x0eAdobe\x00\x64\x00\x00\x00\x00\x01"


def _streams() -> list[object]:
    picture = _patches()[0]
    ybr = make.jpeg_codes(picture[None], subsampling="444")[0]
    ybr_422 = make.jpeg_codes(picture[None], subsampling="422")[0]
    plain_ids = bytes((1, 2, 3))
    return [
        pytest.param(ybr, "YBR_FULL_422", id="JFIF, declared YBR"),
        pytest.param(ybr, "RGB", id="JFIF, declared RGB: JFIF is always YCbCr"),
        pytest.param(_without_jfif(ybr), "YBR_FULL", id="no marker, declared YBR"),
        pytest.param(_without_jfif(ybr_422), "RGB", id="no marker, declared RGB, but subsampled"),
        pytest.param(_with_ids(_rgb_stream(picture, ADOBE_RGB), plain_ids), "RGB", id="Adobe 0, declared RGB"),
        pytest.param(
            _with_ids(_rgb_stream(picture, ADOBE_RGB), plain_ids), "YBR_FULL_422", id="Adobe 0 outranks the tag"
        ),
        pytest.param(_with_ids(_rgb_stream(picture, b""), plain_ids), "RGB", id="no marker, declared RGB: PS3.5 8.2.1"),
        pytest.param(_with_ids(_rgb_stream(picture, b""), b"RGB"), "YBR_FULL", id="components named R, G, B"),
        pytest.param(_with_ids(_rgb_stream(picture, b""), b"rgb"), "YBR_FULL", id="components named r, g, b"),
        pytest.param(ybr[:2] + ADOBE_YBR + _without_jfif(ybr)[2:], "RGB", id="Adobe 1 outranks the tag"),
    ]


@pytest.mark.parametrize(("code", "photometric"), _streams())
def test_colours_are_right_however_they_are_declared(tmp_path, code, photometric):
    """The picture that was encoded comes out again."""
    picture = _patches()
    path = make.fragmented(
        tmp_path / "a.dcm", picture, [code], uid.JPEGBaseline8Bit, PhotometricInterpretation=photometric
    )

    actual = make.pixels_of(path)

    inside = np.abs(actual.astype(int) - picture.astype(int))[:, 4:12, 4:12]
    assert inside.mean() < LEVELS


def test_header_tells_size_and_precision():
    """Against what was encoded: 32 x 32, three components, baseline."""
    header = read_jpeg_header(make.jpeg_codes(_patches())[0])

    assert (header.rows, header.cols, header.precision, header.process) == (32, 32, 8, 0xC0)
    assert len(header.components) == 3
    assert header.is_subsampled
    assert header.has_jfif


@pytest.mark.parametrize("cut", [1, 3, 12, 100])
def test_cut_header_is_an_error(cut):
    """Never an index error, whatever is missing."""
    with pytest.raises(ValueError, match="JPEG"):
        read_jpeg_header(make.jpeg_codes(_patches())[0][:cut])
