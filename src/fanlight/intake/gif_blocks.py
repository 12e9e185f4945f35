"""Frames and delays of a GIF, read from its blocks without unpacking a pixel."""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import IO


@dataclass(frozen=True, slots=True, kw_only=True)
class GifFacts:
    """What the blocks say."""

    rows: int
    cols: int
    delays_ms: tuple[float, ...]  # one a frame; in the file whole hundredths of a second
    is_complete: bool  # the trailer was there


def _skip_sub_blocks(file: IO[bytes]) -> bool:
    while True:
        size = file.read(1)
        if not size:
            return False
        if size == b"\x00":
            return True
        file.seek(size[0], 1)


def read_gif_blocks(file: IO[bytes], most_frames: int) -> GifFacts:
    """Walk the blocks of a GIF (CompuServe's GIF89a specification, 1990, sections 18 to 27).

    Raises
    ------
    ValueError
        If the screen descriptor is missing, or there are more frames than `most_frames`.
    """
    head = file.read(13)
    if len(head) < 13 or head[:3] != b"GIF":
        raise ValueError("no GIF screen descriptor")
    cols, rows, packed = struct.unpack("<HHB", head[6:11])
    if packed & 0x80:
        file.seek(3 * 2 ** ((packed & 7) + 1), 1)
    delays: list[float] = []
    delay_ms = 0.0
    is_complete = False
    while block := file.read(1):
        if block == b"\x3b":
            is_complete = True
            break
        if block == b"\x21":
            label = file.read(1)
            if label == b"\xf9":
                control = file.read(6)
                if len(control) < 6:
                    break
                delay_ms = 10.0 * struct.unpack("<H", control[2:4])[0]
            elif not _skip_sub_blocks(file):
                break
        elif block == b"\x2c":
            descriptor = file.read(9)
            if len(descriptor) < 9:
                break
            if descriptor[8] & 0x80:
                file.seek(3 * 2 ** ((descriptor[8] & 7) + 1), 1)
            file.seek(1, 1)  # smallest code size
            delays.append(delay_ms)
            delay_ms = 0.0
            if len(delays) > most_frames:
                raise ValueError(f"more than {most_frames} frames")
            if not _skip_sub_blocks(file):
                break
        else:
            break
    return GifFacts(rows=rows, cols=cols, delays_ms=tuple(delays), is_complete=is_complete)
