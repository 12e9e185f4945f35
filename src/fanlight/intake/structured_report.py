"""Measurements out of a DICOM structured report: every number with its concept, unit and method."""

from __future__ import annotations

import math
from collections.abc import Iterator

from pydicom.dataset import Dataset

from fanlight.intake.dicom_header import DicomSource, items_of, number_of, text_of
from fanlight.intake.named_quantity import quantity_of_code, quantity_of_words
from fanlight.study import GivenMeasurement

# Deeper nesting than any template of PS3.16 has; a report made to nest without end stops here. Engineering judgement.
_MAX_DEPTH = 32
_MAX_NUMBERS = 5_000
_METHOD_CONCEPTS = frozenset({("DCM", "370129005"), ("SCT", "370129005"), ("SRT", "G-C036")})  # Measurement Method
_MODE_CONCEPTS = frozenset({("SCT", "399264008"), ("SRT", "G-0373"), ("DCM", "G-0373")})  # Image Mode
_MODE_WORDS = {
    "399064001": "2-D",  # PS3.16 CID 12224, SNOMED CT and SNOMED-RT
    "G-03A2": "2-D",
    "399155008": "M-mode",
    "G-0394": "M-mode",
    "261199008": "PW",
    "R-409E4": "PW",
    "261198000": "CW",
    "R-409E3": "CW",
    "439858009": "tissue Doppler",
    "P5-B0128": "tissue Doppler",
}


def _concept(item: Dataset, sequence: str) -> tuple[str, str, str]:
    """Scheme, value and meaning of the first code in a sequence; empty when there is none."""
    for code in items_of(item, sequence):
        return (
            text_of(code, "CodingSchemeDesignator"),
            text_of(code, "CodeValue") or text_of(code, "LongCodeValue"),
            text_of(code, "CodeMeaning"),
        )
    return "", "", ""


def _modifier(item: Dataset, concepts: frozenset[tuple[str, str]]) -> tuple[str, str, str]:
    for child in items_of(item, "ContentSequence"):
        if text_of(child, "ValueType") == "CODE" and _concept(child, "ConceptNameCodeSequence")[:2] in concepts:
            return _concept(child, "ConceptCodeSequence")
    return "", "", ""


def _numbers(item: Dataset, depth: int, mode: str) -> Iterator[tuple[Dataset, str]]:
    """Yield every numeric content item with the imaging mode that holds for it; a group's mode holds for its items."""
    if depth > _MAX_DEPTH:
        return
    mode = _MODE_WORDS.get(_modifier(item, _MODE_CONCEPTS)[1], mode)
    if text_of(item, "ValueType") == "NUM":
        yield item, mode
    for child in items_of(item, "ContentSequence"):
        yield from _numbers(child, depth + 1, mode)


def _measurement(item: Dataset, mode: str) -> GivenMeasurement | None:
    scheme, code, meaning = _concept(item, "ConceptNameCodeSequence")
    for measured in items_of(item, "MeasuredValueSequence"):
        value = number_of(measured, "NumericValue")
        if value is None or not math.isfinite(value):
            continue
        _, unit, unit_meaning = _concept(measured, "MeasurementUnitsCodeSequence")
        quantity, method = quantity_of_code(code) if scheme == "LN" else ("", "")
        return GivenMeasurement(
            quantity=quantity or quantity_of_words(meaning),
            label=meaning or f"{scheme} {code}".strip() or "number without a name",
            value=value,
            unit=unit or unit_meaning,
            given_by="machine report",
            method=method or mode or _modifier(item, _METHOD_CONCEPTS)[2],
        )
    return None


def read_report(source: DicomSource) -> tuple[GivenMeasurement, ...]:
    """Return the measurements of a structured report, in the order in which they stand.

    Numbers whose concept is not in the table are kept with quantity "", under their own label.

    References
    ----------
    DICOM PS3.3 C.17.3 (SR Document Content), C.18.1 (numeric measurement); PS3.16 TID 5200, TID 5300.
    """
    found: list[GivenMeasurement] = []
    for item, mode in _numbers(source.data, 0, ""):
        measurement = _measurement(item, mode)
        if measurement is not None:
            found.append(measurement)
        if len(found) >= _MAX_NUMBERS:
            break
    return tuple(found)
