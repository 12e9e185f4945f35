"""Write a painted screen as a DICOM ultrasound object: still or clip, with true regions and veterinary attributes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from pydicom import dcmwrite
from pydicom.dataset import Dataset, FileMetaDataset
from pydicom.uid import UltrasoundImageStorage, UltrasoundMultiFrameImageStorage
from pydicom.valuerep import DSfloat

from fanlight.reference.views import match_view_code, read_views
from fanlight.simulate.dicom.dicom_modules import (
    code_item,
    region_item,
    set_examination,
    set_moment,
    set_patient,
    set_times,
)
from fanlight.simulate.dicom.dicom_pixels import SYNTAXES, USUAL_JPEG_QUALITY, Coding, set_pixels
from fanlight.simulate.dicom.dicom_uid import uid_of
from fanlight.simulate.dicom.patient_facts import ExaminationFacts
from fanlight.study import House, Region

__all__ = ["ClipFacts", "Coding", "ImageMode", "ViewTags", "clip_dataset", "view_tags", "write_clip"]

_MM_PER_CM = 10.0
_DCM_DIGITS = 6  # codes of DICOM's own scheme are six digits (PS3.16 annex D), those of SNOMED CT are longer


class ImageMode(StrEnum):
    """Fourth value of Image Type (0008,0008) for ultrasound, PS3.3 C.8.5.6.1.1: modes as a sum of bits."""

    TWO_D = "0001"
    M_MODE = "0003"  # the guide picture and the strip


@dataclass(frozen=True, slots=True, kw_only=True)
class ViewTags:
    """What a labelled study says about its view; an unlabelled one says nothing."""

    name: str  # Series Description (0008,103E); View Name (0008,2127) has room for 16 letters only
    code: tuple[str, str, str] | None = None  # value, scheme, meaning for the View Code Sequence (0054,0220)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClipFacts:
    """One still or clip as the console stores it."""

    number: int  # Instance Number, from 1
    frames: NDArray[np.uint8]  # (frame, row, col) or (frame, row, col, 3) RGB
    regions: tuple[Region, ...]
    times_ms: tuple[float, ...]  # of each frame, the first 0
    since_start: timedelta  # when in the examination the first frame was taken
    mode: ImageMode = ImageMode.TWO_D
    heart_rate_bpm: float | None = None
    r_wave_times_ms: tuple[float, ...] = ()  # from the first frame; only where an ECG was recorded
    focus_depth_mm: float | None = None
    depth_mm: float | None = None
    transducer_type: str = "SECTOR_PHASED"  # or "CURVED LINEAR", PS3.3 C.8.5.6
    mechanical_index: float | None = None
    view: ViewTags | None = None  # only for labelled studies

    def __post_init__(self) -> None:
        if self.frames.dtype != np.uint8 or self.frames.ndim not in (3, 4) or 0 in self.frames.shape:
            raise ValueError(
                "expected 8-bit frames of shape (frame, row, col) or (frame, row, col, 3), "
                f"got shape {self.frames.shape} and type {self.frames.dtype}"
            )
        if len(self.times_ms) != len(self.frames):
            raise ValueError(f"expected a time for each of {len(self.frames)} frames, got {len(self.times_ms)}")
        if self.number < 1:
            raise ValueError(f"pictures count from 1, got {self.number}")


def view_tags(house: House, view: str) -> ViewTags:
    """Return what a labelled study writes about a view of the House: its title, and a code where one names it alone.

    Parasternal codes were made for people and say no side; their modifiers (0054,0222) would, but the checker that our
    files must pass (dciodvfy of 2022) takes the modifiers of PS3.3 10.21 for content items. The name says the side.
    """
    title = read_views(house)[view].title
    for row in house.table("views")["codes"].values():
        if match_view_code(house, row["code"]).view == view:
            scheme = "DCM" if len(row["code"]) <= _DCM_DIGITS else "SCT"
            return ViewTags(name=title, code=(row["code"], scheme, row["meaning"]))
    return ViewTags(name=title)


def clip_dataset(
    clip: ClipFacts,
    examination: ExaminationFacts,
    coding: Coding = Coding.JPEG,
    *,
    jpeg_quality: int = USUAL_JPEG_QUALITY,
) -> Dataset:
    """Return the whole object, pixels and file meta information included.

    Parameters
    ----------
    clip : ClipFacts
        One frame makes an Ultrasound Image, more make an Ultrasound Multi-frame Image.
    examination : ExaminationFacts
        Whose and when; all unique identifiers follow from its seed.
    coding : Coding
        How the pixels are stored.
    jpeg_quality : int
        1 to 100, for JPEG only.

    References
    ----------
    DICOM PS3.3 A.6 (Ultrasound Image), A.7 (Ultrasound Multi-frame Image), C.8.5.5 (regions), C.8.5.6 (US Image).
    """
    is_clip = len(clip.frames) > 1
    data = Dataset()
    data.SOPClassUID = UltrasoundMultiFrameImageStorage if is_clip else UltrasoundImageStorage
    data.SpecificCharacterSet = "ISO_IR 192"
    set_examination(data, examination)
    data.SOPInstanceUID = uid_of("picture", data.StudyInstanceUID, clip.number)
    set_patient(data, examination.patient, examination.began_at.date())
    set_moment(data, examination.began_at + clip.since_start)
    data.InstanceNumber = str(clip.number)
    data.PatientOrientation = ""
    data.ImageType = ["ORIGINAL", "PRIMARY", "", clip.mode.value]
    data.BurnedInAnnotation = "YES"  # names and dates stand on the screen
    data.UltrasoundColorDataPresent = 0
    if is_clip:
        set_times(data, clip.times_ms)
    _set_ultrasound(data, clip)
    if clip.regions:
        data.SequenceOfUltrasoundRegions = [region_item(region) for region in clip.regions]
    if clip.view is not None:
        _set_view(data, clip.view)
    set_pixels(data, clip.frames, coding, jpeg_quality)
    meta = FileMetaDataset()
    meta.TransferSyntaxUID = SYNTAXES[coding]
    meta.MediaStorageSOPClassUID = data.SOPClassUID
    meta.MediaStorageSOPInstanceUID = data.SOPInstanceUID
    meta.ImplementationClassUID = uid_of("implementation")
    meta.ImplementationVersionName = "FANLIGHT"
    data.file_meta = meta
    return data


def _set_ultrasound(data: Dataset, clip: ClipFacts) -> None:
    """Settings in the US Image module (PS3.3 C.8.5.6)."""
    data.TransducerType = clip.transducer_type
    if clip.heart_rate_bpm is not None:
        data.HeartRate = str(round(clip.heart_rate_bpm))
    if clip.r_wave_times_ms:
        data.RWaveTimeVector = [float(time_ms) for time_ms in clip.r_wave_times_ms]
    if clip.focus_depth_mm is not None:
        # In cm: from memory of PS3.3 C.8.5.6, the clause was not seen (intake reads it likewise).
        data.FocusDepth = DSfloat(clip.focus_depth_mm / _MM_PER_CM, auto_format=True)
    if clip.depth_mm is not None:
        # In mm, PS3.3 C.8.24.3; a whole number by its value representation, IS.
        data.DepthOfScanField = str(round(clip.depth_mm))
    if clip.mechanical_index is not None:
        data.MechanicalIndex = DSfloat(round(clip.mechanical_index, 2), auto_format=True)


def _set_view(data: Dataset, view: ViewTags) -> None:
    """Each view is a series of its own: what describes a series must hold for all of it (PS3.3 C.7.3.1)."""
    data.SeriesInstanceUID = uid_of("series", data.StudyInstanceUID, view.name)
    data.SeriesNumber = str(2 + int(data.SeriesInstanceUID[-4:]))  # any number that follows from the view
    data.SeriesDescription = view.name
    if view.code is not None:
        data.ViewCodeSequence = [code_item(*view.code)]


def write_clip(
    path: Path,
    clip: ClipFacts,
    examination: ExaminationFacts,
    coding: Coding = Coding.JPEG,
    *,
    jpeg_quality: int = USUAL_JPEG_QUALITY,
) -> Path:
    """Write one still or clip as a DICOM file, and return its path.

    Same facts, same bytes. A file that is there already is replaced. Parameters as for `clip_dataset`.
    """
    dcmwrite(path, clip_dataset(clip, examination, coding, jpeg_quality=jpeg_quality), enforce_file_format=True)
    return path
