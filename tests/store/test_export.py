"""Everything can be taken out and brought back; a damaged export brings back nothing."""

import json
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from fanlight.store import (
    DamagedError,
    ExportError,
    NoRoomError,
    Store,
    add_study,
    clip_readings,
    documents_of,
    entries_of,
    export_store,
    messages_of,
    new_id,
    open_store,
    restore_store,
    study_state,
    verify_store,
    waiting_studies,
)
from fanlight.store.export_form import TABLES, json_bytes
from measure._store_samples import sample_id
from tests.store.filled import fill

STUDY = sample_id("first")


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a store of two studies, and its export beside it."""
    folder = tmp_path_factory.mktemp("source")
    with open_store(folder / "store") as store:
        fill(store, add_study(store, STUDY, title="Juniper").id)
        fill(store, add_study(store, sample_id("rescan"), title="re-scan", parent=STUDY).id)
        export_store(store, folder / "export.zip")
    return folder


@pytest.fixture
def exported(source: Path) -> Path:
    return source / "export.zip"


def test_a_restored_store_gives_the_same_export(source: Path, exported: Path, tmp_path: Path) -> None:
    restore_store(exported, tmp_path / "restored")
    with open_store(tmp_path / "restored") as restored, open_store(source / "store") as store:
        export_store(restored, tmp_path / "again.zip")

        assert (tmp_path / "again.zip").read_bytes() == exported.read_bytes()
        assert verify_store(restored).is_whole
        for read in (entries_of, study_state, documents_of, messages_of, clip_readings):
            assert read(restored, STUDY) == read(store, STUDY)
        assert waiting_studies(restored) == waiting_studies(store)
        add_study(restored, new_id(), title="goes on")


def test_an_export_holds_every_table_and_file_in_a_readable_form(exported: Path) -> None:
    with zipfile.ZipFile(exported) as archive:
        names = archive.namelist()
        rows = {name: archive.read(f"tables/{name}.jsonl").splitlines() for name in TABLES}
        manifest = json.loads(archive.read("manifest.json"))

    assert names[-1] == "manifest.json"
    assert len([name for name in names if name.startswith("originals/")]) == 4  # three files, and a paper's one part
    assert all(rows.values())
    assert json.loads(rows["entries"][0])["payload"]["view"]
    assert json.loads(rows["readings"][0])["value"]["frames_read"] == 60
    assert manifest["form"] == 1


def test_the_list_of_hashes_agrees_with_another_program(exported: Path, tmp_path: Path) -> None:
    """Python's own zip reader unpacks, hashlib's file digest hashes: what `sha256sum` would say."""
    import hashlib

    with zipfile.ZipFile(exported) as archive:
        archive.extractall(tmp_path / "out")
        members = json.loads(archive.read("manifest.json"))["members"]

    for member in members:
        with (tmp_path / "out" / member["name"]).open("rb") as file:
            assert hashlib.file_digest(file, "sha256").hexdigest() == member["sha256"]


def test_nothing_is_written_over(exported: Path, store: Store) -> None:
    with pytest.raises(ExportError, match="there is a file of this name"):
        export_store(store, exported)
    with pytest.raises(ExportError, match="the folder is not empty"):
        restore_store(exported, store.folder)
    with pytest.raises(ExportError, match="the folder is not empty"):
        restore_store(exported, exported)


def test_an_empty_folder_may_be_restored_into(exported: Path, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    restore_store(exported, tmp_path / "empty")

    with open_store(tmp_path / "empty") as restored:
        assert verify_store(restored).is_whole


def test_a_damaged_original_is_named_and_stops_the_export(store: Store, study: str, tmp_path: Path) -> None:
    fill(store, study)
    path = store.originals.path(next(store.originals.hashes()))
    path.chmod(0o600)
    path.write_bytes(b"changed")

    with pytest.raises(DamagedError, match=path.name):
        export_store(store, tmp_path / "export.zip")
    assert sorted(tmp_path.iterdir()) == [store.folder]


def test_a_full_disk_leaves_no_half_export(
    store: Store, study: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(descriptor: int) -> None:
        raise OSError(28, "No space left on device")  # ENOSPC

    fill(store, study)
    monkeypatch.setattr("fanlight.store.whole_file.os.fsync", refuse)

    with pytest.raises(NoRoomError, match="no room is left on the disk"):
        export_store(store, tmp_path / "export.zip")
    assert sorted(tmp_path.iterdir()) == [store.folder]


Members = dict[str, bytes]


def _pack(path: Path, members: Members) -> None:
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in members.items():
            archive.writestr(name, data)


def _unpack(path: Path) -> Members:
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def _relisted(members: Members) -> Members:
    """Write the list of members anew, as somebody would who wants the change to pass."""
    import hashlib

    manifest = json.loads(members["manifest.json"])
    manifest["members"] = [
        {"name": name, "size": len(data), "sha256": hashlib.sha256(data).hexdigest()}
        for name, data in members.items()
        if name != "manifest.json"
    ]
    return members | {"manifest.json": json_bytes(manifest)}


def _first_original(members: Members) -> str:
    return next(name for name in members if name.startswith("originals/"))


def _change_a_row(members: Members) -> Members:
    rows = members["tables/entries.jsonl"].replace(b"M. Linden", b"M. Larder", 1)
    return members | {"tables/entries.jsonl": rows}


def _without(name: str) -> Callable[[Members], Members]:
    return lambda members: {key: data for key, data in members.items() if key != name}


def _row(name: str, **columns: object) -> Callable[[Members], Members]:
    """Change columns of a table's first row, and write the list of members anew."""

    def change(members: Members) -> Members:
        first, *rest = members[f"tables/{name}.jsonl"].split(b"\n")
        lines = [json_bytes(json.loads(first) | columns), *rest]
        return _relisted(members | {f"tables/{name}.jsonl": b"\n".join(lines)})

    return change


def _saying(**said: object) -> Callable[[Members], Members]:
    return lambda members: members | {"manifest.json": json_bytes(json.loads(members["manifest.json"]) | said)}


DAMAGED: list[tuple[str, Callable[[Members], Members], str]] = [
    ("a changed row", _change_a_row, r"tables/entries\.jsonl: the bytes are not those"),
    ("a changed file", lambda m: m | {_first_original(m): b"x"}, r"originals/\w+: the bytes are not those"),
    ("a longer file", lambda m: m | {_first_original(m): m[_first_original(m)] + b"x"}, r"originals/\w+: the bytes"),
    ("a changed file, listed anew", lambda m: _relisted(m | {_first_original(m): b"x"}), r"not those of its name"),
    ("no list", _without("manifest.json"), r"manifest\.json: the export has no list"),
    ("a missing table", _without("tables/calls.jsonl"), r"tables/calls\.jsonl: the member is missing"),
    ("a table missing from the list too", lambda m: _relisted(_without("tables/calls.jsonl")(m)), r"calls\.jsonl"),
    ("a missing file", lambda m: _without(_first_original(m))(m), r"originals/\w+: the member is missing"),
    ("a missing file, listed anew", lambda m: _relisted(_without(_first_original(m))(m)), r"original \w+ .*not there"),
    ("a member too many", lambda m: m | {f"originals/{'0' * 64}": b""}, "not on the list"),
    ("a way out", lambda m: _relisted(m | {"../outside": b"x"}), r"\.\./outside: an export has no member"),
    (
        "a way out of the originals",
        lambda m: _relisted(m | {"originals/../../outside": b"x"}),
        "no member of this name",
    ),
    ("an absolute way out", lambda m: _relisted(m | {"/outside": b"x"}), "/outside: an export has no member"),
    ("a list that is none", lambda m: m | {"manifest.json": b"[1]"}, r"manifest\.json: it cannot be read"),
    ("a list that is no JSON", lambda m: m | {"manifest.json": b"{"}, r"manifest\.json: it cannot be read"),
    ("a form of the future", _saying(form=3), "has form 3.*newer Fanlight"),
    ("tables of the future", _saying(tables_version="9999"), "version 9999, .*newer Fanlight"),
    ("a column too many", _row("studies", size=1), r"tables/studies\.jsonl: .*no column size"),
    ("a missing column", _row("entries", author=None), r"tables/entries\.jsonl: .*column author is missing"),
    ("a study that is not there", _row("files", study="s"), r"tables/files\.jsonl: a row cannot be restored"),
    ("a wrong type", _row("studies", title=["x"]), r"tables/studies\.jsonl: a row cannot be restored"),
    ("two rows of one place", _row("studies", seq=2), r"tables/studies\.jsonl: a row cannot be restored"),
    ("a cut row", lambda m: _relisted(m | {"tables/calls.jsonl": m["tables/calls.jsonl"][:-5]}), "last row is cut off"),
]


@pytest.mark.parametrize(("damage", "words"), [case[1:] for case in DAMAGED], ids=[case[0] for case in DAMAGED])
def test_a_damaged_export_brings_back_nothing(
    exported: Path, tmp_path: Path, damage: Callable[[Members], Members], words: str
) -> None:
    _pack(tmp_path / "damaged.zip", damage(_unpack(exported)))
    before = sorted(tmp_path.rglob("*"))

    with pytest.raises(ExportError, match=words):
        restore_store(tmp_path / "damaged.zip", tmp_path / "restored")
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.parametrize("share", [0.1, 0.5, 0.99])
def test_a_zip_that_was_cut_off_brings_back_nothing(exported: Path, tmp_path: Path, share: float) -> None:
    data = exported.read_bytes()
    (tmp_path / "cut.zip").write_bytes(data[: int(share * len(data))])

    with pytest.raises(ExportError, match=r"cut\.zip: this is no zip"):
        restore_store(tmp_path / "cut.zip", tmp_path / "restored")
    assert not (tmp_path / "restored").exists()


def test_a_flipped_bit_anywhere_in_a_member_is_found(exported: Path, tmp_path: Path) -> None:
    data = bytearray(exported.read_bytes())
    with zipfile.ZipFile(exported) as archive:
        info = archive.getinfo("tables/readings.jsonl")
    data[info.header_offset + 30 + len(info.filename) + info.compress_size // 2] ^= 0x10
    (tmp_path / "flipped.zip").write_bytes(data)

    with pytest.raises(ExportError, match=r"tables/readings\.jsonl"):
        restore_store(tmp_path / "flipped.zip", tmp_path / "restored")
