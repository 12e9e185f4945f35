"""scripts/demo: simulate, review, then the desk; a clean end by Ctrl-C."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

from scripts import bootstrap, demo

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def commands(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, ...]]:
    """Take down what the demo would run, without the words that all calls of Python begin with."""
    asked: list[tuple[str, ...]] = []

    def run(*arguments: str) -> int:
        n_before = len(demo.COMMAND) if arguments[2] == demo.COMMAND[2] else 2
        asked.append(arguments[n_before:])
        return 3 if asked[-1][0] == os.environ.get("DEMO_FAILS") else 0

    monkeypatch.setattr(demo, "_run", run)
    return asked


def test_the_desk_opens_on_the_studies_that_were_reviewed(commands: list[tuple[str, ...]], tmp_path: Path) -> None:
    assert demo.main(["--out", str(tmp_path)]) == 0

    assert [command[0] for command in commands] == [
        "simulate", "review", "scripts.demo_visit", "review", "check", "desk",
    ]  # fmt: skip
    reviewed = [command[1] for command in commands if command[0] == "review"]
    desk = commands[-1]
    assert [desk[at + 1] for at, word in enumerate(desk) if word == "--study"] == reviewed
    assert reviewed == [str(tmp_path / "study"), str(tmp_path / "first-look")]
    assert desk[desk.index("--data") + 1] == str(tmp_path / "desk")  # not where the user's own studies are
    assert "--read-first" in desk
    assert not [word for word in desk if "truth" in word]


def test_without_serving_it_ends_with_the_letters(
    commands: list[tuple[str, ...]], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert demo.main(["--no-serve", "--out", str(tmp_path)]) == 0

    assert commands[-1][0] == "check"
    said = capsys.readouterr().out
    assert f"The results lie in {tmp_path / 'review'}" in said
    assert f"The results lie in {tmp_path / 'first-look-review'}" in said


@pytest.mark.parametrize("fails", ["simulate", "review", "scripts.demo_visit", "check"])
def test_a_step_that_fails_is_the_last_and_is_told(
    fails: str,
    commands: list[tuple[str, ...]],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setenv("DEMO_FAILS", fails)

    assert demo.main(["--out", str(tmp_path)]) == 3
    assert [command[0] for command in commands].index(fails) == len(commands) - 1
    assert "exit code 3" in capsys.readouterr().err


def test_a_second_demo_keeps_what_was_done_at_the_desk(commands: list[tuple[str, ...]], tmp_path: Path) -> None:
    made = ("study/0001.dcm", "truth/0001.json", "first-look/marks.toml", "first-look-truth/0001.json")
    for name in (*made, "desk/store.sqlite"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).touch()

    demo.main(["--out", str(tmp_path)])

    assert not (tmp_path / "study").exists()
    assert not (tmp_path / "first-look").exists()
    assert (tmp_path / "desk" / "store.sqlite").exists()


LAST_WORDS = """
import pathlib, signal, sys, time
try:
    print("up", flush=True)
    time.sleep(60)
except KeyboardInterrupt:
    time.sleep(1)  # longer than a parent that gives up would wait
    pathlib.Path(sys.argv[1]).touch()
    sys.exit(7)
"""


@pytest.mark.parametrize("module", [bootstrap, demo])
def test_ctrl_c_lets_the_command_end_by_itself(module: ModuleType, tmp_path: Path) -> None:
    """A terminal sends Ctrl-C to all processes: the ones in between wait for the last and pass on its exit code."""
    call = {
        bootstrap: "bootstrap.run_to_its_end([sys.executable, '-c', words, said])",
        demo: "demo._fanlight(words, said)",
    }[module]
    program = (
        "import sys; from scripts import bootstrap, demo; words, said = sys.argv[1:];"
        "demo.COMMAND = [sys.executable, '-c'];" + f"sys.exit({call})"
    )
    said = tmp_path / "said"
    with subprocess.Popen(
        [sys.executable, "-c", program, LAST_WORDS, str(said)],
        cwd=ROOT, stdout=subprocess.PIPE, text=True, start_new_session=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # a shell's background jobs do not hear it
    ) as process:  # fmt: skip
        assert process.stdout is not None
        assert process.stdout.readline() == "up\n"
        os.killpg(process.pid, signal.SIGINT)

        assert process.wait(300) == 7
    assert said.exists()
