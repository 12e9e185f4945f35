"""`fanlight priors`: only what was said before proposals were shown re-fits, and what is written is a house file."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from scipy.stats import beta
from typer.testing import CliRunner, Result

from fanlight.cli import app
from fanlight.reference.cause_priors import read_cause_priors, read_refit_settings
from fanlight.reference.causes import AnimalFact, read_causes
from fanlight.reference.load import load_house
from fanlight.review.events import ReviewFinished, StudyAssembled
from fanlight.store import Store, add_entry, add_study, digest_of, new_id, open_store, record_event
from fanlight.store.actions import SayCauses, UncoverStudy
from fanlight.study import CauseFound, CauseLevel
from measure._store_samples import HOUSE, sample_review, sample_study

N = 6  # studies of the practice that were judged first
LEAST = "[cause_priors.settings]\nleast_studies = 5\n"
ASKED = (
    ("depth_large", ""), ("gain_low", ""), ("chest_thick", "body_condition_high"), ("heart_large", ""),
    ("a cause that is gone", ""),
)  # fmt: skip
DEEP = CauseFound(
    cause="depth_large", title="depth too large", level=CauseLevel.CONSOLE, probability=0.99, habit=0.9, is_habit=True,
    clips=("c",), explains=(),
)  # fmt: skip


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(app, ["priors", *map(str, words)])


def judged(
    store: Store,
    said: SayCauses,
    *,
    is_first: bool = True,
    practice: str = "Invented practice",
    asked: tuple[tuple[str, str], ...] = ASKED,
) -> None:
    """A study whose causes are said before it is uncovered, or after."""
    study = add_study(store, new_id(), title="Juniper").id
    whole = sample_study(1, study, trainee="T. Rowan")
    whole = replace(whole, identity=replace(whole.identity, practice=practice))
    review = replace(sample_review(whole), causes=(DEEP,))
    record_event(store, study, StudyAssembled(study=whole), house=HOUSE)
    record_event(store, study, ReviewFinished(review=review), house=HOUSE)
    acts = (replace(said, asked=asked, not_shown=digest_of(review)), UncoverStudy())
    for act in acts if is_first else reversed(acts):
        add_entry(store, study, act, author="M. Linden", entry=new_id())


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Of six studies that were judged first two are too deep throughout; many more were judged after."""
    with open_store(tmp_path / "store") as store:
        for k in range(N):
            judged(store, SayCauses(through=("depth_large",) if k < 2 else (), some=("gain_low",) if k == 2 else ()))
        for _ in range(4):
            judged(store, SayCauses(through=("gain_low",), some=()), is_first=False)
        judged(store, SayCauses(through=("gain_low",), some=()), practice="Another practice")
    return tmp_path / "store"


@pytest.fixture
def house(tmp_path: Path) -> Path:
    file = tmp_path / "group.toml"
    file.write_text(LEAST)
    return file


def test_the_file_that_is_written_is_read_as_a_house_file(folder: Path, house: Path, tmp_path: Path) -> None:
    out, shipped = tmp_path / "priors.toml", load_house()
    done = run("invented  practice", "--data", folder, "--house", house, "--out", out)

    assert done.exit_code == 0, done.stderr
    fitted = load_house(out)
    worth, rows = read_refit_settings(shipped).shipped_worth_studies, read_causes(shipped)
    for cause, n_named in (("depth_large", 2), ("gain_low", 0)):
        expected = (rows[cause].before * worth + n_named) / (worth + N)  # identity: mean of a Beta
        assert read_causes(fitted)[cause].before == pytest.approx(expected, rel=1e-3)
    priors = read_cause_priors(fitted)
    assert set(priors) == {"depth_large", "gain_low", "chest_thick:body_condition_high"}
    assert priors["depth_large"].said == "from 6 studies of this practice judged before proposals were shown"
    assert priors["depth_large"].low < priors["depth_large"].before < priors["depth_large"].high
    thick, high = read_causes(fitted)["chest_thick"], AnimalFact.BODY_CONDITION_HIGH
    assert thick.before == rows["chest_thick"].before
    assert thick.before_if[high] < rows["chest_thick"].before_if[high]
    assert read_causes(fitted)["sector_narrow"] == rows["sector_narrow"]


def test_counts_and_agreement_stand_beside_it(folder: Path, house: Path) -> None:
    done = run("Invented practice", "--data", folder, "--house", house)

    told = " ".join(done.stdout.split())
    assert "6 studies of 1 trainee judged before proposals were shown." in told
    assert "Agreement with what the engine held more likely than not (it proposes fewer), 6 studies:" in told
    assert "causes that a person named and the engine held likely: 2 of 3, 67 % (21 to 94)" in told  # Wilson, by hand
    assert "causes that the engine held likely and a person named: 2 of 6, 33 % (10 to 70)" in told
    assert "studies in which both are the same causes: 2 of 6" in told
    low, high = beta(0.1 * 40 + 2, 0.9 * 40 + 4).interval(0.95)
    assert f"Depth too large: 0.1 as shipped, 0.13 ({low:.3g} to {high:.3g}) now; through 2 of 6 studies." in told
    assert "where the sheet says body condition high" in told
    assert (
        "A heart too large for the sector: through 0 of 6 studies; stays at 0.001 as shipped, which counts for 0.04 of "
        "a study, so that one would outweigh it."
    ) in told


def test_as_data_it_holds_the_same_counts(folder: Path, house: Path) -> None:
    found = json.loads(run("Invented practice", "--data", folder, "--house", house, "--json").stdout)

    deep = next(item for item in found["fitted"] if item["cause"] == "depth_large")
    assert (found["n_studies"], deep["n_named"], deep["n_studies"]) == (N, 2, N)
    assert [item["cause"] for item in found["outweighed"]] == ["heart_large"]
    assert found["agreement"]["named_too"]["n"] == 2
    assert found["agreement"]["named_too"]["of"] == 3


def test_all_practices_together_are_told_as_such(folder: Path, house: Path, tmp_path: Path) -> None:
    out = tmp_path / "priors.toml"
    run("--data", folder, "--house", house, "--out", out)

    assert "from 7 studies of this desk judged before proposals were shown" in out.read_text()


def test_studies_of_which_one_names_no_practice_are_not_this_practices(
    folder: Path, house: Path, tmp_path: Path
) -> None:
    only, out = tmp_path / "only", tmp_path / "priors.toml"
    with open_store(only) as store:
        for k in range(N):
            judged(store, SayCauses(through=(), some=()), practice="Invented practice" if k else " ")
    run("--data", only, "--house", house, "--out", out)

    assert "from 6 studies of this desk judged" in out.read_text()
    again = tmp_path / "again.toml"
    run("  ", "--data", folder, "--house", house, "--out", again)  # no name: studies of two practices
    assert "from 7 studies of this desk judged" in again.read_text()


def test_a_fact_that_a_cause_goes_by_no_more_is_not_taken_for_a_silent_sheet(house: Path, tmp_path: Path) -> None:
    """Those of which the sheet said something learn nothing for those of which it said nothing."""
    with open_store(tmp_path / "store") as store:
        for _ in range(N):
            asked = (("depth_large", "a fact that is gone"), ("gain_low", ""))
            judged(store, SayCauses(through=("depth_large",), some=()), asked=asked)
    found = json.loads(run("--data", tmp_path / "store", "--house", house, "--json").stdout)

    assert {item["cause"] for item in found["fitted"]} == {"gain_low"}


def test_too_few_studies_are_counted_and_nothing_is_refitted(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "priors.toml"
    done = run("--data", folder, "--out", out)

    assert done.exit_code == 5
    assert "Nothing is re-fitted." in done.stderr
    assert "judged in 7 studies, and re-fitting takes 30 or more; go on judging covered studies" in done.stderr
    assert "Agreement with what the engine held more likely than not (it proposes fewer), 7 studies:" in done.stdout
    assert not out.exists()


def test_without_a_study_that_was_judged_first_nothing_is_refitted(tmp_path: Path, house: Path) -> None:
    """However many were judged after."""
    with open_store(tmp_path / "store") as store:
        for _ in range(N):
            judged(store, SayCauses(through=("gain_low",), some=()), is_first=False)
    done = run("--data", tmp_path / "store", "--house", house)

    assert done.exit_code == 5
    assert "No study was judged before its proposals were shown, so nothing is re-fitted." in done.stderr
    assert "causes_first_share" in done.stderr


def test_a_practice_that_nobody_judged_is_named(folder: Path, house: Path) -> None:
    done = run("Elsewhere", "--data", folder, "--house", house)

    assert done.exit_code == 5
    assert "Elsewhere: no study of this practice was judged" in done.stderr


def test_no_file_is_written_over(folder: Path, house: Path) -> None:
    done = run("--data", folder, "--house", house, "--out", house)

    assert done.exit_code == 5
    assert "there is such a file" in done.stderr
    assert house.read_text() == LEAST


def test_studies_do_not_count_twice(folder: Path, house: Path, tmp_path: Path) -> None:
    """Re-fitting with a house file that was re-fitted before starts from the shipped probabilities again."""
    first, second = tmp_path / "first.toml", tmp_path / "second.toml"
    run("Invented practice", "--data", folder, "--house", house, "--out", first)
    own = tmp_path / "own.toml"
    own.write_text(LEAST + first.read_text())
    done = run("Invented practice", "--data", folder, "--house", own, "--out", second)

    assert done.exit_code == 0, done.stderr
    assert second.read_text() == first.read_text()
    assert "3 probabilities of this house file re-fitted before" in done.stdout
