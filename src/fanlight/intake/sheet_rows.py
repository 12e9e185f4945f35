"""Rows of a request sheet: what of them can be used, and a word about what cannot."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any, TypeVar

from fanlight.intake.marks_reading import as_mode, as_points
from fanlight.intake.named_quantity import may_lack_unit, quantity_of_words
from fanlight.intake.sheet_fields import MEASUREMENT, FieldError, Readers, as_text, choice_of, number_in
from fanlight.study import DrawnMark, FileMarks, GivenMeasurement, MarkedAxis, MarkedDistance, Refusal, Valve

T = TypeVar("T", DrawnMark, MarkedAxis)
Drawn = tuple[str, T]  # name of the file, and what was drawn


class SheetRows:
    """Collects what can be used of one sheet, and a word about what cannot."""

    def __init__(self, name: str, text: str) -> None:
        self.name = name
        self.text = text
        self.refused: list[Refusal] = []
        self.notes: list[str] = []

    def place(self, key: str, table: str) -> str:
        """Say where a key stands, by its line when it occurs once."""
        first, last = self._rows_of(table)
        lines = [
            number
            for number, line in enumerate(self.text.splitlines(), 1)
            if first <= number < last and line.split("=")[0].strip().strip('"') == key and "=" in line
        ]
        return f"line {lines[0]}, {table}.{key}" if len(lines) == 1 else f"{table}.{key}"

    def _rows_of(self, table: str) -> tuple[int, int]:
        """Return the lines of one row, such as "mark 3", first and one past the last; all lines when it is no row."""
        title, _, number = table.partition(" ")
        lines = self.text.splitlines()
        heads = [n for n, line in enumerate(lines, 1) if line.strip().startswith(f"[[{title}]]")]
        if not number.isdigit() or int(number) > len(heads):
            return 1, len(lines) + 1
        first = heads[int(number) - 1]
        after = (n for n in range(first + 1, len(lines) + 1) if lines[n - 1].lstrip().startswith("["))
        return first, next(after, len(lines) + 1)

    def refuse(self, place: str, expected: str, found: Any) -> None:
        words = repr(found)
        self.refused.append(
            Refusal(
                name=self.name,
                place=place,
                expected=expected,
                found=words if len(words) <= 80 else words[:77] + "...",
                remedy="Correct this line; the rest of the sheet was read.",
            )
        )

    def read(self, table: Any, title: str, readers: Readers, others: Iterable[str] = ()) -> dict[str, Any]:
        """Read the known keys of a table; name the unknown ones."""
        if not isinstance(table, dict):
            self.refuse(title, f"a table [{title}]", table)
            return {}
        out: dict[str, Any] = {}
        for key, value in table.items():
            if key in others:
                continue
            if key not in readers:
                self.notes.append(
                    f"{self.name}, {self.place(key, title)}: not a field of the sheet, not used; "
                    f"fields here are {', '.join([*readers, *others])}"
                )
                continue
            try:
                out[key] = readers[key](value)
            except FieldError as error:
                self.refuse(self.place(key, title), str(error), value)
        return out

    def rows(self, value: Any, title: str) -> list[Any]:
        """Return the rows of an array of tables."""
        if value is None:
            return []
        if not isinstance(value, list):
            self.refuse(title, f"rows that each start with [[{title}]]", value)
            return []
        return value

    def measurement(self, row: Any, number: int) -> GivenMeasurement | None:
        title = f"measurement {number}"
        got = self.read(row, title, MEASUREMENT)
        label = got.get("label") or got.get("quantity", "")
        quantity = quantity_of_words(got.get("quantity", "")) or quantity_of_words(label)
        # A ratio or an index by weight needs no unit; what the tables do not know may be one if the sheet says so.
        unit_is_clear = bool(got.get("unit")) or may_lack_unit(quantity) or (not quantity and "unit" in got)
        if "value" not in got or not label or not unit_is_clear:
            if isinstance(row, dict):
                self.refuse(title, 'quantity or label, value and unit ("" or "1" for a ratio)', row)
            return None
        if not quantity:
            self.notes.append(f"{self.name}, {title}: the tables have no quantity {label!r}; it is shown as given")
        return GivenMeasurement(
            quantity=quantity,
            label=label,
            value=got["value"],
            unit=got.get("unit", ""),
            given_by="request sheet",
            clip_name=got.get("file", ""),
            method=got.get("method", ""),
        )

    def file_marks(self, row: Any, number: int) -> FileMarks | None:
        title = f"file {number}"
        readers: Readers = {
            "name": as_text,
            "mode": as_mode,
            "view": as_text,
            "valve": choice_of(Valve),
            "distance_mm": number_in(0.1, 500, "mm"),
        }
        got = self.read(row, title, readers, others=("points",))
        if not got.get("name"):
            if isinstance(row, dict):
                self.refuse(title, "name = the file that is meant", row)
            return None
        scale = None
        if "points" in row or "distance_mm" in row:
            try:
                scale = _marked_distance(row.get("points"), got.get("distance_mm"))
            except ValueError as error:
                self.refuse(f"{title}.points", str(error), row.get("points"))
        return FileMarks(
            name=got["name"], mode=got.get("mode"), view=got.get("view", ""), valve=got.get("valve"), scale=scale
        )

    def drawn(self, table: Any, title: str, readers: Readers, made: Callable[[Mapping[str, Any]], T]) -> list[Drawn[T]]:
        """Read what was drawn by hand, each row with the file that it names; one bad row loses no other."""
        found = []
        for number, row in enumerate(self.rows(table, title), 1):
            name = f"{title} {number}"
            before = len(self.refused)
            got = self.read(row, name, readers)
            if len(self.refused) > before:
                continue  # a field of it was refused, and named
            try:
                found.append((got.get("file", ""), made(got)))
            except FieldError as error:
                self.refuse(f"line {self._rows_of(name)[0]}, {name}", str(error), row)
        return found


def _marked_distance(points: Any, distance_mm: float | None) -> MarkedDistance:
    wanted = "points = [{row = 40, col = 12}, {row = 440, col = 12}] together with distance_mm"
    if distance_mm is None or not isinstance(points, list) or len(points) != 2:
        raise FieldError(wanted)
    start, end = as_points(points)
    return MarkedDistance(start=start, end=end, distance_mm=distance_mm)
