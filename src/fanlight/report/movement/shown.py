"""What a letter shows of each movement that it asks for: drawings, the pair of simulated pictures, and their words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from fanlight.reference.movements import read_movements
from fanlight.reference.views import View, read_views
from fanlight.report.document import Block, Drawing, Figure, Items, Moved, Voice
from fanlight.report.movement.chosen import ChosenMove, chosen_moves
from fanlight.report.movement.drawing import draw_movement
from fanlight.report.movement.model_animal import USUAL_KG, model_animal, moved_poses
from fanlight.report.movement.simulated import LABEL, SimulatedPair, sector_size_of, simulated_pair
from fanlight.report.movement.sketch import Sketch, svg_of
from fanlight.study import Correction, House, Patient, StudyReview
from fanlight.study.patient import Species

_BEFORE, _AFTER = f"{LABEL}: as it was scanned (estimated)", f"{LABEL}: after the movement"
_DRAWN = "Solid: as it stood. Dashed: the way to go, not its size. Dot: marker."


@dataclass(frozen=True, slots=True, kw_only=True)
class MovementShown:
    """The pictures of one movement; what could not be made says so."""

    sketches: tuple[Sketch, ...]  # one, or two where either may be the right one
    pair: SimulatedPair | None
    view: str  # title
    note: str  # what the pair is and what to look for, or why there is none


Movements = Mapping[str, MovementShown]  # by the cause of the change
NO_MOVEMENTS: Movements = MappingProxyType({})


def movements_shown(review: StudyReview, house: House, corrections: Iterable[Correction] | None = None) -> Movements:
    """Return the pictures of every movement that corrections ask for; what is withheld has none.

    Parameters
    ----------
    review : StudyReview
        The study, with where the probe stood.
    house : House
        Movements and views.
    corrections : iterable of Correction, optional
        Those of which pictures are wanted; the ones of the review by default.

    Notes
    -----
    About 1.3 s a movement on one core the first time, and nothing the second (docs/letter.md).
    """
    wanted = review.corrections if corrections is None else corrections
    moves = chosen_moves(wanted, review.stands, read_movements(house), review.study.request.breathing)
    views = read_views(house)
    return {cause: _shown(move, review, views[move.view]) for cause, move in moves.items()}


def _shown(move: ChosenMove, review: StudyReview, view: View) -> MovementShown:
    patient = review.study.patient
    reading = review.reading(move.clip)
    pair, note = None, "No simulated picture: the species or the weight of the animal is not known."
    if patient.species is not None and patient.weight_kg is not None:
        try:
            pair = simulated_pair(patient.species, patient.weight_kg, move, sector_size_of(reading))
            note = _note(move, reading.clip.number, patient.species, patient.weight_kg, view)
        except ValueError as error:
            note = f"No simulated picture: the model cannot make it ({error})."
    try:
        sketches = _sketches(move, patient)
    except ValueError as error:
        sketches, note = (), f"{note} No drawing: the model cannot carry the movement out ({error})."
    return MovementShown(sketches=sketches, pair=pair, view=view.title, note=note)


def _note(move: ChosenMove, number: int, species: Species, weight_kg: float, view: View) -> str:
    either = " After: whichever of the two is right." if move.is_open else ""
    others = " What else is named of this clip is still to be done in both." if move.others else ""
    return (
        f"{LABEL} of clip {number}, drawn from a model of a healthy {species} of {weight_kg:g} kg and not from this "
        f"animal; where the probe stood is estimated from landmarks.{either}{others} Look for: "
        f"{', '.join(view.must_show)}."
    )


def _sketches(move: ChosenMove, patient: Patient) -> tuple[Sketch, ...]:
    species = patient.species or Species.DOG
    animal = model_animal(species, patient.weight_kg or USUAL_KG[species])
    before = moved_poses(animal, move).before
    leads = ("either", "or") if move.is_open else ("",)
    return tuple(
        draw_movement(animal, before, turn, move.view, lead) for turn, lead in zip(move.back, leads, strict=False)
    )


def with_movements(entries: Sequence[tuple[str, str]], movements: Movements, voice: Voice) -> list[Block]:
    """Return changes as lists of words, and those that are movements with their pictures below.

    Parameters
    ----------
    entries : sequence of (str, str)
        Cause and words of each change, in the order of the letter.
    """
    blocks: list[Block] = []
    plain: list[str] = []
    for cause, words in entries:
        shown = movements.get(cause)
        if shown is None:
            plain.append(words)
            continue
        if plain:
            blocks.append(Items(entries=tuple(plain), voice=voice))
            plain = []
        blocks.append(_moved(shown, words, voice))
    return [*blocks, Items(entries=tuple(plain), voice=voice)] if plain else blocks


def _moved(shown: MovementShown, words: str, voice: Voice) -> Moved:
    drawings = tuple(
        (Drawing(svg=svg_of(item), alt=f"{item.title}. {item.words}", height_mm=38.0), f"{item.title}. {_DRAWN}")
        for item in shown.sketches
    )
    return Moved(words=words, drawings=drawings, pictures=figures_of(shown), note=shown.note, voice=voice)


def figures_of(shown: MovementShown) -> tuple[Figure, ...]:
    """Return the pair with its captions; nothing where there is none."""
    if shown.pair is None:
        return ()
    return tuple(
        Figure(png=png, caption=caption, alt=f"{caption}; {shown.view}, drawn from a model animal.")
        for png, caption in ((shown.pair.before, _BEFORE), (shown.pair.after, _AFTER))
    )
