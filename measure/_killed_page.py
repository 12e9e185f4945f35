"""A page that works with the desk's service until it is killed, and remembers what it was told is kept."""

from __future__ import annotations

import hashlib
import io
import json
import random
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import httpx
import numpy as np
from pydicom import dcmwrite, uid
from pydicom.dataset import Dataset, FileMetaDataset

from fanlight.store import new_id, plain_action
from fanlight.study import StudyReview
from fanlight.study.codec import to_plain
from measure._desk_samples import desk_act
from measure._store_samples import VIEW

AUTHOR = "M. Linden"
_PIECE_BYTES = 32 * 1024
_MOST_BYTES = 2_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """Something that a page asks for and that must be kept once, however often it is asked."""

    kind: str  # "file", "act", "taking back" or "paper"
    study: str
    id: str
    path: str
    body: dict[str, Any] | None = None
    data: bytes = b""


@dataclass
class Memory:
    """What outlives a page: what was answered, and what was sent and not answered."""

    kept: list[tuple[Request, str]] = field(default_factory=list)  # with the id or hash that the service told
    pending: Request | None = None
    sent: set[str] = field(default_factory=set)
    n_again: int = 0
    n_acts: int = 0


class Page:
    """Works until the service is gone; see the methods that end in `_on`."""

    def __init__(self, client: httpx.Client, memory: Memory, rng: random.Random) -> None:
        self.client, self.memory, self._rng = client, memory, rng
        self.began = threading.Event()  # set with the first request of its own
        self.trouble: BaseException | None = None
        self.at_clip = 0  # number of the clip that the engine is in the middle of; 0: none
        self.n_heard = 0  # how often the engine said that it goes on
        self.is_read = False  # the whole study
        self.finished: set[int] = set()  # clips that are read, by number
        self.read_again: set[int] = set()  # clips that were read, and are decoded once more

    def run(self, work: Callable[[], None]) -> None:
        """Send again what was not answered, then work."""
        try:
            if (again := self.memory.pending) is not None:
                self._send(again)
                self.memory.n_again += 1
            self.began.set()
            work()
        except (httpx.TransportError, httpx.StreamError):
            return  # killed
        except BaseException as error:  # told by the thread that waits
            self.trouble = error
        finally:
            self.began.set()

    def send_files_on(self, study: str) -> None:
        """Send files of all sizes."""
        while True:
            data = self._rng.randbytes(int(_MOST_BYTES ** self._rng.uniform(0.4, 1.0)))
            path = f"/api/studies/{study}/files?name={new_id()}.bin"
            self._send(Request(kind="file", study=study, id=hashlib.sha256(data).hexdigest(), path=path, data=data))

    def decide_on(self, study: str, draft: StudyReview) -> None:
        """Do a little of everything, take some of it back, and put some of that back."""
        while True:
            k, self.memory.n_acts = self.memory.n_acts, self.memory.n_acts + 1
            action, payload = plain_action(desk_act(k, draft))
            body = {"id": new_id(), "author": AUTHOR, "clip": "", "action": action, "payload": payload}
            entry = self._send(_act(study, "act", "entries", body))["entry"]["id"]
            for _ in range(k % 3 if k % 7 != 4 else 0):  # a mark that the next act moves stays
                undo = {"id": new_id(), "author": AUTHOR, "entry": entry}
                entry = self._send(_act(study, "taking back", "undo", undo))["entry"]["id"]

    def sign_on(self, study: str) -> None:
        """Sign summary and letter in turn, each replacing the one before."""
        newest = {item["kind"]: item["id"] for item in self.client.get(f"/api/studies/{study}").json()["documents"]}
        exercise = {"view": VIEW, "look_for": "the whole left atrium", "repetitions": 10, "due": None}
        while True:
            for kind in ("summary", "letter"):
                body = {"id": new_id(), "author": AUTHOR, "kind": kind, "supersedes": newest.get(kind, ""),
                        "exercise": exercise if kind == "letter" else None}  # fmt: skip
                newest[kind] = self._send(_act(study, "paper", "sign", body))["document"]["id"]

    def watch_on(self, study: str) -> None:
        """Say that all was sent, and see which clips the engine reads."""
        with self.client.stream("GET", f"/api/studies/{study}/events", timeout=httpx.Timeout(None)) as lines:
            name = ""
            for line in lines.iter_lines():
                if line == "event: hello":
                    self.client.post(f"/api/studies/{study}/complete").raise_for_status()
                name = line.removeprefix("event: ") if line.startswith("event: ") else name
                if line.startswith("data: "):
                    self._heard(name, json.loads(line.removeprefix("data: ")))

    def _heard(self, name: str, data: dict[str, Any]) -> None:
        assert name != "failed", data
        if name == "progress":
            self.at_clip = data["number"]
            self.n_heard += 1
            if self.at_clip in self.finished:
                self.read_again.add(self.at_clip)
        elif name == "clip":
            self.finished.add(data["number"])
            self.at_clip = 0
        elif name == "ready":
            self.is_read = True

    def _send(self, request: Request) -> dict[str, Any]:
        self.memory.pending = request
        self.memory.sent.add(request.id)
        if request.data:
            pieces = (request.data[at : at + _PIECE_BYTES] for at in range(0, len(request.data), _PIECE_BYTES))
            length = {"content-length": str(len(request.data))}
            answer = self.client.put(request.path, content=pieces, headers=length)
        else:
            answer = self.client.post(request.path, json=request.body)
        assert answer.status_code == 200, (request.kind, answer.status_code, answer.text)
        said: dict[str, Any] = answer.json()
        self.memory.kept.append((request, _proof(request, said)))
        self.memory.pending = None
        return said


def _act(study: str, kind: str, where: str, body: dict[str, Any]) -> Request:
    return Request(kind=kind, study=study, id=body["id"], path=f"/api/studies/{study}/{where}", body=to_plain(body))


def _proof(request: Request, said: dict[str, Any]) -> str:
    match request.kind:
        case "file":
            return str(said["sha256"])
        case "paper":
            return str(said["document"]["sha256"])
        case _:
            return str(said["entry"]["id"])


def small_clip(seed: int, n_frames: int = 12) -> bytes:
    """Return a DICOM clip of small frames, noise from a seed: read in about a second."""
    pixels = np.random.default_rng(seed).integers(0, 255, (n_frames, 64, 96), dtype=np.uint8)
    data = Dataset()
    data.SOPClassUID, data.SOPInstanceUID = uid.UltrasoundMultiFrameImageStorage, uid.generate_uid()
    data.Modality, data.Rows, data.Columns, data.NumberOfFrames = "US", 64, 96, n_frames
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
