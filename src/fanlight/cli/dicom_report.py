"""The structured report of a run: written where the study allows it, else the reason said."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from fanlight.cli.screen import ERR
from fanlight.study import House, StudyReview

if TYPE_CHECKING:
    from fanlight.review.opening import OpenStudy


def write_dicom_report(
    review: StudyReview, house: House, opened: OpenStudy, folder: Path, written_at: datetime
) -> Path | None:
    """Return the report that was written, or None after saying why there is none."""
    # Imported late: highdicom takes a third of a second, and most runs write no report.
    from fanlight.report.dicom.whole import NoReportError
    from fanlight.report.dicom.write import write_report
    from fanlight.review.origins import origins_of

    try:
        origins = origins_of(opened, (item.clip for item in review.readings))
        return write_report(review, house, origins, folder, written_at)
    except NoReportError as error:
        ERR.print(f"--dicom-report: no structured report was written: {error}.", markup=False)
        return None
