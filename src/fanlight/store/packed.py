"""Values of the engine as the tables hold them: their JSON, packed."""

from __future__ import annotations

import zlib
from typing import Any, TypeVar

from fanlight.study.codec import from_bytes, to_bytes

T = TypeVar("T")


def pack(value: Any) -> bytes:
    """Return a value's packed JSON."""
    return pack_json(to_bytes(value))


def pack_json(data: bytes) -> bytes:
    """Return JSON packed."""
    return zlib.compress(data, 6)


def unpack_json(data: bytes) -> bytes:
    """Return the JSON that was packed."""
    return zlib.decompress(data)


def unpack(data: bytes, kind: type[T]) -> T | None:
    """Return the value; None when a version of Fanlight wrote it that had other fields: the engine makes it again."""
    try:
        return from_bytes(unpack_json(data), kind)
    except (ValueError, zlib.error):
        return None
