"""How large a file, picture or archive may be before it is refused, each with its reason."""

from __future__ import annotations

from dataclasses import dataclass

_MIB = 1024**2
_GIB = 1024**3


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Upper bounds that are checked on headers, before memory is asked for.

    All values are engineering judgement, each against the largest honest input named beside it.
    """

    file_bytes: int = 4 * _GIB  # 60 s at 60 frames/s of 1024 x 768 RGB, stored without compression, is 8.5 GB: too long
    rows: int = 8192  # a 4K screen has 2160 rows, a photograph from a telephone about 3000
    cols: int = 8192
    picture_px: int = 40_000_000  # a 12-megapixel photograph is read, one made to fill the memory is not
    frames: int = 20_000  # 100 s at 200 frames/s
    decoded_bytes: int = 32 * _GIB  # frames are decoded a chunk at a time: this bounds time, not memory
    chunk_bytes: int = 256 * _MIB  # 32 frames of 1024 x 768 RGB are 72 MiB; larger pictures come in shorter chunks
    frame_code_bytes: int = 128 * _MIB  # one compressed frame; an uncompressed 12-megapixel one has 36 MiB
    header_value_bytes: int = _MIB  # longer values of a DICOM header (raw data of makers) are left in the file
    sheet_bytes: int = _MIB  # a request sheet is a page of text
    files: int = 5_000  # a study has 20 to 100 files
    zip_entries: int = 20_000
    zip_depth: int = 3  # a zip inside a zip inside a zip: practices forward e-mails
    zip_ratio: float = 200.0  # a black cine of 8-bit pixels compresses about 1:100 to 1:150; deflate ends at 1:1032
    zip_ratio_from_bytes: int = 16 * _MIB  # below this an unpacked file is harmless whatever its ratio
    zip_total_bytes: int = 16 * _GIB  # 100 uncompressed clips of 150 MB
    folder_depth: int = 16
