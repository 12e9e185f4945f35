"""Kill the desk's service at random moments while a page works with it, and look whether all it acknowledged is there.

    python -m measure._killed_desk N SEED

Each life of the service is `fanlight desk` on one data folder. The page sends files, acts, takes back and signs until
the service is gone. Then the store is opened: whatever was answered with 200 must be there and whole. At the end a last
service must read every study that has files.
"""

from __future__ import annotations

import hashlib
import io
import os
import random
import re
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import httpx
import numpy as np
from pydicom import dcmwrite, uid
from pydicom.dataset import Dataset, FileMetaDataset

from fanlight.review.events import ReviewFinished, StudyAssembled
from fanlight.store import (
    Store,
    add_study,
    documents_of,
    entries_of,
    files_of,
    latest_review,
    new_id,
    open_store,
    record_event,
    verify_store,
)
from measure._store_samples import HOUSE, sample_review, sample_study

ROOT = Path(__file__).resolve().parent.parent
LONGEST_LIFE_S = 4.0  # counted from the first answer: long enough to send files, short enough to be in the middle
READ_WITHIN_S = 600.0


@dataclass
class Told:
    """What the page was told is kept: kind, study, id, hash or ""."""

    kept: list[tuple[str, str, str, str]] = field(default_factory=list)

    def count(self) -> dict[str, int]:
        """Return how many of each kind."""
        kinds = [kind for kind, *_ in self.kept]
        return {kind: kinds.count(kind) for kind in sorted(set(kinds))}


def small_file(rng: random.Random) -> bytes:
    """Return a DICOM clip of two small frames that nobody has sent before."""
    pixels = np.random.default_rng(rng.randrange(2**32)).integers(0, 255, (2, 64, 96), dtype=np.uint8)
    data = Dataset()
    data.SOPClassUID, data.SOPInstanceUID = uid.UltrasoundMultiFrameImageStorage, uid.generate_uid()
    data.Modality, data.Rows, data.Columns, data.NumberOfFrames = "US", 64, 96, 2
    data.SamplesPerPixel, data.PhotometricInterpretation = 1, "MONOCHROME2"
    data.BitsAllocated = data.BitsStored = 8
    data.HighBit, data.PixelRepresentation = 7, 0
    data.PixelData = pixels.tobytes()
    data["PixelData"].VR = "OB"
    data.file_meta = FileMetaDataset()
    data.file_meta.TransferSyntaxUID = uid.ExplicitVRLittleEndian
    out = io.BytesIO()
    dcmwrite(out, data, enforce_file_format=True)
    return out.getvalue()


class Page:
    """A page that works until the service is gone."""

    def __init__(self, address: str, ready: str, rng: random.Random, told: Told) -> None:
        host, token = re.fullmatch(r"http://(\S+)/#token=(\S+)", address).groups()  # type: ignore[union-attr]
        self._client = httpx.Client(base_url=f"http://{host}", headers={"origin": f"http://{host}"}, timeout=30)
        self._ready, self._rng, self._told = ready, rng, told
        self._client.post("/enter", json={"token": token}).raise_for_status()

    def work(self) -> None:
        """Send files, act, take back and sign, in turn."""
        try:
            study = self._post("/api/studies", {"title": "invented"})["id"]
            for k in range(10_000):
                self._send_file(study, k)
                self._act(study)
                if k % 3 == 0:
                    self._sign()
        except (httpx.TransportError, httpx.StreamError):
            return  # killed

    def complete(self, study: str) -> None:
        """Say that all files were sent."""
        self._client.post(f"/api/studies/{study}/complete").raise_for_status()

    def _post(self, path: str, body: dict[str, Any]) -> Any:
        answer = self._client.post(path, json=body)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def _send_file(self, study: str, k: int) -> None:
        data = small_file(self._rng)
        answer = self._client.put(f"/api/studies/{study}/files", params={"name": f"{k}.dcm"}, content=data)
        assert answer.status_code == 200, answer.text
        self._told.kept.append(("file", study, answer.json()["file"], hashlib.sha256(data).hexdigest()))

    def _act(self, study: str) -> None:
        act = {"id": new_id(), "author": "M", "clip": "", "action": "add finding"}
        said = self._post(
            f"/api/studies/{study}/entries", act | {"payload": {"finding": act["id"], "words": "x", "clip": ""}}
        )
        self._told.kept.append(("entry", study, said["entry"]["id"], ""))
        undo = {"id": new_id(), "author": "M", "entry": said["entry"]["id"]}
        self._post(f"/api/studies/{study}/undo", undo)
        self._told.kept.append(("undo", study, undo["id"], ""))

    def _sign(self) -> None:
        body = {"id": new_id(), "author": "M", "kind": "summary", "exercise": None}
        paper = self._post(f"/api/studies/{self._ready}/sign", body)["document"]
        self._told.kept.append(("paper", self._ready, paper["id"], paper["sha256"]))


def start(folder: Path) -> tuple[subprocess.Popen[str], str]:
    """Start the service; return it with its address."""
    command = [
        sys.executable,
        "-m",
        "fanlight.cli",
        "desk",
        "--port",
        "0",
        "--no-open",
        "--no-cache",
        "--data",
        str(folder),
    ]
    process = subprocess.Popen(command, cwd=ROOT, env=dict(os.environ), stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    for line in process.stdout:
        if "#token=" in line:
            return process, line.strip()
    raise RuntimeError("the service did not start")


def kill_loop(folder: Path, n: int, seed: int) -> dict[str, int]:
    """Start, work and kill `n` times; return how much was acknowledged, all of which was found.

    Raises
    ------
    AssertionError
        When something is missing or damaged.
    """
    rng, told = random.Random(seed), Told()
    with open_store(folder) as store:
        ready = add_study(store, new_id(), title="read").id
        whole = sample_study(3, ready)
        record_event(store, ready, StudyAssembled(study=whole), house=HOUSE)
        record_event(store, ready, ReviewFinished(review=sample_review(whole)), house=HOUSE)
    for _ in range(n):
        process, address = start(folder)
        page = threading.Thread(target=Page(address, ready, rng, told).work)
        page.start()
        time.sleep(rng.uniform(0.0, LONGEST_LIFE_S))
        process.kill()
        process.wait()
        page.join()
        with open_store(folder) as store:
            check(store, told)
    wait_until_read(folder, told)
    return told.count()


def check(store: Store, told: Told) -> None:
    """Raise when something that was acknowledged is not there."""
    verification = verify_store(store)
    assert verification.is_whole, verification.damage
    for study in {item[1] for item in told.kept}:
        files = {item.id: item.sha256 for item in files_of(store, study)}
        entries = {item.id for item in entries_of(store, study)}
        papers = {item.id: item.sha256 for item in documents_of(store, study)}
        for kind, _, key, sha256 in (item for item in told.kept if item[1] == study):
            found = files.get(key) if kind == "file" else papers.get(key) if kind == "paper" else key in entries and ""
            assert found == sha256, (kind, study, key)


def wait_until_read(folder: Path, told: Told) -> None:
    """Let a last service read whatever the killed ones left."""
    studies = {study for kind, study, *_ in told.kept if kind == "file"}
    process, address = start(folder)
    page = Page(address, "", random.Random(0), told)
    for study in studies:
        page.complete(study)
    end = time.monotonic() + READ_WITHIN_S
    with open_store(folder) as store:
        while left := {study for study in studies if latest_review(store, study) is None}:
            assert time.monotonic() < end, f"{len(left)} studies were not read"
            time.sleep(1)
        for study in studies:
            review = latest_review(store, study)
            assert review is not None
            assert len(review.readings) == len(files_of(store, study)), study
    process.terminate()
    process.wait(20)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as scratch:
        print(kill_loop(Path(scratch) / "store", int(sys.argv[1]), int(sys.argv[2])))
