"""From what the user names (a folder, a zip, one file) to the list of files worth opening.

Only the first bytes of each file are looked at here; zips are unpacked into a scratch folder under
neutral names, so that no name from a hostile archive ever becomes a path.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from fanlight.intake.kept_reading import read_sheet
from fanlight.intake.kinds import HEAD_BYTES, PICTURES, Kind, sniff
from fanlight.intake.limits import Limits
from fanlight.intake.request_sheet import RequestSheet, merge_sheets
from fanlight.intake.sign_of_life import SignOfLife, say_nothing
from fanlight.intake.zip_members import Unpacked, unpack
from fanlight.study import Refusal

# Written by operating systems and by the DICOM media layout (PS3.10 8.6), never by a person.
_SYSTEM_NAMES = frozenset({"thumbs.db", "desktop.ini", "ehthumbs.db", "autorun.inf", "$recycle.bin", "__macosx"})
_DICOMDIR_UID = b"1.2.840.10008.1.3.10"  # Media Storage Directory Storage, PS3.4 Annex I


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One file to open: where it lies now, and what the user calls it."""

    path: Path
    name: str  # path inside what the user named, "/" between parts
    kind: Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class Gathered:
    """Files to open in the order of their names, files that were refused, and the request sheet if one lay there."""

    items: tuple[Item, ...] = ()
    refused: tuple[Refusal, ...] = ()
    sheet: RequestSheet = field(default_factory=RequestSheet)
    notes: tuple[str, ...] = ()


class _Basket:
    """What was gathered so far."""

    def __init__(self, scratch: Path, limits: Limits, tell: SignOfLife) -> None:
        self.scratch = scratch
        self.limits = limits
        self.tell = tell
        self.items: list[Item] = []
        self.refused: list[Refusal] = []
        self.sheets: list[RequestSheet] = []
        self.system_files = 0
        self.unpacked = Unpacked()

    def refuse(self, name: str, expected: str, found: str, remedy: str) -> None:
        self.refused.append(Refusal(name=name, expected=expected, found=found, remedy=remedy))

    def passes_over(self, name: str) -> bool:
        """Tell whether this is a file of the system, and count it."""
        if _is_system_file(name):
            self.system_files += 1
            return True
        return False

    def add(self, path: Path, name: str, depth: int) -> None:
        """Sort one file in, by its first bytes."""
        if len(self.items) >= self.limits.files:
            if len(self.items) == self.limits.files and not any(r.place == "count" for r in self.refused):
                self.refused.append(
                    Refusal(
                        name=name,
                        place="count",
                        expected=f"at most {self.limits.files} files in one study",
                        found="more; this file and all after it were left out",
                        remedy="Send one examination at a time.",
                    )
                )
            return
        try:
            size = path.stat().st_size
            with path.open("rb") as file:
                head = file.read(HEAD_BYTES)
        except OSError as error:
            self.refuse(name, "a file that can be read", error.strerror or "no access", "Check the file's permissions.")
            return
        self.tell(len(self.items) + 1)
        kind = sniff(head)
        if kind is Kind.ZIP:
            self.add_zip(path, name, depth)
        elif kind is Kind.TEXT and name.lower().endswith(".toml"):
            self.add_sheet(path, name, size)
        elif kind in PICTURES:
            self.add_picture(path, name, kind, size, head)
        else:
            self.refuse_kind(name, kind)

    def add_picture(self, path: Path, name: str, kind: Kind, size: int, head: bytes) -> None:
        if size > self.limits.file_bytes:
            self.refuse(
                name,
                f"a file of at most {self.limits.file_bytes / 1e9:.1f} GB",
                f"{size / 1e9:.1f} GB",
                "Export a shorter clip, or export it compressed.",
            )
            return
        if kind is Kind.DICOM and (_DICOMDIR_UID in head or name.rsplit("/", 1)[-1].upper() == "DICOMDIR"):
            self.system_files += 1  # a list of the files beside it, which are found without it
            return
        self.items.append(Item(path=path, name=name, kind=kind))

    def refuse_kind(self, name: str, kind: Kind) -> None:
        remedies = {
            Kind.EMPTY: "Copy the file again; the copy may have been cut short.",
            Kind.PDF: "Nothing to do if this is a report: it is not read. Send numbers in the request sheet.",
            Kind.TEXT: "Nothing to do if this is a note. A request sheet must be a TOML file, name ending in .toml.",
            Kind.OTHER_ARCHIVE: "Unpack it and send the folder, or pack it as a zip.",
            Kind.UNKNOWN: "Nothing to do if this is not a picture; otherwise export it again as DICOM, MP4 or PNG.",
        }
        self.refuse(
            name,
            "a DICOM file, a video or a still picture",
            kind.value,
            remedies.get(kind, "Nothing to do: it is left aside."),
        )

    def add_sheet(self, path: Path, name: str, size: int) -> None:
        if size > self.limits.sheet_bytes:
            self.refuse(
                name, f"a request sheet of at most {self.limits.sheet_bytes} bytes", f"{size} bytes", "Shorten it."
            )
            return
        sheet = read_sheet(path.read_bytes(), name)
        self.refused += sheet.refused
        self.sheets.append(sheet)

    def add_zip(self, path: Path, name: str, depth: int) -> None:
        if depth >= self.limits.zip_depth:
            self.refuse(
                name,
                f"zips packed at most {self.limits.zip_depth} deep",
                "one more zip inside",
                "Unpack it and send the folder.",
            )
            return
        for member_path, member_name in unpack(
            path, name, self.scratch, self.limits, self.unpacked, self.refused, self.passes_over, self.tell
        ):
            self.add(member_path, member_name, depth + 1)
            if member_path.exists() and not any(item.path == member_path for item in self.items[-1:]):
                member_path.unlink()  # refused, read already, or a zip whose members lie beside it


def _is_system_file(name: str) -> bool:
    parts = [part.lower() for part in name.split("/")]
    return any(part in _SYSTEM_NAMES or (part.startswith(".") and part not in (".", "..")) for part in parts)


def _walk(folder: Path, root: Path, depth: int, basket: _Basket) -> None:
    """Sort in the files of a folder by name, its sub-folders in between."""
    name = folder.relative_to(root).as_posix()
    if depth > basket.limits.folder_depth:
        basket.refuse(
            name,
            f"folders at most {basket.limits.folder_depth} deep",
            "one more folder inside",
            "Send the folder that holds the pictures.",
        )
        return
    try:
        entries = sorted(folder.iterdir(), key=lambda entry: entry.name)
    except OSError as error:
        basket.refuse(name, "a folder that can be read", error.strerror or "no access", "Check its permissions.")
        return
    for entry in entries:
        inner = entry.relative_to(root).as_posix()
        if basket.passes_over(inner):
            continue
        if entry.is_symlink() and not _stays_inside(entry, root):
            basket.refuse(
                inner,
                "a file inside the folder",
                "a link that leads out of it",
                "Copy the file itself into the folder.",
            )
        elif entry.is_dir():
            if entry.is_symlink():
                basket.refuse(
                    inner,
                    "a folder",
                    "a link to a folder that is read anyway",
                    "Nothing to do: its files are found where they lie.",
                )
            else:
                _walk(entry, root, depth + 1, basket)
        elif entry.is_file():
            basket.add(entry, inner, 0)
        else:
            basket.refuse(inner, "a file", "something that is not a plain file", "Nothing to do: it is left aside.")


def _stays_inside(link: Path, root: Path) -> bool:
    try:
        return link.resolve(strict=True).is_relative_to(root.resolve())
    except (OSError, RuntimeError):  # a link to nothing, or links in a ring
        return False


def gather_named(
    files: Iterable[tuple[Path, str]], scratch: Path, limits: Limits, tell: SignOfLife = say_nothing
) -> Gathered:
    """List files that lie anywhere, each under the name that the user knows it by; see `gather`.

    Parameters
    ----------
    files : iterable of (Path, str)
        Where a file lies, and its name: parts with "/" between.
    """
    basket = _Basket(scratch, limits, tell)
    for path, name in sorted(files, key=lambda file: file[1]):
        if not basket.passes_over(name):
            basket.add(path, name, 0)
    return _gathered(basket)


def gather(path: Path, scratch: Path, limits: Limits, tell: SignOfLife = say_nothing) -> Gathered:
    """List the files of a study, without opening a picture.

    Parameters
    ----------
    path : Path
        A folder (read with its sub-folders), a zip, or one file.
    scratch : Path
        An existing, empty folder; members of zips are written there as 000001.bin and so on.
    limits : Limits
        What is too large, too deep or too many.
    tell : callable, optional
        Called with the number of files found so far, at least every few megabytes: a sign of life.

    Returns
    -------
    Gathered
        Items in order of their names; everything left aside is in `refused`, with the reason.
    """
    basket = _Basket(scratch, limits, tell)
    if path.is_dir():
        _walk(path, path, 0, basket)
    elif path.is_file():
        basket.add(path, path.name, 0)
    else:
        basket.refuse(path.name or str(path), "a folder, a zip or a file", "nothing of that name", "Check the path.")
    return _gathered(basket)


def _gathered(basket: _Basket) -> Gathered:
    notes = []
    if basket.system_files:
        plural = "file" if basket.system_files == 1 else "files"
        notes.append(f"{basket.system_files} hidden or directory {plural} of the system or the medium passed over")
    return Gathered(
        items=tuple(basket.items),
        refused=tuple(basket.refused),
        sheet=merge_sheets(basket.sheets),
        notes=tuple(notes),
    )
