"""Frozen values to JSON and back: for the cache and for files that a person or a program reads."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date, datetime
from functools import lru_cache
from typing import Any, TypeVar, get_args, get_origin

import cattrs
import pydantic_core
from cattrs import gen

from fanlight.study import Band, Box, Mask, Picture, Point, Polyline, Sector, Shape, Source, Strip

T = TypeVar("T")

SHAPE_KINDS: dict[str, type] = {"box": Box, "polyline": Polyline, "mask": Mask}
PICTURE_KINDS: dict[str, type] = {"sector": Sector, "strip": Strip}


def _tagged(converter: cattrs.Converter, union: Any, kinds: dict[str, type]) -> None:
    names = {kind: name for name, kind in kinds.items()}

    def write(value: Any) -> dict[str, Any] | None:
        return None if value is None else {"kind": names[type(value)], **converter.unstructure(value)}

    def read(value: dict[str, Any] | None, _: Any) -> Any:
        if value is None:
            return None
        rest = {key: item for key, item in value.items() if key != "kind"}
        return converter.structure(rest, kinds[value["kind"]])

    for form in (union, union | None):  # to the converter these are two types
        converter.register_unstructure_hook(form, write)
        converter.register_structure_hook(form, read)


_POINTS = tuple[Point, ...]


def _read_points(value: Any, _: Any) -> tuple[Point, ...]:
    """Return points at once: they are most of what a study holds, and one by one they take a third of its reading."""
    return tuple([(float(row), float(col)) for row, col in value])


def _is_row_of_one_type(kind: Any) -> bool:
    return get_origin(kind) is tuple and len(args := get_args(kind)) == 2 and args[1] is Ellipsis


def _row_reader(kind: Any, converter: cattrs.Converter) -> Callable[[Any, Any], tuple[Any, ...]]:
    """Return what reads a tuple of one type: the reader of its items is looked up once, not for each of them."""
    item = get_args(kind)[0]
    read = converter.get_structure_hook(item)
    return lambda value, _: tuple([read(each, item) for each in value])


def _shared_reader(kind: type[T], converter: cattrs.Converter) -> Callable[[Any, Any], T]:
    """Return what reads a frozen value of plain fields once, however often a study holds it."""
    strict = {"_cattrs_forbid_extra_keys": True, "_cattrs_detailed_validation": False}
    read: Callable[[Any, Any], T] = gen.make_dict_structure_fn(kind, converter, **strict)  # type: ignore[arg-type]

    @lru_cache(maxsize=4096)
    def made(fields: tuple[tuple[str, Any], ...]) -> T:
        return read(dict(fields), kind)

    return lambda value, _: made(tuple(value.items()))


@lru_cache(maxsize=2)
def _converter(*, names_place: bool = True) -> cattrs.Converter:
    """Return the converter. One that names the place of an error is slower: for what people write, not our own rows."""
    converter = cattrs.Converter(forbid_extra_keys=True, detailed_validation=names_place)
    if not names_place:
        converter.register_structure_hook_factory(_is_row_of_one_type, _row_reader)
        for kind in (Band, Source):  # a study's findings have their criteria's: some dozens, a thousand times
            converter.register_structure_hook(kind, _shared_reader(kind, converter))
    converter.register_structure_hook_func(lambda kind: kind == _POINTS, _read_points)
    converter.register_unstructure_hook(datetime, lambda value: value.isoformat())
    converter.register_structure_hook(datetime, lambda value, _: datetime.fromisoformat(value))
    converter.register_unstructure_hook(date, lambda value: value.isoformat())
    converter.register_structure_hook(date, lambda value, _: date.fromisoformat(value))
    _tagged(converter, Shape, SHAPE_KINDS)
    _tagged(converter, Picture, PICTURE_KINDS)
    return converter


def to_plain(value: Any, kind: Any = None) -> Any:
    """Return a value as dicts, lists, strings and numbers; shapes carry their `kind`."""
    return _converter().unstructure(value, unstructure_as=kind)


def from_plain(plain: Any, kind: type[T]) -> T:
    """Return the value that `to_plain` wrote.

    Raises
    ------
    cattrs.BaseValidationError
        When the plain form does not fit the type.
    """
    return _converter().structure(plain, kind)


def to_bytes(value: Any, kind: Any = None) -> bytes:
    """Return a value as JSON bytes."""
    return json.dumps(to_plain(value, kind), separators=(",", ":"), allow_nan=False).encode()


def from_bytes(data: bytes, kind: type[T]) -> T:
    """Return the value that `to_bytes` wrote; without looking for the place of an error, which takes time.

    Raises
    ------
    ValueError
        When the bytes are broken, or of a version that had other fields.
    """
    try:
        return _converter(names_place=False).structure(pydantic_core.from_json(data, allow_inf_nan=False), kind)
    except Exception as error:  # without places the converter lets whatever stops it through
        raise ValueError(f"not a {getattr(kind, '__name__', kind)} of this version: {error}") from error
