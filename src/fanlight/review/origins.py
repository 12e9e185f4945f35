"""Where the clips of a study lie in their archive, asked file by file in the worker process."""

from __future__ import annotations

from collections.abc import Iterable

from fanlight.intake import Limits
from fanlight.intake.dicom_origin import DicomOrigin
from fanlight.review.opening import OpenStudy
from fanlight.review.worker import TaskError, Worker
from fanlight.study import Clip


def origins_of(opened: OpenStudy, clips: Iterable[Clip], limits: Limits | None = None) -> dict[str, DicomOrigin | str]:
    """Return the identity of each clip in DICOM, or why it has none, by the clip's key."""
    found: dict[str, DicomOrigin | str] = {}
    with Worker() as worker:
        for clip in clips:
            try:
                found[clip.key] = worker.call(
                    "fanlight.review.file_tasks:origin_of_file", opened.items[clip.key], limits or Limits()
                )
            except TaskError as error:
                found[clip.key] = str(error)
    return found
