"""What letters say of Doppler beside what was found: the caution about angles, and the rungs that a valve lacks."""

from __future__ import annotations

from fanlight.report.document import Block, Paragraph, Voice
from fanlight.study import Coverage, Measurement, RungState, StudyReview, ValveLadder

# cos 20° is 0.94: QUINONES2002 through `reference.formulas.flow.measured_share`, which has the numbers.
SOURCE = "QUINONES2002"
LOWER_BOUND = (
    f"Velocities by Doppler, and the gradients that follow from them (4·v², simplified Bernoulli, {SOURCE}), are lower "
    "bounds: where the beam does not run along the flow they read too low, and a gradient more so than its velocity."
)
_OF_FLOW = {"m/s", "cm/s", "mmHg"}
_NOTES_SHOWN = 3  # a letter has two pages; the study sheet lists them all


def caution_of_spectra(review: StudyReview) -> list[Block]:
    """Return the caution for a letter about a study that holds spectra."""
    has_spectra = any(item.mode.is_spectrum for item in review.readings)
    return [Paragraph(text=LOWER_BOUND, voice=Voice.CAUTION)] if has_spectra else []


def has_flow(measurements: tuple[Measurement, ...]) -> bool:
    """Return whether velocities or gradients are among the numbers."""
    return any(item.value is not None and item.unit in _OF_FLOW for item in measurements)


def lacking_rungs(cover: Coverage) -> str:
    """Return which rungs a valve lacks that no step lacks altogether, as a sentence; "" for none.

    Nothing is called missing while a clip that waits for its view could be it.
    """
    if not cover.can_judge_missing or cover.unplaced:  # a clip that waits may be of any valve
        return ""
    said = {rung for step in cover.steps for rung, state in step.states if state is RungState.MISSING}
    lacking = [
        f"{item.valve} valve: {', '.join(rungs)}"
        for item in cover.ladders
        if (rungs := [str(rung) for rung, state in item.states if state is RungState.MISSING and rung not in said])
    ]
    return f"Asked for at a valve and not found: {'; '.join(lacking)}." if lacking else ""


def rung_notes(cover: Coverage) -> list[str]:
    """Return what the rules of the ladder teach about this study, the sure part, as much as a letter holds."""
    notes = [f"{str(item.valve).capitalize()} valve: {note}" for item in cover.ladders for note in _sure_notes(item)]
    rest = len(notes) - _NOTES_SHOWN
    more = [f"And {rest} more about the rungs: see the study sheet."] if rest > 0 else []
    return notes[:_NOTES_SHOWN] + more


def _sure_notes(ladder: ValveLadder) -> list[str]:
    unsure = {item.words for item in ladder.findings if not item.is_sure}
    return [note for note in ladder.notes if note not in unsure]
