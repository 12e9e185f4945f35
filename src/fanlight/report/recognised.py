"""What must be said of clips whose view was recognised from the pixels and named by nobody."""

from __future__ import annotations

from fanlight.report import words
from fanlight.study import StudyReview, ViewSource


def recognised_words(review: StudyReview) -> str:
    """Return which clips lie in their view only because a program thinks so; "" when there is none."""
    numbers = [item.clip.number for item in review.readings if item.view.source is ViewSource.RECOGNISED]
    if not numbers:
        return ""
    one = len(numbers) == 1
    return (
        f"The view of {words.clips(numbers)} was recognised from the picture and named by nobody: what is said here of "
        f"the path stands only if {'it is' if one else 'they are'} right."
    )
