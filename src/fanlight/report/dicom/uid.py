"""Unique identifiers of what is written: the same words give the same identifier."""

from __future__ import annotations

import uuid

# The root 2.25 holds every identifier made from a UUID (PS3.5 B.2; ITU-T X.667); a name-based one (RFC 9562, version 5)
# is the same for the same words. The space is a UUID of our own, drawn once.
_SPACE = uuid.UUID("8e1317f0-c103-42aa-b8d3-ed314943923d")


def uid_of(*words: object) -> str:
    """Return the unique identifier that these words name.

    Examples
    --------
    >>> uid_of("report", 7) == uid_of("report", 7), uid_of("report", 7) == uid_of("report", 8)
    (True, False)
    """
    return f"2.25.{uuid.uuid5(_SPACE, '/'.join(str(word) for word in words)).int}"
