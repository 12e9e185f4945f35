"""Pictures of the movements among the changes: for the letter those that were kept, for the page one at a time."""

from __future__ import annotations

import base64
from typing import Any

from fanlight.desk.changes import changes_of, in_letter
from fanlight.report.movement.shown import Movements, figures_of, movements_shown
from fanlight.store import StudyState
from fanlight.study import House, StudyReview
from fanlight.study.codec import to_plain


def kept_movements(review: StudyReview, state: StudyState, house: House) -> tuple[tuple[str, ...], Movements]:
    """Return the causes of the changes that the mentor kept, in the order of `kept_changes`, and their pictures.

    Parameters
    ----------
    review : StudyReview
        Of `for_papers`: decided findings only.
    """
    kept = [(item.cause, item.correction) for item in in_letter(review, state, house) if item.correction is not None]
    return tuple(cause for cause, _ in kept), movements_shown(review, house, [correction for _, correction in kept])


def plain_movement(review: StudyReview, state: StudyState, house: House, cause: str) -> dict[str, Any]:
    """Return the drawings and the pair of one change as a page shows them; empty where it is no movement.

    Drawings come as strokes and words, so that a dim room draws them in light on dark.
    """
    asked = [item.correction for item in changes_of(review, state, house) if item.cause == cause and item.correction]
    shown = movements_shown(review, house, asked).get(cause)
    if shown is None:
        return {"sketches": [], "pictures": [], "note": ""}
    return {
        "sketches": [to_plain(item) for item in shown.sketches],
        "pictures": [
            {
                "source": f"data:image/png;base64,{base64.b64encode(each.png).decode()}",
                "caption": each.caption,
                "alt": each.alt,
            }
            for each in figures_of(shown)
        ],
        "note": shown.note,
    }
