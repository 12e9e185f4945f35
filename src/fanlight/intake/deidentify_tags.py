"""Attributes of a teaching copy: a list of what may stay; everything else goes, in every sequence."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from pydicom.datadict import dictionary_VM, dictionary_VR, keyword_dict, keyword_for_tag
from pydicom.dataelem import DataElement
from pydicom.dataset import Dataset
from pydicom.sequence import Sequence
from pydicom.tag import Tag

from fanlight.intake.deidentify_dates import age_text, read_date, shift_date_time, shift_pair
from fanlight.intake.deidentify_key import DeidentificationKey
from fanlight.study import House

TABLE: Final = "confidentiality"
PRIVATE: Final = "private attribute"
UNKNOWN: Final = "attribute that the standard does not know"
_IN: Final = ", in a sequence"  # the same attribute may be kept or changed outside of it
_AGE: Final = re.compile(r"\d{3}[DWMY]")  # PS3.5 table 6.2-1, AS
_LONGEST_NUMBER: Final = 16  # PS3.5 table 6.2-1, DS
_PIXEL_GROUP: Final = 0x7FE0
_UNREADABLE: Final = (ValueError, TypeError, KeyError, AttributeError, NotImplementedError, OverflowError)
_WORD: Final = re.compile(r"[^\W\d_]+")


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepList:
    """What may stay, as the House states it, by keyword of the standard."""

    numbers: frozenset[str]
    regions: str
    region_numbers: frozenset[str]
    dates: tuple[str, ...]
    times: tuple[str, ...]
    date_times: tuple[str, ...]
    uids: frozenset[str]
    code_words: frozenset[str]
    emptied: frozenset[str]
    age: str
    codes: Mapping[str, tuple[int, ...]]
    described: Mapping[str, tuple[int, ...]]
    words: frozenset[str]
    enumerated: Mapping[str, frozenset[str]]

    @classmethod
    def of(cls, house: House) -> KeepList:
        """Read the list from the table "confidentiality"."""
        keep = house.table(TABLE)["keep"]
        described = dict(keep["described"])
        words = described.pop("words")
        return cls(
            numbers=frozenset(keep["numbers"]),
            regions=keep["regions"],
            region_numbers=frozenset(keep["region_numbers"]),
            dates=tuple(keep["dates"]),
            times=tuple(keep["times"]),
            date_times=tuple(keep["date_times"]),
            uids=frozenset(keep["uids"]),
            code_words=frozenset(keep["code_words"]),
            emptied=frozenset(keep["emptied"]),
            age=keep["age"],
            codes={name: tuple(groups) for name, groups in keep["codes"].items()},
            described={name: tuple(groups) for name, groups in described.items()},
            words=frozenset(words),
            enumerated={name: frozenset(values) for name, values in keep["enumerated"].items()},
        )

    def names(self) -> frozenset[str]:
        """Every keyword that may be in a copy at the top level."""
        return frozenset(
            {self.regions, self.age, *self.numbers, *self.dates, *self.times, *self.date_times, *self.uids}
            | {*self.code_words, *self.emptied, *self.codes, *self.described, *self.enumerated}
        )


@dataclass(frozen=True, slots=True)
class CleanTags:
    """A new data set, and what the old one lost."""

    data: Dataset
    removed: tuple[tuple[str, int], ...]
    changed: tuple[str, ...]


def animal_of(data: Dataset) -> str:
    """Return what tells this animal from others, for the key only: case number, else name, else study."""
    for keyword in ("PatientID", "PatientName", "StudyInstanceUID"):
        text = _text(data, keyword)
        if text:
            return text
    return ""


def clean_tags(data: Dataset, keep: KeepList, key: DeidentificationKey, animal: str) -> CleanTags:
    """Return a new data set that holds only what may stay. The old one is not changed.

    Parameters
    ----------
    data : Dataset
        Attributes as read; pixels need not be there and are left out.
    keep : KeepList
        What may stay.
    key : DeidentificationKey
        Makes code words, identifiers and the shift of the dates.
    animal : str
        What tells this animal from others (`animal_of`, or the study's own case number), the same for all visits.

    Notes
    -----
    Nothing is copied as it stands: a number is read and written anew, a listed value is taken from the list, a
    code's meaning from the standard. A value that is none of these is removed whatever its attribute.
    """
    new, removed, changed = Dataset(), Counter[str](), set[str]()
    _count_removed(data, keep, removed)
    kept: dict[str, Any] = {}
    for name in sorted(keep.numbers):
        kept[name] = _numbers(data, name)
    for name, allowed in keep.enumerated.items():
        kept[name] = _listed(data, name, allowed)
    for name, groups in keep.codes.items():
        kept[name] = _codes(data, name, groups)
    for name, groups in keep.described.items():
        kept[name] = _described(data, name, groups, keep.words)
    kept[keep.age] = text if _AGE.fullmatch(text := _text(data, keep.age)) else None
    kept[keep.regions] = _regions(data, keep)
    for name, value in kept.items():
        if value is not None:
            _put(new, name, value)
        elif name in data and not _is_empty(data, name):
            removed[_title(Tag(keyword_dict[name]))] += 1
    if kept[keep.age] is None and (age := _age_from_birth(data)):
        _put(new, keep.age, age)
    changed |= _move_dates(data, new, keep, key, animal)
    for name in sorted(keep.uids):
        original = _text(data, name)
        _put(new, name, key.uid(original or f"{name} of {animal}"))
        changed.add(name)
    for name in sorted(keep.code_words):
        _put(new, name, key.code_word(animal))
        changed.add(name)
    for name in sorted(keep.emptied):
        if name in data and not _is_empty(data, name):
            changed.add(name)
        _put(new, name, "")
    return CleanTags(new, tuple(sorted(removed.items())), tuple(sorted(changed)))


def settle(tags: CleanTags, source: Dataset, keep: KeepList) -> CleanTags:
    """Return what was removed and changed, held against the data set as it was written in the end.

    Pixels are described anew after cleaning: `Rows` is cut out with everything else and then written back. An
    attribute of the file stands in one list only: removed when the copy lacks it, changed when its value differs.
    """
    written = {keyword_for_tag(tag) for tag in sorted(tags.data.keys())}
    removed = {title: times for title, times in tags.removed if title.split(" (")[0] not in written or _IN in title}
    changed = set(tags.changed) & written
    for tag in sorted(source.keys()):
        name = keyword_for_tag(tag)
        if not name or tag.group == _PIXEL_GROUP or _is_empty(source, name):
            continue
        if name not in written:
            removed.setdefault(_title(tag), 1)
        elif dictionary_VR(tag) != "SQ" and name not in keep.numbers and _text(source, name) != _text(tags.data, name):
            changed.add(name)
    return CleanTags(tags.data, tuple(sorted(removed.items())), tuple(sorted(changed)))


def _element(data: Dataset, tag: Any) -> DataElement | None:
    """An element, or None where it cannot be read at all: files are hostile, and then it is not kept."""
    try:
        found: DataElement = data[tag]
        return found
    except _UNREADABLE:
        return None


def _count_removed(data: Dataset, keep: KeepList, removed: Counter[str]) -> None:
    """Count by name what is not on the list."""
    for tag in sorted(data.keys()):
        name = keyword_for_tag(tag)
        if name == keep.regions:
            for item in _values(data, name):
                if isinstance(item, Dataset):
                    for inner in sorted(item.keys()):
                        if keyword_for_tag(inner) not in keep.region_numbers:
                            _count_all(item, inner, removed, _IN)
        elif name not in keep.names() and tag.group != _PIXEL_GROUP:  # the pixels are written anew
            _count_all(data, tag, removed)


def _count_all(data: Dataset, tag: Any, removed: Counter[str], where: str = "") -> None:
    """Count an attribute and, in a sequence, all that it holds."""
    title = _title(tag)
    removed[title if title in (PRIVATE, UNKNOWN) else f"{title}{where}"] += 1
    element = _element(data, tag)
    if element is not None and element.VR == "SQ":
        for item in element.value or ():
            for inner in sorted(item.keys()):
                _count_all(item, inner, removed, _IN)


def _title(tag: Any) -> str:
    """Name of an attribute in the standard; never the name that a file gives to a private one."""
    if tag.is_private:
        return PRIVATE
    try:
        return f"{keyword_for_tag(tag) or ''} ({tag.group:04X},{tag.element:04X})".strip() if _known(tag) else UNKNOWN
    except KeyError:  # pragma: no cover
        return UNKNOWN


def _known(tag: Any) -> bool:
    if tag.group & 0xFF01 in (0x5000, 0x6000):  # curves and overlays repeat over groups, PS3.5 7.6
        return True
    try:
        dictionary_VR(tag)
    except KeyError:
        return False
    return True


def _put(data: Dataset, name: str, value: Any) -> None:
    tag = Tag(keyword_dict[name])
    data.add(DataElement(tag, dictionary_VR(tag).split(" or ")[0], value))


def _value(data: Dataset, name: str) -> Any:
    """A value, or None where it is absent or cannot be read."""
    element = _element(data, Tag(keyword_dict[name])) if name in data else None
    return None if element is None else element.value


def _is_empty(data: Dataset, name: str) -> bool:
    value = _value(data, name)
    return value is None or (isinstance(value, str | bytes | list) and len(value) == 0) or str(value) == ""


def _text(data: Dataset, name: str) -> str:
    value = _value(data, name)
    return "" if value is None else str(value).strip()


def _values(data: Dataset, name: str) -> list[Any]:
    value = _value(data, name)
    if value is None or isinstance(value, bytes):
        return []
    return [value] if isinstance(value, str) or not hasattr(value, "__iter__") else list(value)


def _numbers(data: Dataset, name: str) -> list[Any] | int | float | str | None:
    """Numbers of an attribute written anew, or None if one of them is none."""
    tag = Tag(keyword_dict[name])
    vr = dictionary_VR(tag)
    numbers: list[Any] = []
    for value in _values(data, name):
        try:
            number = float(value)
        except (TypeError, ValueError):
            return None
        if not math.isfinite(number):
            return None
        if vr == "IS" or vr in ("US", "UL", "SL", "SS"):
            if number != int(number):
                return None
            numbers.append(str(int(number)) if vr == "IS" else int(number))
        elif vr == "DS":
            written = f"{number:.10g}"
            numbers.append(written if len(written) <= _LONGEST_NUMBER else f"{number:.8e}")
        else:
            numbers.append(number)
    if not numbers:
        return None
    return numbers[0] if dictionary_VM(tag) == "1" or len(numbers) == 1 else numbers


def _listed(data: Dataset, name: str, allowed: frozenset[str]) -> list[str] | str | None:
    """Values that are all on the standard's list, or None."""
    values = [str(value).strip() for value in _values(data, name)]
    if not values or any(value not in allowed for value in values) or not any(values):
        return None
    return values[0] if len(values) == 1 else values


def _meanings(groups: Iterable[int]) -> dict[tuple[str, str], str]:
    """Codes of some context groups with the standard's own meaning."""
    from pydicom.sr.codedict import codes  # some thousand codes; only a teaching copy needs them

    found: dict[tuple[str, str], str] = {}
    for group in groups:
        for code in getattr(codes, f"cid{group}").concepts.values():
            found[code.value, code.scheme_designator] = code.meaning
    return found


def _codes(data: Dataset, name: str, groups: tuple[int, ...]) -> Sequence | None:
    """Codes that the standard lists, without anything else that the items hold."""
    known, items = None, []
    for item in _values(data, name):
        if not isinstance(item, Dataset):
            return None
        known = known or _meanings(groups)
        pair = (_text(item, "CodeValue"), _text(item, "CodingSchemeDesignator"))
        if pair not in known:
            continue
        new = Dataset()
        new.CodeValue, new.CodingSchemeDesignator = pair
        new.CodeMeaning = known[pair][:64]  # LO, PS3.5 table 6.2-1
        items.append(new)
    return Sequence(items) if items else None


def _described(data: Dataset, name: str, groups: tuple[int, ...], words: frozenset[str]) -> str | None:
    """A description whose words all stand in the meaning of one code, or on the list."""
    text = _text(data, name)
    given = {word.casefold() for word in _WORD.findall(text)}
    if not given or any(mark.isdigit() for mark in text):
        return None
    rest = given - words
    if rest and not any(
        rest <= {word.casefold() for word in _WORD.findall(meaning)} for meaning in _meanings(groups).values()
    ):
        return None
    return text


def _regions(data: Dataset, keep: KeepList) -> Sequence | None:
    items = []
    for item in _values(data, keep.regions):
        if not isinstance(item, Dataset):
            return None
        new = Dataset()
        for name in sorted(keep.region_numbers):
            if (value := _numbers(item, name)) is not None:
                _put(new, name, value)
        items.append(new)
    return Sequence(items) if items else None


def _age_from_birth(data: Dataset) -> str:
    born, examined = read_date(_text(data, "PatientBirthDate")), read_date(_text(data, "StudyDate"))
    return "" if born is None or examined is None else age_text(born, examined)


def _move_dates(data: Dataset, new: Dataset, keep: KeepList, key: DeidentificationKey, animal: str) -> set[str]:
    shift, changed = key.shift(animal), set()
    for day_name, time_name in zip(keep.dates, keep.times, strict=True):
        day, clock = shift_pair(_text(data, day_name), _text(data, time_name), shift)
        for name, value in ((day_name, day), (time_name, clock)):
            if value:
                _put(new, name, value)
            if name in data:
                changed.add(name)
    for name in keep.date_times:
        if value := shift_date_time(_text(data, name), shift):
            _put(new, name, value)
        if name in data:
            changed.add(name)
    for name in ("StudyDate", "StudyTime"):  # type 2 of the General Study module
        if name not in new:
            _put(new, name, "")
    return changed
