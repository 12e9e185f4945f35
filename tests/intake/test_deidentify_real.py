"""Real files of two packages (pydicom, deid_data): nothing of their headers' text is left in a teaching copy."""

import importlib.util
import re
import tempfile
from pathlib import Path

import numpy as np
import pytest
from pydicom import dcmread
from pydicom.dataset import Dataset

from fanlight.intake.deidentify import animal_of, deidentify_clip
from fanlight.intake.deidentify_key import DeidentificationKey
from fanlight.intake.deidentify_pixels import PixelPlan
from fanlight.intake.deidentify_tags import KeepList
from fanlight.intake.dicom_header import lenient
from fanlight.intake.frames_of import open_frames
from fanlight.intake.gather import gather
from fanlight.intake.limits import Limits
from fanlight.intake.open_item import probe_item
from fanlight.reference.load import load_house
from fanlight.study import Box

KEY = DeidentificationKey(b"an invented key for tests only, 1")
KEEP = KeepList.of(load_house())
FILES = [
    ("pydicom", "data/test_files/examples_palette.dcm"),
    ("pydicom", "data/test_files/examples_ybr_color.dcm"),
    ("pydicom", "data/test_files/examples_jpeg2k.dcm"),
    ("deid_data", "data/ultrasounds/RGB_IMAGE.dcm"),
    ("deid_data", "data/ultrasounds/GREYSCALE_CINE.zip"),
    ("deid_data", "data/ultrasounds/ultrasound-multiframe.dcm"),
]
TEXT = {"PN", "LO", "SH", "ST", "LT", "UT", "AE", "UC", "UR", "UI", "DA", "DT"}
# Values that the standard or the keep-list allows: what they say is no secret, and other files say it too.
PUBLIC = {value for values in KEEP.enumerated.values() for value in values}


def texts_of(data: Dataset):
    """Every text of four characters or more, in all sequences, that is not one of the standard's own."""
    for element in data.iterall():
        if element.VR not in TEXT or element.keyword in ("CodeMeaning", "CodingSchemeDesignator"):
            continue
        values = [element.value] if isinstance(element.value, str) or element.VM <= 1 else element.value
        for value in values:
            for part in str(value).split("^") if element.VR == "PN" else [str(value)]:
                if len(part) >= 4 and part not in PUBLIC and not part.startswith("1.2.840.10008."):
                    yield part


@pytest.mark.parametrize(("package", "path"), FILES)
def test_no_text_of_the_header_is_in_the_copy(package, path, tmp_path):
    """Names, numbers, comments, dates and identifiers of the original are in no byte of the copy or its name."""
    spec = importlib.util.find_spec(package)
    assert spec is not None
    assert spec.origin is not None
    file = Path(spec.origin).parent / path
    with tempfile.TemporaryDirectory() as scratch:
        (item,) = gather(file, Path(scratch), Limits()).items
        (clip,) = probe_item(item, Limits()).clips
        with lenient():
            original = dcmread(item.path, force=True)
            told = sorted(set(texts_of(original)))
        with open_frames(item, clip, Limits()) as frames:
            removal = deidentify_clip(
                clip, original, frames, PixelPlan((Box(row0=0, col0=0, row1=20, col1=50),)),
                key=KEY, keep=KEEP, animal=animal_of(original), out_dir=tmp_path,
            )  # fmt: skip
        with open_frames(item, clip, Limits()) as frames:
            decoded = np.concatenate([np.array(chunk.pixels) for chunk in frames.chunks()])
    assert told

    copy = tmp_path / removal.file
    written = copy.read_bytes()
    data = dcmread(copy)

    header = written[: written.rindex(b"\xe0\x7f\x10\x00")]
    whole = header.decode("latin-1") + str(copy.relative_to(tmp_path))
    # As a word: the first name MARY is a part of PRIMARY.
    assert not [text for text in told if re.search(rf"(?<![A-Za-z0-9]){re.escape(text)}(?![A-Za-z0-9])", whole)]
    decoded[:, :20, :50] = 0
    assert np.array_equal(data.pixel_array.reshape(decoded.shape), decoded)
    assert removal.frames == len(decoded)
    with lenient():
        regions = original.get("SequenceOfUltrasoundRegions") or []
    assert [r.PhysicalDeltaX for r in regions] == [
        r.PhysicalDeltaX for r in data.get("SequenceOfUltrasoundRegions") or []
    ]
