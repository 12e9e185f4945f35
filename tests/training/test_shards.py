"""Files of drawn clips are whole or not there, and a broken one says so by name."""

import sys
from pathlib import Path

import numpy as np
import pytest

from training import draw_shards
from training.draw import Sample
from training.shards import FIELDS, HIDDEN_OFF, read, shard_of, write


def test_a_shard_comes_back_as_it_was(tmp_path: Path, sample: Sample) -> None:
    shard = shard_of([sample, sample])
    write(tmp_path / "a.npz", shard)
    again = read(tmp_path / "a.npz")

    for name in FIELDS:
        np.testing.assert_array_equal(getattr(again, name), getattr(shard, name))
    assert [path.name for path in tmp_path.iterdir()] == ["a.npz"]
    assert float(again.off_units.max()) <= HIDDEN_OFF


def test_a_broken_file_is_named(tmp_path: Path) -> None:
    (tmp_path / "b.npz").write_bytes(b"PK\x03\x04 and no more")

    with pytest.raises(ValueError, match=r"b\.npz is no file of drawn clips"):
        read(tmp_path / "b.npz")


def test_seeds_of_other_rings_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["draw_shards", "--out", str(tmp_path), "--first-seed", "9990", "--last-seed", "10000", "--seconds", "1"]
    monkeypatch.setattr(sys, "argv", words)

    with pytest.raises(SystemExit):
        draw_shards.main()
    assert "ring A only" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
