"""What the mentor named on the desk, laid over the study: stages, scores and limits of a disease speak of it. Pure."""

from __future__ import annotations

from dataclasses import replace

from fanlight.reference.diseases import read_diseases
from fanlight.reference.meaning import read_meaning
from fanlight.store import StudyState
from fanlight.study import House, Study


def with_named(study: Study, state: StudyState, house: House) -> Study:
    """Return the study with what was named on the desk in the place of what a marks file names.

    A lesion or sign that the house does not know any more is left out: no stage rests on it.
    """
    said = state.named
    if said is None:
        return study
    lesions, signs = read_diseases(house), read_meaning(house).signs
    named = replace(
        said,
        lesions=tuple(key for key in said.lesions if key in lesions),
        signs=tuple(key for key in said.signs if key in signs),
        signs_absent=tuple(key for key in said.signs_absent if key in signs),
    )
    return replace(study, request=replace(study.request, named=named))
