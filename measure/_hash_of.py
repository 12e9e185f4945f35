"""One hash for a value of any depth, for what is held against the same of other code (`scripts.carry_over`)."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from typing import Any

import numpy as np


def hash_of(value: Any) -> str:
    """Return the hash of a value of any depth; numbers count to their last bit."""
    digest = hashlib.sha256()
    for word in _words(value):
        digest.update(word)
        digest.update(b"\0")
    return digest.hexdigest()


def _words(value: Any) -> Iterator[bytes]:
    if is_dataclass(value) and not isinstance(value, type):
        yield type(value).__name__.encode()
        for field in fields(value):
            yield field.name.encode()
            yield from _words(getattr(value, field.name))
    elif isinstance(value, np.ndarray | np.generic):
        yield f"{value.dtype} {value.shape}".encode()
        yield np.ascontiguousarray(value).tobytes()
    elif isinstance(value, Mapping):
        yield from _words(sorted(value.items()))
    elif isinstance(value, tuple | list):
        yield f"{len(value)} items".encode()
        for item in value:
            yield from _words(item)
    elif value is None or isinstance(value, str | bytes | int | float | Enum):
        yield repr(value).encode()
    else:
        raise TypeError(f"expected values that a review gives, got {type(value).__name__}: say here how it is hashed")
