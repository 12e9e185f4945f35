"""Content items of a structured report, from codes and words (PS3.3 C.17.3)."""

from __future__ import annotations

from highdicom.sr import (
    CodeContentItem,
    CodedConcept,
    NumContentItem,
    RelationshipTypeValues,
    TextContentItem,
)

from fanlight.reference.dicom_codes import Coded

# PS3.16: CID 225, TID 300, TID 4019 and TID 1008; read in the code dictionaries of pydicom 3.0.2.
UPPER = Coded(value="371886008", scheme="SCT", meaning="+, range of upper measurement uncertainty")
LOWER = Coded(value="371885007", scheme="SCT", meaning="-, range of lower measurement uncertainty")
IMAGE_MODE = Coded(value="399264008", scheme="SCT", meaning="Image mode")
COMMENT = Coded(value="121106", scheme="DCM", meaning="Comment")
SPECIES = Coded(value="121034", scheme="DCM", meaning="Subject Species")
ECHOCARDIOGRAPHY = Coded(value="433236007", scheme="SCT", meaning="Transthoracic echocardiography")  # CID 12001
ENGLISH = Coded(value="en-GB", scheme="RFC5646", meaning="English (United Kingdom)")  # RFC 5646

PROPERTY = RelationshipTypeValues.HAS_PROPERTIES
MODIFIER = RelationshipTypeValues.HAS_CONCEPT_MOD
CONTEXT = RelationshipTypeValues.HAS_OBS_CONTEXT
PART = RelationshipTypeValues.CONTAINS


def concept(code: Coded) -> CodedConcept:
    """Return a code as highdicom takes it."""
    return CodedConcept(value=code.value, scheme_designator=code.scheme, meaning=code.meaning)


def text_item(name: Coded, words: str, relation: RelationshipTypeValues) -> TextContentItem:
    """Return a TEXT item; letters that cannot be printed become spaces."""
    printable = "".join(letter if letter.isprintable() else " " for letter in words)
    return TextContentItem(name=concept(name), value=printable, relationship_type=relation)


def code_item(name: Coded, code: Coded, relation: RelationshipTypeValues) -> CodeContentItem:
    """Return a CODE item."""
    return CodeContentItem(name=concept(name), value=concept(code), relationship_type=relation)


def number_item(name: Coded, value: float, unit: Coded) -> NumContentItem:
    """Return a NUM item that is a property of another."""
    return NumContentItem(name=concept(name), value=float(value), unit=concept(unit), relationship_type=PROPERTY)
