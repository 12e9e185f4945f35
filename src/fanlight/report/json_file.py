"""The whole review as JSON, and the schema that it keeps."""

from __future__ import annotations

import types
import typing
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from enum import Enum
from typing import Any

from fanlight.study import StudyReview
from fanlight.study.codec import PICTURE_KINDS, SHAPE_KINDS, to_plain

SCHEMA_VERSION = 1
_DIALECT = "https://json-schema.org/draft/2020-12/schema"


def review_as_plain(review: StudyReview) -> dict[str, Any]:
    """Return a review as dicts and lists, with the version of the schema it keeps."""
    return {"schema_version": SCHEMA_VERSION, **to_plain(review)}


class _Schema:
    """Builds the schema of frozen values from their type hints; each class becomes one definition."""

    def __init__(self) -> None:
        self.definitions: dict[str, Any] = {}

    def of(self, kind: Any) -> dict[str, Any]:
        origin, inner = typing.get_origin(kind), typing.get_args(kind)
        if kind is type(None):
            return {"type": "null"}
        if origin in (typing.Union, types.UnionType):
            return self._union(inner)
        if origin is tuple:
            if len(inner) == 2 and inner[1] is Ellipsis:
                return {"type": "array", "items": self.of(inner[0])}
            return {
                "type": "array",
                "prefixItems": [self.of(item) for item in inner],
                "minItems": len(inner),
                "maxItems": len(inner),
            }
        if isinstance(kind, type) and issubclass(kind, Enum):
            return {"enum": [item.value for item in kind]}
        if is_dataclass(kind):
            return self._reference(kind)
        plain = {str: "string", bool: "boolean", int: "integer", float: "number"}
        if kind in plain:
            return {"type": plain[kind]}
        if kind in (datetime, date):
            return {"type": "string", "format": "date-time" if kind is datetime else "date"}
        raise TypeError(f"no schema for {kind}")

    def _union(self, inner: tuple[Any, ...]) -> dict[str, Any]:
        for kinds in (SHAPE_KINDS, PICTURE_KINDS):
            members = {item for item in inner if item is not type(None)}
            if members == set(kinds.values()):
                choices = [self._reference(item, name) for name, item in kinds.items()]
                return {"oneOf": choices + ([{"type": "null"}] if type(None) in inner else [])}
        return {"anyOf": [self.of(item) for item in inner]}

    def _reference(self, kind: Any, tag: str = "") -> dict[str, Any]:
        name = kind.__name__ + (f"_{tag}" if tag else "")
        if name not in self.definitions:
            self.definitions[name] = {}  # breaks the circle for values that hold their own kind
            hints = typing.get_type_hints(kind)
            properties: dict[str, Any] = {"kind": {"const": tag}} if tag else {}
            properties |= {item.name: self.of(hints[item.name]) for item in fields(kind)}
            self.definitions[name] = {
                "type": "object",
                "description": (kind.__doc__ or "").strip().split("\n")[0],
                "properties": properties,
                "required": list(properties),
                "additionalProperties": False,
            }
        return {"$ref": f"#/$defs/{name}"}


def review_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of `review.json`."""
    schema = _Schema()
    root = schema.of(StudyReview)
    name = root["$ref"].rsplit("/", 1)[1]
    review = schema.definitions.pop(name)
    review["properties"] = {"schema_version": {"const": SCHEMA_VERSION}, **review["properties"]}
    review["required"] = ["schema_version", *review["required"]]
    return {
        "$schema": _DIALECT,
        "title": "Fanlight review",
        **review,
        "$defs": dict(sorted(schema.definitions.items())),
    }
