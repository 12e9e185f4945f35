"""What happens during a review, in the order in which it happens. Command line and desk show these."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.study import ClipReading, Refusal, Study, StudyReview


@dataclass(frozen=True, slots=True, kw_only=True)
class FilesFound:
    """The folder, zip or file was listed."""

    n_files: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FileRefused:
    """One file cannot be used; the others go on."""

    refusal: Refusal


@dataclass(frozen=True, slots=True, kw_only=True)
class FileProbed:
    """The header of one file was read."""

    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyAssembled:
    """All headers are read, the clips are in order."""

    study: Study


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipProgress:
    """Some more frames of a clip were looked at."""

    number: int
    phase: str
    frames_done: int
    n_frames: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipFinished:
    """A clip was read, or its results were known already."""

    reading: ClipReading
    from_cache: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewFinished:
    """The draft is complete."""

    review: StudyReview


Event = FilesFound | FileRefused | FileProbed | StudyAssembled | ClipProgress | ClipFinished | ReviewFinished
