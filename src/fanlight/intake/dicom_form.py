"""Is it a picture that can be reviewed, and how do its pixels lie: judged on the header, before memory is asked for."""

from __future__ import annotations

import struct
from dataclasses import dataclass

from pydicom import uid

from fanlight.intake.dicom_header import DicomSource, number_of, text_of, uid_name, whole_of
from fanlight.intake.limits import Limits
from fanlight.intake.refused import SEND_AGAIN, FileRefusedError

# PS3.4 B.5; the last two are retired, and still written by machines of the 1990s (PS3.6 A).
ULTRASOUND_CLASSES = frozenset(
    {
        uid.UltrasoundImageStorage,
        uid.UltrasoundMultiFrameImageStorage,
        "1.2.840.10008.5.1.4.1.1.6",
        "1.2.840.10008.5.1.4.1.1.3",
    }
)
CAPTURE_CLASSES = frozenset(
    {
        uid.SecondaryCaptureImageStorage,
        uid.MultiFrameGrayscaleByteSecondaryCaptureImageStorage,
        uid.MultiFrameGrayscaleWordSecondaryCaptureImageStorage,
        uid.MultiFrameTrueColorSecondaryCaptureImageStorage,
    }
)
REPORT_CLASSES = frozenset(
    {
        uid.BasicTextSRStorage,
        uid.EnhancedSRStorage,
        uid.ComprehensiveSRStorage,
        uid.Comprehensive3DSRStorage,
        uid.ExtensibleSRStorage,
        uid.SimplifiedAdultEchoSRStorage,
    }
)
# Modality (0008,0060) of a capture that may show a heart scan; PS3.3 C.7.3.1.1.1. "" = not stated.
_CAPTURE_MODALITIES = frozenset({"", "US", "OT", "SC", "EC", "HC", "XC"})
# Defined terms of PS3.3 C.7.3.1.1.1, in a reader's words.
_MODALITY_WORDS = {
    "CR": "a radiograph",
    "DX": "a radiograph",
    "RG": "a radiograph",
    "RF": "a fluoroscopy",
    "XA": "an angiography",
    "CT": "a computed tomography",
    "MR": "a magnetic resonance scan",
    "NM": "a nuclear medicine scan",
    "PT": "a PET scan",
    "MG": "a mammogram",
    "IO": "a dental radiograph",
    "PX": "a dental radiograph",
    "ECG": "an ECG recording",
    "HD": "a pressure recording",
    "ES": "an endoscopy",
    "IVUS": "an ultrasound scan from inside a vessel",
    "RTDOSE": "a radiotherapy plan",
    "RTPLAN": "a radiotherapy plan",
    "RTSTRUCT": "a radiotherapy plan",
    "SEG": "a segmentation",
    "DOC": "a document",
    "PR": "a display setting without pictures",
    "KO": "a list of marked pictures",
    "AU": "a sound recording",
    "SR": "a written report",
}
_CLASS_WORDS: dict[str, str] = {
    uid.EnhancedUSVolumeStorage: "a three-dimensional ultrasound volume",
    uid.EncapsulatedPDFStorage: "a PDF document",
    uid.MultiFrameSingleBitSecondaryCaptureImageStorage: "a black-and-white page of a document",
}
# Whole clips as one video stream, PS3.5 A.4.5 to A.4.11.
VIDEO_SYNTAXES = frozenset(
    {
        uid.MPEG2MPML,
        uid.MPEG2MPMLF,
        uid.MPEG2MPHL,
        uid.MPEG2MPHLF,
        uid.MPEG4HP41,
        uid.MPEG4HP41F,
        uid.MPEG4HP41BD,
        uid.MPEG4HP41BDF,
        uid.MPEG4HP422D,
        uid.MPEG4HP422DF,
        uid.MPEG4HP423D,
        uid.MPEG4HP423DF,
        uid.MPEG4HP42STEREO,
        uid.MPEG4HP42STEREOF,
        uid.HEVCMP51,
        uid.HEVCM10P51,
    }
)
_COLOURS = frozenset(
    {
        "RGB",
        "YBR_FULL",
        "YBR_FULL_422",
        "YBR_PARTIAL_422",
        "YBR_PARTIAL_420",
        "YBR_ICT",
        "YBR_RCT",
    }
)
_GREYS = frozenset({"MONOCHROME1", "MONOCHROME2", "PALETTE COLOR"})


def refuse_other_objects(source: DicomSource) -> None:
    """Let ultrasound pictures and screen captures pass.

    Raises
    ------
    FileRefusedError
        For every other kind of DICOM object, naming it in plain words.
    """
    sop_class = text_of(source.data, "SOPClassUID")
    modality = text_of(source.data, "Modality").upper()
    if sop_class in ULTRASOUND_CLASSES and modality in ("US", "", "OT"):
        return
    if sop_class in CAPTURE_CLASSES and modality in _CAPTURE_MODALITIES:
        return
    if sop_class not in _CLASS_WORDS and modality == "US" and not _is_known_class(sop_class):
        return  # a private or missing class, but the machine says that it is ultrasound
    words = _CLASS_WORDS.get(sop_class) or _MODALITY_WORDS.get(modality)
    if words is None:
        words = (
            f"an object of class {_class_name(sop_class)}" if sop_class else "a DICOM file that does not say its class"
        )
    raise FileRefusedError(
        source.name,
        "an ultrasound picture or clip",
        f"{words} ({modality})" if modality else words,
        "Nothing to do if it was sent along with the scan: it is left aside.",
    )


def _is_known_class(sop_class: str) -> bool:
    return uid_name(sop_class) != sop_class


def _class_name(sop_class: str) -> str:
    return uid_name(sop_class)


@dataclass(frozen=True, slots=True, kw_only=True)
class PixelForm:
    """The Image Pixel module (PS3.3 C.7.6.3) of a file, checked."""

    rows: int
    cols: int
    n_frames: int
    samples: int
    bits_allocated: int
    bits_stored: int
    high_bit: int
    is_signed: bool
    photometric: str
    is_planar: bool  # colour by plane (PS3.3 C.7.6.3.1.3)

    @property
    def is_subsampled(self) -> bool:
        """Uncompressed YBR_FULL_422: two pixels share their chroma (PS3.3 C.7.6.3.1.2)."""
        return self.photometric in ("YBR_FULL_422", "YBR_PARTIAL_422")

    @property
    def native_frame_bytes(self) -> int:
        """Bytes of one frame when it is stored without compression."""
        samples = 2 if self.is_subsampled else self.samples
        return self.rows * self.cols * samples * (self.bits_allocated // 8)

    @property
    def decoded_frame_bytes(self) -> int:
        """Bytes of one frame as it is handed on: 8 bits, one or three channels."""
        return self.rows * self.cols * (1 if self.photometric.startswith("MONO") else 3)


def read_form(source: DicomSource, limits: Limits) -> PixelForm:
    """Return how the pixels lie.

    Raises
    ------
    FileRefusedError
        If the file holds no pixels, contradicts itself, or is larger than the limits.
    """
    data, name = source.data, source.name

    def refuse(expected: str, found: str, remedy: str = SEND_AGAIN) -> FileRefusedError:
        return FileRefusedError(name, expected, found, remedy, "header")

    rows, cols = whole_of(data, "Rows"), whole_of(data, "Columns")
    if source.pixel_tag is None or source.pixel_length == 0:
        found = "no pixels" if rows else "a DICOM file without a picture"
        raise FileRefusedError(name, "a picture", found, "Export the picture itself, not its entry in a list.")
    if source.pixel_tag != 0x7FE00010:
        raise refuse("pixels of whole numbers", "floating-point pixels", "Export the picture as it is on the screen.")
    if not rows or not cols or rows < 0 or cols < 0:
        raise refuse("the size of the picture (Rows, Columns)", f"{rows} rows, {cols} columns")
    if rows > limits.rows or cols > limits.cols or rows * cols > limits.picture_px:
        raise refuse(
            f"at most {limits.rows} x {limits.cols} pixels and {limits.picture_px / 1e6:g} million in all",
            f"{rows} rows x {cols} columns",
        )
    stated = number_of(data, "NumberOfFrames")
    n_frames = 1 if stated is None or stated == 0 else int(stated)
    if n_frames < 1 or n_frames > limits.frames or (stated and stated != n_frames):
        raise refuse(f"1 to {limits.frames} frames", f"{stated:g}", "Export a shorter clip.")
    samples = whole_of(data, "SamplesPerPixel") or 1
    photometric = text_of(data, "PhotometricInterpretation").upper()
    bits = whole_of(data, "BitsAllocated")
    stored = whole_of(data, "BitsStored") or bits
    if samples not in (1, 3):
        raise refuse("1 or 3 samples a pixel", f"{samples}")
    if photometric not in (_GREYS if samples == 1 else _COLOURS):
        raise refuse(
            f"a photometric interpretation for {samples} sample{'s' if samples > 1 else ''} a pixel",
            photometric or "none",
        )
    if bits not in (8, 16) or stored is None or not 1 <= stored <= bits:
        raise refuse("8 or 16 bits a sample", f"{bits} allocated, {stored} stored")
    if samples == 3 and stored != 8 and source.transfer_syntax not in VIDEO_SYNTAXES:  # H.265 Main 10 has 10 bits
        raise refuse("8 bits a colour channel", f"{stored}", "Export the picture as it is on the screen.")
    high_bit = whole_of(data, "HighBit")
    high_bit = stored - 1 if high_bit is None else high_bit
    if not stored - 1 <= high_bit < bits:
        raise refuse(f"a high bit from {stored - 1} to {bits - 1}", f"{high_bit}")
    form = PixelForm(
        rows=rows,
        cols=cols,
        n_frames=n_frames,
        samples=samples,
        bits_allocated=bits,
        bits_stored=stored,
        high_bit=high_bit,
        is_signed=whole_of(data, "PixelRepresentation") == 1,
        photometric=photometric,
        is_planar=samples == 3 and whole_of(data, "PlanarConfiguration") == 1,
    )
    if form.decoded_frame_bytes * n_frames > limits.decoded_bytes:
        raise refuse(
            f"a clip of at most {limits.decoded_bytes / 1e9:.0f} GB when decoded",
            f"{form.decoded_frame_bytes * n_frames / 1e9:.0f} GB",
            "Export a shorter clip.",
        )
    if source.is_encapsulated:
        _check_fragments(source)
    else:
        _check_native(source, form)
    return form


def _check_native(source: DicomSource, form: PixelForm) -> None:
    if form.photometric in ("YBR_PARTIAL_420", "YBR_ICT", "YBR_RCT"):
        raise FileRefusedError(
            source.name,
            "uncompressed pixels",
            f"{form.photometric}, which only compressed pixels can be",
            SEND_AGAIN,
            "header",
        )
    if form.is_subsampled and form.cols % 2:
        raise FileRefusedError(
            source.name, "an even number of columns for YBR_FULL_422", f"{form.cols}", SEND_AGAIN, "header"
        )
    needed = form.native_frame_bytes * form.n_frames
    there = source.file_length - source.pixel_offset
    if source.pixel_length is not None:
        there = min(there, source.pixel_length)
    if there < form.native_frame_bytes:
        raise FileRefusedError(
            source.name,
            f"{needed} bytes of pixels",
            f"{max(there, 0)}: the file ends before its first frame is complete",
            SEND_AGAIN,
        )


def _check_fragments(source: DicomSource) -> None:
    """The value must start with the item of the Basic Offset Table (PS3.5 A.4)."""
    source.file.seek(source.pixel_offset)
    head = source.file.read(8)
    if len(head) < 8 or struct.unpack("<HH", head[:4]) != (0xFFFE, 0xE000):
        raise FileRefusedError(
            source.name,
            "compressed pixels in fragments",
            "something else where the first fragment should start",
            SEND_AGAIN,
            "pixels",
        )
