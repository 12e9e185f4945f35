"""Which view a clip is, where somebody or something names it; nothing is recognised from the pixels here."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from fanlight.reference.views import ViewMatch, match_view_code, match_view_text, read_views
from fanlight.reference.wording import plain
from fanlight.study import NOT_KNOWN, Clip, FileMarks, House, Identity, ScreenText, Valve, ViewReading, ViewSource

VERSION = 1

_SURE_TEXT = 0.5  # engineering judgement: below this the reader of the screen has guessed letters


def names_passed_over(identity: Identity) -> tuple[str, ...]:
    """Return the names and numbers of an identity as texts are compared with them; all that a view rests on of it."""
    names = (identity.animal_name, identity.case_number, identity.owner, identity.practice)
    return tuple(plain(name) for name in names)


def _is_identity(text: str, identity: Identity) -> bool:
    """Whether a text on the screen is the name or number of an animal, owner or practice."""
    return any(name and plain(text) == name for name in names_passed_over(identity))


def _screen_matches(texts: Iterable[ScreenText], clip: Clip, house: House) -> tuple[ViewMatch, ...]:
    return tuple(
        match_view_text(house, text.text)
        for text in texts
        if text.confidence >= _SURE_TEXT and not _is_identity(text.text, clip.identity)
    )


def _joined(matches: Sequence[ViewMatch]) -> ViewMatch:
    """Return the one view that several texts of one source name, or why none is taken."""
    named = tuple(dict.fromkeys(match.view for match in matches if match.view))
    valves = tuple(dict.fromkeys(match.valve for match in matches if match.valve is not None))
    valve = valves[0] if len(valves) == 1 else None
    if len(named) == 1:
        own = [match.valve for match in matches if match.view and match.valve is not None]
        return ViewMatch(view=named[0], valve=own[0] if own else valve)
    if len(named) > 1:
        return ViewMatch(valve=valve, reason="names more than one view")
    reasons = [match.reason for match in matches if match.reason and "neither the window" not in match.reason]
    return ViewMatch(valve=valve, reason=reasons[0] if reasons else "")


def _by_source(
    clip: Clip, texts: Sequence[ScreenText], marks: FileMarks | None, house: House
) -> tuple[tuple[ViewSource, ViewMatch], ...]:
    """Return what each source says, most trusted first; sources that say nothing are left out."""
    tags = clip.tags
    said: list[tuple[ViewSource, ViewMatch]] = []
    if marks is not None and (marks.view or marks.valve):
        match = match_view_text(house, marks.view)
        if marks.view and not match.view:
            match = replace(match, reason=f"{marks.view!r} {match.reason or 'names no view of the table'}")
        said.append((ViewSource.MARKS_FILE, replace(match, valve=marks.valve or match.valve)))
    if tags.view_code is not None and tags.view_code[0]:
        modifiers = [value for value, _, _ in tags.view_modifiers]
        said.append((ViewSource.VIEW_CODE, match_view_code(house, tags.view_code[0], modifiers)))
    for source, text in ((ViewSource.VIEW_NAME, tags.view_name), (ViewSource.SERIES_TEXT, tags.series_text)):
        if text.strip() and not _is_identity(text, clip.identity):
            said.append((source, match_view_text(house, text)))
    said.append((ViewSource.SCREEN_TEXT, _joined(_screen_matches(texts, clip, house))))
    return tuple(said)


def _valve(said: Sequence[tuple[ViewSource, ViewMatch]]) -> Valve | None:
    return next((match.valve for _, match in said if match.valve is not None), None)


def read_named_view(clip: Clip, texts: Sequence[ScreenText], marks: FileMarks | None, house: House) -> ViewReading:
    """Return the view that the marks, the DICOM attributes or the words on the screen name.

    Where they disagree the most trusted one counts and the reason says so. Where none names a view, the view stays
    unknown, with what was found.

    Parameters
    ----------
    clip : Clip
        Its tags may hold View Code (0054,0220) with modifiers, View Name (0008,2127) and series text.
    texts : sequence of ScreenText
        Words on the screen; names of the animal, its owner or practice are passed over.
    marks : FileMarks or None
        What a person set for this file.
    house : House
        Table "views".
    """
    said = _by_source(clip, texts, marks, house)
    titles = {key: view.title for key, view in read_views(house).items()}
    naming = [(source, match) for source, match in said if match.view]
    valve = _valve(said)
    if not naming:
        reasons = [f"{source}: {match.reason}" for source, match in said if match.reason]
        if not reasons:
            return replace(NOT_KNOWN, valve=valve)
        return replace(NOT_KNOWN, valve=valve, reason="; ".join(reasons))
    source, match = naming[0]
    notes = [match.reason] if match.reason else []
    notes += [
        f"{other} says “{titles[different.view]}”, which is trusted less"
        for other, different in naming[1:]
        if different.view != match.view
    ]
    more_trusted = said[: [item for item, _ in said].index(source)]
    notes += [f"{other}: {nothing.reason}" for other, nothing in more_trusted if nothing.reason]
    return ViewReading(view=match.view, source=source, probability=1.0, reason="; ".join(notes), valve=valve)
