"""Members of a zip, written out under neutral names and within limits."""

from __future__ import annotations

import lzma
import shutil
import stat
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from fanlight.intake.limits import Limits
from fanlight.intake.sign_of_life import SignOfLife
from fanlight.study import Refusal

_COPY_BYTES = 1024 * 1024
# Engineering judgement: room that the rest of the machine keeps on the disk of the scratch folder.
_FREE_DISK_BYTES = 512 * 1024**2
# What the standard library raises on damaged archives (RuntimeError: a password is needed).
_DAMAGE = (
    zipfile.BadZipFile,
    zlib.error,
    lzma.LZMAError,
    OSError,
    EOFError,
    NotImplementedError,
    RuntimeError,
    ValueError,
    struct.error,
)


@dataclass(slots=True)
class Unpacked:
    """Running totals over all zips of one study, nested ones included."""

    files: int = 0
    entries: int = 0
    total_bytes: int = 0


class _MemberRefusedError(Exception):
    """One member cannot be used; carries the refusal."""

    def __init__(self, refusal: Refusal) -> None:
        self.refusal = refusal
        super().__init__(str(refusal))


def shown_name(name: str) -> str:
    """Return a name that is safe to print: one line, no control characters, not endless."""
    clean = "".join(letter if letter.isprintable() else "?" for letter in name.replace("\\", "/"))
    return clean if len(clean) <= 200 else clean[:197] + "..."


def _leaves_the_zip(name: str) -> bool:
    plain = name.replace("\\", "/")
    return plain.startswith("/") or ".." in plain.split("/") or (len(plain) > 1 and plain[1] == ":") or "\x00" in plain


def _refuse_by_header(info: zipfile.ZipInfo, name: str, limits: Limits) -> Refusal | None:
    """Judge a member by what the zip's directory says of it."""
    if _leaves_the_zip(info.filename):
        return Refusal(
            name=name,
            expected="a member whose name stays inside the zip",
            found="a name that leads to a place outside it",
            remedy="Pack the study's folder again with an ordinary program.",
        )
    if stat.S_ISLNK(info.external_attr >> 16):
        return Refusal(
            name=name,
            expected="a file",
            found="a link to another place",
            remedy="Pack the file itself, not a link to it.",
        )
    if info.flag_bits & 0x1:  # APPNOTE 4.4.4: bit 0, encrypted
        return Refusal(
            name=name,
            expected="a zip without a password",
            found="an encrypted member",
            remedy="Unpack it with its password and send the folder.",
        )
    if info.file_size > limits.file_bytes:
        return Refusal(
            name=name,
            expected=f"a file of at most {limits.file_bytes / 1e9:.1f} GB",
            found=f"{info.file_size / 1e9:.1f} GB when unpacked",
            remedy="Export a shorter clip.",
        )
    if info.file_size > limits.zip_ratio_from_bytes and info.file_size > limits.zip_ratio * max(info.compress_size, 1):
        return _bomb(name, limits, info.file_size / max(info.compress_size, 1))
    return None


def _bomb(name: str, limits: Limits, ratio: float) -> Refusal:
    return Refusal(
        name=name,
        expected=f"a member that grows at most {limits.zip_ratio:g} times when unpacked",
        found=f"one that grows {ratio:.0f} times, as archives made to fill a disk do",
        remedy="Send the original files without the zip.",
    )


def _copy(
    archive: zipfile.ZipFile,
    info: zipfile.ZipInfo,
    name: str,
    target: Path,
    limits: Limits,
    totals: Unpacked,
    tell: SignOfLife,
) -> None:
    """Write one member out, counting what really comes: the directory of a zip may lie."""
    written = 0
    allowed = max(limits.zip_ratio_from_bytes, limits.zip_ratio * max(info.compress_size, 1))
    with archive.open(info) as source, target.open("xb") as out:
        while block := source.read(_COPY_BYTES):
            written += len(block)
            totals.total_bytes += len(block)
            if written > min(limits.file_bytes, allowed):
                raise _MemberRefusedError(_bomb(name, limits, written / max(info.compress_size, 1)))
            if totals.total_bytes > limits.zip_total_bytes:
                raise _MemberRefusedError(
                    Refusal(
                        name=name,
                        expected=f"at most {limits.zip_total_bytes / 1e9:.0f} GB in all zips of a study",
                        found="more; this member and all after it were left out",
                        remedy="Send one examination at a time.",
                    )
                )
            if shutil.disk_usage(target.parent).free < _FREE_DISK_BYTES:
                raise _MemberRefusedError(
                    Refusal(
                        name=name,
                        expected="room on the disk to unpack it",
                        found="a disk that is nearly full",
                        remedy="Free some space, or unpack the zip elsewhere and name the folder.",
                    )
                )
            out.write(block)
            tell(totals.files)


def unpack(
    path: Path,
    zip_name: str,
    scratch: Path,
    limits: Limits,
    totals: Unpacked,
    refused: list[Refusal],
    passed_over: Callable[[str], bool],
    tell: SignOfLife,
) -> Iterator[tuple[Path, str]]:
    """Yield each member that could be unpacked, with its name as the user knows it; refusals go to `refused`."""
    try:
        archive = zipfile.ZipFile(path)
    except _DAMAGE as error:
        refused.append(_broken(zip_name, error))
        return
    with archive:
        members = sorted((info for info in archive.infolist() if not info.is_dir()), key=lambda info: info.filename)
        names = {info.filename for info in members}
        if "[Content_Types].xml" in names:  # ECMA-376: the packages of office programs are zips
            refused.append(
                Refusal(
                    name=zip_name,
                    expected="a DICOM file, a video or a still picture",
                    found="an office document",
                    remedy="Nothing to do if this is a report: it is not read. Send pictures as files of their own.",
                )
            )
            return
        totals.entries += len(members)
        if totals.entries > limits.zip_entries:
            refused.append(
                Refusal(
                    name=zip_name,
                    expected=f"at most {limits.zip_entries} files in all zips of a study",
                    found=f"{totals.entries}",
                    remedy="Send one examination at a time.",
                )
            )
            return
        for info in members:
            name = f"{zip_name}/{shown_name(info.filename)}"
            if passed_over(shown_name(info.filename)) and not _leaves_the_zip(info.filename):
                continue
            refusal = _refuse_by_header(info, name, limits)
            if refusal is not None:
                refused.append(refusal)
                continue
            totals.files += 1
            target = scratch / f"{totals.files:06d}.bin"
            try:
                _copy(archive, info, name, target, limits, totals, tell)
            except _MemberRefusedError as error:
                refused.append(error.refusal)
            except _DAMAGE as error:
                refused.append(_broken(name, error))
            else:
                yield target, name
                continue
            target.unlink(missing_ok=True)


def _broken(name: str, error: Exception) -> Refusal:
    found = {
        "NotImplementedError": "a way of packing that is not supported",
        "EOFError": "an archive that ends too early",
    }.get(type(error).__name__, f"a damaged archive ({shown_name(str(error)) or type(error).__name__})")
    return Refusal(
        name=name,
        expected="a zip that can be unpacked",
        found=found,
        remedy="Copy or pack it again; the other files are used.",
    )
