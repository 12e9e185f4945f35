"""The engine in a process of its own: reads studies one after another and says what it finds through a pipe."""

from __future__ import annotations

import logging
import os
import signal
import tempfile
import traceback
import warnings
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path

from fanlight.intake import Limits, RequestSheet
from fanlight.review.opening import NamedFiles, ReadBefore
from fanlight.review.worker import TaskError
from fanlight.study import House


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One study to read."""

    files: NamedFiles
    house: House
    limits: Limits
    request: RequestSheet  # filled in on the desk
    before: ReadBefore | None  # readings that need not be made again
    cache: str  # folder; "": no cache
    scratch: str  # folder for what is unpacked


def serve(pipe: Connection) -> None:
    """Read studies until nobody asks any more: what the spawned process does.

    Sends ("event", Event) …, then ("done",), ("broke down", words), or ("failed", words, trace).
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C goes to all; the service ends this process itself
    os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")
    logging.getLogger("pydicom").disabled = True  # logs would repeat values of the files, and with them names
    warnings.simplefilter("ignore")
    try:
        while True:
            job: Job = pipe.recv()
            try:
                answer = _answer(job, pipe)
            except (BrokenPipeError, ConnectionResetError):
                return
            pipe.send(answer)
    except (EOFError, OSError):
        return  # the service has ended, maybe in the middle of a job


def _answer(job: Job, pipe: Connection) -> tuple[str, ...]:
    """Read one study and return what is said last."""
    try:
        _read(job, pipe)
    except (BrokenPipeError, ConnectionResetError):
        raise
    except TaskError as error:  # the machine had no time for it; a file's own fault is a refusal
        return ("broke down", str(error))
    except Exception as error:
        # The border between processes: told to the service, which names the study.
        return ("failed", f"{type(error).__name__}: {error}", traceback.format_exc())
    return ("done",)


def _read(job: Job, pipe: Connection) -> None:
    from fanlight.review.cache import DiskCache, NoCache
    from fanlight.review.opening import OpenStudy, ReviewOptions
    from fanlight.review.run import review_study

    tempfile.tempdir = job.scratch
    options = ReviewOptions(request=job.request, limits=job.limits, before=job.before)
    cache = DiskCache(Path(job.cache)) if job.cache else NoCache()
    with cache, OpenStudy() as opened:
        for event in review_study(job.files, job.house, opened, options, cache):
            pipe.send(("event", event))
