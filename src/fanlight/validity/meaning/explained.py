"""Everything that the numbers of a study mean together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType

from fanlight.study import House, Meaning, Measurement, Study
from fanlight.validity.meaning.against_sheet import against_the_sheet
from fanlight.validity.meaning.atrium import atrium_support
from fanlight.validity.meaning.between_visits import changes_of_rows, compare
from fanlight.validity.meaning.change import change_remarks
from fanlight.validity.meaning.dilated import dilated_cardiomyopathy
from fanlight.validity.meaning.discordance import arithmetic, discordances
from fanlight.validity.meaning.feline import feline_stage
from fanlight.validity.meaning.grade import Rule, grade, named_words
from fanlight.validity.meaning.inputs import TakenOn, told_of
from fanlight.validity.meaning.mitral import mitral_score, mitral_stage
from fanlight.validity.meaning.others import against_ours
from fanlight.validity.meaning.pulmonary import pulmonary_hypertension
from fanlight.validity.meaning.stenosis import aortic_stenosis_boxer, pulmonic_stenosis, subaortic_stenosis

# How each grading of the table is worked out, by its key.
RULES: Mapping[str, Rule] = MappingProxyType(
    {
        "mitral_stage": mitral_stage,
        "mitral_score": mitral_score,
        "pulmonary_hypertension": pulmonary_hypertension,
        "subaortic_stenosis": subaortic_stenosis,
        "aortic_stenosis_boxer": aortic_stenosis_boxer,
        "pulmonic_stenosis": pulmonic_stenosis,
        "dilated_cardiomyopathy": dilated_cardiomyopathy,
        "feline_stage": feline_stage,
    }
)


def explain(
    study: Study, house: House, measurements: Iterable[Measurement], taken: Mapping[str, TakenOn] | None = None
) -> Meaning:
    """Return what measurements mean together.

    Parameters
    ----------
    study : Study
        Its request holds what the mentor named and the numbers of earlier visits.
    house : House
        Tables "meaning", "intervals", "quantities", "diseases", "breeds", "methods", "views" and "bibliography".
    measurements : iterable of Measurement
        Of all givers, weighed.
    taken : mapping of str to TakenOn, optional
        View and mode of each clip (`taken_on`): numbers of two visits are compared only where neither differs.

    Notes
    -----
    A grading is listed, with its inputs, where a lesion that it grades is named; its result stays empty until failure
    status and treatment are named too. What a number kept off the clinical summary leads to is kept off it as well.
    """
    told = told_of(study, house, measurements, taken)
    compared = compare(told)
    gradings = (grade(told, row, RULES[key]) for key, row in told.tables.gradings.items())
    support = atrium_support(told)
    return Meaning(
        named=named_words(told),
        waits_for=told.named.missing,
        gradings=tuple(item for item in gradings if item is not None),
        remarks=(
            *against_the_sheet(told),
            *([support.remark] if support is not None else []),
            *change_remarks(told, compared),
            *discordances(told, planes_told=support is not None and support.axis_disagrees),
            *arithmetic(told),
            *against_ours(told),
        ),
        changes=changes_of_rows(compared),
    )
