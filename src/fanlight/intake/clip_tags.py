"""Technical attributes of a DICOM file that later stages may weigh; nothing here tells whose animal it is."""

from __future__ import annotations

from pydicom import uid
from pydicom.dataset import Dataset

from fanlight.intake.dicom_form import VIDEO_SYNTAXES
from fanlight.intake.dicom_header import DicomSource, items_of, number_of, numbers_of, text_of, texts_of
from fanlight.study import ClipTags

_MM_PER_CM = 10.0
_ALWAYS_LOSSY = VIDEO_SYNTAXES | {uid.JPEGBaseline8Bit, uid.JPEGExtended12Bit, uid.JPEGLSNearLossless}


def _code(item: Dataset) -> tuple[str, str, str] | None:
    """Value, scheme and meaning of a coded entry (PS3.3 8.8, Code Sequence macro)."""
    value = text_of(item, "CodeValue") or text_of(item, "LongCodeValue")
    return (value, text_of(item, "CodingSchemeDesignator"), text_of(item, "CodeMeaning")) if value else None


def _positive(value: float | None) -> float | None:
    """Machines write 0 for what they do not know."""
    return value if value is not None and value > 0 else None


def _lossy(source: DicomSource) -> bool | None:
    """Lossy Image Compression (0028,2110), PS3.3 C.7.6.1.1.5; a compression that always loses outranks it."""
    if source.transfer_syntax in _ALWAYS_LOSSY:
        return True
    return {"01": True, "00": False}.get(text_of(source.data, "LossyImageCompression"))


def _aspect(data: Dataset) -> tuple[int, int] | None:
    """Vertical and horizontal size of a pixel, PS3.3 C.7.6.3.1.7."""
    values = numbers_of(data, "PixelAspectRatio")
    if len(values) != 2 or min(values) <= 0 or any(value != int(value) for value in values):
        return None
    return int(values[0]), int(values[1])


def tags_of(source: DicomSource) -> ClipTags:
    """Return the technical attributes of a file."""
    data = source.data
    views = [code for item in items_of(data, "ViewCodeSequence") if (code := _code(item))]
    modifiers = [
        code
        for item in (*items_of(data, "ViewModifierCodeSequence"), *_modifiers_inside(data))
        if (code := _code(item))
    ]
    focus_cm = _positive(number_of(data, "FocusDepth"))
    colour = number_of(data, "UltrasoundColorDataPresent")
    series = [text for key in ("SeriesDescription", "ProtocolName") if (text := text_of(data, key))]
    return ClipTags(
        image_type=texts_of(data, "ImageType"),
        series_text=" | ".join(dict.fromkeys(series)),
        view_name=text_of(data, "ViewName"),
        view_code=views[0] if views else None,
        view_modifiers=tuple(modifiers),
        stage_name=text_of(data, "StageName"),
        image_comments=text_of(data, "ImageComments"),
        heart_rate_bpm=_positive(number_of(data, "HeartRate")),
        # (0018,6060): R-wave times in ms. The clause was not seen; that they count from the first frame is common
        # practice, no source.
        r_wave_times_ms=numbers_of(data, "RWaveTimeVector"),
        # (0018,5012) is a depth in cm (from memory of PS3.3 C.8.5.6); a criterion must check it against the picture.
        focus_depth_mm=None if focus_cm is None else focus_cm * _MM_PER_CM,
        # (0018,5050): depth of the scan field in mm, PS3.3 C.8.24.3.
        depth_of_field_mm=_positive(number_of(data, "DepthOfScanField")),
        transducer_type=text_of(data, "TransducerType"),
        transducer_data=texts_of(data, "TransducerData"),
        transducer_frequency_khz=_transducer_frequency(data),
        mechanical_index=_positive(number_of(data, "MechanicalIndex")),
        lossy=_lossy(source),
        lossy_ratio=_positive(number_of(data, "LossyImageCompressionRatio")),
        derivation=text_of(data, "DerivationDescription"),
        colour_present=None if colour is None else colour == 1,
        pixel_aspect=_aspect(data),
        transfer_syntax=source.stored_syntax,
        photometric=text_of(data, "PhotometricInterpretation"),
    )


def _modifiers_inside(data: Dataset) -> tuple[Dataset, ...]:
    """View Modifier Code Sequence lies inside the View Code item (PS3.3 C.8.5.6); some write it beside."""
    return tuple(
        inner for item in items_of(data, "ViewCodeSequence") for inner in items_of(item, "ViewModifierCodeSequence")
    )


def _transducer_frequency(data: Dataset) -> float | None:
    """Return the frequency that all regions with one agree on, else the first."""
    for item in items_of(data, "SequenceOfUltrasoundRegions"):
        if (value := _positive(number_of(item, "TransducerFrequency"))) is not None:
            return value
    return None
