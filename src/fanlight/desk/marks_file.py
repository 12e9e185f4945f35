"""What people drew, scaled and placed on the desk, as the marks of files: for letters, and for a marks file. Pure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace

from fanlight.intake import marks_by_clip
from fanlight.intake.kept_writing import toml_text, write_marks_and_kept
from fanlight.store import StudyState
from fanlight.store.actions import DrawMark, JudgeBlind, PlaceClip, TakeClipOut
from fanlight.study import Clip, DrawnMark, FileMarks, Named, Study

_HEAD = """\
# Marks of one study, as they stood on the desk. Read them again with: fanlight review STUDY --marks THIS_FILE
# Frames count from 1, pixels from 0 at the top left. The page on marks files tells of every line.
"""


def marks_of(state: StudyState, clips: Iterable[Clip]) -> dict[str, FileMarks]:
    """Return what holds of each clip, by its key; clips of which nothing was said are left out.

    A view that was named in a judgement before any proposal counts where no later word placed the clip.
    """
    drawn: dict[str, list[DrawMark]] = defaultdict(list)
    for item in state.marks.values():
        drawn[item.clip].append(item)
    found = {}
    for clip in clips:
        placed, blind = state.placements.get(clip.key), state.blind.get(clip.key)
        scale = state.scales.get(clip.key)
        marks = FileMarks(
            name=clip.name,
            mode=state.modes[clip.key].mode if clip.key in state.modes else None,
            view=_view(placed, blind),
            valve=placed.valve if isinstance(placed, PlaceClip) else None,
            scale=scale.distance if scale is not None else None,
            axes=tuple(item.marked for (key, _), item in state.strip_scales.items() if key == clip.key),
            drawn=tuple(_drawn(item) for item in drawn.get(clip.key, ())),
        )
        if marks != FileMarks(name=clip.name):
            found[clip.key] = marks
    return found


def lying_on(state: StudyState, study: Study) -> dict[str, FileMarks]:
    """Return what lies on each clip, by its key: what was drawn on the desk, and what was sent with the study.

    Landmarks of the mentor stand in place of all that were sent for the clip, another mark in place of one that has
    its name, and so does a scale. Proposals that were kept unmoved are among them and replace nothing; who asks only
    for what a hand set leaves them out (`set_by_hand`). A mode or view that was sent is left out: the engine read the
    clip by it.
    """
    own, sent = marks_of(state, study.clips), sent_with(study)
    return {**own, **{key: _beside(item, own.get(key)) for key, item in sent.items()}}


def sent_with(study: Study) -> dict[str, FileMarks]:
    """Return what was drawn and scaled in the files sent, by the key of the clip."""
    marks = marks_by_clip(study.marks, study.clips)
    lies = ((key, replace(item, mode=None, view="", valve=None)) for key, item in marks.items())
    return {key: item for key, item in lies if item != FileMarks(name=item.name)}


def _beside(sent: FileMarks, own: FileMarks | None) -> FileMarks:
    """Return the mentor's marks of a clip with those that were sent and that they do not replace."""
    if own is None:
        return sent
    set_anew = tuple(mark for mark in own.drawn if mark.proposed_spread_px is None)
    has_landmarks = any(mark.landmark for mark in set_anew)
    named = {(mark.kind, mark.title) for mark in set_anew if mark.title}
    stand = (
        mark for mark in sent.drawn if not (mark.landmark and has_landmarks) and (mark.kind, mark.title) not in named
    )
    return replace(own, scale=own.scale or sent.scale, drawn=(*stand, *own.drawn))


def marks_file(state: StudyState, clips: Iterable[Clip]) -> str:
    """Return the marks of a study as TOML, and what was named on the desk."""
    marks = write_marks_and_kept(marks_of(state, clips).values())
    named = _named_table(state.named) if state.named is not None else ""
    return "\n".join(part for part in (_HEAD, named, marks) if part)


def _named_table(named: Named) -> str:
    said = {
        "by": named.by, "lesions": named.lesions, "failure": named.failure.value if named.failure else "",
        "treatment": named.treatment, "signs": named.signs, "signs_absent": named.signs_absent,
    }  # fmt: skip
    rows = (f"{key} = {toml_text(value)}" for key, value in said.items() if value)
    return "[named]\n" + "\n".join(rows) + "\n"


def _view(placed: PlaceClip | TakeClipOut | None, blind: JudgeBlind | None) -> str:
    if placed is None:
        return blind.view if blind is not None else ""
    return placed.view if isinstance(placed, PlaceClip) else ""


def _drawn(item: DrawMark) -> DrawnMark:
    return DrawnMark(
        kind=item.kind, frame=item.frame, points=item.points, landmark=item.landmark, label=item.label,
        proposed_spread_px=item.proposed_spread_px,
    )  # fmt: skip
