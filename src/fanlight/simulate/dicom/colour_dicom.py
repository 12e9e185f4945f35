"""A colour Doppler clip as a DICOM file: what it states beyond a grey one."""

from __future__ import annotations

from pathlib import Path

from pydicom import dcmwrite
from pydicom.dataset import Dataset

from fanlight.simulate.dicom.dicom_file import ClipFacts, Coding, clip_dataset
from fanlight.simulate.dicom.dicom_pixels import USUAL_JPEG_QUALITY
from fanlight.simulate.dicom.patient_facts import ExaminationFacts

# Fourth value of Image Type (0008,0008) for ultrasound, PS3.3 C.8.5.6.1.1, a sum of bits: 2-D 0001, colour flow 0010.
TWO_D_WITH_COLOUR = "0011"


def colour_clip_dataset(
    clip: ClipFacts,
    examination: ExaminationFacts,
    coding: Coding = Coding.JPEG,
    *,
    jpeg_quality: int = USUAL_JPEG_QUALITY,
) -> Dataset:
    """Return the whole object. Parameters as for `dicom_file.clip_dataset`.

    Raises
    ------
    ValueError
        If the frames are grey.
    """
    if clip.frames.ndim != 4:
        raise ValueError(f"a colour clip needs RGB frames (frame, row, col, 3), got shape {clip.frames.shape}")
    data = clip_dataset(clip, examination, coding, jpeg_quality=jpeg_quality)
    data.ImageType = [*data.ImageType[:3], TWO_D_WITH_COLOUR]
    data.UltrasoundColorDataPresent = 1
    return data


def write_colour_clip(
    path: Path,
    clip: ClipFacts,
    examination: ExaminationFacts,
    coding: Coding = Coding.JPEG,
    *,
    jpeg_quality: int = USUAL_JPEG_QUALITY,
) -> Path:
    """Write one colour still or clip as a DICOM file, and return its path. Same facts, same bytes."""
    data = colour_clip_dataset(clip, examination, coding, jpeg_quality=jpeg_quality)
    dcmwrite(path, data, enforce_file_format=True)
    return path
