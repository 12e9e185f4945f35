"""Unique identifiers that follow from what they name: the same seed gives the same files."""

from __future__ import annotations

import uuid

from pydicom.uid import UID

# The root 2.25 holds every identifier made from a UUID (PS3.5 B.2; ITU-T X.667); a name-based one (RFC 9562, version 5)
# is the same for the same words. The space is a UUID of our own, drawn once.
_SPACE = uuid.UUID("7f6d2c1e-5b0a-4c39-9a4e-2f1d8b7c6a53")


def uid_of(*words: object) -> UID:
    """Return the unique identifier that these words name.

    Examples
    --------
    >>> uid_of("study", 7) == uid_of("study", 7)
    True
    >>> uid_of("study", 7) == uid_of("study", 8)
    False
    """
    return UID(f"2.25.{uuid.uuid5(_SPACE, '/'.join(str(word) for word in words)).int}")
