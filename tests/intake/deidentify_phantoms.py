"""Data sets with an invented identity planted wherever the standard has room for one, and frames in memory."""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterator
from typing import Any

import numpy as np
import pydicom.uid
from numpy.typing import NDArray
from pydicom import config
from pydicom._dicom_dict import DicomDictionary
from pydicom.dataelem import DataElement
from pydicom.dataset import Dataset, FileMetaDataset
from pydicom.filewriter import dcmwrite
from pydicom.sequence import Sequence
from pydicom.tag import Tag
from pydicom.uid import ExplicitVRLittleEndian, UltrasoundMultiFrameImageStorage

from fanlight.study import Clip, ClipTags, FrameChunk, FrameDamageError

NAME = "Muffinsecret"  # an invented cat
OWNER = "Quillfeather"
NUMBER = "73519046"
DAY = "20210314"
CLOCK = "134759"
UID = "1.2.826.0.1.3680043.9.7351904.6"
PLANTED = (NAME, OWNER, NUMBER, DAY, CLOCK, UID)

_BY_VR: dict[str, Any] = {
    "AE": NAME,
    "AS": NUMBER[:4],
    "CS": NAME,
    "DA": DAY,
    "DS": NUMBER,
    "DT": DAY + CLOCK,
    "IS": NUMBER,
    "LO": NAME,
    "LT": f"{NAME} of {OWNER}",
    "PN": f"{OWNER}^{NAME}",
    "SH": NAME,
    "ST": f"{OWNER} {NUMBER}",
    "TM": CLOCK,
    "UC": NAME,
    "UI": UID,
    "UR": f"https://{OWNER}.example/{NUMBER}",
    "UT": f"{NAME} {OWNER} {DAY}",
    "OB": NAME.encode(),
    "OW": NAME.encode(),
    "OD": (NAME + "....").encode(),
    "OF": NAME.encode(),
    "OL": NAME.encode(),
    "OV": (NAME + "....").encode(),
    "UN": NAME.encode(),
}
_PIXEL_KEYWORDS = ("PixelData", "FloatPixelData", "DoubleFloatPixelData")


def planted_everywhere(keep_out: frozenset[str]) -> Dataset:
    """Every attribute of the dictionary that can hold text or bytes, each with the identity in it.

    Numbers that may stay (`keep_out`) get none: a number on the list is kept whatever it means.
    """
    with config.disable_value_validation():
        return _planted(keep_out)


def _planted(keep_out: frozenset[str]) -> Dataset:
    data = Dataset()
    for number, (vr, _vm, _name, _retired, keyword) in DicomDictionary.items():
        first = vr.split(" or ")[0]
        tag = Tag(number)
        if keyword in _PIXEL_KEYWORDS or keyword in keep_out or tag.group in (0x0000, 0x0002, 0xFFFE):
            continue
        if tag.element == 0 or not keyword:
            continue
        if first in _BY_VR:
            data.add(DataElement(tag, first, _BY_VR[first]))
        elif first == "SQ":
            item = Dataset()
            item.PatientName = f"{OWNER}^{NAME}"
            item.CodeValue, item.CodingSchemeDesignator, item.CodeMeaning = NUMBER, NAME, f"{NAME} {OWNER}"
            inner = Dataset()
            inner.TextValue = f"{NAME} {OWNER}"
            inner.add(DataElement(Tag(0x0009, 0x0010), "LO", OWNER))
            inner.add(DataElement(Tag(0x0009, 0x1001), "UN", NAME.encode()))
            item.ContentSequence = Sequence([inner])
            data.add(DataElement(tag, "SQ", Sequence([item])))
    for group in (0x0009, 0x0019, 0x7FE1):  # private
        data.add(DataElement(Tag(group, 0x0010), "LO", f"{OWNER} vet"))
        data.add(DataElement(Tag(group, 0x1001), "LT", NAME))
        data.add(DataElement(Tag(group, 0x1002), "OB", NAME.encode()))
    for group in (0x6000, 0x6002):  # overlays
        data.add(DataElement(Tag(group, 0x3000), "OW", NAME.encode()))
        data.add(DataElement(Tag(group, 0x4000), "LT", OWNER))
    data.add(DataElement(Tag(0x5000, 0x3000), "OW", NAME.encode()))  # curve
    data.add(DataElement(Tag(0x0011, 0x0013), "UN", OWNER.encode()))
    icon = Dataset()
    icon.Rows = icon.Columns = 4
    icon.add(DataElement(Tag(0x7FE00010), "OB", (NAME + "....").encode()))
    data.IconImageSequence = Sequence([icon])
    return data


def with_regions(data: Dataset) -> Dataset:
    """Add one region with numbers of a 2-D picture, and identity between them."""
    region = Dataset()
    region.RegionSpatialFormat, region.RegionDataType, region.RegionFlags = 1, 1, 0
    region.RegionLocationMinX0, region.RegionLocationMinY0 = 10, 12
    region.RegionLocationMaxX1, region.RegionLocationMaxY1 = 70, 55
    region.PhysicalUnitsXDirection = region.PhysicalUnitsYDirection = 3
    region.PhysicalDeltaX = region.PhysicalDeltaY = 0.0308
    region.TransducerFrequency = 5000
    region.add(DataElement(Tag(0x0009, 0x0010), "LO", OWNER))
    region.add(DataElement(Tag(0x0009, 0x1001), "LO", NAME))
    region.PatientComments = f"{NAME} {OWNER}"
    data.SequenceOfUltrasoundRegions = Sequence([region])
    return data


def as_file(data: Dataset) -> bytes:
    """The data set as a file with identity in the preamble and the file meta information."""
    meta = FileMetaDataset()
    meta.MediaStorageSOPClassUID = UltrasoundMultiFrameImageStorage
    meta.MediaStorageSOPInstanceUID = pydicom.uid.UID(UID)
    meta.TransferSyntaxUID = ExplicitVRLittleEndian
    meta.SourceApplicationEntityTitle = NAME
    meta.PrivateInformationCreatorUID = pydicom.uid.UID(UID)
    meta.PrivateInformation = OWNER.encode()
    data.file_meta = meta
    data.preamble = (NAME + OWNER).encode().ljust(128, b"\x00")
    buffer = io.BytesIO()
    with warnings.catch_warnings(), config.disable_value_validation():
        warnings.simplefilter("ignore")
        dcmwrite(buffer, data, enforce_file_format=True)
    return buffer.getvalue()


class ArrayFrames:
    """Frames that lie in memory; may break off, and counts how many are held at once."""

    def __init__(self, pixels: NDArray[np.uint8], *, stated: int | None = None, breaks_at: int | None = None) -> None:
        self.pixels = pixels
        self.n_frames = pixels.shape[0] if stated is None else stated
        self.largest_chunk = 0
        self._breaks_at = breaks_at

    @property
    def rows(self) -> int:
        return int(self.pixels.shape[1])

    @property
    def cols(self) -> int:
        return int(self.pixels.shape[2])

    @property
    def is_colour(self) -> bool:
        return self.pixels.ndim == 4

    def chunks(self, size: int = 32) -> Iterator[FrameChunk]:
        end = len(self.pixels) if self._breaks_at is None else self._breaks_at
        for first in range(0, end, size):
            part = self.pixels[first : min(first + size, end)]
            self.largest_chunk = max(self.largest_chunk, len(part))
            yield FrameChunk(first=first, pixels=part)
        if self._breaks_at is not None:
            raise FrameDamageError(self._breaks_at, "invented damage")

    def close(self) -> None: ...

    def __enter__(self) -> ArrayFrames:
        return self

    def __exit__(self, *exc: object) -> None: ...


def clip_of(frames: ArrayFrames, **more: Any) -> Clip:
    """A clip that fits the frames."""
    given: dict[str, Any] = {
        "key": "0" * 40,
        "number": 1,
        "name": f"{OWNER}/{NAME}.dcm",
        "container": "DICOM",
        "rows": frames.rows,
        "cols": frames.cols,
        "n_frames": frames.n_frames,
        "is_colour": frames.is_colour,
        "tags": ClipTags(lossy=False),
    }
    return Clip(**(given | more))
