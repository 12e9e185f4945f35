"""The cache is bounded, can be thrown away, and survives damage."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from fanlight.review.cache import DiskCache, stage_key


def test_values_come_back(tmp_path: Path) -> None:
    with DiskCache(tmp_path) as cache:
        cache.put({"a": b"one", "b": b"two"})

    with DiskCache(tmp_path) as cache:
        assert cache.get(["a", "b", "c"]) == {"a": b"one", "b": b"two"}


def test_least_recently_used_goes_first(tmp_path: Path) -> None:
    blobs = {name: os.urandom(1000) for name in "abc"}
    with DiskCache(tmp_path, limit_bytes=2500) as cache:
        cache.put({"a": blobs["a"]})
        cache.put({"b": blobs["b"]})
        cache.get(["a"])
        cache.put({"c": blobs["c"]})

        assert set(cache.get("abc")) == {"a", "c"}
        assert cache.size_bytes() <= 2500


def test_purge_forgets_all(tmp_path: Path) -> None:
    with DiskCache(tmp_path) as cache:
        cache.put({"a": b"one", "b": b"two"})

        assert cache.purge() == 2
        assert cache.get(["a", "b"]) == {}


def test_a_damaged_file_is_replaced(tmp_path: Path) -> None:
    (tmp_path / "stages.sqlite").write_bytes(b"this is no database, and long enough to be read as one" * 40)

    with DiskCache(tmp_path) as cache:
        cache.put({"a": b"one"})

        assert cache.get(["a"]) == {"a": b"one"}


def test_a_damaged_value_is_forgotten(tmp_path: Path) -> None:
    with DiskCache(tmp_path) as cache:
        cache.put({"a": b"one"})
        cache._db.execute("UPDATE stage SET value = x'00'")

        assert cache.get(["a"]) == {}


@pytest.mark.skipif(os.name != "posix", reason="rights of folders are a matter of POSIX systems")
def test_only_the_user_can_look(tmp_path: Path) -> None:
    folder = tmp_path / "new"
    with DiskCache(folder):
        pass

    assert stat.S_IMODE(folder.stat().st_mode) == 0o700


def test_keys_depend_on_every_part_and_its_place() -> None:
    keys = {
        stage_key("gain", 1, "a", "b"),
        stage_key("gain", 1, "b", "a"),
        stage_key("gain", 1, "ab"),
        stage_key("gain", 2, "a", "b"),
        stage_key("tgc", 1, "a", "b"),
    }

    assert len(keys) == 5
