"""Where the clips of a study lie: the originals, and what was unpacked from zips among them."""

from __future__ import annotations

import shutil
import tempfile
import threading
from collections import OrderedDict
from dataclasses import dataclass, replace
from http import HTTPStatus
from pathlib import Path

from fanlight.desk.errors import DeskError
from fanlight.desk.told_marks import told_marks
from fanlight.intake import Gathered, Item, Limits, RequestSheet, marks_by_clip, read_sheet
from fanlight.review.opening import NamedFiles, list_files
from fanlight.review.worker import TaskError, Worker
from fanlight.store import Store, entries_of, files_of, latest_assembly
from fanlight.study import Clip, FileMarks

_OPEN_STUDIES = 4  # engineering judgement: two side by side in two tabs


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenClip:
    """One clip and where it lies."""

    item: Item
    clip: Clip


def desk_sheet(store: Store, study: str) -> RequestSheet:
    """Return the newest request sheet that was filled in on the desk; an empty one when there is none."""
    sheets = [file.sha256 for file in files_of(store, study) if file.name == DESK_SHEET]
    return read_sheet(store.originals.read(sheets[-1]), DESK_SHEET) if sheets else RequestSheet()


def request_of(store: Store, study: str) -> RequestSheet:
    """Return what was said on the desk and the engine must know: the sheet, and marks, see `told_marks`."""
    sheet = desk_sheet(store, study)
    assembled = latest_assembly(store, study)
    if assembled is None:
        return sheet
    return replace(sheet, marks=(*sheet.marks, *told_marks(entries_of(store, study), assembled.clips)))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Open:
    files: tuple[tuple[str, str], ...]  # those that it was listed from
    clips: dict[str, OpenClip]
    marks: dict[str, FileMarks]
    scratch: Path

    def close(self) -> None:
        shutil.rmtree(self.scratch, ignore_errors=True)


# The request sheet as it was filled in on the desk, kept with the files; what it says goes before the other sheets.
DESK_SHEET = "request filled in at the desk.toml"


def newest_files(store: Store, study: str) -> tuple[tuple[str, str], ...]:
    """Return path and name of each file of a study; of two with one name, the one that came last.

    The sheet that was filled in on the desk is not among them, see `desk_sheet`.
    """
    newest = {file.name: file.sha256 for file in files_of(store, study)}
    return tuple((str(store.originals.path(sha256)), name) for name, sha256 in newest.items() if name != DESK_SHEET)


def _busy(study: str, error: TaskError) -> DeskError:
    return DeskError(
        HTTPStatus.SERVICE_UNAVAILABLE, f"the files could not be listed now ({error})", f"study {study}",
        "The machine is busy: ask again in a moment. Nothing is lost.",
    )  # fmt: skip


class StudyFiles:
    """Finds clips by their key; remembers the last few studies. Close it at the end.

    Parameters
    ----------
    store : Store
    scratch : Path
        Folder for what is unpacked.
    limits : Limits
    """

    def __init__(self, store: Store, scratch: Path, limits: Limits) -> None:
        self._store = store
        self._scratch = scratch
        self._limits = limits
        self._open: OrderedDict[str, _Open] = OrderedDict()
        self._lock = threading.Lock()
        self._loading: dict[str, threading.Lock] = {}
        self._listing = threading.Lock()
        self._worker = Worker()

    def clip(self, study: str, key: str) -> OpenClip:
        """Return one clip; DeskError when the study has none of this key."""
        there = self._known(study, key)
        if there is None:
            with self._lock:
                mine = self._loading.setdefault(study, threading.Lock())
            with mine:  # a zip takes its time; other studies do not wait for it
                there = self._known(study, key) or self._load(study).get(key)
        if there is None:
            raise DeskError(
                HTTPStatus.NOT_FOUND, f"no clip {key}", f"study {study}", "Load the study anew; it has changed."
            )
        return there

    def sent_marks(self, study: str) -> dict[str, FileMarks]:
        """Return what was marked in the files sent, by clip; DeskError when they cannot be listed now."""
        with self._lock:
            mine = self._loading.setdefault(study, threading.Lock())
        with mine:
            with self._lock:
                there = self._open.get(study)
            if there is None or there.files != newest_files(self._store, study):
                self._load(study)
            with self._lock:
                there = self._open.get(study)
        return {} if there is None else there.marks

    def _known(self, study: str, key: str) -> OpenClip | None:
        with self._lock:
            there = self._open.get(study)
            if there is None or key not in there.clips:
                return None
            self._open.move_to_end(study)
            return there.clips[key]

    def warm(self) -> None:
        """Start the process that lists files, so that the first question needs no wait."""
        self._list(NamedFiles(title="", files=()), self._scratch)

    def _list(self, files: NamedFiles, scratch: Path) -> Gathered:
        """Return what lies there; zips are unpacked in a process of their own."""
        if any(name.lower().endswith(".zip") for _, name in files.files):
            with Worker() as worker:
                return list_files(files, scratch, self._limits, worker)
        with self._listing:
            return list_files(files, scratch, self._limits, self._worker)

    def _load(self, study: str) -> dict[str, OpenClip]:
        scratch = Path(tempfile.mkdtemp(dir=self._scratch))
        assembled = latest_assembly(self._store, study)
        clips: dict[str, OpenClip] = {}
        marks: dict[str, FileMarks] = {}
        newest = newest_files(self._store, study)
        if assembled is not None:
            files = NamedFiles(title=assembled.source, files=newest)
            try:
                found = self._list(files, scratch)
            except TaskError as error:  # what is open stays as it is
                shutil.rmtree(scratch, ignore_errors=True)
                raise _busy(study, error) from error
            items = {item.name: item for item in found.items}
            marks = marks_by_clip(found.sheet.marks, assembled.clips)
            clips = {
                clip.key: OpenClip(item=items[clip.name], clip=clip) for clip in assembled.clips if clip.name in items
            }
        with self._lock:
            if (before := self._open.pop(study, None)) is not None:
                before.close()
            self._open[study] = _Open(files=newest, clips=clips, marks=marks, scratch=scratch)
            while len(self._open) > _OPEN_STUDIES:
                _, oldest = self._open.popitem(last=False)
                oldest.close()
        return clips

    def close(self) -> None:
        """Remove what was unpacked and end the process."""
        with self._lock:
            for there in self._open.values():
                there.close()
            self._open.clear()
        with self._listing:
            self._worker.close()
