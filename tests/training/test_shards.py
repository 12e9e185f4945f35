"""Files of drawn clips are whole or not there, and a broken one says so by name."""

import sys
import time
from pathlib import Path

import numpy as np
import pytest

from training import draw_shards
from training.draw import Sample
from training.shards import FIELDS, HIDDEN_OFF, drawn_seeds, read, shard_name, shard_of, write


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


def test_the_names_of_files_tell_the_animals_in_them(tmp_path: Path, sample: Sample) -> None:
    for seeds in (range(3, 10, 3), range(9500, 9501)):
        write(tmp_path / shard_name(seeds), shard_of([sample]))

    assert drawn_seeds(tmp_path) == {3, 6, 9, 9500}


def test_a_file_whose_name_tells_no_animals_is_named(tmp_path: Path, sample: Sample) -> None:
    write(tmp_path / "00004.npz", shard_of([sample]))

    with pytest.raises(ValueError, match=r"00004\.npz: which animals .* move it elsewhere"):
        drawn_seeds(tmp_path)


def _order(folder: Path, last_seed: int, drawing: int = 0) -> draw_shards.Order:
    done = frozenset(drawn_seeds(folder))
    return draw_shards.Order(
        out=folder, seed=1, last_seed=last_seed, step=2, clips=1, drawing=drawing, done=done,
        until_s=time.time() + 1000,
    )  # fmt: skip


def test_drawing_goes_on_after_the_animals_that_are_there(tmp_path: Path) -> None:
    assert draw_shards.work(_order(tmp_path, 3)) == 2
    before = {path.name: path.stat().st_mtime_ns for path in tmp_path.iterdir()}
    assert draw_shards.work(_order(tmp_path, 7)) == 2

    assert drawn_seeds(tmp_path) == {1, 3, 5, 7}
    assert list(before) == ["00001-00003-2.npz"]
    assert {name: (tmp_path / name).stat().st_mtime_ns for name in before} == before
    assert len(read(tmp_path / "00005-00007-2.npz").phase) == 2


def test_nothing_is_begun_when_the_time_is_up(tmp_path: Path) -> None:
    order = draw_shards.Order(
        out=tmp_path, seed=1, last_seed=3, step=1, clips=1, drawing=0, done=frozenset(), until_s=0.0
    )

    assert draw_shards.work(order) == 0
    assert list(tmp_path.iterdir()) == []


def test_another_drawing_shows_other_clips_of_the_same_animal(tmp_path: Path) -> None:
    # What no drawing is named for stays as it was: the packaged network learnt from clips of [seed, 73].
    assert np.random.default_rng([1, 73, 0]).random() == np.random.default_rng([1, 73]).random()
    shards = []
    for name, drawing in (("a", 0), ("b", 0), ("c", 1)):
        (tmp_path / name).mkdir()
        draw_shards.work(_order(tmp_path / name, 1, drawing))
        shards.append(read(tmp_path / name / "00001-00001-2.npz"))

    np.testing.assert_array_equal(shards[0].frames, shards[1].frames)
    assert not np.array_equal(shards[0].points_px, shards[2].points_px)


def test_a_drawing_below_nought_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["draw_shards", "--out", str(tmp_path), "--first-seed", "0", "--last-seed", "9", "--seconds", "1"]
    monkeypatch.setattr(sys, "argv", [*words, "--drawing", "-1"])

    with pytest.raises(SystemExit):
        draw_shards.main()
    assert "--drawing -1: 0 or more" in capsys.readouterr().err
