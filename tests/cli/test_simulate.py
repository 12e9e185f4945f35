"""`fanlight simulate` as its users meet it: what is written, and what is said when it cannot be."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from fanlight.cli import ExitCode, app
from fanlight.simulate.visit import examination as examination_module
from fanlight.simulate.visit.doppler_rungs import Beside
from fanlight.study import Valve
from tests.simulate.small_study import examination, small


def run(*arguments: str) -> tuple[int, str, str]:
    done = CliRunner().invoke(app, ["simulate", *arguments])
    return done.exit_code, done.stdout, done.stderr


def test_study_and_truth_are_written_and_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With an examination cut down to one still, so that the test need not wait."""
    made = examination()
    still = next(s.number for s in made.shots if s.setting.recording.is_still)
    asked: dict[str, object] = {}

    def draw(**arguments: object) -> object:
        asked.update(arguments)
        return small(made, (still,))

    monkeypatch.setattr(examination_module, "draw_examination", draw)
    code, said, _ = run(
        "--seed", "6", "--weight", "12", "--species", "dog", "--heart", "mitral_disease", "--hand", "novice",
        "--chest", "barrel", "--rhythm", "ectopic", "--spectra", "pulmonic", "--workers", "1",
        "--out", str(tmp_path / "study"),
    )  # fmt: skip

    assert code == ExitCode.DONE
    assert said.splitlines() == [str(tmp_path / "study"), str(tmp_path / "study-truth")]
    assert sorted(path.name for path in (tmp_path / "study").iterdir()) == [f"{still:04d}.dcm", "request.toml"]
    assert sorted(path.name for path in (tmp_path / "study-truth").iterdir()) == [f"{still:04d}.json", "study.json"]
    assert (asked["seed"], asked["weight_kg"]) == (6, 12.0)
    assert (asked["species"], asked["heart"], asked["chest"], asked["hand"]) == (
        "dog", "mitral_disease", "barrel", "novice",
    )  # fmt: skip
    assert asked["arrhythmia"] == "ectopic"
    assert asked["doppler"] is True
    assert asked["beside"] == (Beside(view="right_parasternal_short_axis_pulmonary_artery", valve=Valve.PULMONIC),)


def test_doppler_can_be_left_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    made = examination()
    still = next(s.number for s in made.shots if s.setting.recording.is_still)
    asked: dict[str, object] = {}

    def draw(**arguments: object) -> object:
        asked.update(arguments)
        return small(made, (still,))

    monkeypatch.setattr(examination_module, "draw_examination", draw)
    code, _, _ = run(
        "--seed", "6", "--no-doppler", "--spectra", "pulmonic", "--workers", "1", "--out", str(tmp_path / "s")
    )

    assert code == ExitCode.DONE
    assert (asked["doppler"], asked["beside"]) == (False, ())


def test_without_a_folder_the_study_lies_here_under_its_seed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    made = examination()
    still = next(s.number for s in made.shots if s.setting.recording.is_still)
    monkeypatch.setattr(examination_module, "draw_examination", lambda **_: small(made, (still,)))
    monkeypatch.chdir(tmp_path)
    code, said, _ = run("--seed", "7", "--workers", "1")

    assert code == ExitCode.DONE
    assert said.splitlines() == [str(tmp_path / "simulated-7"), str(tmp_path / "simulated-7-truth")]
    assert (tmp_path / "simulated-7" / f"{still:04d}.dcm").is_file()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--seed", "20000"), "a seed lies between 0 and 19999, got 20000"),
        (("--seed", "12000", "--ring", "A"), "ring A has the seeds 0 to 9999, got 12000"),
        (("--seed", "1", "--plan", "quick"), "plan 'quick' does not exist; plans: focused, "),
        (
            ("--seed", "1", "--plan", "full_right_side", "--spectra", "mitral"),
            "no view of the plan 'full_right_side' carries pulsed wave of the mitral valve; "
            "valves that one carries: pulmonic",
        ),
        (("--seed", "1", "--truth", "OUT/truth"), "the truth must lie outside the study"),
        (("--seed", "1", "--out", "FULL"), "expected a new or empty folder, found something in it"),
        (("--seed", "1", "--truth", "FULL"), "expected a new or empty folder, found something in it"),
    ],
)
def test_settings_that_cannot_be_used_are_told(arguments: tuple[str, ...], said: str, tmp_path: Path) -> None:
    full = tmp_path / "full"
    full.mkdir()
    (full / "mine.txt").write_text("mine")
    out = tmp_path / "out"
    words = [word.replace("OUT", str(out)).replace("FULL", str(full)) for word in arguments]
    code, _, error = run(*(() if "--out" in words else ("--out", str(out))), *words)

    assert code == ExitCode.SETTINGS
    assert said in error
    assert [path.name for path in full.iterdir()] == ["mine.txt"]
    assert not out.exists()


@pytest.mark.parametrize(
    "arguments",
    [("--heart", "broken"), ("--hand", "robot"), ("--species", "horse"), ("--weight", "400"), ("--rhythm", "waltz")],
)
def test_what_no_option_knows_is_wrong_use(arguments: tuple[str, ...], tmp_path: Path) -> None:
    code, _, error = run("--seed", "1", "--out", str(tmp_path / "out"), *arguments)

    assert code == ExitCode.USAGE
    assert arguments[0] in error
    assert not (tmp_path / "out").exists()
