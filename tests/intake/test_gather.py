"""Folder, zip or file: every file is found or refused, and nothing leaves the folder."""

import os
import stat
import struct
import zipfile
from pathlib import Path

import numpy as np
import pytest

from fanlight.intake import Kind, gather
from tests.intake import dicom_files as make


@pytest.fixture
def scratch(tmp_path):
    """An empty folder for unpacked files."""
    folder = tmp_path / "scratch"
    folder.mkdir()
    return folder


@pytest.fixture
def study(tmp_path):
    """An empty study folder."""
    folder = tmp_path / "study"
    folder.mkdir()
    return folder


@pytest.fixture
def picture(tmp_path, rng):
    """The bytes of a small good DICOM file."""
    return make.native(tmp_path / "good.dcm", make.speckle(rng, 1, 16, 24)).read_bytes()


def zipped(path: Path, members: dict[str, bytes], compression=zipfile.ZIP_DEFLATED) -> Path:
    with zipfile.ZipFile(path, "w", compression) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return path


def names(gathered):
    return [item.name for item in gathered.items]


def found(gathered):
    return {refusal.name: refusal.found for refusal in gathered.refused}


def test_folder_is_read_by_name_with_its_sub_folders(study, scratch, picture):
    """Sorted, "/" between parts, kind told by content: the names lie."""
    (study / "b").mkdir()
    (study / "b" / "1.txt").write_bytes(picture)
    (study / "a.jpg").write_bytes(picture)
    (study / "IM0001").write_bytes(picture)

    gathered = gather(study, scratch, make.LIMITS)

    assert names(gathered) == ["IM0001", "a.jpg", "b/1.txt"]
    assert {item.kind for item in gathered.items} == {Kind.DICOM}
    assert gathered.refused == ()


def test_single_file_is_taken(study, scratch, picture):
    """Also when its name starts with a dot: the user named it."""
    (study / ".clip").write_bytes(picture)

    assert names(gather(study / ".clip", scratch, make.LIMITS)) == [".clip"]


def test_missing_path_is_refused(study, scratch):
    """Nothing of that name."""
    assert found(gather(study / "no", scratch, make.LIMITS)) == {"no": "nothing of that name"}


def test_files_of_the_system_are_passed_over_and_counted(study, scratch, picture):
    """Thumbnails, folder settings, hidden files, the directory of a medium."""
    for name in (".DS_Store", "Thumbs.db", "desktop.ini", "DICOMDIR"):
        (study / name).write_bytes(picture)
    (study / "__MACOSX").mkdir()
    (study / "__MACOSX" / "._a.dcm").write_bytes(picture)
    (study / "a.dcm").write_bytes(picture)

    gathered = gather(study, scratch, make.LIMITS)

    assert names(gathered) == ["a.dcm"]
    assert gathered.refused == ()
    assert "5 hidden or directory files" in gathered.notes[0]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "an empty file"),
        (b"%PDF-1.7 report", "a PDF document"),
        (b"a note of the practice\n", "a text file"),
        (b"MZ\x90\x00", "a program"),
        (b"Rar!\x1a\x07\x01\x00", "an archive that is not a zip"),
        (bytes(range(256)), "a file of unknown kind"),
    ],
)
def test_what_is_no_picture_is_refused_gently(study, scratch, picture, data, words):
    """With what it is, and the good file beside it is kept."""
    (study / "a.dcm").write_bytes(data)
    (study / "b.dcm").write_bytes(picture)

    gathered = gather(study, scratch, make.LIMITS)

    assert found(gathered) == {"a.dcm": words}
    assert gathered.refused[0].remedy
    assert names(gathered) == ["b.dcm"]


def test_nested_zips_are_unpacked_under_neutral_names(study, scratch, picture):
    """No name from inside an archive becomes a path."""
    inner = zipped(study / "inner.zip", {"deep/clip one.dcm": picture})
    zipped(study / "outer.zip", {"mail/inner.zip": inner.read_bytes(), "IM1": picture})
    inner.unlink()

    gathered = gather(study / "outer.zip", scratch, make.LIMITS)

    assert names(gathered) == ["outer.zip/IM1", "outer.zip/mail/inner.zip/deep/clip one.dcm"]
    assert all(item.path.parent == scratch and item.path.suffix == ".bin" for item in gathered.items)
    assert {path.name for path in scratch.iterdir()} == {item.path.name for item in gathered.items}
    assert [item.path.read_bytes() for item in gathered.items] == [picture, picture]


def test_zips_packed_too_deep_are_refused(study, scratch, picture):
    """Four deep: the fourth is named, the files above it are kept."""
    data = picture
    for _ in range(4):
        data = zipped(study / "z.zip", {"a.zip" if data[:2] == b"PK" else "a.dcm": data, "b.dcm": picture}).read_bytes()

    gathered = gather(study / "z.zip", scratch, make.LIMITS)

    assert names(gathered) == ["z.zip/a.zip/a.zip/b.dcm", "z.zip/a.zip/b.dcm", "z.zip/b.dcm"]
    assert found(gathered) == {"z.zip/a.zip/a.zip/a.zip": "one more zip inside"}


@pytest.mark.parametrize(
    "name", ["../../evil.dcm", "/etc/evil.dcm", "a/../../evil.dcm", "C:\\evil.dcm", "..\\evil.dcm"]
)
def test_names_that_lead_out_of_the_zip_are_refused(study, scratch, picture, name):
    """Path traversal and absolute paths, in either kind of slash; nothing is written but the good member."""
    path = zipped(study / "z.zip", {"good.dcm": picture})
    with zipfile.ZipFile(path, "a") as archive:
        info = zipfile.ZipInfo("x")
        info.filename = name
        archive.writestr(info, picture)

    gathered = gather(path, scratch, make.LIMITS)

    assert names(gathered) == ["z.zip/good.dcm"]
    assert [refusal.found for refusal in gathered.refused] == ["a name that leads to a place outside it"]
    assert len(list(scratch.iterdir())) == 1
    assert not list(study.parent.rglob("evil.dcm"))


def test_link_in_a_zip_is_refused(study, scratch, picture):
    """A symbolic link stored as a member."""
    info = zipfile.ZipInfo("link.dcm")
    info.external_attr = (stat.S_IFLNK | 0o777) << 16
    with zipfile.ZipFile(study / "z.zip", "w") as archive:
        archive.writestr(info, "/etc/passwd")
        archive.writestr("good.dcm", picture)

    gathered = gather(study / "z.zip", scratch, make.LIMITS)

    assert found(gathered) == {"z.zip/link.dcm": "a link to another place"}
    assert names(gathered) == ["z.zip/good.dcm"]


def test_encrypted_member_is_refused(study, scratch, picture):
    """The flag of APPNOTE 4.4.4, bit 0."""
    data = bytearray(zipped(study / "z.zip", {"a.dcm": picture, "b.dcm": picture}).read_bytes())
    central = data.index(b"PK\x01\x02")
    data[central + 8] |= 1
    (study / "z.zip").write_bytes(bytes(data))

    gathered = gather(study / "z.zip", scratch, make.LIMITS)

    assert found(gathered) == {"z.zip/a.dcm": "an encrypted member"}
    assert names(gathered) == ["z.zip/b.dcm"]


def test_zip_bomb_is_refused_by_what_its_directory_says(study, scratch, picture):
    """A gigabyte of zeros packed to a megabyte; nothing of it is written."""
    path = study / "z.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        with archive.open("bomb.dcm", "w", force_zip64=True) as member:
            for _ in range(64):
                member.write(bytes(1024**2))
        archive.writestr("good.dcm", picture)

    gathered = gather(path, scratch, make.LIMITS)

    assert "as archives made to fill a disk do" in found(gathered)["z.zip/bomb.dcm"]
    assert names(gathered) == ["z.zip/good.dcm"]
    assert sum(file.stat().st_size for file in scratch.iterdir()) == len(picture)


def test_zip_bomb_that_lies_about_its_size_is_refused(study, scratch):
    """The directory says 1 000 bytes; unpacking stops there with damage, far below the 64 MB that are packed."""
    path = zipped(study / "z.zip", {"bomb.dcm": bytes(64 * 1024**2)})
    data = bytearray(path.read_bytes())
    for mark, offset in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        at = data.index(mark)
        data[at + offset : at + offset + 4] = struct.pack("<L", 1000)
    path.write_bytes(bytes(data))

    gathered = gather(path, scratch, make.LIMITS)

    assert gathered.items == ()
    assert len(gathered.refused) == 1
    assert sum(file.stat().st_size for file in scratch.iterdir()) == 0


def test_all_zips_together_have_a_limit(study, scratch, picture):
    """Total size over several zips."""
    for name in "abc":
        zipped(study / f"{name}.zip", {"x.dcm": picture + bytes(100_000)}, zipfile.ZIP_STORED)

    gathered = gather(study, scratch, make.Limits(zip_total_bytes=250_000))

    assert names(gathered) == ["a.zip/x.dcm", "b.zip/x.dcm"]
    assert "left out" in found(gathered)["c.zip/x.dcm"]


def test_too_many_entries_are_refused(study, scratch):
    """The zip as a whole, before anything is unpacked."""
    zipped(study / "z.zip", {f"{number}.dcm": b"x" for number in range(30)})

    gathered = gather(study / "z.zip", scratch, make.Limits(zip_entries=20))

    assert found(gathered) == {"z.zip": "30"}
    assert list(scratch.iterdir()) == []


def test_damaged_member_leaves_the_others(study, scratch, picture, rng):
    """A wrong checksum in one member of three."""
    noise = rng.integers(0, 256, 5000).astype(np.uint8).tobytes()
    path = zipped(study / "z.zip", {"a.dcm": picture, "b.dcm": noise, "c.dcm": picture}, zipfile.ZIP_STORED)
    data = bytearray(path.read_bytes())
    data[data.index(noise) + 2500] ^= 0xFF
    path.write_bytes(bytes(data))

    gathered = gather(path, scratch, make.LIMITS)

    assert names(gathered) == ["z.zip/a.dcm", "z.zip/c.dcm"]
    assert "damaged archive" in found(gathered)["z.zip/b.dcm"]


def test_cut_zip_is_refused(study, scratch, picture):
    """The directory at its end is missing."""
    whole = zipped(study / "z.zip", {"a.dcm": picture}).read_bytes()
    (study / "z.zip").write_bytes(whole[:-40])

    assert "damaged archive" in found(gather(study / "z.zip", scratch, make.LIMITS))["z.zip"]


def test_office_document_is_not_taken_for_a_zip_of_pictures(study, scratch):
    """ECMA-376 packages are zips."""
    zipped(study / "report.docx", {"[Content_Types].xml": b"<x/>", "word/media/image1.png": b"\x89PNG\r\n\x1a\n"})

    assert found(gather(study, scratch, make.LIMITS)) == {"report.docx": "an office document"}


def test_control_characters_in_names_are_shown_safely(study, scratch, picture):
    """A name from a zip is printed later: no escape codes, no line breaks."""
    zipped(study / "z.zip", {"a\x1b[31m\nb.dcm": picture})

    assert names(gather(study / "z.zip", scratch, make.LIMITS)) == ["z.zip/a?[31m?b.dcm"]


@pytest.mark.skipif(os.name == "nt", reason="links need a privilege on Windows")
def test_links_out_of_the_folder_are_refused(study, scratch, picture):
    """To a file outside, to a folder outside, to nothing, in a ring; a link inside is followed."""
    (study.parent / "outside.dcm").write_bytes(picture)
    (study / "in.dcm").write_bytes(picture)
    (study / "a").symlink_to(study.parent / "outside.dcm")
    (study / "b").symlink_to(study.parent)
    (study / "c").symlink_to(study / "nothing")
    (study / "d").symlink_to(study / "d")
    (study / "e").symlink_to(study / "in.dcm")

    gathered = gather(study, scratch, make.LIMITS)

    assert names(gathered) == ["e", "in.dcm"]
    assert set(found(gathered)) == {"a", "b", "c", "d"}
    assert set(found(gathered).values()) == {"a link that leads out of it"}


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_pipe_in_the_folder_is_not_waited_for(study, scratch, picture):
    """Opening a named pipe would hang for ever."""
    os.mkfifo(study / "pipe")
    (study / "in.dcm").write_bytes(picture)

    gathered = gather(study, scratch, make.LIMITS)

    assert names(gathered) == ["in.dcm"]
    assert found(gathered) == {"pipe": "something that is not a plain file"}


def test_request_sheet_is_read_where_it_lies(study, scratch, picture):
    """A TOML file of any name, in the folder or in a zip."""
    zipped(study / "z.zip", {"a.dcm": picture, "request.toml": b'[animal]\nspecies = "dog"\n'})

    gathered = gather(study, scratch, make.LIMITS)

    assert gathered.sheet.patient.species == "dog"
    assert names(gathered) == ["z.zip/a.dcm"]


def test_folders_too_deep_and_files_too_many_are_named(study, scratch, picture):
    """Limits end in words, not in a crash."""
    deep = study
    for _ in range(6):
        deep = deep / "d"
        deep.mkdir()
    (deep / "a.dcm").write_bytes(picture)
    for number in range(4):
        (study / f"{number}.dcm").write_bytes(picture)

    gathered = gather(study, scratch, make.Limits(folder_depth=3, files=3))

    assert len(gathered.items) == 3
    assert {refusal.found for refusal in gathered.refused} == {
        "one more folder inside",
        "more; this file and all after it were left out",
    }


def test_gathering_gives_signs_of_life(study, scratch, rng):
    """While a large member is unpacked, and for each file: a watchdog counts on them."""
    noise = rng.integers(0, 256, 5 * 1024**2).astype(np.uint8).tobytes()
    zipped(study / "z.zip", {"a.bin": noise}, zipfile.ZIP_STORED)
    signs: list[int] = []

    gather(study, scratch, make.LIMITS, signs.append)

    assert len(signs) >= 5
