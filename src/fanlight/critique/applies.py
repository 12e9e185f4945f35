"""Whether the criteria of a two-dimensional picture can be asked of a clip at all, and if not, why."""

from __future__ import annotations

from fanlight.critique.accumulator import ClipContext, Family, not_assessable
from fanlight.study import MODE_WORDS, Finding, Mode


def why_not_picture(context: ClipContext) -> str:
    """Return why criteria of a two-dimensional picture do not apply to this clip, or "" when they do."""
    mode = context.mode.mode
    if mode is None:
        return "the mode of this clip is not sure"
    if mode is Mode.NO_CONTACT:
        return "the probe has no patient contact"
    if not mode.is_moving_picture:
        return f"this clip is {MODE_WORDS[mode]}, not a two-dimensional picture"
    if context.layout.picture is None:
        return f"the picture was not found on the screen: {context.layout.picture_reason}"
    return ""


def has_colour_overlay(context: ClipContext) -> bool:
    """Whether Doppler colour may lie over the grey picture and has to be left out."""
    return context.clip.is_colour and context.mode.mode in (Mode.COLOUR, Mode.POWER)


def none_assessable(context: ClipContext, family: Family, reason: str) -> tuple[Finding, ...]:
    """Return "not assessable" for every criterion of the family, with one reason."""
    return tuple(not_assessable(context, family, key, reason) for key in context.criteria)
