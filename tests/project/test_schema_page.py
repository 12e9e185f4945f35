"""The published schema is the one that every review keeps, and a stale one is refused."""

import json
from pathlib import Path

import jsonschema
import pytest

from fanlight.report.json_file import review_schema
from scripts import check, schema_page


def test_published_schema_is_valid_json_schema() -> None:
    """By the meta-schema of JSON Schema 2020-12, which the library jsonschema carries."""
    published = json.loads(schema_page.FILE.read_text("utf-8"))

    jsonschema.Draft202012Validator.check_schema(published)
    assert published == review_schema()


def test_stale_schema_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "review.schema.json"
    assert schema_page.main(["--check"], file) == 1
    assert "schema_page.py" in capsys.readouterr().out
    assert schema_page.main([], file) == 0
    assert schema_page.main(["--check"], file) == 0
    file.write_text(file.read_text("utf-8").replace("StudyReview", "Review").replace('"1"', '"2"') + " ")
    assert schema_page.main(["--check"], file) == 1


def test_the_check_is_part_of_all_checks_and_the_page_links_it() -> None:
    assert check.CHECKS["schema"] == ("python", "scripts/schema_page.py", "--check")
    assert "(review.schema.json)" in (schema_page.FILE.parent / "letter.md").read_text("utf-8")
