"""What of a file decides how a program behaves: its definitions, wherever they stand, without the words about them.

A measured table is held to the code that it tells of by a hash of these pieces. Comments, docstrings and empty lines
change no figure; nor does it matter in which file a definition stands, so that code can be moved to a better place
without hours of measuring the same again. For the same reason nothing is said by an import from the project's own
rooms, unless it gives another name: the name stands where it is used, and what it does stands in the file that defines
it. Imports from elsewhere count.

Needs the standard library only.
"""

from __future__ import annotations

import ast
import hashlib
import io
import tokenize
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path

OWN = ("fanlight", "measure", "scripts", "tests")


def fingerprint(files: Iterable[Path]) -> str:
    """Return one hash of all pieces of some files; the order and the folders of the files do not count."""
    imports: set[bytes] = set()
    pieces: list[bytes] = []
    for path in files:
        content = path.read_bytes().replace(b"\r\n", b"\n")
        if path.suffix == ".py":
            brought, defined = _of_module(content)
            imports.update(brought)
            pieces.extend(defined)
        else:
            pieces.append(
                path.name.encode() + b"\0" + (_without_comments(content) if path.suffix == ".toml" else content)
            )
    digest = hashlib.sha256()
    for piece in sorted(imports) + sorted(pieces):
        digest.update(hashlib.sha256(piece).digest())
    return digest.hexdigest()


@cache  # sixty tables tell of the same modules; by content, since a test writes one file twice
def _of_module(content: bytes) -> tuple[frozenset[bytes], tuple[bytes, ...]]:
    """Return what a module imports and what it defines."""
    tree = ast.parse(content)
    return frozenset(_imports(tree)), tuple(_definitions(tree, _code_lines(content)))


def _without_comments(content: bytes) -> bytes:
    lines = (line.rstrip() for line in content.split(b"\n"))
    return b"\n".join(line for line in lines if line and not line.lstrip().startswith(b"#"))


def _imports(tree: ast.Module) -> Iterator[bytes]:
    """Yield what a module imports at its top, from elsewhere or under another name."""
    for node in tree.body:
        if isinstance(node, ast.Import | ast.ImportFrom):
            room = (node.module or "") if isinstance(node, ast.ImportFrom) else ""
            for item in node.names:
                if (room or item.name).partition(".")[0] not in OWN:
                    yield f"import {room}.{item.name} as {item.asname or ''}".encode()
                elif item.asname:
                    yield f"import {item.name.rpartition('.')[2]} as {item.asname}".encode()


def _code_lines(content: bytes) -> list[str]:
    """Return the lines of a module without comments and without blanks at their ends."""
    lines = content.decode("utf-8").split("\n")
    for token in tokenize.tokenize(io.BytesIO(content).readline):
        if token.type == tokenize.COMMENT:
            row, col = token.start
            lines[row - 1] = lines[row - 1][:col]
    return [line.rstrip() for line in lines]


def _definitions(tree: ast.Module, lines: list[str]) -> Iterator[bytes]:
    """Yield each statement at the top of a module but its imports, as it is written, without words."""
    words = {line for node in ast.walk(tree) if (span := _docstring(node)) for line in span}
    for node in tree.body:
        if isinstance(node, ast.Import | ast.ImportFrom):
            continue
        decorators = getattr(node, "decorator_list", [])
        first = min([node.lineno, *(item.lineno for item in decorators)])
        numbers = (n for n in range(first, (node.end_lineno or first) + 1) if n not in words)
        if piece := [lines[n - 1] for n in numbers if lines[n - 1]]:
            yield "\n".join(piece).encode()


def _docstring(node: ast.AST) -> range | None:
    """Return the lines of a node's docstring."""
    if not isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef) or not node.body:
        return None
    first = node.body[0]
    if isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant) and isinstance(first.value.value, str):
        return range(first.lineno, (first.end_lineno or first.lineno) + 1)
    return None
