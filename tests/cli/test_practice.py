"""`fanlight practice`: counts of what several hands have in common, no names, and what was not counted."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from fanlight.cli import app
from fanlight.review.events import ReviewFinished, StudyAssembled
from fanlight.store import (
    ChangeWord,
    Store,
    add_entry,
    add_study,
    export_store,
    new_id,
    open_store,
    read_told,
    record_event,
    restore_store,
)
from fanlight.store.actions import JudgeChange
from fanlight.study import CauseFound, CauseLevel
from measure._store_samples import HOUSE, sample_review, sample_study

DEEP = CauseFound(
    cause="depth_large", title="depth too large", level=CauseLevel.CONSOLE, probability=0.99, habit=0.9, is_habit=True,
    clips=("c",), explains=(),
)  # fmt: skip


def said(*words: str | Path) -> Result:
    return CliRunner().invoke(app, ["practice", *map(str, words)])


def scan(store: Store, trainee: str, *causes: CauseFound, is_read: bool = True) -> str:
    study = add_study(store, new_id(), title="Juniper").id
    whole = sample_study(1, study, trainee=trainee)
    whole = replace(whole, identity=replace(whole.identity, practice="Invented practice"))
    record_event(store, study, StudyAssembled(study=whole), house=HOUSE)
    if is_read:
        record_event(store, study, ReviewFinished(review=replace(sample_review(whole), causes=causes)), house=HOUSE)
    return study


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A store with four trainees of one practice, three of whom scan too deep."""
    with open_store(tmp_path / "store") as store:
        for trainee in ("T. Rowan", "S. Birch", "L. Alder", "T. Rowan"):
            scan(store, trainee, DEEP)
        scan(store, "K. Hazel")
        scan(store, "")
    return tmp_path / "store"


def test_the_practice_is_told_with_counts_and_without_names(folder: Path) -> None:
    done = said("--data", folder)

    assert done.exit_code == 0, done.stderr
    told = " ".join(done.stdout.split())
    assert "Invented practice: 5 studies of 4 trainees." in told
    assert "1. Depth too large: a habit in studies of 3 of 4 trainees (4 of 5 studies). When the heart ends" in told
    assert "1 study names no trainee or no practice, so not counted." in told
    assert "does not replace, a licensed veterinarian" in told
    assert not any(name in told for name in ("Rowan", "Birch", "Alder", "Hazel", "Juniper"))


def test_as_data_it_holds_the_same_counts(folder: Path) -> None:
    (found,) = json.loads(said("invented  practice", "--data", folder, "--json").stdout)

    assert (found["n_trainees"], found["n_studies"]) == (4, 5)
    assert [(item["cause"], item["n_trainees"], item["n_studies"]) for item in found["habits"]] == [
        ("depth_large", 3, 4)
    ]


def test_nothing_shared_is_said_plainly(tmp_path: Path) -> None:
    with open_store(tmp_path / "store") as store:
        scan(store, "T. Rowan", DEEP)
        scan(store, "S. Birch", DEEP)
    told = " ".join(said("--data", tmp_path / "store").stdout.split())

    assert "2 studies of 2 trainees. No setting is a habit in the studies of 3 trainees or more." in told


def test_a_study_that_is_not_read_is_counted_out_aloud(folder: Path) -> None:
    with open_store(folder) as store:
        scan(store, "T. Rowan", is_read=False)
    done = said("--data", folder)

    assert done.exit_code == 3
    assert "1 study not counted: read it again in the desk" in done.stderr


def test_an_unknown_practice_and_an_empty_folder_are_errors_that_say_what_to_do(folder: Path, tmp_path: Path) -> None:
    unknown, empty = said("Elsewhere", "--data", folder), said("--data", tmp_path / "none")

    assert (unknown.exit_code, empty.exit_code) == (5, 5)
    assert "Elsewhere: no study that was read names this practice and a trainee." in " ".join(unknown.stderr.split())
    assert "Name its folder with --data." in " ".join(empty.stderr.split())


def test_what_a_mentor_threw_out_of_the_letter_does_not_count(tmp_path: Path) -> None:
    with open_store(tmp_path / "store") as store:
        studies = [scan(store, trainee, DEEP) for trainee in ("T. Rowan", "S. Birch", "L. Alder")]
        for study, word in zip(studies, (ChangeWord.KEPT, ChangeWord.THROWN_OUT), strict=False):
            change = JudgeChange(cause=DEEP.cause, word=word)
            add_entry(store, study, change, author="M. Linden", entry=new_id())
    (found,) = json.loads(said("--data", tmp_path / "store", "--json").stdout)

    assert (found["n_trainees"], found["habits"]) == (3, [])


def test_what_was_told_is_told_once_and_again_on_request(folder: Path, tmp_path: Path) -> None:
    first = said("--data", folder).stdout
    second = " ".join(said("--data", folder).stdout.split())
    again = " ".join(said("--data", folder, "--again").stdout.split())
    (plain,) = json.loads(said("--data", folder, "--json").stdout)

    assert "1. Depth too large" in first
    assert "1. Depth too large" not in second
    assert "Nothing that was not told before." in second
    assert f"Told on {date.today().day} {date.today():%B %Y}, still a habit: depth too large." in second
    assert "1. Depth too large" in again
    assert plain["habits"][0]["told_on"] == date.today().isoformat()


def test_asking_for_data_tells_nobody(folder: Path) -> None:
    said("--data", folder, "--json")

    assert "1. Depth too large" in said("--data", folder).stdout


def test_what_was_told_goes_with_an_export(folder: Path, tmp_path: Path) -> None:
    with open_store(folder) as store:
        before = export_store(store, tmp_path / "before.zip")
    said("--data", folder)
    with open_store(folder) as store:
        after = export_store(store, tmp_path / "after.zip")
        told = read_told(store)
    for name in ("before", "after"):
        restore_store(tmp_path / f"{name}.zip", tmp_path / name)
    with open_store(tmp_path / "after") as store, open_store(tmp_path / "before") as older:
        assert read_told(store) == told
        assert read_told(older) == {}

    assert [item.cause for item in told.values()] == ["depth_large"]
    assert (before.form, after.form) == (1, 2)  # an older program restores the first, and says why not the second


@pytest.mark.parametrize("data", ["", "{}", "[]", '{"form": 9, "told": []}', '{"form": 1, "told": [3]}'])
def test_a_file_of_what_was_told_that_is_broken_is_named_with_the_remedy(folder: Path, data: str) -> None:
    (folder / "practice-told.json").write_text(data)
    done = said("--data", folder)

    assert done.exit_code == 5
    assert "practice-told.json: it cannot be read" in " ".join(done.stderr.split()).replace("- ", "-")
    assert "take it out of the folder: then all is told once more" in " ".join(done.stderr.split())
