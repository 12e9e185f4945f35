"""`fanlight practice`: settings that are wrong in the hands of several trainees, told once, to their practice."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fanlight.cli.exit_code import ExitCode
from fanlight.cli.options import HouseFile, Json
from fanlight.cli.reading import read_house
from fanlight.cli.screen import ERR, OUT, fail
from fanlight.cli.store import Data, existing_store
from fanlight.coach.practice import PracticeHabits, ScannedStudy, SharedHabit, shared_habits
from fanlight.reference.causes import read_cause_limits, read_causes
from fanlight.reference.handling import read_handling
from fanlight.reference.letter import read_least_trainees
from fanlight.report import words
from fanlight.study import name_key
from fanlight.study.sentence import capital

if TYPE_CHECKING:
    from fanlight.store import ToldHabit

_WHY = "What comes with several hands is likelier the machine's preset than a hand: change it there, for all."


def practice(
    name: Annotated[str, typer.Argument(help="Practice, as its request sheets name it; all when not given.")] = "",
    data: Data = None,
    house_file: HouseFile = None,
    again: Annotated[bool, typer.Option("--again", help="Say what was told before once more.")] = False,
    as_json: Json = False,
) -> None:
    """Say which wrong settings are a habit in studies of several trainees of one practice: said once, to the practice.

    Counts stand beside each; no trainee and no animal is named. What was said is kept beside the desk's studies, so
    that it is said once; with --json nothing is kept.
    """
    from fanlight.store import StoreError, causes_by_study, open_store, read_told
    from fanlight.study.codec import to_plain

    house = read_house(house_file)
    least = read_least_trainees(house)
    try:
        with open_store(existing_store(data)) as opened:
            kept, told = causes_by_study(opened), read_told(opened)
    except StoreError as error:
        raise fail(str(error), ExitCode.SETTINGS) from error
    studies = [
        ScannedStudy(trainee=item.trainee, practice=item.practice, causes=item.causes)
        for item in kept
        if item.causes is not None
    ]
    otherwise = read_handling(house).otherwise
    found = shared_habits(studies, read_causes(house), read_cause_limits(house).console_from, least, otherwise)
    wanted = name_key(name)
    found = tuple(item for item in found if wanted in ("", name_key(item.practice)))
    if name and not found:
        raise fail(f"{name}: no study that was read names this practice and a trainee.", ExitCode.SETTINGS)
    found = tuple(_with_told(item, told) for item in found)
    if as_json:
        sys.stdout.write(json.dumps(to_plain(found), indent=2) + "\n")
    else:
        for item in found:
            _print(item, least, again=again)
        _keep(data, found, again=again)
        if nameless := sum(not (item.trainee.strip() and item.practice.strip()) for item in studies):
            named = f"{words.count(nameless, 'study names', 'studies name')} no trainee or no practice"
            OUT.print(f"{named}, so not counted.", markup=False)
        OUT.print(words.SUPPORT if found else "No study that was read names a practice and a trainee.", markup=False)
    if unread := len(kept) - len(studies):
        which = "it" if unread == 1 else "them"
        said = f"{words.count(unread, 'study', 'studies')} not counted: read {which} again in the desk."
        ERR.print(said, markup=False)
        raise typer.Exit(ExitCode.SOME_REFUSED)


def _with_told(found: PracticeHabits, told: Mapping[tuple[str, str], ToldHabit]) -> PracticeHabits:
    """Return the habits of a practice, each with when it was told."""
    days = {cause: item.on for (practice, cause), item in told.items() if practice == name_key(found.practice)}
    return replace(found, habits=tuple(replace(item, told_on=days.get(item.cause)) for item in found.habits))


def _keep(data: Path | None, found: Iterable[PracticeHabits], *, again: bool) -> None:
    """Keep what was said just now."""
    from fanlight.store import StoreError, ToldHabit, keep_told, open_store

    said = [
        ToldHabit(
            practice=name_key(each.practice), cause=item.cause, on=date.today(), n_trainees=item.n_trainees,
            n_studies=item.n_studies,
        )
        for each in found
        for item in each.habits
        if again or item.told_on is None
    ]  # fmt: skip
    if not said:
        return
    try:
        with open_store(existing_store(data)) as opened:
            keep_told(opened, said)
    except StoreError as error:
        raise fail(str(error), ExitCode.SETTINGS) from error


def _print(found: PracticeHabits, least: int, *, again: bool) -> None:
    studies = words.count(found.n_studies, "study", "studies")
    looked_at = f"{found.practice}: {studies} of {words.count(found.n_trainees, 'trainee')}"
    if not found.habits:
        OUT.print(f"{looked_at}. No setting is a habit in the studies of {least} trainees or more.", markup=False)
        return
    new = [item for item in found.habits if again or item.told_on is None]
    OUT.print(f"{looked_at}. {_WHY if new else 'Nothing that was not told before.'}", markup=False)
    for place, item in enumerate(new, start=1):
        OUT.print(f"{place}. {habit_words(item, found)}", markup=False)
    for item in found.habits:
        if item not in new and item.told_on is not None:
            on = f"{item.told_on.day} {item.told_on:%B %Y}"
            OUT.print(f"Told on {on}, still a habit: {item.title}. --again says it once more.", markup=False)


def habit_words(item: SharedHabit, found: PracticeHabits) -> str:
    """Return one setting: in how many hands and studies it is wrong, what to do, and when it is right."""
    return (
        f"{capital(item.title)}: a habit in studies of {item.n_trainees} of {found.n_trainees} trainees "
        f"({item.n_studies} of {words.count(found.n_studies, 'study', 'studies')}). When {item.when}: "
        f"{item.correction}. Right when {item.right_when}."
    )
