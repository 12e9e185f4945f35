"""Pixels of every transfer syntax come out as they were put in; lossy ones within their codec's error."""

from typing import Any

import numpy as np
import pydicom
import pytest
from pydicom import uid
from pydicom.pixels.decoders.base import get_decoder
from pydicom.pixels.processing import apply_color_lut, convert_color_space

from fanlight.intake import open_frames, probe_item
from tests.intake import dicom_files as make

# Mean error in levels that a codec at the settings of `dicom_files` may add; seen there: JPEG 0.6 to 1.4, H.264 2.
LOSSY_LEVELS = 2.5
VIDEO_LEVELS = 6.0


def mean_error(one: np.ndarray, other: np.ndarray) -> float:
    return float(np.abs(one.astype(int) - other.astype(int)).mean())


@pytest.mark.parametrize(
    "syntax",
    [
        pytest.param(uid.ImplicitVRLittleEndian, id="implicit little endian"),
        pytest.param(uid.ExplicitVRLittleEndian, id="explicit little endian"),
        pytest.param(uid.ExplicitVRBigEndian, id="explicit big endian"),
    ],
)
@pytest.mark.parametrize("channels", [1, 3])
@pytest.mark.parametrize("cols", [24, 23], ids=["even", "odd"])
@pytest.mark.parametrize("in_words", [False, True], ids=["bytes", "words"])
def test_uncompressed_frames_come_out_as_put_in(tmp_path, rng, syntax, channels, cols, in_words):
    """Every byte order, grey and colour, frames of odd length too."""
    pixels = make.speckle(rng, 5, 17, cols, channels)

    actual = make.pixels_of(make.native(tmp_path / "a.dcm", pixels, syntax, in_words), size=2)

    np.testing.assert_array_equal(actual, pixels)


def test_deflated_frames_come_out_as_put_in(tmp_path, rng):
    """Deflated explicit little endian, PS3.5 A.5."""
    pixels = make.speckle(rng, 3, 16, 24, 3)

    np.testing.assert_array_equal(make.pixels_of(make.deflated(tmp_path / "a.dcm", pixels)), pixels)


def test_planes_are_joined(tmp_path, rng):
    """Planar configuration 1: all red, all green, all blue."""
    pixels = make.speckle(rng, 3, 16, 24, 3)

    actual = make.pixels_of(make.native(tmp_path / "a.dcm", pixels, PlanarConfiguration=1))

    np.testing.assert_array_equal(actual, pixels)


@pytest.mark.parametrize(
    ("syntax", "tolerance"),
    [
        pytest.param(uid.RLELossless, 0, id="RLE"),
        pytest.param(uid.JPEGLSLossless, 0, id="JPEG-LS lossless"),
        pytest.param(uid.JPEGLSNearLossless, 2, id="JPEG-LS near lossless, error 2 asked for"),
        pytest.param(uid.JPEG2000Lossless, 0, id="JPEG 2000 lossless"),
        pytest.param(uid.JPEG2000, 12, id="JPEG 2000 at 45 dB"),
    ],
)
@pytest.mark.parametrize("channels", [1, 3])
def test_compressed_frames_come_out_as_put_in(tmp_path, rng, syntax, tolerance, channels):
    """No level differs by more than the codec was told to allow."""
    pixels = make.speckle(rng, 3, 32, 40, channels)
    tags = {"PhotometricInterpretation": "YBR_RCT"} if syntax == uid.JPEG2000Lossless and channels == 3 else {}
    if syntax == uid.JPEG2000 and channels == 3:
        tags = {"PhotometricInterpretation": "YBR_ICT"}

    actual = make.pixels_of(make.encoded(tmp_path / "a.dcm", pixels, syntax, **tags), size=2)

    assert actual.shape == pixels.shape
    assert np.abs(actual.astype(int) - pixels.astype(int)).max() <= tolerance


@pytest.mark.parametrize("channels", [1, 3])
def test_jpeg_baseline_frames_come_out_near(tmp_path, rng, channels):
    """Quality 95, 4:2:2: mean error within the codec's own."""
    pixels = make.speckle(rng, 5, 32, 40) if channels == 1 else make.tinted(rng, 5, 32, 40)

    actual = make.pixels_of(make.jpeg_baseline(tmp_path / "a.dcm", pixels), size=2)

    assert actual.shape == pixels.shape
    assert mean_error(actual, pixels) < LOSSY_LEVELS


@pytest.mark.parametrize(
    ("codec", "container", "syntax"),
    [
        pytest.param("libx264", "h264", uid.MPEG4HP41, id="H.264, bare stream"),
        pytest.param("libx264", "mpegts", uid.MPEG4HP41, id="H.264 in a transport stream"),
        pytest.param("libx264", "mp4", uid.MPEG4HP41BD, id="H.264 in MP4"),
        pytest.param("mpeg2video", "mpeg2video", uid.MPEG2MPML, id="MPEG-2, bare stream"),
        pytest.param("libx265", "hevc", uid.HEVCMP51, id="H.265, bare stream"),
    ],
)
def test_video_payload_is_decoded(tmp_path, rng, codec, container, syntax):
    """Video transfer syntaxes, whatever container the payload has; all frames, in order."""
    pixels = make.tinted(rng, 1, 128, 160).repeat(8, axis=0)
    pixels[:, :16, :16] = (np.arange(8) * 30)[:, None, None, None]  # a patch that brightens tells the frames apart
    options: dict[str, Any] = {"crf": "12"} if codec == "libx264" else {}
    if codec == "libx265":
        options = {"x265-params": "log-level=none:crf=12"}
    payload = make.video_bytes(pixels, codec, container, **options)

    actual = make.pixels_of(make.video_in_dicom(tmp_path / "a.dcm", pixels, payload, syntax), size=3)

    assert actual.shape == pixels.shape
    assert mean_error(actual, pixels) < VIDEO_LEVELS
    assert np.all(np.diff(actual[:, 4:12, 4:12].mean(axis=(1, 2, 3))) > 15)


def test_ybr_full_is_turned_into_rgb(tmp_path, rng):
    """Against pydicom's convert_color_space, which follows PS3.3 C.7.6.3.1.2; one level for rounding."""
    ybr = make.speckle(rng, 2, 16, 24, 3)
    path = make.native(tmp_path / "a.dcm", ybr, PhotometricInterpretation="YBR_FULL")

    expected = convert_color_space(ybr, "YBR_FULL", "RGB", per_frame=True)

    assert np.abs(make.pixels_of(path).astype(int) - expected.astype(int)).max() <= 1


def test_ybr_full_422_uncompressed_is_unfolded():
    """pydicom's own file, against pydicom's decoder."""
    path = make.pydicom_file("SC_ybr_full_422_uncompressed.dcm")
    expected = pydicom.dcmread(path).pixel_array

    assert np.abs(make.pixels_of(path)[0].astype(int) - expected.astype(int)).max() <= 1


@pytest.mark.parametrize("entry_bits", [8, 16])
def test_palette_is_applied(tmp_path, rng, entry_bits):
    """Against pydicom's apply_color_lut; 16-bit entries by their high byte."""
    pixels = make.speckle(rng, 2, 16, 24)
    entries = rng.integers(0, 2**entry_bits, (3, 256)).astype(f"<u{entry_bits // 8}")
    tags: dict[str, Any] = {"PhotometricInterpretation": "PALETTE COLOR"}
    for colour, table in zip(("Red", "Green", "Blue"), entries, strict=True):
        tags[f"{colour}PaletteColorLookupTableDescriptor"] = [256, 0, entry_bits]
        tags[f"{colour}PaletteColorLookupTableData"] = table.tobytes()
    path = make.native(tmp_path / "a.dcm", pixels, **tags)
    expected = apply_color_lut(pixels, pydicom.dcmread(path)) >> (entry_bits - 8)

    assert make.clip_of(path).is_colour
    np.testing.assert_array_equal(make.pixels_of(path), expected)


def test_grey_palette_gives_grey_frames(tmp_path, rng):
    """A palette whose three tables agree declares a grey picture."""
    pixels = make.speckle(rng, 2, 16, 24)
    table = np.arange(255, -1, -1, dtype=np.uint8)
    tags: dict[str, Any] = {"PhotometricInterpretation": "PALETTE COLOR"}
    for colour in ("Red", "Green", "Blue"):
        tags[f"{colour}PaletteColorLookupTableDescriptor"] = [256, 0, 8]
        tags[f"{colour}PaletteColorLookupTableData"] = table.tobytes()
    path = make.native(tmp_path / "a.dcm", pixels, **tags)

    assert not make.clip_of(path).is_colour
    np.testing.assert_array_equal(make.pixels_of(path), 255 - pixels)


def test_palette_under_rle_is_applied(tmp_path, rng):
    """Compressed indices are looked up too."""
    pixels = make.speckle(rng, 2, 16, 24)
    entries = rng.integers(0, 256, (3, 256)).astype(np.uint8)
    tags: dict[str, Any] = {"PhotometricInterpretation": "PALETTE COLOR"}
    for colour, table in zip(("Red", "Green", "Blue"), entries, strict=True):
        tags[f"{colour}PaletteColorLookupTableDescriptor"] = [256, 0, 8]
        tags[f"{colour}PaletteColorLookupTableData"] = table.tobytes()
    path = make.encoded(tmp_path / "a.dcm", pixels, uid.RLELossless, **tags)

    np.testing.assert_array_equal(make.pixels_of(path), entries.T[pixels])


def _same_as_pydicom() -> list[object]:
    """pydicom's own files that hold ultrasound or screen captures, of all syntaxes that are read here."""
    names = [
        "examples_jpeg2k.dcm",
        "examples_rgb_color.dcm",
        "examples_ybr_color.dcm",
        "ExplVR_BigEnd.dcm",
        "GDCMJ2K_TextGBR.dcm",
        "JPEGLSNearLossless_08.dcm",
        "SC_jpeg_no_color_transform.dcm",
        "SC_jpeg_no_color_transform_2.dcm",
        "SC_rgb_dcmtk_+eb+cr.dcm",
        "SC_rgb_dcmtk_+eb+cy+n1.dcm",
        "SC_rgb_dcmtk_+eb+cy+n2.dcm",
        "SC_rgb_dcmtk_+eb+cy+np.dcm",
        "SC_rgb_dcmtk_+eb+cy+s2.dcm",
        "SC_rgb_dcmtk_+eb+cy+s4.dcm",
        "SC_rgb_gdcm_KY.dcm",
        "SC_rgb_jls_lossy_line.dcm",
        "SC_rgb_jls_lossy_sample.dcm",
        "SC_rgb_jpeg.dcm",
        "SC_rgb_jpeg_app14_dcmd.dcm",
        "SC_rgb_jpeg_dcmd.dcm",
        "SC_rgb_jpeg_dcmtk.dcm",
        "SC_rgb_jpeg_lossy_gdcm.dcm",
        "SC_rgb_rle.dcm",
        "SC_rgb_rle_2frame.dcm",
        "SC_rgb_small_odd.dcm",
        "SC_rgb_small_odd_big_endian.dcm",
        "SC_rgb_small_odd_jpeg.dcm",
        "image_dfl.dcm",
    ]
    return [pytest.param(name, id=name) for name in names]


@pytest.mark.filterwarnings("ignore")  # pydicom warns of the very oddities that these files are made to show
@pytest.mark.parametrize("name", _same_as_pydicom())
def test_pixels_agree_with_the_reference_library(name):
    """Level for level the same as pydicom's pixel_array; JPEG may round differently by two."""
    path = make.pydicom_file(name)
    expected = pydicom.dcmread(path).pixel_array

    actual = make.pixels_of(path)

    assert np.abs(actual.reshape(expected.shape).astype(int) - expected.astype(int)).max() <= 2


def test_palette_file_agrees_with_the_reference_library():
    """pydicom's palette ultrasound."""
    data = pydicom.dcmread(make.pydicom_file("examples_palette.dcm"))
    expected = apply_color_lut(data.pixel_array, data)
    expected = expected >> 8 if expected.dtype.itemsize == 2 else expected

    np.testing.assert_array_equal(make.pixels_of(make.pydicom_file("examples_palette.dcm"))[0], expected)


@pytest.mark.filterwarnings("ignore")
def test_jpeg_lossless_is_read_with_the_extra_and_refused_by_name_without():
    """With python-gdcm installed the pixels agree with pydicom's; without it the refusal names the extra."""
    path = make.pydicom_file("SC_rgb_jpeg_gdcm.dcm")
    if get_decoder(uid.JPEGLosslessSV1).is_available:
        np.testing.assert_array_equal(make.pixels_of(path), pydicom.dcmread(path).pixel_array[None])
        return

    refusal = probe_item(make.item_of(path), make.LIMITS).refused[0]

    assert "JPEG Lossless" in refusal.found
    assert 'pip install "fanlight[jpeg-lossless]"' in refusal.remedy


def test_frames_can_be_read_twice_and_in_any_chunk(tmp_path, rng):
    """Reading starts anew with each call; the chunk size does not change the frames."""
    pixels = make.speckle(rng, 7, 16, 24)
    path = make.native(tmp_path / "a.dcm", pixels)
    with open_frames(make.item_of(path), make.clip_of(path), make.LIMITS) as frames:
        for size in (1, 3, 7, 32):
            chunks = [(chunk.first, chunk.pixels.copy()) for chunk in frames.chunks(size)]

            assert [first for first, _ in chunks] == list(range(0, 7, size))
            np.testing.assert_array_equal(np.concatenate([part for _, part in chunks]), pixels)


def test_each_frame_is_a_sign_of_life(tmp_path, rng):
    """A watchdog hears of every frame, also within one chunk."""
    path = make.native(tmp_path / "a.dcm", make.speckle(rng, 6, 16, 24))
    heard: list[int] = []
    with open_frames(make.item_of(path), make.clip_of(path), make.LIMITS, heard.append) as frames:
        next(frames.chunks(4))

    assert heard == [1, 2, 3, 4]


def test_large_pictures_come_in_shorter_chunks(tmp_path, rng):
    """The buffer stays below its limit, whatever chunk is asked for."""
    pixels = make.speckle(rng, 6, 16, 24)
    path = make.native(tmp_path / "a.dcm", pixels)
    limits = make.Limits(chunk_bytes=2 * 16 * 24)
    with open_frames(make.item_of(path), make.clip_of(path), limits) as frames:
        assert [len(chunk) for chunk in frames.chunks(32)] == [2, 2, 2]


def test_frames_before_the_damage_are_delivered(tmp_path, rng):
    """Frame 4 of 6 is cut: three frames come, then the error names the fourth."""
    pixels = make.speckle(rng, 6, 32, 40, 3)
    codes = make.jpeg_codes(pixels)
    codes[3] = codes[3][: len(codes[3]) // 2]
    path = make.fragmented(
        tmp_path / "a.dcm", pixels, codes, uid.JPEGBaseline8Bit, PhotometricInterpretation="YBR_FULL_422"
    )

    got, damage = make.read_until_damage(path, size=2)

    assert [len(chunk) for chunk in got] == [2, 1]
    assert damage is not None
    assert damage.frame == 3
    assert str(damage).startswith("frame 4 cannot be decoded")


def test_truncated_uncompressed_clip_delivers_its_whole_frames(tmp_path, rng):
    """A copy cut in the middle of frame 3 still gives two frames."""
    pixels = make.speckle(rng, 4, 16, 24)
    whole = make.native(tmp_path / "a.dcm", pixels).read_bytes()
    path = tmp_path / "b.dcm"
    path.write_bytes(whole[: len(whole) - 16 * 24 - 100])

    got, damage = make.read_until_damage(path)

    assert "frame 3 cannot be decoded: the file ends" in str(damage)
    np.testing.assert_array_equal(np.concatenate(got), pixels[:2])


def test_missing_fragments_are_named(tmp_path, rng):
    """Fewer fragments than frames: what is there comes out, then the first missing frame is named."""
    pixels = make.speckle(rng, 5, 16, 24, 3)
    path = make.fragmented(
        tmp_path / "a.dcm",
        pixels,
        make.jpeg_codes(pixels)[:3],
        uid.JPEGBaseline8Bit,
        PhotometricInterpretation="YBR_FULL_422",
    )

    got, damage = make.read_until_damage(path, size=8)

    assert [len(chunk) for chunk in got] == [3]
    assert "frame 4 cannot be decoded: the file ends before this frame" in str(damage)


def test_code_of_another_size_is_damage(tmp_path, rng):
    """A stream that states 65 500 x 65 500 pixels is not decoded into the memory of a small picture."""
    pixels = make.speckle(rng, 1, 16, 24, 3)
    code = bytearray(make.jpeg_codes(pixels)[0])
    at = code.index(b"\xff\xc0")
    code[at + 5 : at + 9] = b"\xff\xdc\xff\xdc"
    path = make.fragmented(
        tmp_path / "a.dcm", pixels, [bytes(code)], uid.JPEGBaseline8Bit, PhotometricInterpretation="YBR_FULL_422"
    )

    got, damage = make.read_until_damage(path)

    assert got == []
    assert "65500 x 65500 pixels where 16 x 24 are stated" in str(damage)


@pytest.mark.parametrize("damage", ["cut", "marker inside", "no scan"])
def test_broken_jpeg_ls_never_reaches_its_decoder(tmp_path, rng, damage):
    """The decoder loops for ever on scans that are broken off; found by scripts/fuzz.py, seed 3."""
    pixels = make.speckle(rng, 2, 48, 64, 3)
    whole = make.encoded(tmp_path / "a.dcm", pixels, uid.JPEGLSLossless)
    codes = list(pydicom.encaps.generate_frames(pydicom.dcmread(whole).PixelData, number_of_frames=2))
    broken = {
        "cut": codes[1][: len(codes[1]) // 2],
        "marker inside": codes[1][:900] + b"\xff\xc0" + codes[1][902:],
        "no scan": codes[1][:21] + b"\xff\xd9",
    }[damage]
    path = make.fragmented(tmp_path / "b.dcm", pixels, [codes[0], broken], uid.JPEGLSLossless)

    got, error = make.read_until_damage(path)

    np.testing.assert_array_equal(np.concatenate(got), pixels[:1])
    assert "JPEG-LS scan" in str(error)


def test_endless_offset_table_asks_for_no_memory(tmp_path, rng):
    """A Basic Offset Table of 4 GB in a file of 4 kB; found by scripts/fuzz.py, seed 3."""
    data = bytearray(make.jpeg_baseline(tmp_path / "a.dcm", make.speckle(rng, 2, 32, 40)).read_bytes())
    at = data.index(b"\xfe\xff\x00\xe0")
    data[at + 4 : at + 8] = b"\xfc\xff\xff\xff"
    path = tmp_path / "b.dcm"
    path.write_bytes(bytes(data))

    got, error = make.read_until_damage(path)

    assert got == []
    assert "the table of its fragments is longer than the file" in str(error)


def test_frames_spread_over_fragments_are_joined(tmp_path, rng):
    """Two fragments a frame with a Basic Offset Table, PS3.5 A.4."""
    pixels = make.speckle(rng, 3, 32, 40)
    codes = make.jpeg_codes(pixels)
    data = make.us_header(pixels)
    data.PixelData = pydicom.encaps.encapsulate(codes, fragments_per_frame=2)
    data["PixelData"].VR = "OB"
    data["PixelData"].is_undefined_length = True
    path = make.write_dicom(tmp_path / "a.dcm", data, uid.JPEGBaseline8Bit)

    assert mean_error(make.pixels_of(path), pixels) < LOSSY_LEVELS


def test_extended_offsets_are_followed(tmp_path, rng):
    """Extended Offset Table, PS3.3 C.7.6.3.1.8."""
    pixels = make.speckle(rng, 3, 32, 40)
    codes = make.jpeg_codes(pixels)
    data = make.us_header(pixels)
    data.PixelData, data.ExtendedOffsetTable, data.ExtendedOffsetTableLengths = pydicom.encaps.encapsulate_extended(
        codes
    )
    data["PixelData"].VR = "OB"
    data["PixelData"].is_undefined_length = True
    path = make.write_dicom(tmp_path / "a.dcm", data, uid.JPEGBaseline8Bit)

    assert mean_error(make.pixels_of(path), pixels) < LOSSY_LEVELS
