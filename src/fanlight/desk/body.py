"""What a page sends, read with care: JSON within bounds, each field of its kind."""

from __future__ import annotations

import json
import uuid
from typing import Annotated, Any, TypeVar

import cattrs
from fastapi import Depends
from starlette.requests import Request

from fanlight.desk.errors import bad_request
from fanlight.study.codec import from_plain

T = TypeVar("T")


class Fields:
    """The fields of a request's body, taken one by one."""

    def __init__(self, plain: Any) -> None:
        if not isinstance(plain, dict):
            raise bad_request("fields by name were expected", "body")
        self._plain = plain

    def text(self, name: str, default: str | None = None, *, most: int = 2000) -> str:
        """Return a text."""
        value = self._plain.get(name, default)
        if not isinstance(value, str) or len(value) > most:
            raise bad_request(f"a text of at most {most} letters was expected", name, "Shorten it and try again.")
        return value

    def id(self, name: str) -> str:
        """Return an id that the page made."""
        try:
            return str(uuid.UUID(self.text(name)))
        except ValueError as error:
            raise bad_request("a UUID was expected", name) from error

    def fields(self, name: str) -> dict[str, Any]:
        """Return fields within a field; none when they are not there."""
        value = self._plain.get(name)
        if value is None:
            return {}
        if not isinstance(value, dict):
            raise bad_request("fields by name were expected", name)
        return value

    def value(self, name: str, kind: type[T]) -> T | None:
        """Return a frozen value, or None when the field is null or missing."""
        plain = self._plain.get(name)
        return None if plain is None else value_of(plain, kind, name)


def value_of(plain: Any, kind: type[T], where: str) -> T:
    """Return the frozen value that a page sent."""
    try:
        return from_plain(plain, kind)
    except (cattrs.BaseValidationError, ValueError, TypeError, KeyError) as error:
        inner: BaseException = error
        while isinstance(inner, BaseExceptionGroup):
            inner = inner.exceptions[0]
        raise bad_request(str(inner) or type(inner).__name__, where, "Correct the field and try again.") from error


async def read_fields(request: Request) -> Fields:
    """Return the body of a request; the guard has bounded it."""
    body = await request.body()
    try:
        return Fields(json.loads(body or b"{}"))
    except (ValueError, RecursionError) as error:
        raise bad_request("the body is no JSON", "body") from error


Body = Annotated[Fields, Depends(read_fields)]
