"""Write a screen with a spectrum as a DICOM ultrasound object: a still or clip, and what belongs to Doppler."""

from __future__ import annotations

from pathlib import Path

from pydicom import dcmwrite
from pydicom.dataset import Dataset

from fanlight.simulate.dicom.dicom_file import ClipFacts, Coding, clip_dataset
from fanlight.simulate.dicom.dicom_pixels import USUAL_JPEG_QUALITY
from fanlight.simulate.dicom.patient_facts import ExaminationFacts
from fanlight.study import Mode, SpatialFormat

# Fourth value of Image Type (0008,0008) for ultrasound, PS3.3 C.8.5.6.1.1: modes as a sum of bits. Tissue Doppler has
# no bit that is sure (the clause was not seen): it is pulsed.
_TWO_D = 0x0001
_BITS = {Mode.CONTINUOUS_WAVE: 0x0004, Mode.PULSED_WAVE: 0x0008, Mode.TISSUE_DOPPLER: 0x0008}


def spectral_dataset(
    clip: ClipFacts, examination: ExaminationFacts, mode: Mode, coding: Coding = Coding.JPEG,
    *, jpeg_quality: int = USUAL_JPEG_QUALITY,
) -> Dataset:  # fmt: skip
    """Return the whole object of a spectrum; parameters as for `clip_dataset`.

    Raises
    ------
    ValueError
        If the mode is not that of a spectrum.
    """
    if mode not in _BITS:
        raise ValueError(f"a spectrum is pulsed wave, continuous wave or tissue Doppler, not {mode}")
    data = clip_dataset(clip, examination, coding, jpeg_quality=jpeg_quality)
    has_guide = any(region.spatial_format == SpatialFormat.TWO_D for region in clip.regions)
    data.ImageType = [*data.ImageType[:3], f"{_BITS[mode] | (_TWO_D if has_guide else 0):04X}"]
    return data


def write_spectral_clip(
    path: Path, clip: ClipFacts, examination: ExaminationFacts, mode: Mode, coding: Coding = Coding.JPEG,
    *, jpeg_quality: int = USUAL_JPEG_QUALITY,
) -> Path:  # fmt: skip
    """Write a still or clip of a spectrum as a DICOM file, and return its path; as `write_clip`."""
    dcmwrite(path, spectral_dataset(clip, examination, mode, coding, jpeg_quality=jpeg_quality),
        enforce_file_format=True)  # fmt: skip
    return path
