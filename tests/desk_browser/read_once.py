"""Studies that are read once for all workers of a run, and stand in a store a moment later, as if just sent."""

from __future__ import annotations

import fcntl
import hashlib
import pickle
import shutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from fanlight.reference.load import load_house
from fanlight.review.cache import DiskCache
from fanlight.review.events import Event
from fanlight.review.opening import NamedFiles, OpenStudy, ReviewOptions
from fanlight.review.run import review_study
from fanlight.review.settings import default_workers
from fanlight.store import add_entry, add_file, add_study, moment, new_id, open_store, record_event, waiting_studies
from fanlight.store.actions import SetClosed

Keep = Callable[[Mapping[str, Path]], str]  # puts a study of these files into the service's store, returns its id


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """Files of a study, and all that the engine said of them."""

    files: Mapping[str, Path]  # by the name under which they are sent
    events: tuple[Event, ...]
    house: str  # fingerprint of the tables that it was read with


def once(folder: Path, make: Callable[[Path], None]) -> Path:
    """Return a folder that the first worker that asks makes while the others wait; after a failure the next tries.

    The kernel lets go of the lock when a worker dies, so that nobody waits for one that is gone.
    """
    done = folder.with_name(f"{folder.name}-done")
    folder.parent.mkdir(parents=True, exist_ok=True)
    with folder.with_name(f"{folder.name}-lock").open("wb") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not done.exists():
            shutil.rmtree(folder, ignore_errors=True)  # half made by a worker that failed or died
            folder.mkdir()
            make(folder)
            done.touch()
    return folder


def read_once(files: Mapping[str, Path], house: Path, *, cache: Path, shared: Path) -> Read:
    """Read a study as the desk's engine does, unless a worker has read these very files with these very tables.

    Parameters
    ----------
    files : mapping
        As a page sends them, which leaves folders out of the names.
    house : Path
        The service's file of house settings.
    cache : Path
        Folder of the engine's cache.
    shared : Path
        Folder that all workers of the run share.
    """
    rows = load_house(house)
    sent = {path.name: path for path in files.values()}
    digest = hashlib.sha256(rows.fingerprint().encode())
    for name, path in sent.items():
        digest.update(name.encode() + hashlib.sha256(path.read_bytes()).digest())
    named = NamedFiles(title=_title(sent), files=tuple((str(path), name) for name, path in sent.items()))

    def read(folder: Path) -> None:
        with DiskCache(cache) as kept, OpenStudy() as opened:
            events = list(review_study(named, rows, opened, ReviewOptions(workers=default_workers()), kept))
        (folder / "events").write_bytes(pickle.dumps(events))

    folder = once(shared / "read" / digest.hexdigest()[:32], read)
    events = pickle.loads((folder / "events").read_bytes())
    return Read(files=sent, events=tuple(events), house=rows.fingerprint())


def keep(data: Path, read: Read) -> str:
    """Keep a study with its files and all that was read of them; return its id. A service may have the store open."""
    with open_store(data) as store:
        study = add_study(store, new_id(), title=_title(read.files)).id
        for name, path in read.files.items():
            add_file(store, study, file=new_id(), name=name, chunks=[path.read_bytes()])
        seen_at = moment(store, study)
        for event in read.events:
            record_event(store, study, event, house=read.house, seen_at=seen_at)
    return study


def _title(files: Mapping[str, Path]) -> str:
    """Return what the page calls single files together."""
    return next(iter(files.values())).stem if len(files) == 1 else f"{len(files)} files"


def put_aside(data: Path) -> None:
    """Close every study that waits: a list shows the 25 that wait longest, and the next module's come last."""
    with open_store(data) as store:
        for study in waiting_studies(store, limit=1000).studies:
            act = SetClosed(is_closed=True, reason="its tests are over")
            add_entry(store, study.id, act, author="M. Linden", entry=new_id())
