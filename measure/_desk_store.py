"""A store as full as a teaching group's after years, with studies that can be opened and one that can be played."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydicom import uid
from sqlalchemy import select

from fanlight.desk import DeskOptions
from fanlight.intake import Item, Kind, probe_item
from fanlight.review.conclude import conclude
from fanlight.review.events import ClipFinished, ReviewFinished, StudyAssembled
from fanlight.store import Store, add_file, add_study, new_id, open_store, record_event
from fanlight.store.derived import path_bases
from fanlight.store.entry import write_action
from fanlight.store.packed import pack
from fanlight.store.tables import DERIVED, ENTRIES, STUDIES
from fanlight.study import Clip, House, StudyReview
from measure._desk_samples import desk_act, desk_draft, desk_house, keep_draft, with_findings
from measure._drawn_clips import Look, draw_clip
from measure._store_samples import sample_review, sample_study
from measure.store_speed import fill
from tests.intake.dicom_files import fragmented, jpeg_codes, native

N_CLIPS = 40  # engineering judgement: a full examination
N_ACTS = 250  # the demo study by keyboard, docs/desk.md
N_OPENED = 20  # studies that are opened; the others stand in the list
N_PLAYED = 60  # clips of the study that is played
N_RAW = 10  # of them stored uncompressed
FRAMES = 40
_RATE_HZ = 25.0
_SEED = 51


@dataclass(frozen=True, kw_only=True)
class Filled:
    """Ids of what can be opened."""

    opened: tuple[str, ...]
    drafts: tuple[StudyReview, ...]
    played: str
    clips: tuple[Clip, ...]
    size_mb: float


def fill_desk(folder: Path, n_studies: int) -> Filled:
    """Fill a store: `n_studies` that wait, some of them with everything, one with clips."""
    house = desk_house()
    with open_store(folder) as store:
        fill(store, n_studies - N_OPENED - 1)
        _work_out_paths(store, house)
        drafts = tuple(desk_draft(N_CLIPS, f"s{k}", house) for k in range(N_OPENED))
        opened = tuple(keep_draft(store, draft, house, f"opened {k}") for k, draft in enumerate(drafts))
        for study, draft in zip(opened, drafts, strict=True):
            _fill_log(store, study, draft)
        played, clips = _played(store, house)
        size = sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())
    return Filled(opened=opened, drafts=drafts, played=played, clips=clips, size_mb=size / 1e6)


def _fill_log(store: Store, study: str, draft: StudyReview) -> None:
    """Write what a mentor said about a study, in one transaction."""
    acts = [desk_act(k, draft) for k in range(N_ACTS)]
    rows = [
        {"id": new_id(), "study": study, "clip": getattr(act, "clip", ""), "at": store.now(), "author": "M. Linden",
         "action": name, "payload": payload, "undoes": None}
        for act in acts
        for name, payload in [write_action(act)]
    ]  # fmt: skip
    with store.database.write() as connection:
        connection.execute(ENTRIES.insert(), rows)


def _work_out_paths(store: Store, house: House) -> None:
    """Keep the path of each study as its acts left it: the desk does so after each act, and the list reads it."""
    path = pack(sample_review(sample_study(N_CLIPS)).coverage)
    with store.database.read() as connection:
        ids = connection.execute(select(STUDIES.c.id)).scalars().all()
    for at in range(0, len(ids), 500):
        bases = path_bases(store, ids[at : at + 500], house=house.fingerprint())
        rows = [{"kind": "path", "of": study, "basis": str(basis), "value": path} for study, basis in bases.items()]
        with store.database.write() as connection:
            if rows:
                connection.execute(DERIVED.insert(), rows)


def _played(store: Store, house: House) -> tuple[str, tuple[Clip, ...]]:
    study = add_study(store, new_id(), title="played").id
    limits = DeskOptions().limits
    rng = np.random.default_rng(_SEED)
    pixels = draw_clip(rng, FRAMES, Look())
    grey = np.ascontiguousarray(pixels[:, 64:704, 192:832, 0])
    codes = jpeg_codes(pixels, quality=90)
    clips = []
    with tempfile.TemporaryDirectory() as scratch:
        for k in range(N_PLAYED):
            name = f"IM{k + 1:04d}.dcm"
            path = _write(Path(scratch) / name, k, pixels, codes, grey)
            add_file(store, study, file=new_id(), name=name, chunks=[path.read_bytes()])
            (clip,) = probe_item(Item(path=path, name=name, kind=Kind.DICOM), limits).clips
            clips.append(replace(clip, number=k + 1))
            path.unlink()
    whole = replace(sample_study(0, "played"), clips=tuple(clips))
    readings = tuple(with_findings(clip, house) for clip in whole.clips)
    record_event(store, study, StudyAssembled(study=whole), house=house.fingerprint())
    for reading in readings:
        record_event(store, study, ClipFinished(reading=reading, from_cache=False), house=house.fingerprint())
    record_event(store, study, ReviewFinished(review=conclude(whole, readings, (), house)), house=house.fingerprint())
    return study, whole.clips


def _write(path: Path, k: int, pixels: NDArray[np.uint8], codes: list[bytes], grey: NDArray[np.uint8]) -> Path:
    """Write the k-th clip: the same frames, begun elsewhere, so that each clip is another."""
    tags: dict[str, Any] = {
        "FrameTime": 1000.0 / _RATE_HZ,
        "SOPInstanceUID": uid.generate_uid(entropy_srcs=["fanlight", str(k)]),
    }
    at = k % FRAMES
    if k % (N_PLAYED // N_RAW) == N_PLAYED // N_RAW - 1:
        return native(path, np.roll(grey, at, axis=0) ^ np.uint8(k // FRAMES), **tags)
    turned = [*codes[at:], *codes[:at]]
    if k >= FRAMES:
        turned[0], turned[1] = turned[1], turned[0]
    return fragmented(path, pixels, turned, uid.JPEGBaseline8Bit, PhotometricInterpretation="YBR_FULL_422", **tags)
