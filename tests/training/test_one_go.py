"""What a leased machine is told, step by step, when a run is whole and when it is cut."""

import sys
from pathlib import Path

import pytest

from training import one_go
from training.checkpoint import PAUSED


class _Done:
    def __init__(self, code: int) -> None:
        self._code = code

    def wait(self) -> int:
        return self._code


def _told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, train_code: int, *words: str) -> list[tuple[str, ...]]:
    told: list[tuple[str, ...]] = []

    def begin(module: str, *rest: object) -> _Done:
        told.append((module, *map(str, rest)))
        return _Done(train_code if module == "training.train" else 0)

    monkeypatch.setattr(one_go, "begin", begin)
    monkeypatch.setattr(
        sys, "argv", ["one_go", "--work", str(tmp_path / "w"), "--out", str(tmp_path / "o"), "--seconds", "580", *words]
    )
    one_go.main()
    return told


def _modules(told: list[tuple[str, ...]]) -> list[str]:
    return [words[0].removeprefix("training.") for words in told]


def _word(told: tuple[str, ...], name: str) -> str:
    return told[told.index(name) + 1]


def test_a_whole_run_is_drawn_trained_and_exported(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    told = _told(monkeypatch, tmp_path, 0)

    assert _modules(told) == ["draw_shards", "draw_shards", "train", "export"]
    assert float(_word(told[2], "--seconds")) == pytest.approx(580 - one_go.EXPORT_S, abs=1)
    assert "--resume" not in told[2]


def test_a_paused_run_is_not_exported(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    told = _told(monkeypatch, tmp_path, PAUSED, "--run-seconds", "900")

    assert _modules(told) == ["draw_shards", "draw_shards", "train"]
    assert _word(told[2], "--seconds") == "900.0"
    assert float(_word(told[2], "--pause-after-s")) == pytest.approx(580 - one_go.EXPORT_S, abs=1)


def test_a_resumed_run_goes_on_from_its_own_checkpoint(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "o").mkdir()
    (tmp_path / "o" / "checkpoint.pt").touch()
    told = _told(monkeypatch, tmp_path, 0, "--run-seconds", "900", "--resume")

    assert _modules(told) == ["draw_shards", "train", "export"]
    assert _word(told[1], "--resume") == str(tmp_path / "o" / "checkpoint.pt")


def test_a_resumed_run_says_how_long_it_is(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit):
        _told(monkeypatch, tmp_path, 0, "--resume")
    assert "--resume needs --run-seconds" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "file", "remedy"),
    [
        (("--resume", "--run-seconds", "900"), "o/checkpoint.pt", "begin it without, or name its folder with --out"),
        (("--warm-from", "gone.pt"), "gone.pt", "name a checkpoint with --warm-from"),
    ],
    ids=["resume", "warm"],
)
def test_a_checkpoint_that_is_not_there_is_named_before_anything_is_drawn(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...],
    file: str, remedy: str,
) -> None:  # fmt: skip
    with pytest.raises(SystemExit, match="2"):
        _told(monkeypatch, tmp_path, 0, *words)

    said = capsys.readouterr().err
    assert f"{file} is not there" in said
    assert remedy in said
    assert list(tmp_path.iterdir()) == []


def test_a_training_that_fails_ends_the_command(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    with pytest.raises(SystemExit, match="3"):
        _told(monkeypatch, tmp_path, 3)
