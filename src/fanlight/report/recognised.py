"""What must be said of clips whose view was recognised from the pixels and named by nobody."""

from __future__ import annotations

from fanlight.report import words
from fanlight.study import StudyReview


def recognised_words(review: StudyReview) -> str:
    """Return which clips lie in their view only because a program thinks so; "" when there is none."""
    if not review.recognised:
        return ""
    clips, one = words.clips(review.recognised), len(review.recognised) == 1
    return (
        f"The view of {clips} was recognised from the picture and named by nobody: what is said here of the path "
        f"stands only if {'it is' if one else 'they are'} right."
    )
