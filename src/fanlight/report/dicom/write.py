"""Write the structured report of a review beside its letter."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

from fanlight.intake.dicom_origin import DicomOrigin
from fanlight.report.dicom.whole import NoReportError, build_report
from fanlight.study import House, StudyReview

FILE_NAME = "fanlight-report.dcm"  # a machine may call its own "report": never written over


def write_report(
    review: StudyReview,
    house: House,
    origins: Mapping[str, DicomOrigin | str],
    folder: Path,
    written_at: datetime,
) -> Path:
    """Write the report into a folder that exists, whole or not at all, and return its path.

    Raises
    ------
    NoReportError
        As `build_report` does. The report of an earlier run is taken away then: it would stand beside a new letter.
    OSError
        When the folder cannot be written.
    """
    final, part = folder / FILE_NAME, folder / f".{FILE_NAME}.part"
    try:
        report = build_report(review, house, origins, written_at)
    except NoReportError:
        final.unlink(missing_ok=True)
        raise
    report.save_as(part, enforce_file_format=True)
    part.replace(final)
    return final
