"""What was taken out of a teaching copy: names of attributes and counts, never a value."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any, Final

from fanlight.study import Box, Refusal

PROFILE: Final = "DICOM PS3.15 Annex E, Basic Application Level Confidentiality Profile"
CLEAN_PIXELS: Final = "Clean Pixel Data"
OPTIONS: Final = (
    CLEAN_PIXELS,
    "Retain Patient Characteristics",
    "Retain Longitudinal Temporal Information with Modified Dates",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipRemoval:
    """What was taken out of one still or clip."""

    clip: int  # place in the study, from 1
    file: str  # of the copy, below the output folder
    removed: tuple[tuple[str, int], ...]  # attribute by its name in the standard, how often
    changed: tuple[str, ...]  # moved, replaced by a code word, emptied, or written anew with another value
    blanked: tuple[Box, ...]
    flagged: tuple[Box, ...]  # text on the picture that a person must look at
    whole_outside_blanked: bool  # everything outside the picture went, because the text could not be read
    pixels_clean: bool  # False: text is left on the picture, and the file says so
    frames: int
    notes: tuple[str, ...] = ()

    @property
    def options(self) -> tuple[str, ...]:
        """Options of the profile that hold for this clip; the file's own attributes name the same."""
        return tuple(option for option in OPTIONS if option != CLEAN_PIXELS or self.pixels_clean)


@dataclass(frozen=True, slots=True, kw_only=True)
class RemovalReport:
    """What was taken out of a study, by its animal's code word. Holds no name, number, date or text of the original."""

    code_word: str
    clips: tuple[ClipRemoval, ...]
    left_out: tuple[str, ...] = ()  # files that gave no copy, in words without their names
    profile: str = PROFILE
    mismatches: tuple[str, ...] = ()  # what the files say differently about the animal, without what they say

    @property
    def options(self) -> tuple[str, ...]:
        """Options of the profile that hold for every clip."""
        return tuple(option for option in OPTIONS if all(option in clip.options for clip in self.clips))

    def as_json(self) -> dict[str, Any]:
        """Return the report as plain values for a JSON file."""
        plain = asdict(self)
        plain["options"] = self.options
        for clip, own in zip(plain["clips"], self.clips, strict=True):
            clip["removed"] = dict(clip["removed"])
            clip["options"] = own.options
        return plain

    def as_text(self) -> str:
        """Return the report for a reader."""
        removed: Counter[str] = Counter()
        for clip in self.clips:
            removed.update(dict(clip.removed))
        changed = sorted({name for clip in self.clips for name in clip.changed})
        words = dict.fromkeys(clip.file.split("/")[0] for clip in self.clips)
        lines = [
            f"Teaching copy of {', '.join(words) or self.code_word}: {_count(len(self.clips), 'file')}",
            f"Profile: {self.profile}",
            f"Options that hold for every file: {'; '.join(self.options)}",
            *(f"LOOK AT IT: {item}" for item in self.mismatches),
            "",
            f"Attributes removed ({sum(removed.values())}):",
            *(f"  {name}{f' ({times} times)' if times > 1 else ''}" for name, times in sorted(removed.items())),
            f"Attributes changed or emptied: {', '.join(changed) or 'none'}",
            "",
        ]
        for clip in self.clips:
            lines.append(
                f"Clip {clip.clip} -> {clip.file}: {_count(clip.frames, 'frame')}, "
                f"{_count(len(clip.blanked), 'text')} blanked in every frame"
                + (", everything outside the picture blanked" if clip.whole_outside_blanked else "")
            )
            if clip.flagged:
                places = ", ".join(f"row {box.row0}, column {box.col0}" for box in clip.flagged)
                lines.append(f"  LOOK AT IT: {_count(len(clip.flagged), 'text')} on the picture itself ({places})")
            if more := [option for option in clip.options if option not in self.options]:
                lines.append(f"  Options that hold for this file too: {'; '.join(more)}")
            if not clip.pixels_clean:
                lines.append("  The file says that identity may be left in the picture (Burned In Annotation YES).")
            lines.extend(f"  {note}" for note in clip.notes)
        lines.extend(f"No copy: {item}" for item in self.left_out)
        lines += ["", "Look through the copies before you pass them on: no program finds every name."]
        return "\n".join(lines) + "\n"


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"


def left_out_words(refused: Iterable[Refusal]) -> tuple[str, ...]:
    """Return why files gave no copy, without their names, which may name the animal."""
    return tuple(f"a file that is not {item.expected}" for item in refused)
