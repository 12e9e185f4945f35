"""Teaching copies: one clean DICOM file for each still or clip, written a few frames at a time."""

from __future__ import annotations

import io
import shutil
import struct
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Final

import numpy as np
from numpy.typing import NDArray
from pydicom.dataset import Dataset, FileMetaDataset
from pydicom.filewriter import dcmwrite
from pydicom.pixels.encoders.base import get_encoder
from pydicom.sequence import Sequence
from pydicom.uid import (
    UID,
    ExplicitVRLittleEndian,
    MultiFrameGrayscaleByteSecondaryCaptureImageStorage,
    MultiFrameTrueColorSecondaryCaptureImageStorage,
    RLELossless,
    SecondaryCaptureImageStorage,
    UltrasoundImageStorage,
    UltrasoundMultiFrameImageStorage,
)

from fanlight.intake.deidentify_key import DeidentificationKey
from fanlight.intake.deidentify_pixels import PixelPlan, blank
from fanlight.intake.deidentify_report import ClipRemoval
from fanlight.intake.deidentify_tags import CleanTags, KeepList, animal_of, clean_tags, settle
from fanlight.intake.dicom_header import lenient
from fanlight.study import Clip, FrameDamageError, Frames

__all__ = ["EmptyClipError", "animal_of", "deidentify_clip"]

# A UUID-derived identifier of this program (2.25, ISO/IEC 9834-8): the same in every file, so it tells nothing.
IMPLEMENTATION_UID: Final = "2.25.208351137529403160834093265811360473122"
IMPLEMENTATION_NAME: Final = "FANLIGHT"
# PS3.16 CID 7050; a test holds them against the dictionary of pydicom.
_BASIC_PROFILE: Final = ("113100", "Basic Application Confidentiality Profile")
_CLEAN_PIXELS: Final = ("113101", "Clean Pixel Data Option")
_MODIFIED_DATES: Final = ("113107", "Retain Longitudinal Temporal Information Modified Dates Option")
_PATIENT_CHARACTERISTICS: Final = ("113108", "Retain Patient Characteristics Option")
_METHOD: Final = (  # (0012,0063), LO: at most 64 characters a value
    "DICOM PS3.15 Annex E Basic Profile",
    "Retain Patient Characteristics",
    "Retain Longitudinal Temporal Information with Modified Dates",
)
_ULTRASOUND: Final = frozenset(
    {
        UltrasoundImageStorage,
        UltrasoundMultiFrameImageStorage,
        "1.2.840.10008.5.1.4.1.1.6",  # retired single-frame class, PS3.4 B.6
        "1.2.840.10008.5.1.4.1.1.3",  # retired multi-frame class
    }
)
_MULTI_FRAME: Final = frozenset(
    {
        UltrasoundMultiFrameImageStorage,
        MultiFrameTrueColorSecondaryCaptureImageStorage,
        MultiFrameGrayscaleByteSecondaryCaptureImageStorage,
    }
)
_LOSSLESS_CONTAINERS: Final = frozenset({"PNG", "BMP", "TIFF"})
_CHUNK_FRAMES: Final = 16
_ITEM: Final = b"\xfe\xff\x00\xe0"  # (FFFE,E000), PS3.5 7.5.2
_SEQUENCE_END: Final = b"\xfe\xff\xdd\xe0\x00\x00\x00\x00"
_PIXELS_UNDEFINED: Final = b"\xe0\x7f\x10\x00OB\x00\x00\xff\xff\xff\xff"  # (7FE0,0010), PS3.5 A.4
_LARGEST_VALUE: Final = 0xFFFFFFFE  # PS3.5 7.1.1


class EmptyClipError(ValueError):
    """Not one frame of a clip could be decoded, so there is nothing to copy."""

    def __init__(self, clip_number: int, found: str) -> None:
        self.clip_number = clip_number
        self.found = found
        super().__init__(
            f"clip {clip_number}: expected at least one frame, found {found}; ask for the original file again"
        )


@dataclass(frozen=True, slots=True)
class _Written:
    frames: int
    damage: str


def deidentify_clip(
    clip: Clip,
    data: Dataset | None,
    frames: Frames,
    plan: PixelPlan,
    *,
    key: DeidentificationKey,
    keep: KeepList,
    animal: str,
    out_dir: Path,
    compress: bool = True,
) -> ClipRemoval:
    """Write the teaching copy of one still or clip.

    Parameters
    ----------
    clip : Clip
        What was found in the file: size, times, lossy or not.
    data : Dataset or None
        Attributes of the original, with or without pixels; None for pictures and videos that are not DICOM.
    frames : Frames
        Decoded frames of the clip, 8 bit grey or RGB.
    plan : PixelPlan
        Which pixels go (`plan_pixels` or `plan_without_reading`).
    key : DeidentificationKey
        Makes code words, identifiers, file names and the shift of the dates.
    keep : KeepList
        Which attributes may stay.
    animal : str
        What tells this animal from others (`animal_of`, or the study's case number), the same for all visits.
    out_dir : Path
        Folder of the copies. The file goes into a folder named by the animal's code word.
    compress : bool
        Run-length coding (RLE Lossless, PS3.5 annex G); otherwise explicit little endian. Both keep each pixel.

    Returns
    -------
    ClipRemoval
        What was taken out, without any of its values.

    Raises
    ------
    EmptyClipError
        If not one frame can be decoded.
    OSError
        If the copy cannot be written; no part of it is left behind.

    Notes
    -----
    The frames pass through memory a few at a time. A clip that breaks off is copied up to there, and the report
    says so. A picture or video that is not DICOM becomes a Secondary Capture object.
    """
    with lenient():  # values that break the standard are not kept
        source = data if data is not None else _facts_of(clip)
        tags = clean_tags(source, keep, key, animal)
        original = str(source.get("SOPInstanceUID", "") or "") or clip.key
        tags.data.SOPInstanceUID = key.uid(original)
        if data is None:
            tags.data.StudyInstanceUID = key.uid(f"study of {animal} {clip.acquired_at}")
            tags.data.SeriesInstanceUID = key.uid(f"series of {animal} {clip.acquired_at}")
        _describe(tags, clip, source, frames, plan, is_dicom=data is not None, compress=compress)
        folder = key.code_word(animal)
        file = f"{folder}/{key.file_name(original)}.dcm"
        (out_dir / folder).mkdir(parents=True, exist_ok=True)
        written = _write(out_dir / file, tags.data, frames, plan, clip, compress)
        tags = settle(tags, source, keep)
    notes = list(plan.notes)
    if written.damage:
        notes.append(f"The original breaks off after {written.frames} of {frames.n_frames} frames; so does the copy.")
    return ClipRemoval(
        clip=clip.number,
        file=file,
        removed=tags.removed,
        changed=tags.changed,
        blanked=plan.blanked,
        flagged=plan.flagged,
        whole_outside_blanked=plan.blank_mask is not None,
        pixels_clean=_claims_clean(plan),
        frames=written.frames,
        notes=tuple(notes),
    )


def _claims_clean(plan: PixelPlan) -> bool:
    """The option may be claimed only where text was looked for everywhere and none is left on the picture."""
    return plan.is_clean and plan.blank_mask is None


def _facts_of(clip: Clip) -> Dataset:
    """Attributes of a picture or video that is not DICOM, from what was found in it."""
    data = Dataset()
    data.InstanceNumber = clip.number
    patient = clip.patient
    if patient.sex:
        data.PatientSex = {"male": "M", "female": "F"}.get(patient.sex, "O")
    if patient.neutered is not None:
        data.PatientSexNeutered = "ALTERED" if patient.neutered else "UNALTERED"
    if patient.weight_kg is not None:
        data.PatientWeight = f"{patient.weight_kg:g}"
    if patient.age_years is not None:
        years = patient.age_years
        data.PatientAge = f"{int(years):03d}Y" if years >= 2 else f"{int(years * 12):03d}M"
    if patient.species is not None:
        data.PatientSpeciesDescription = patient.species.value
    if patient.breed:
        data.PatientBreedDescription = patient.breed
    if clip.acquired_at is not None:
        data.StudyDate = data.AcquisitionDate = f"{clip.acquired_at:%Y%m%d}"
        data.StudyTime = data.AcquisitionTime = f"{clip.acquired_at:%H%M%S}"
    return data


def _code(value: str, meaning: str) -> Dataset:
    item = Dataset()
    item.CodeValue, item.CodingSchemeDesignator, item.CodeMeaning = value, "DCM", meaning
    return item


def _describe(
    tags: CleanTags, clip: Clip, source: Dataset, frames: Frames, plan: PixelPlan, *, is_dicom: bool, compress: bool
) -> None:
    """Add the attributes that say how the pixels are stored and what was done to them."""
    data = tags.data
    is_ultrasound = str(source.get("SOPClassUID", "")) in _ULTRASOUND
    many = frames.n_frames > 1
    if is_ultrasound:
        data.SOPClassUID = UltrasoundMultiFrameImageStorage if many else UltrasoundImageStorage
    elif many:
        data.SOPClassUID = (
            MultiFrameTrueColorSecondaryCaptureImageStorage
            if frames.is_colour
            else MultiFrameGrayscaleByteSecondaryCaptureImageStorage
        )
    else:
        data.SOPClassUID = SecondaryCaptureImageStorage
    if "Modality" not in data:
        data.Modality = "US" if is_ultrasound or not is_dicom else "OT"
    if not is_ultrasound:
        data.ConversionType = "WSD"  # workstation, PS3.3 C.8.6.1
    data.ImageType = ["DERIVED", *list(data.get("ImageType", ["", "PRIMARY"]))[1:]]
    data.SpecificCharacterSet = "ISO_IR 192"
    data.SamplesPerPixel = 3 if frames.is_colour else 1
    data.PhotometricInterpretation = "RGB" if frames.is_colour else "MONOCHROME2"
    if frames.is_colour:
        data.PlanarConfiguration = 0
    data.Rows, data.Columns = frames.rows, frames.cols
    data.BitsAllocated = data.BitsStored = 8
    data.HighBit, data.PixelRepresentation = 7, 0
    if clip.tags.lossy or (not is_dicom and clip.container.upper() not in _LOSSLESS_CONTAINERS):
        data.LossyImageCompression = "01"  # once lossy, always lossy: PS3.3 C.7.6.1.1.5
    data.DerivationDescription = (
        "Identity removed; frames decoded, possible identity on the screen blanked, "
        f"stored {'with RLE Lossless' if compress else 'uncompressed'}"
    )
    clean = _claims_clean(plan)
    data.PatientIdentityRemoved = "YES"
    data.DeidentificationMethod = [*_METHOD[:1], *(["Clean Pixel Data"] if clean else []), *_METHOD[1:]]
    codes = [_BASIC_PROFILE, *([_CLEAN_PIXELS] if clean else []), _MODIFIED_DATES, _PATIENT_CHARACTERISTICS]
    data.DeidentificationMethodCodeSequence = Sequence([_code(*code) for code in codes])
    data.LongitudinalTemporalInformationModified = "MODIFIED"
    data.BurnedInAnnotation = "NO" if clean else "YES"


def _time_tags(data: Dataset, clip: Clip, frames: int) -> None:
    """Say when each frame was taken, as the original or the container did, for the frames that are there."""
    for name in ("NumberOfFrames", "FrameIncrementPointer"):
        if name in data:
            del data[name]
    if data.SOPClassUID in _MULTI_FRAME:
        data.NumberOfFrames = frames
    if frames < 2:
        for name in ("FrameTime", "FrameTimeVector"):
            if name in data:
                del data[name]
        return
    vector = data.get("FrameTimeVector")
    if vector is not None and not isinstance(vector, str | float | int) and len(vector) >= frames:
        data.FrameTimeVector = list(vector)[:frames]
        data.FrameIncrementPointer = 0x00181065
        return
    if "FrameTimeVector" in data:
        del data.FrameTimeVector
    if "FrameTime" not in data and len(clip.times.times_ms) >= frames:
        steps = np.diff(clip.times.times_ms[:frames])
        if float(np.ptp(steps)) < 0.5:  # below the millisecond in which containers count
            data.FrameTime = f"{float(steps.mean()):.6g}"
        else:
            data.FrameTimeVector = [f"{step:.6g}" for step in (0.0, *steps)]
            data.FrameIncrementPointer = 0x00181065
    if "FrameTime" in data:
        data.FrameIncrementPointer = 0x00181063


def _header(data: Dataset, clip: Clip, frames: int, compress: bool) -> bytes:
    """Everything of the file before the pixels: preamble of zeros, own file meta information, attributes."""
    _time_tags(data, clip, frames)
    meta = FileMetaDataset()
    meta.MediaStorageSOPClassUID = data.SOPClassUID
    meta.MediaStorageSOPInstanceUID = data.SOPInstanceUID
    meta.TransferSyntaxUID = RLELossless if compress else ExplicitVRLittleEndian
    meta.ImplementationClassUID = UID(IMPLEMENTATION_UID)
    meta.ImplementationVersionName = IMPLEMENTATION_NAME
    data.file_meta = meta
    buffer = io.BytesIO()
    # Pixels follow by hand, so that a clip never lies in memory as a whole.
    dcmwrite(buffer, data, enforce_file_format=True)
    return buffer.getvalue()


def _encoded(pixels: NDArray[np.uint8], is_colour: bool) -> Iterator[bytes]:
    encoder = get_encoder(RLELossless)
    for frame in pixels:
        coded = encoder.encode(
            np.ascontiguousarray(frame).tobytes(),
            rows=frame.shape[0],
            columns=frame.shape[1],
            samples_per_pixel=3 if is_colour else 1,
            planar_configuration=0,
            number_of_frames=1,
            bits_allocated=8,
            bits_stored=8,
            pixel_representation=0,
            photometric_interpretation="RGB" if is_colour else "MONOCHROME2",
            encoding_plugin="pylibjpeg",
        )
        yield coded + b"\x00" * (len(coded) % 2)  # even length, PS3.5 A.4


def _write(file: Path, data: Dataset, frames: Frames, plan: PixelPlan, clip: Clip, compress: bool) -> _Written:
    """Write the file beside its place and move it there when it is whole."""
    part = file.with_suffix(".part")
    try:
        with part.open("w+b") as out:
            head = _header(data, clip, frames.n_frames, compress)
            out.write(head)
            written = _write_pixels(out, frames, plan, clip, compress)
            if written.frames != frames.n_frames:
                _replace_header(
                    out, len(head), _header(data, clip, written.frames, compress), written, frames, compress
                )
        part.replace(file)
    finally:
        part.unlink(missing_ok=True)
    return written


def _native_length(frames: Frames, count: int) -> int:
    size = count * frames.rows * frames.cols * (3 if frames.is_colour else 1)
    size += size % 2
    if size > _LARGEST_VALUE:
        raise OverflowError("pixels of more than 4 GiB cannot be stored uncompressed; use run-length coding")
    return size


def _native_start(frames: Frames, count: int) -> bytes:
    return b"\xe0\x7f\x10\x00OB\x00\x00" + struct.pack("<I", _native_length(frames, count))


def _write_pixels(out: IO[bytes], frames: Frames, plan: PixelPlan, clip: Clip, compress: bool) -> _Written:
    count, damage = 0, ""
    if compress:
        out.write(_PIXELS_UNDEFINED + _ITEM + b"\x00\x00\x00\x00")  # an empty offset table is allowed, PS3.5 A.4
    else:
        out.write(_native_start(frames, frames.n_frames))
    try:
        for pixels in blank(frames.chunks(_CHUNK_FRAMES), plan):
            if compress:
                for coded in _encoded(pixels, frames.is_colour):
                    out.write(_ITEM + struct.pack("<I", len(coded)) + coded)
            else:
                out.write(np.ascontiguousarray(pixels).data)
            count += len(pixels)
    except FrameDamageError as error:
        damage = error.found
    if count == 0:
        raise EmptyClipError(clip.number, damage or "none")
    if compress:
        out.write(_SEQUENCE_END)
    elif count * frames.rows * frames.cols * (3 if frames.is_colour else 1) % 2:
        out.write(b"\x00")
    return _Written(count, damage)


def _replace_header(
    out: IO[bytes], old_length: int, header: bytes, written: _Written, frames: Frames, compress: bool
) -> None:
    """Put the true number of frames in front of the pixels: the clip broke off, or held more than it said."""
    start = b"" if compress else _native_start(frames, written.frames)
    out.seek(old_length + len(start))
    # The pixels are clean already; the file has no name and is gone when closed.
    with tempfile.TemporaryFile() as rest:
        shutil.copyfileobj(out, rest)
        rest.seek(0)
        out.seek(0)
        out.write(header + start)
        shutil.copyfileobj(rest, out)
        out.truncate()
