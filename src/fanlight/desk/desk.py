"""Everything that the service holds while it runs. None of it matters: the store does."""

from __future__ import annotations

import shutil
import threading
from collections import OrderedDict
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Self

from fanlight.desk.earlier_numbers import EarlierNumbers
from fanlight.desk.engine import QUIET_S, Engine, scratch_folder
from fanlight.desk.errors import DeskError
from fanlight.desk.frames import FrameReaders
from fanlight.desk.hub import ALL, Hub
from fanlight.desk.later import Later
from fanlight.desk.marks_file import sent_with
from fanlight.desk.strip_lines import StripLineReader
from fanlight.desk.study_files import StudyFiles
from fanlight.desk.tracks import Tracks
from fanlight.intake import Limits
from fanlight.review.conclude import conclude
from fanlight.review.events import (
    ClipFinished,
    ClipProgress,
    Event,
    FileProbed,
    FileRefused,
    FilesFound,
    ReviewFinished,
    StudyAssembled,
)
from fanlight.store import (
    Store,
    clip_readings,
    latest_assembly,
    latest_review,
    note_rescan,
    thread_studies,
    unread_studies,
    waiting_studies,
)
from fanlight.study import House, StudyReview
from fanlight.study.codec import to_plain

_DRAFTS = 8  # engineering judgement: studies that are open at once, with room


@dataclass(frozen=True, slots=True, kw_only=True)
class DeskOptions:
    """What the service is started with."""

    cache: Path | None = None  # folder of the engine's cache; None: no cache
    limits: Limits = field(default_factory=Limits)
    quiet_s: float = QUIET_S


class Desk:
    """Store, engine, frames and listeners of one running service. Close it at the end.

    Parameters
    ----------
    store : Store
        Open; closed by its owner.
    house : House
        Tables of the teaching group.
    options : DeskOptions, optional
    """

    def __init__(self, store: Store, house: House, options: DeskOptions | None = None) -> None:
        self.store = store
        self.house = house
        self.options = options or DeskOptions()
        self.hub = Hub()
        self.later = Later()
        self._scratch = scratch_folder(store)
        self._drafts: OrderedDict[str, StudyReview] = OrderedDict()
        self._turns: dict[str, int] = {}  # how often a draft changed
        self._tried: dict[str, frozenset[tuple[str, str, str]]] = {}  # strips that were read for where they lie
        self._lock = threading.Lock()
        self._earlier = EarlierNumbers()
        limits = self.options.limits
        self.files = StudyFiles(store, self._scratch, limits)
        self.frames = FrameReaders(self.files, limits)
        self.tracks = Tracks(self.files, limits, house)
        self.strip_lines = StripLineReader(self.files, limits, house)
        self.engine = Engine(
            store, house, on_event=self._on_event, on_failure=self._on_failure, cache=self.options.cache,
            scratch=self._scratch, limits=limits, quiet_s=self.options.quiet_s,
        )  # fmt: skip

    def resume(self) -> None:
        """Go on with every study that has something the engine had not read when the service ended."""
        for study in unread_studies(self.store):
            if self.engine.state(study).state == "idle":  # else a page or the command asked already
                self.engine.file_came(study)  # more may come; if not, it is read to its end after a while

    def read_strips(self, study: str, placed: frozenset[tuple[str, str, str]]) -> None:
        """Have a study read whose strips were placed and never measured so: the service ended in between.

        Parameters
        ----------
        placed : frozenset of (str, str, str)
            Clip, view and valve of each; the same ones are tried once, as a view may be none that the engine knows.
        """
        engine = self.engine.state(study)
        if placed and engine.state == "idle" and engine.error is None and self._tried.get(study) != placed:
            self._tried[study] = placed
            self.engine.all_sent(study)

    def warm(self) -> None:
        """Load the drafts of the studies that stand first in the list: one of them is opened next."""
        for item in waiting_studies(self.store, limit=_DRAFTS).studies:
            if item.has_draft:
                self.draft(item.id)

    def draft_at_hand(self, study: str) -> StudyReview | None:
        """Return the draft if it is in memory; it holds everything that was kept so far."""
        with self._lock:
            return self._drafts.get(study)

    def draft(self, study: str) -> StudyReview | None:
        """Return the draft with the numbers of earlier visits of the animal, against which change is told."""
        own = self.own_draft(study)
        return None if own is None else self._earlier.beside(self, study, own)

    def own_draft(self, study: str) -> StudyReview | None:
        """Return the engine's draft, or what there is of it while clips are still being read; None before that."""
        with self._lock:
            if study in self._drafts:
                self._drafts.move_to_end(study)
                return self._drafts[study]
            turn = self._turns.get(study, 0)
        whole = latest_review(self.store, study) if self.engine.state(study).state == "idle" else None
        draft = whole or self._unfinished(study)
        if draft is not None:
            with self._lock:
                if self._turns.get(study, 0) == turn:  # nothing came meanwhile
                    self._drafts[study] = draft
                while len(self._drafts) > _DRAFTS:
                    self._drafts.popitem(last=False)
        return draft

    def _unfinished(self, study: str) -> StudyReview | None:
        assembled = latest_assembly(self.store, study)
        if assembled is None:
            return None
        kept = clip_readings(self.store, study)
        readings = (kept[clip.key].reading for clip in assembled.clips if clip.key in kept)
        there = tuple(item for item in readings if item is not None)
        return conclude(assembled, there, assembled.refused, self.house, marks=sent_with(assembled))

    def _forget(self, study: str) -> None:
        with self._lock:
            self._drafts.pop(study, None)
            self._turns[study] = self._turns.get(study, 0) + 1

    def _on_event(self, study: str, event: Event) -> None:
        """Tell the pages what the engine said; in the engine's thread, once the store has it."""
        hub = self.hub
        match event:
            case FilesFound():
                return
            case FileProbed(name=name):
                hub.publish(study, "file", {"name": name, "fate": "probed", "refusals": []})
            case FileRefused(refusal=refusal):
                hub.publish(study, "file", {"name": refusal.name, "fate": "refused", "refusals": [to_plain(refusal)]})
            case StudyAssembled(study=assembled):
                self._forget(study)
                hub.publish(study, "assembled", {"n_clips": len(assembled.clips)})
                if assembled.clips:
                    self._note_rescan(study)
                hub.publish(ALL, "study", {"id": study})
            case ClipProgress():
                hub.publish(study, "progress", to_plain(event), is_kept=False)
            case ClipFinished(reading=reading):
                self._forget(study)
                hub.publish(study, "clip", {"clip": reading.clip.key, "number": reading.clip.number})
                hub.publish(ALL, "study", {"id": study})
            case ReviewFinished():
                self._forget(study)
                hub.publish(study, "ready", {})
                hub.publish(ALL, "study", {"id": study})

    def _note_rescan(self, study: str) -> None:
        """Say on the thread that a re-scan came, and tell every page of the case."""
        for message in note_rescan(self.store, study):
            for other in thread_studies(self.store, study):
                self.hub.publish(other.id, "message", to_plain(message))
                self.hub.publish(ALL, "study", {"id": other.id})

    def _on_failure(self, study: str, error: DeskError) -> None:
        self.hub.publish(study, "failed", error.plain())
        self.hub.publish(ALL, "study", {"id": study})

    def close(self) -> None:
        """Stop everything that was started; what was done is kept."""
        self.hub.close()
        self.later.close()
        self.engine.close()
        self.frames.close()
        self.tracks.close()
        self.strip_lines.close()
        self.files.close()
        shutil.rmtree(self._scratch, ignore_errors=True)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
