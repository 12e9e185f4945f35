"""What a viewer is sent: stored JPEG bytes where any viewer shows them alike, decoded pixels everywhere else."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from pydicom import uid

from fanlight.intake import FrameForm, Item, Kind, ShownFrame, gather_named, open_frames, open_shown_frames, probe_item
from fanlight.study import Clip, FrameDamageError
from tests.intake.dicom_files import LIMITS, encoded, fragmented, jpeg_baseline, jpeg_codes, native, speckle, tinted


def opened(path: Path) -> tuple[Item, Clip]:
    item = Item(path=path, name=path.name, kind=Kind.DICOM)
    (clip,) = probe_item(item, LIMITS).clips
    return item, clip


def shown(path: Path, first: int = 0) -> list[ShownFrame]:
    item, clip = opened(path)
    with open_shown_frames(item, clip, LIMITS) as frames:
        return list(frames.frames(first))


def decoded(path: Path) -> list[np.ndarray]:
    item, clip = opened(path)
    with open_frames(item, clip, LIMITS) as frames:
        return [chunk.pixels[0].copy() for chunk in frames.chunks(1)]


@pytest.mark.parametrize("make", [speckle, tinted])
@pytest.mark.parametrize("first", [0, 3])
def test_jpeg_baseline_goes_out_as_stored(tmp_path: Path, make, first: int) -> None:
    """The bytes are those that were put into the fragments, whatever frame is begun with."""
    pixels = make(np.random.default_rng(1), 5, 64, 96)
    codes = jpeg_codes(pixels)
    path = jpeg_baseline(tmp_path / "clip.dcm", pixels)

    frames = shown(path, first)

    assert [frame.index for frame in frames] == list(range(first, 5))
    for frame in frames:
        assert frame.form is FrameForm.JPEG
        assert frame.data.removesuffix(b"\0") == codes[frame.index].removesuffix(b"\0")
        assert (frame.rows, frame.cols, frame.channels) == (64, 96, 3 if pixels.ndim == 4 else 1)


@pytest.mark.parametrize("syntax", [uid.ExplicitVRLittleEndian, uid.RLELossless, uid.JPEG2000Lossless])
def test_all_others_go_out_as_decoded(tmp_path: Path, syntax: str) -> None:
    """Pixels are those of intake, from the first frame or from a later one."""
    pixels = speckle(np.random.default_rng(2), 4, 64, 96)
    make = native if syntax == uid.ExplicitVRLittleEndian else encoded
    path = make(tmp_path / "clip.dcm", pixels, syntax)

    for first in (0, 2):
        frames = shown(path, first)

        assert [frame.index for frame in frames] == list(range(first, 4))
        assert all(frame.form is FrameForm.RAW for frame in frames)
        for frame in frames:
            assert frame.data == decoded(path)[frame.index].tobytes() == pixels[frame.index].tobytes()


@pytest.mark.parametrize(
    "tags", [{"PhotometricInterpretation": "MONOCHROME1"}, {"WindowCenter": 60, "WindowWidth": 80}]
)
def test_a_table_of_grey_levels_is_applied_here(tmp_path: Path, tags: dict[str, object]) -> None:
    """A viewer knows nothing of the header, so what the header changes is sent changed."""
    path = jpeg_baseline(tmp_path / "clip.dcm", speckle(np.random.default_rng(3), 2, 64, 96), **tags)

    frames = shown(path)

    assert [frame.form for frame in frames] == [FrameForm.RAW] * 2
    assert [frame.data for frame in frames] == [pixels.tobytes() for pixels in decoded(path)]


@pytest.mark.parametrize("marker", [b"\xff\xe1", b"\xff\xe2"], ids=["Exif", "colour profile"])
def test_what_asks_viewers_to_change_the_picture_is_decoded_here(tmp_path: Path, marker: bytes) -> None:
    """One frame with such a segment is sent as pixels, the next one as stored."""
    pixels = speckle(np.random.default_rng(4), 2, 64, 96)
    one, other = jpeg_codes(pixels)
    hinted = one[:2] + marker + b"\x00\x08Exif\x00\x00" + one[2:]
    path = fragmented(tmp_path / "clip.dcm", pixels, [hinted, other], uid.JPEGBaseline8Bit)

    frames = shown(path)

    assert [frame.form for frame in frames] == [FrameForm.RAW, FrameForm.JPEG]
    assert frames[0].data == decoded(path)[0].tobytes()


def test_a_broken_frame_ends_the_row_and_names_itself(tmp_path: Path) -> None:
    """Frames before it are delivered."""
    pixels = speckle(np.random.default_rng(5), 4, 64, 96)
    codes = jpeg_codes(pixels)
    path = fragmented(tmp_path / "clip.dcm", pixels, [*codes[:2], b"no picture", codes[3]], uid.JPEGBaseline8Bit)
    item, clip = opened(path)

    with open_shown_frames(item, clip, LIMITS) as frames:
        row = frames.frames()
        assert [next(row).index, next(row).index] == [0, 1]
        with pytest.raises(FrameDamageError, match="frame 3 cannot be decoded"):
            next(row)


def test_files_are_listed_under_the_names_that_people_know(tmp_path: Path) -> None:
    """Where the bytes lie shows nowhere; hidden files are passed over."""
    path = native(tmp_path / "0af3", speckle(np.random.default_rng(6), 1, 64, 96))

    found = gather_named([(path, "b/IM2"), (path, "a/IM1"), (path, ".hidden")], tmp_path, LIMITS)

    assert [(item.path, item.name) for item in found.items] == [(path, "a/IM1"), (path, "b/IM2")]
    assert len(found.notes) == 1
