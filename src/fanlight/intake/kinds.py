"""What a file is, told by its first bytes and never by its name."""

from __future__ import annotations

from enum import StrEnum

HEAD_BYTES = 4096  # DICOM's mark stands at byte 128, an MP4's brand within the first 12, a text shows itself in a page


class Kind(StrEnum):
    """Kinds of file that are told apart; the values are words for a reader."""

    DICOM = "a DICOM file"
    DICOM_WITHOUT_PREAMBLE = "a DICOM data set without its preamble"
    ZIP = "a zip archive"
    OTHER_ARCHIVE = "an archive that is not a zip"
    PNG = "a PNG picture"
    JPEG = "a JPEG picture"
    BMP = "a BMP picture"
    TIFF = "a TIFF picture"
    GIF = "a GIF picture"
    WEBP = "a WebP picture"
    MP4 = "an MP4 or MOV video"
    AVI = "an AVI video"
    MATROSKA = "a WebM or Matroska video"
    MPEG = "an MPEG video"
    WMV = "a WMV video"
    PDF = "a PDF document"
    OFFICE = "an office document"
    PROGRAM = "a program"
    TEXT = "a text file"
    EMPTY = "an empty file"
    UNKNOWN = "a file of unknown kind"


STILLS = frozenset({Kind.PNG, Kind.JPEG, Kind.BMP, Kind.TIFF, Kind.WEBP})
VIDEOS = frozenset({Kind.MP4, Kind.AVI, Kind.MATROSKA, Kind.MPEG, Kind.WMV})
DICOMS = frozenset({Kind.DICOM, Kind.DICOM_WITHOUT_PREAMBLE})
PICTURES = STILLS | VIDEOS | DICOMS | {Kind.GIF}

CONTAINER_WORDS = {
    Kind.PNG: "PNG",
    Kind.JPEG: "JPEG",
    Kind.BMP: "BMP",
    Kind.TIFF: "TIFF",
    Kind.WEBP: "WebP",
    Kind.GIF: "GIF",
    Kind.MP4: "MP4",
    Kind.AVI: "AVI",
    Kind.MATROSKA: "WebM",
    Kind.MPEG: "MPEG",
    Kind.WMV: "WMV",
    Kind.DICOM: "DICOM",
    Kind.DICOM_WITHOUT_PREAMBLE: "DICOM",
}

# Magic numbers as the formats' own specifications give them.
_STARTS: tuple[tuple[bytes, Kind], ...] = (
    (b"PK\x03\x04", Kind.ZIP),
    (b"PK\x05\x06", Kind.ZIP),  # an empty zip
    (b"\x89PNG\r\n\x1a\n", Kind.PNG),
    (b"\xff\xd8\xff", Kind.JPEG),
    (b"GIF87a", Kind.GIF),
    (b"GIF89a", Kind.GIF),
    (b"II*\x00", Kind.TIFF),
    (b"MM\x00*", Kind.TIFF),
    (b"\x1a\x45\xdf\xa3", Kind.MATROSKA),
    (b"\x00\x00\x01\xba", Kind.MPEG),
    (b"\x00\x00\x01\xb3", Kind.MPEG),
    (b"\x30\x26\xb2\x75\x8e\x66\xcf\x11", Kind.WMV),
    (b"%PDF", Kind.PDF),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", Kind.OFFICE),  # also the thumbnail store of a Windows folder
    (b"{\\rtf", Kind.OFFICE),
    (b"MZ", Kind.PROGRAM),
    (b"\x7fELF", Kind.PROGRAM),
    (b"7z\xbc\xaf\x27\x1c", Kind.OTHER_ARCHIVE),
    (b"Rar!\x1a\x07", Kind.OTHER_ARCHIVE),
    (b"\x1f\x8b", Kind.OTHER_ARCHIVE),
    (b"BZh", Kind.OTHER_ARCHIVE),
    (b"\xfd7zXZ\x00", Kind.OTHER_ARCHIVE),
)
_MP4_BOXES = frozenset({b"ftyp", b"moov", b"mdat", b"free", b"wide", b"skip", b"pnot"})


def _is_bare_dicom(head: bytes) -> bool:
    """A data set that starts at once with group 0002 or 0008, as some old exports do (PS3.5 7.1)."""
    if len(head) < 16 or head[2:4] == b"\xff\xff":
        return False
    explicit = head[4:6].isalpha() and head[4:6].isupper()
    for order in ("little", "big") if explicit else ("little",):  # big endian is always explicit, PS3.5 7.3
        group, element = int.from_bytes(head[0:2], order), int.from_bytes(head[2:4], order)
        if group in (0x0002, 0x0008) and element <= 0x0070:
            return explicit or int.from_bytes(head[4:8], "little") <= 64
    return False


def _is_text(head: bytes) -> bool:
    if b"\x00" in head:
        return False
    try:
        text = head.decode("utf-8")
    except UnicodeDecodeError as error:
        if error.start < len(head) - 4:  # a character cut at the end of the head is no objection
            return False
        text = head[: error.start].decode("utf-8")
    return all(letter.isprintable() or letter in "\r\n\t\ufeff" for letter in text)


def sniff(head: bytes) -> Kind:
    """Return what kind of file starts with these bytes.

    Parameters
    ----------
    head : bytes
        The first `HEAD_BYTES` of the file, fewer if it is shorter.
    """
    if not head:
        return Kind.EMPTY
    if head[128:132] == b"DICM":  # PS3.10 7.1
        return Kind.DICOM
    for start, kind in _STARTS:
        if head.startswith(start):
            return kind
    if head[4:8] in _MP4_BOXES:
        return Kind.MP4
    if head.startswith(b"RIFF") and head[8:12] == b"AVI ":
        return Kind.AVI
    if head.startswith(b"RIFF") and head[8:12] == b"WEBP":
        return Kind.WEBP
    if head.startswith(b"BM") and head[6:10] == b"\x00\x00\x00\x00":
        return Kind.BMP
    if head[0] == 0x47 and len(head) > 188 and head[188] == 0x47:  # MPEG transport stream, packets of 188 bytes
        return Kind.MPEG
    if _is_bare_dicom(head):
        return Kind.DICOM_WITHOUT_PREAMBLE
    if _is_text(head):
        return Kind.TEXT
    return Kind.UNKNOWN
