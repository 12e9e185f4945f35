"""What axe-core says of a page: violations of WCAG 2.2, A and AA."""

from __future__ import annotations

from pathlib import Path
from typing import Any

AXE = Path(__file__).parent / "vendor" / "axe.min.js"
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


def violations(page: Any) -> list[str]:
    """Return each rule that is violated, with the first element that violates it."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE.read_text("utf-8"))
    # Of what passes one element a rule is enough: telling of each takes as long as the looking.
    said = page.evaluate("rules => axe.run(document, { runOnly: rules, resultTypes: ['violations'] })", RULES)
    assert len(said["passes"]) > 5  # it did look
    return [f"{each['id']}: {each['nodes'][0]['html'][:160]}" for each in said["violations"]]
