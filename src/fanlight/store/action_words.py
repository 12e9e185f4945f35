"""Closed sets that the mentor's actions speak in."""

from __future__ import annotations

from enum import StrEnum

from fanlight.study import MarkKind as MarkKind


class Requirement(StrEnum):
    """What a view asks of a structure."""

    MUST_SHOW = "must show"
    MUST_NOT_SHOW = "must not show"


class Judgement(StrEnum):
    """The mentor's own word on a structure."""

    NORMAL = "normal"
    ABNORMAL = "abnormal"
    NOT_ASSESSED = "not assessed"


class JudgedStructure(StrEnum):
    """What is judged by eye: valves, chambers, pericardium, great vessels."""

    MITRAL_VALVE = "mitral valve"
    AORTIC_VALVE = "aortic valve"
    TRICUSPID_VALVE = "tricuspid valve"
    PULMONIC_VALVE = "pulmonic valve"
    LEFT_VENTRICLE = "left ventricle"
    LEFT_ATRIUM = "left atrium"
    RIGHT_VENTRICLE = "right ventricle"
    RIGHT_ATRIUM = "right atrium"
    PERICARDIUM = "pericardium"
    AORTA = "aorta"
    PULMONARY_ARTERY = "pulmonary artery"
    PULMONARY_VEINS = "pulmonary veins"
    CAVAL_VEINS = "caval veins"


class DocumentKind(StrEnum):
    """Papers that are signed."""

    SUMMARY = "summary"
    LETTER = "letter"


class Party(StrEnum):
    """Who raised or cleared a flag. Never the machine."""

    PRACTICE = "practice"
    MENTOR = "mentor"


class AdviceWord(StrEnum):
    """What became of something that the last letter asked for; only a person says it."""

    NOT_SAID = "not said"
    DONE = "done"
    NOT_DONE = "not done"
    MENDED = "mended"
    NOT_MENDED = "not mended"


class ChangeWord(StrEnum):
    """The mentor's word on a change that was proposed for all findings together."""

    NOT_SAID = "not said"
    KEPT = "kept"
    THROWN_OUT = "thrown out"


class MessageKind(StrEnum):
    """What is said on the thread of a case."""

    MORE_IMAGES = "request for more images"
    REPLY = "reply"
    RESCAN = "re-scan sent"
    NOTE = "note"


class Fate(StrEnum):
    """What became of a file."""

    RECEIVED = "received"
    PROBED = "probed"  # its header was read
    REFUSED = "refused"
