"""Teaching copies of a whole study."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from fanlight.intake.deidentify_key import DeidentificationKey
from fanlight.intake.deidentify_report import ClipRemoval, RemovalReport, left_out_words
from fanlight.review.events import FileRefused, StudyAssembled
from fanlight.review.opening import OpenStudy, ReviewOptions, open_study, refusal_of
from fanlight.review.worker import TaskError, Worker
from fanlight.study import House, Identity, Refusal, Study


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipCopied:
    """The copy of one clip was written."""

    removal: ClipRemoval


@dataclass(frozen=True, slots=True, kw_only=True)
class CopiesFinished:
    """All copies are written."""

    report: RemovalReport


CopyEvent = FileRefused | StudyAssembled | ClipCopied | CopiesFinished


def animal_words(identity: Identity) -> str:
    """Return what tells this animal from others, for the key only: case number, else name with owner."""
    return identity.case_number or " ".join(part for part in (identity.animal_name, identity.owner) if part)


def _same_animal(one: Identity, other: Identity) -> bool:
    """Whether two statements may speak of one animal: the case number decides, else the name with the owner."""

    def same(a: str, b: str) -> bool:
        return a.casefold().split() == b.casefold().split()

    if one.case_number and other.case_number:
        return same(one.case_number, other.case_number)
    return all(same(a, b) for a, b in ((one.animal_name, other.animal_name), (one.owner, other.owner)) if a and b)


def animals_of(study: Study) -> dict[str, str]:
    """Return what tells the animal of each clip from others, by the clip's key.

    A file that says nothing, or nothing else than the study, is of the study's animal. One that names another case
    number, or another name, gets words of its own, so that two animals in a folder never share code word and dates.
    """
    known = [study.identity]
    animals: dict[str, str] = {}
    for clip in study.clips:
        identity = next((item for item in known if _same_animal(item, clip.identity)), None)
        if identity is None:
            known.append(identity := clip.identity)
        animals[clip.key] = animal_words(identity)
    return animals


def mismatch_words(study: Study) -> tuple[str, ...]:
    """Return in what the files differ about the animal, without any of the values."""
    if not study.mismatches:
        return ()
    titles = ", ".join(dict.fromkeys(item.split(":")[0] for item in study.mismatches))
    count = len(set(animals_of(study).values()))
    told = f"{count} animals were told apart" if count > 1 else "they were taken for one animal"
    return (f"the files, or files and request, do not agree on {titles}; by case number and name {told}",)


def deidentify_study(
    path: Path,
    house: House,
    out_dir: Path,
    key_folder: Path,
    *,
    blank_inside: bool = False,
    options: ReviewOptions | None = None,
) -> Iterator[CopyEvent]:
    """Write teaching copies of every still and clip of a study.

    Parameters
    ----------
    path : Path
        Folder, zip or single file.
    house : House
        Tables "screen_words" and "confidentiality".
    out_dir : Path
        Folder of the copies; made when missing.
    key_folder : Path
        Folder of the key; the same key gives an animal the same code word at every visit.
    blank_inside : bool
        Blank text on the picture too, instead of flagging it.
    options : ReviewOptions, optional
        Request fields and limits.

    Yields
    ------
    CopyEvent
        The last one is `CopiesFinished`.

    Raises
    ------
    KeyFileError
        If the key cannot be read or made.
    OSError
        If the folder cannot be written.
    """
    options = options or ReviewOptions()
    key = DeidentificationKey.load_or_create(key_folder)
    out_dir.mkdir(parents=True, exist_ok=True)
    study: Study | None = None
    removals: list[ClipRemoval] = []
    left_out: list[Refusal] = []
    with OpenStudy() as opened, Worker() as worker:
        for event in open_study(path, opened, options, worker):
            if isinstance(event, FileRefused):
                left_out.append(event.refusal)
                yield event
            elif isinstance(event, StudyAssembled):
                study = event.study
                yield event
        assert study is not None
        animals = animals_of(study)
        for clip in study.clips:
            try:
                answer: ClipRemoval | Refusal = worker.call(
                    "fanlight.review.clip_copy:copy_clip",
                    opened.items[clip.key],
                    clip,
                    house,
                    key_folder,
                    animals[clip.key],
                    out_dir,
                    blank_inside,
                    options.limits,
                )
            except TaskError as error:
                answer = refusal_of(clip.name, error)
            if isinstance(answer, Refusal):
                left_out.append(answer)
                yield FileRefused(refusal=answer)
            else:
                removals.append(answer)
                yield ClipCopied(removal=answer)
    animal = animal_words(study.identity)
    word = key.code_word(animal) if animal else (removals[0].file.split("/")[0] if removals else "")
    report = RemovalReport(
        code_word=word,
        clips=tuple(removals),
        left_out=left_out_words(left_out),
        mismatches=mismatch_words(study),
    )
    yield CopiesFinished(report=report)
