"""The files of a study at hand: listed, their headers read, put together. One broken file never stops the others."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from fanlight.intake import Item, Limits, Probed, RequestOptions, assemble
from fanlight.intake.gather import Gathered
from fanlight.intake.request_sheet import marks_by_clip, merge_sheets
from fanlight.review.events import Event, FileProbed, FileRefused, FilesFound, StudyAssembled
from fanlight.review.worker import (
    TaskDiedError,
    TaskError,
    TaskFailedError,
    TaskStalledError,
    Worker,
    is_the_machine_s_fault,
)
from fanlight.study import Clip, ClipReading, FileMarks, Patient, Refusal

_FILE_TASKS = "fanlight.review.file_tasks"


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedFiles:
    """Files of a study that lie anywhere, each with the name that the user knows it by."""

    title: str  # of the study, in place of a folder's name
    files: tuple[tuple[str, str], ...]  # path and name


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadBefore:
    """Readings by this engine with this House that were kept; used where clip and animal are still the same."""

    patient: Patient
    readings: tuple[ClipReading, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewOptions:
    """What the user said beside the path."""

    request: RequestOptions = field(default_factory=RequestOptions)
    plan: str = ""
    workers: int = 1
    limits: Limits = field(default_factory=Limits)
    before: ReadBefore | None = None


class NotOpenedError(TaskError):
    """The files of a study could not be looked at now, for a reason that lies in none of them: try again."""


class OpenStudy:
    """A study whose files are at hand: scratch folder and where each clip comes from. Close it at the end."""

    def __init__(self) -> None:
        self._scratch = tempfile.TemporaryDirectory(prefix="fanlight-")
        self.items: dict[str, Item] = {}
        self.marks: dict[str, FileMarks] = {}

    @property
    def scratch(self) -> Path:
        """Folder for files taken out of a zip, under neutral names."""
        return Path(self._scratch.name)

    def close(self) -> None:
        """Remove the scratch folder."""
        self._scratch.cleanup()

    def __enter__(self) -> OpenStudy:
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()


def refusal_of(name: str, error: TaskError) -> Refusal:
    """Return what the user is told when a file's task did not finish."""
    if is_the_machine_s_fault(error):
        return Refusal(
            name=name,
            expected="a machine with time to look at it",
            found=str(error),
            remedy="The file may be whole: read the study again when the machine is less busy.",
        )
    if isinstance(error, TaskStalledError):
        return Refusal(
            name=name,
            expected="a file that can be decoded",
            found=f"no progress for {error.limit_s:g} s while {error.phase}; the decoder was stopped",
            remedy="Export the clip again from the machine and send the new file.",
        )
    if isinstance(error, TaskDiedError):
        return Refusal(
            name=name,
            expected="a file that can be decoded",
            found=f"the decoder broke down while {error.phase}",
            remedy="Export the clip again from the machine and send the new file.",
        )
    if isinstance(error, TaskFailedError) and error.kind == "MemoryError":
        return Refusal(
            name=name,
            expected="a clip that fits into the memory limit",
            found=f"more memory needed than allowed, while {error.phase}",
            remedy="Export a shorter clip, or one with a smaller picture.",
        )
    if isinstance(error, TaskFailedError) and error.kind == "FrameDamageError":
        return Refusal(
            name=name,
            expected="at least one frame that can be decoded",
            found=str(error).removeprefix("FrameDamageError: ").split(" (while")[0],
            remedy="Export the clip again from the machine and send the new file.",
        )
    return Refusal(
        name=name,
        expected="a file that can be read",
        found=str(error),
        remedy="This looks like a fault of Fanlight: please report it with the kind of file. The other files are used.",
    )


def open_study(path: Path | NamedFiles, opened: OpenStudy, options: ReviewOptions, worker: Worker) -> Iterator[Event]:
    """List the files, read their headers and put the study together; the last event is `StudyAssembled`.

    Raises
    ------
    NotOpenedError
        Of `NamedFiles`, when the machine had no time for them: what was read of them before must not be replaced by
        less. A folder is read once; there the file is refused.
    """
    title = path.name if isinstance(path, Path) else path.title
    gathered = list_files(path, opened.scratch, options.limits, worker)
    yield FilesFound(n_files=len(gathered.items))
    yield from (FileRefused(refusal=item) for item in gathered.refused)
    answers: list[Probed] = []
    for item in gathered.items:
        try:
            answer: Probed = worker.call(f"{_FILE_TASKS}:probe_file", item, options.limits)
        except TaskError as error:
            if isinstance(path, NamedFiles) and is_the_machine_s_fault(error):
                raise NotOpenedError(f"{item.name}: {error}") from error
            answer = Probed(refused=(refusal_of(item.name, error),))
        answers.append(answer)
        yield FileProbed(name=item.name)
        yield from (FileRefused(refusal=entry) for entry in answer.refused)
        for clip in answer.clips:
            opened.items.setdefault(clip.key, item)
    study = replace(assemble(title, gathered, answers, options.request), marks=gathered.sheet.marks)
    for clip, marks in _by_clip(study.clips, _laid_over(gathered.sheet.marks, options.request.marks, study.clips)):
        there, beyond = _on_frames(marks, clip)
        opened.marks[clip.key] = there
        study = replace(study, refused=(*study.refused, *beyond))
        yield from (FileRefused(refusal=item) for item in beyond)
    yield StudyAssembled(study=study)


def _by_clip(clips: Sequence[Clip], marks: Mapping[str, FileMarks]) -> Iterator[tuple[Clip, FileMarks]]:
    return ((clip, marks[clip.key]) for clip in clips if clip.key in marks)


def _on_frames(marks: FileMarks, clip: Clip) -> tuple[FileMarks, tuple[Refusal, ...]]:
    """Return the marks on frames that the clip has, and for each other one what is wrong with it."""
    beyond = [mark for mark in marks.drawn if mark.frame >= clip.n_frames]
    if not beyond:
        return marks, ()
    has = "one frame" if clip.n_frames == 1 else f"frames 1 to {clip.n_frames}"
    refused = tuple(
        Refusal(
            name=clip.name, expected=f"marks on frames of this clip, which has {has}",
            found=f'{mark.kind} "{mark.title}" there',
            remedy="Correct the frame in the marks file; frames count from 1. All other marks are used.",
            place=f"frame {mark.frame + 1}",
        )
        for mark in beyond
    )  # fmt: skip
    return replace(marks, drawn=tuple(mark for mark in marks.drawn if mark.frame < clip.n_frames)), refused


def _laid_over(sent: Sequence[FileMarks], told: Sequence[FileMarks], clips: Sequence[Clip]) -> dict[str, FileMarks]:
    """Return what the user said laid over what came with the files; what was drawn is added to what was drawn there."""
    there = marks_by_clip(sent, clips)
    found = marks_by_clip((*sent, *told), clips)
    for key, marks in marks_by_clip(told, clips).items():
        if marks.drawn and key in there:
            named = {(mark.kind, mark.frame, mark.title) for mark in marks.drawn if mark.title}
            kept = (mark for mark in there[key].drawn if (mark.kind, mark.frame, mark.title) not in named)
            found[key] = replace(found[key], drawn=(*kept, *marks.drawn))
    return found


def list_files(path: Path | NamedFiles, scratch: Path, limits: Limits, worker: Worker) -> Gathered:
    """List the files of a study; those in a zip are unpacked into the scratch folder.

    Raises
    ------
    NotOpenedError
        Of `NamedFiles`, when they could not be listed, and the reason lies in none of them as far as can be told.
    """
    gathered: Gathered
    try:
        if isinstance(path, Path):
            gathered = worker.call(f"{_FILE_TASKS}:gather_files", str(path), str(scratch), limits)
        else:
            gathered = worker.call(f"{_FILE_TASKS}:gather_named_files", path.files, str(scratch), limits)
    except TaskError as error:
        if isinstance(path, NamedFiles):
            return _list_one_by_one(path, scratch, limits, worker)
        return Gathered(refused=(refusal_of(path.name, error),))
    return gathered


def _list_one_by_one(named: NamedFiles, scratch: Path, limits: Limits, worker: Worker) -> Gathered:
    """List files again, each alone: one that breaks what opens it (a zip can) is refused, and the others stay."""
    found: list[Gathered] = []
    for place, (path, name) in enumerate(sorted(named.files, key=lambda file: file[1])):
        own = scratch / f"file-{place}"
        own.mkdir(exist_ok=True)
        try:
            found.append(worker.call(f"{_FILE_TASKS}:gather_named_files", ((path, name),), str(own), limits))
        except TaskError as error:
            if not _is_the_file_s_fault(error):
                raise NotOpenedError(f"{name}: {error}") from error
            found.append(Gathered(refused=(refusal_of(name, error),)))
    return Gathered(
        items=tuple(item for each in found for item in each.items),
        refused=tuple(item for each in found for item in each.refused),
        sheet=merge_sheets(each.sheet for each in found),
        notes=tuple(note for each in found for note in each.notes),
    )


def _is_the_file_s_fault(error: TaskError) -> bool:
    """Return whether listing failed for what a file holds: it crashed, filled the memory, or worked without end."""
    if is_the_machine_s_fault(error):
        return False
    if isinstance(error, TaskStalledError):
        return error.was_at_work
    return isinstance(error, TaskDiedError) or (isinstance(error, TaskFailedError) and error.kind == "MemoryError")
