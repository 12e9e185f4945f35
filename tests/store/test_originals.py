"""Files are kept once, as they came, whole or not at all."""

import errno
import hashlib
import os
import stat
from pathlib import Path

import pytest

from fanlight.store import DamagedError, NoRoomError, Originals, StoreError, UnknownRowError


@pytest.fixture
def originals(tmp_path: Path) -> Originals:
    return Originals(tmp_path / "originals")


def in_folder(originals: Originals) -> list[Path]:
    return sorted(path for path in originals.folder.rglob("*") if path.is_file())


def test_a_file_lies_under_the_hash_of_its_bytes(originals: Originals) -> None:
    kept = originals.keep([b"one ", b"", b"two"])

    assert kept.sha256 == hashlib.sha256(b"one two").hexdigest()
    assert kept.size == 7
    assert originals.path(kept.sha256) == originals.folder / kept.sha256[:2] / kept.sha256[2:4] / kept.sha256
    assert originals.read(kept.sha256) == b"one two"
    assert list(originals.hashes()) == [kept.sha256]


def test_the_hash_is_the_published_one(originals: Originals) -> None:
    """FIPS 180-4, example "abc" of NIST's Secure Hash Standard examples."""
    assert originals.keep([b"abc"]).sha256 == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_the_same_bytes_are_kept_once(originals: Originals) -> None:
    first = originals.keep([b"the same"])
    before = originals.path(first.sha256).stat().st_ino
    second = originals.keep([b"the ", b"same"])

    assert second == first
    assert originals.path(first.sha256).stat().st_ino == before
    assert len(in_folder(originals)) == 1


def test_a_kept_file_may_not_be_written(originals: Originals) -> None:
    kept = originals.keep([b"x"])

    assert stat.S_IMODE(originals.path(kept.sha256).stat().st_mode) & 0o377 == 0


def test_what_was_not_kept_leaves_nothing(originals: Originals) -> None:
    with originals.incoming() as incoming:
        incoming.write(b"half of a file")

    assert in_folder(originals) == []


def test_what_a_crash_left_is_swept_and_what_is_being_written_is_not(originals: Originals) -> None:
    (originals.folder / "incoming" / "left").write_bytes(b"half")
    with originals.incoming() as incoming:
        incoming.write(b"still ")
        again = Originals(originals.folder)

        assert len(in_folder(originals)) == 1
        incoming.write(b"coming")
        kept = incoming.keep()

    assert again.read(kept.sha256) == b"still coming"
    assert in_folder(originals) == [originals.path(kept.sha256)]


@pytest.mark.parametrize("after_bytes", [0, 5])
def test_a_full_disk_gives_one_clear_error_and_leaves_nothing(
    originals: Originals, monkeypatch: pytest.MonkeyPatch, after_bytes: int
) -> None:
    room = [after_bytes]
    write = os.write

    def refuse(descriptor: int, data: memoryview) -> int:
        if not room[0]:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        part = data[: room[0]]
        room[0] -= len(part)
        return write(descriptor, part)

    monkeypatch.setattr("fanlight.store.originals.os.write", refuse)

    with pytest.raises(NoRoomError, match=r"no room is left on the disk.*Free some space") as caught:
        originals.keep([b"more than there is room for"])
    assert str(originals.folder) in str(caught.value)
    assert in_folder(originals) == []


def test_a_disk_that_fails_at_the_last_moment_leaves_nothing(
    originals: Originals, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(descriptor: int) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    monkeypatch.setattr("fanlight.store.originals.os.fsync", refuse)

    with pytest.raises(StoreError, match="the folder cannot be written"):
        originals.keep([b"x"])
    assert in_folder(originals) == []


def test_changed_bytes_are_found_and_mended_by_the_same_file(originals: Originals) -> None:
    kept = originals.keep([b"as it came"])
    path = originals.path(kept.sha256)
    path.chmod(0o600)
    path.write_bytes(b"as it cane")

    assert not originals.is_whole(kept.sha256)
    with pytest.raises(DamagedError, match="the bytes have changed"):
        originals.read(kept.sha256)

    originals.keep([b"as it came"])

    assert originals.read(kept.sha256) == b"as it came"


def test_a_name_that_is_no_hash_leads_nowhere(originals: Originals) -> None:
    with pytest.raises(ValueError, match="64 hexadecimal digits"):
        originals.path("../../secret")
    with pytest.raises(UnknownRowError, match="not there"):
        originals.path("0" * 64)
