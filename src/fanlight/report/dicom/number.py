"""One number of a review as TID 300 Measurement: code, unit, uncertainty, what it stands on, and where it was seen."""

from __future__ import annotations

import hashlib
import math
import re
from dataclasses import dataclass

from highdicom import sr

from fanlight.intake.dicom_origin import DicomOrigin
from fanlight.measure.marked import GIVEN_BY as BY_HAND
from fanlight.reference.dicom_codes import Coded, ReportCodes
from fanlight.reference.methods import match_method
from fanlight.reference.quantities import read_quantities
from fanlight.report.dicom.content import (
    COMMENT,
    IMAGE_MODE,
    LOWER,
    MODIFIER,
    PROPERTY,
    UPPER,
    code_item,
    concept,
    number_item,
    text_item,
)
from fanlight.study import ENGINE, Clip, House, Measurement, Mode
from fanlight.validity.measured import is_bound

COMPUTED = "computed from"  # how the giver of what follows from given numbers begins
_TYPED = ("request sheet", "typed")
_AT_LEAST = "at least"
_IMAGING = frozenset({"two_d", "m_mode", "pulsed_wave", "continuous_wave", "tissue_doppler", "colour"})
_ONE_DEVIATION = "the range of uncertainty is one standard deviation to either side"
_HASH_LETTERS = 12
_VERSIONED = re.compile(r"(?P<name>[^/;]+)/(?P<version>[0-9]+)")  # "spectrum from pixels/1; mean of 3 beats"


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """The clip that a number was taken from, as far as it is known."""

    clip: Clip | None = None
    mode: Mode | None = None
    origin: DicomOrigin | None = None


def why_unwritten(item: Measurement, codes: ReportCodes) -> str:
    """Return why a measurement gives no numeric item; "" when it gives one."""
    if item.value is None:
        return item.reason or "no value"
    if not math.isfinite(item.value):
        return "its value is no finite number"
    if codes.unit(item.unit) is None:
        return f"{item.value:g} {item.unit}: the unit is none that the tables can write in UCUM"
    return ""


def name_code(item: Measurement, taken: frozenset[str], codes: ReportCodes) -> Coded:
    """Return the code of what was measured: a public one, ours, or one of ours that follows from the label."""
    known = codes.quantities.get(item.name)
    if known is not None and (code := known.best(taken)) is not None:
        return code
    label = " ".join(item.label.split()) or "number without a name"
    digest = hashlib.sha256(label.encode()).hexdigest()[:_HASH_LETTERS]
    return Coded(value=f"u-{digest}", scheme=codes.scheme, meaning=label if len(label) <= 64 else f"{label[:61]}...")


def ways_taken(item: Measurement, mode: Mode | None, house: House) -> frozenset[str]:
    """Return the techniques that label, method, quantity and clip agree on; imaging that they dispute is left out."""
    said = set(match_method(house, f"{item.label}, {item.method}").technique)
    quantity = read_quantities(house).get(item.name)
    if not said & _IMAGING:
        said |= {quantity.technique} - {""} if quantity is not None else set()
    if not said & _IMAGING and mode is not None:
        said.add(mode.value)
    return frozenset(said if len(said & _IMAGING) == 1 else said - _IMAGING)


def measurement_item(item: Measurement, seen: Seen, codes: ReportCodes, house: House) -> sr.Measurement:
    """Return the numeric item of a measurement that `why_unwritten` has nothing against."""
    unit = codes.unit(item.unit)
    if item.value is None or unit is None:
        raise ValueError(f"{item.label} has no value that can be written; ask why_unwritten first")
    taken = ways_taken(item, seen.mode, house)
    properties = sr.MeasurementProperties()
    if item.uncertainty is not None and math.isfinite(item.uncertainty):
        properties.extend(number_item(name, item.uncertainty, unit) for name in (UPPER, LOWER))
    written = sr.Measurement(
        name=concept(name_code(item, taken, codes)),
        value=float(item.value),
        unit=concept(unit),
        qualifier=concept(_bound(item, codes)) if is_bound(item) else None,
        derivation=concept(derived) if (derived := _derivation(item, codes)) is not None else None,
        method=next((concept(codes.methods[key]) for key in sorted(taken) if key in codes.methods), None),
        properties=properties,
        referenced_images=_images(item, seen),
        algorithm_id=_algorithm(item),
    )
    content = written[0].get("ContentSequence") or sr.ContentSequence()
    content.extend(_words(item, taken, codes))
    written[0].ContentSequence = content
    return written


def _bound(item: Measurement, codes: ReportCodes) -> Coded:
    return codes.own["at_least" if item.validity.startswith(_AT_LEAST) else "at_most"]


def _derivation(item: Measurement, codes: ReportCodes) -> Coded | None:
    """Return how a value came about; None where that is not known (a machine's number, a mark without a quantity)."""
    known = codes.quantities.get(item.name)
    if item.given_by.startswith(COMPUTED):
        return codes.derivations["calculated"]
    if item.given_by in _TYPED:
        return codes.derivations["typed"]
    if item.given_by in (ENGINE, BY_HAND) and known is not None:
        return codes.derivations["calculated" if known.derived else "measured"]
    return None


def _algorithm(item: Measurement) -> sr.AlgorithmIdentification | None:
    """Return name and version of the engine's method (TID 4019); the rest of it stands in words."""
    found = _VERSIONED.match(item.method)
    if item.given_by != ENGINE or found is None:
        return None
    return sr.AlgorithmIdentification(name=found["name"].strip(), version=found["version"])


def _images(item: Measurement, seen: Seen) -> list[sr.SourceImageForMeasurement] | None:
    """Return the picture that a number was taken from; frames count from 1, and a still has none (PS3.3 C.18.4)."""
    if seen.origin is None or seen.clip is None:
        return None
    frames = sorted({frame + 1 for frame in item.frames if 0 <= frame < seen.clip.n_frames})
    return [
        sr.SourceImageForMeasurement(
            referenced_sop_class_uid=seen.origin.class_uid,
            referenced_sop_instance_uid=seen.origin.instance_uid,
            referenced_frame_numbers=frames if frames and not seen.clip.is_still else None,
        )
    ]


def _words(item: Measurement, taken: frozenset[str], codes: ReportCodes) -> list[sr.ContentItem]:
    mode = next((codes.modes[key] for key in sorted(taken) if key in codes.modes), None)
    found: list[sr.ContentItem] = [code_item(IMAGE_MODE, mode, MODIFIER)] if mode is not None else []
    how = [item.method] if item.method else []
    how += [_ONE_DEVIATION] if item.uncertainty is not None else []
    said = (
        (codes.own["way_taken"], "; ".join(how)),
        (codes.own["validity"], item.validity),
        (COMMENT, item.reason),
    )
    return found + [text_item(name, words, PROPERTY) for name, words in said if words]
