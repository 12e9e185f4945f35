"""The one error inside intake that says: this file cannot be used."""

from __future__ import annotations

from fanlight.study import Refusal

SEND_AGAIN = "Export the file again from the machine, or copy it again, and send the new one."


class FileRefusedError(ValueError):
    """A file cannot be used; `refusal` says what was expected, what was found and what to do."""

    def __init__(self, name: str, expected: str, found: str, remedy: str, place: str = "") -> None:
        self.refusal = Refusal(name=name, expected=expected, found=found, remedy=remedy, place=place)
        super().__init__(str(self.refusal))
