"""How a sentence begins."""

from __future__ import annotations


def capital(text: str) -> str:
    """Return a text with its first letter large, as a sentence begins; the others as they are.

    Examples
    --------
    >>> capital("tilt: PW along the stream")
    'Tilt: PW along the stream'
    """
    return text[:1].upper() + text[1:]
