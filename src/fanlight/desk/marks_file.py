"""What people drew, scaled and placed on the desk, as the marks of files: for letters, and for a marks file. Pure."""

from __future__ import annotations

import json
from collections.abc import Iterable

from fanlight.intake.sheet_writing import write_marks
from fanlight.store import StudyState
from fanlight.store.actions import DrawMark, JudgeBlind, PlaceClip, TakeClipOut
from fanlight.study import Clip, DrawnMark, FileMarks, Named

_HEAD = """\
# Marks of one study, as they stood on the desk. Read them again with: fanlight review STUDY --marks THIS_FILE
# Frames count from 1, pixels from 0 at the top left. The page on marks files tells of every line.
"""


def marks_of(state: StudyState, clips: Iterable[Clip]) -> dict[str, FileMarks]:
    """Return what holds of each clip, by its key; clips of which nothing was said are left out.

    A view that was named in a judgement before any proposal counts where no later word placed the clip.
    """
    found = {}
    for clip in clips:
        placed, blind = state.placements.get(clip.key), state.blind.get(clip.key)
        scale = state.scales.get(clip.key)
        marks = FileMarks(
            name=clip.name,
            view=_view(placed, blind),
            valve=placed.valve if isinstance(placed, PlaceClip) else None,
            scale=scale.distance if scale is not None else None,
            axes=tuple(item.marked for (key, _), item in state.strip_scales.items() if key == clip.key),
            drawn=tuple(_drawn(item) for item in state.marks.values() if item.clip == clip.key),
        )
        if marks != FileMarks(name=clip.name):
            found[clip.key] = marks
    return found


def marks_file(state: StudyState, clips: Iterable[Clip]) -> str:
    """Return the marks of a study as TOML, and what was named on the desk."""
    marks = write_marks(marks_of(state, clips).values())
    named = _named_table(state.named) if state.named is not None else ""
    return "\n".join(part for part in (_HEAD, named, marks) if part)


def _named_table(named: Named) -> str:
    said = {
        "by": named.by, "lesions": named.lesions, "failure": named.failure.value if named.failure else "",
        "treatment": named.treatment, "signs": named.signs, "signs_absent": named.signs_absent,
    }  # fmt: skip
    # A text of JSON is one of TOML 1.0, but for a character that JSON lets stand.
    rows = (f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in said.items() if value)
    return "[named]\n" + "\n".join(rows).replace("\x7f", "\\u007f") + "\n"


def _view(placed: PlaceClip | TakeClipOut | None, blind: JudgeBlind | None) -> str:
    if placed is None:
        return blind.view if blind is not None else ""
    return placed.view if isinstance(placed, PlaceClip) else ""


def _drawn(item: DrawMark) -> DrawnMark:
    return DrawnMark(kind=item.kind, frame=item.frame, points=item.points, landmark=item.landmark, label=item.label)
