"""`fanlight check`: what to scan again while the animal is on the table."""

from __future__ import annotations

import json
import sys

import typer

from fanlight.cli.exit_code import ExitCode
from fanlight.cli.marks_words import with_marks
from fanlight.cli.options import (
    BreathingOption,
    HouseFile,
    Json,
    Level,
    MarksFile,
    NoCacheOption,
    PathArgument,
    Plan,
    Question,
    Quiet,
    RequestFile,
    Set,
    SpeciesOption,
    Workers,
)
from fanlight.cli.reading import Wanted, check_ready, read_house, run_review
from fanlight.cli.request_words import read_request, sheet_from_words, short_fields
from fanlight.cli.screen import OUT, say_refusals
from fanlight.coach.rescue import with_rescues
from fanlight.coach.retake_movements import with_retakes_of_movements
from fanlight.coach.retakes import STOP, Retake, RetakeList, list_retakes
from fanlight.reference.causes import read_cause_limits, read_causes, read_try_words
from fanlight.reference.criteria import read_criteria
from fanlight.reference.handling import read_handling
from fanlight.reference.letter import read_letter_limits
from fanlight.reference.movements import read_movements
from fanlight.study import Breathing, Study


def change_lines(item: Retake) -> list[str]:
    """Return the one change that would rescue a retake, or that none is sure enough; nothing where none belongs."""
    if item.change is None:
        return [item.no_change] if item.no_change else []
    some = item.change.clip_numbers
    where = "" if some == item.clip_numbers else f" (clip {', '.join(map(str, some))})"
    return [f"The change{where}: {item.change.words}"]


def print_retakes(found: RetakeList, n_clips: int, as_json: bool) -> None:
    """Print what to scan again, in words or as JSON."""
    from fanlight.study.codec import to_plain

    if as_json:
        sys.stdout.write(json.dumps(to_plain(found), indent=2) + "\n")
        return
    if found.first_line:
        OUT.print(found.first_line, markup=False)
    for place, item in enumerate(found.retakes, start=1):
        where = f" (clip {', '.join(map(str, item.clip_numbers))})" if item.clip_numbers else ""
        OUT.print(f"{place}. {item.words}{where}", markup=False)
        for line in change_lines(item):
            OUT.print(f"   {line}", markup=False)
    if not found.retakes and not found.first_line:
        OUT.print(f"Nothing to scan again was found in {n_clips} clip{'' if n_clips == 1 else 's'}.", markup=False)
    for note in found.not_said:
        OUT.print(note, markup=False)
    OUT.print(found.caution, markup=False)


def check(
    path: PathArgument,
    house_file: HouseFile = None,
    request_file: RequestFile = None,
    marks_file: MarksFile = None,
    plan: Plan = "",
    question: Question = "",
    species: SpeciesOption = None,
    breathing: BreathingOption = None,
    level: Level = "",
    settings: Set = None,
    workers: Workers = 0,
    no_cache: NoCacheOption = False,
    quiet: Quiet = False,
    as_json: Json = False,
) -> None:
    """Say what to scan again while the animal is still on the table, and the one change that would rescue each.

    At most five things, no measurements, no grade. A change is named only where its cause is sure enough; a movement of
    the probe only where a person's landmarks tell it. Where none is, a setting that is likely and undone at once may be
    named as one to be tried.
    """
    from fanlight.review.processes import get_ready

    get_ready()  # on another core, while this one reads the modules of the command
    from fanlight.review.opening import OpenStudy

    house = read_house(house_file)
    short = short_fields(question, species, None, breathing, level)
    request = read_request(request_file, sheet_from_words(settings or [], [], short))
    request, bad_marks = with_marks(request, marks_file, house)
    check_ready(house, plan, None)
    wanted = Wanted(house=house, request=request, plan=plan, workers=workers, no_cache=no_cache, quiet=quiet or as_json)

    def stop_if_distressed(study: Study) -> None:
        # Nobody waits for pictures to be read while an animal is in distress.
        if study.request.breathing is Breathing.DISTRESSED:
            print_retakes(RetakeList(first_line=STOP, retakes=(), not_said=()), 0, as_json)
            raise typer.Exit(ExitCode.DONE)

    with OpenStudy() as opened:
        draft = run_review(path, opened, wanted, stop_if_distressed)
    limits = read_letter_limits(house)
    found = list_retakes(draft, read_criteria(house), limits.retakes_max, limits.sure_from)
    found = with_retakes_of_movements(found, draft, read_movements(house), limits.retakes_max)
    found = with_rescues(
        found, draft, read_causes(house), read_cause_limits(house), read_handling(house),
        to_try=read_try_words(house),
    )  # fmt: skip
    print_retakes(found, len(draft.readings), as_json)
    say_refusals((*bad_marks, *draft.refused))
    if bad_marks or draft.refused:
        raise typer.Exit(ExitCode.SOME_REFUSED)
