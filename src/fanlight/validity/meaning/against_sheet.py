"""What the mentor named against what the request sheet says: one of the two may be of another day."""

from __future__ import annotations

from collections.abc import Iterator

from fanlight.reference.diseases import match_disease
from fanlight.study import HeartFailure, Named, Remark
from fanlight.validity.meaning.inputs import Told

_FAILURE = "congestive_heart_failure"


def against_the_sheet(told: Told) -> Iterator[Remark]:
    """Yield a remark where sheet and mentor differ on heart failure or on whether there is a treatment."""
    named, request = told.named, told.request
    sheet_names_failure = any(_FAILURE in match_disease(told.house, text) for text in request.named_diseases)
    if named.failure is HeartFailure.NONE and sheet_names_failure:
        yield _differ("heart failure", "the request sheet names it", f"{named.by} named none")
    said = Named(treatment=request.treatment)
    if named.treatment and said.treatment and said.is_treated != named.is_treated:
        yield _differ("treatment", f"the request sheet says {said.treatment!r}", f"{named.by} {named.treatment!r}")


def _differ(what: str, sheet: str, mentor: str) -> Remark:
    return Remark(kind="discordance", words=f"Request sheet and mentor differ on {what}: {sheet}, {mentor}.")
