"""Code words, identifiers and dates that only the holder of a secret key can connect with the originals."""

from __future__ import annotations

import contextlib
import hashlib
import hmac
import os
import secrets
from datetime import timedelta
from pathlib import Path
from typing import Final

KEY_FILE: Final = "deidentification.key"
_KEY_BYTES: Final = 32  # the block that HMAC-SHA256 was analysed with, RFC 2104 section 3
_CONSONANTS: Final = "bdfghjklmnprstvz"
_VOWELS: Final = "aeiu"
_UID_ROOT: Final = "2.25."  # ISO/IEC 9834-8: an integer of 128 bits under this arc needs no registration
_STANDARD_UIDS: Final = "1.2.840.10008."  # the standard's own, PS3.6 annex A: they say what, not who
# Engineering judgement: one to ten years back, far enough to hide the date, near enough for dates to stay plausible.
_LEAST_DAYS: Final = 365
_MOST_DAYS: Final = 3650


class KeyFileError(ValueError):
    """The key of the teaching copies cannot be used."""

    def __init__(self, file: Path, found: str, remedy: str) -> None:
        self.file = file
        self.found = found
        super().__init__(
            f"{file}: expected a key of {_KEY_BYTES} bytes that only you can read; found {found}. {remedy}"
        )


class DeidentificationKey:
    """A secret from which code words, identifiers and date shifts follow: same key and input, same answer.

    Parameters
    ----------
    secret : bytes
        At least 32 bytes. Never shown, never logged.
    """

    __slots__ = ("_secret",)

    def __init__(self, secret: bytes) -> None:
        if len(secret) < _KEY_BYTES:
            raise ValueError(f"a key needs at least {_KEY_BYTES} bytes, got {len(secret)}")
        self._secret = secret

    def __repr__(self) -> str:
        return "DeidentificationKey(secret not shown)"

    @classmethod
    def load_or_create(cls, folder: Path) -> DeidentificationKey:
        """Return the key kept in a folder of the user's data; make one, readable by the user alone, if there is none.

        Raises
        ------
        KeyFileError
            If the file cannot be read or written, is too short, or can be read by others.
        """
        file = folder / KEY_FILE
        try:
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            with contextlib.suppress(FileExistsError):
                handle = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
                with os.fdopen(handle, "wb") as new:
                    new.write(secrets.token_bytes(_KEY_BYTES))
            if os.name == "posix" and file.stat().st_mode & 0o077:
                raise KeyFileError(file, "a key that others can read", "Take their rights away: chmod 600.")
            secret = file.read_bytes()
        except OSError as error:
            raise KeyFileError(
                file, error.strerror or "an unreadable file", "Mend the rights of the folder."
            ) from error
        if len(secret) < _KEY_BYTES:
            raise KeyFileError(file, f"{len(secret)} bytes", "Move it away; a new one is made, with new code words.")
        return cls(secret)

    def _digest(self, purpose: str, value: str) -> bytes:
        """HMAC-SHA256 (RFC 2104) with the purpose set apart, so that no answer tells another."""
        return hmac.new(self._secret, f"fanlight/1\x00{purpose}\x00{value}".encode(), hashlib.sha256).digest()

    def code_word(self, animal: str) -> str:
        """Return the word that stands for an animal, such as "kadifume-3071": 43 bits, easily said aloud."""
        number = int.from_bytes(self._digest("code word", _folded(animal))[:8], "big")
        word = ""
        for _ in range(5):
            number, consonant = divmod(number, len(_CONSONANTS))
            number, vowel = divmod(number, len(_VOWELS))
            word += _CONSONANTS[consonant] + _VOWELS[vowel]
        return f"{word}-{number % 10_000:04d}"

    def uid(self, original: str) -> str:
        """Return the identifier that stands for one of the original's; the standard's own stay as they are."""
        if original.startswith(_STANDARD_UIDS):
            return original
        return _UID_ROOT + str(int.from_bytes(self._digest("uid", original.strip())[:16], "big"))

    def file_name(self, original: str) -> str:
        """Return a name for a file that tells nothing about the original, without an extension."""
        return self._digest("file", original).hex()[:16]

    def shift(self, animal: str) -> timedelta:
        """Return how far back the dates and times of an animal move; the same for all its visits.

        Intervals between visits, and the order of everything within one, are kept to the microsecond.
        """
        digest = self._digest("dates", _folded(animal))
        days = _LEAST_DAYS + int.from_bytes(digest[:8], "big") % (_MOST_DAYS - _LEAST_DAYS)
        seconds = int.from_bytes(digest[8:16], "big") % 86_400
        return timedelta(days=days, seconds=seconds)


def _folded(animal: str) -> str:
    """Differences of case and spacing between visits make no new animal."""
    return " ".join(animal.casefold().split())
