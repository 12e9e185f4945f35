"""Fanlight's own structured reports among the files of a study: their numbers are not the machine's."""

from __future__ import annotations

from dataclasses import replace

from fanlight.intake.dicom_form import REPORT_CLASSES
from fanlight.intake.dicom_header import open_dicom, text_of
from fanlight.intake.gather import Item
from fanlight.intake.kinds import DICOMS
from fanlight.intake.limits import Limits
from fanlight.intake.open_item import Probed
from fanlight.intake.refused import FileRefusedError

MAKER = "Fanlight"  # Manufacturer (0008,0070) of the reports that are written here


def without_own_numbers(item: Item, probed: Probed, limits: Limits) -> Probed:
    """Return what a file brought; of a report that Fanlight wrote only a note, since its numbers came from this study.

    The numbers of a machine's report stay as they are.
    """
    if item.kind not in DICOMS or probed.clips or probed.refused:
        return probed
    try:
        with open_dicom(item.path, item.name, item.kind, limits) as source:
            is_own = (
                text_of(source.data, "SOPClassUID") in REPORT_CLASSES and text_of(source.data, "Manufacturer") == MAKER
            )
    except (FileRefusedError, OSError):
        return probed
    if not is_own:
        return probed
    note = f"{item.name}: a report that Fanlight wrote; its numbers are not the machine's and were not used"
    return replace(probed, measurements=(), notes=(*probed.notes, note))
