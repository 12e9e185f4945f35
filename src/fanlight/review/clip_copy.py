"""Worker task: write the teaching copy of one clip, without identity in tags or pixels."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path

from fanlight.frames.find_picture import find_picture_on
from fanlight.frames.overlay import picture_mask
from fanlight.frames.painted import look_at_pixels
from fanlight.frames.screen_text import ScreenReader, ScreenReaderMissingError
from fanlight.frames.screen_text import read_clip as read_every_text
from fanlight.intake import FileRefusedError, Item, Limits, open_frames
from fanlight.intake.deidentify import EmptyClipError, deidentify_clip
from fanlight.intake.deidentify_key import DeidentificationKey
from fanlight.intake.deidentify_pixels import PixelPlan, plan_pixels, plan_without_reading
from fanlight.intake.deidentify_report import ClipRemoval
from fanlight.intake.deidentify_tags import KeepList, animal_of
from fanlight.intake.dicom_header import open_dicom
from fanlight.intake.kinds import DICOMS
from fanlight.review.worker import Beat
from fanlight.study import Clip, FrameChunk, FrameDamageError, Frames, House, Refusal

_CHUNK = 32
_TEXT_WITHIN_S = 90.0
_WRITE_WITHIN_S = 120.0
# The mark of the edge of the picture is blurred by compression; blanking must not cut into it (see frames.overlay).
_EDGE_PX = 12.0


def _shown_chunks(frames: Frames, beat: Beat) -> Iterator[FrameChunk]:
    """Yield every chunk up to a damaged frame; the copy ends there too, and `deidentify_clip` says so."""
    with contextlib.suppress(FrameDamageError):
        for chunk in frames.chunks(_CHUNK):
            beat("reading the screen", within_s=_TEXT_WITHIN_S, done=chunk.first)
            yield chunk


def _plan(item: Item, clip: Clip, house: House, blank_inside: bool, limits: Limits, beat: Beat) -> PixelPlan:
    with open_frames(item, clip, limits) as frames:
        first = next(iter(frames.chunks(_CHUNK)))
        rows, cols = first.pixels.shape[1:3]
        picture, _, _ = find_picture_on(look_at_pixels(first.pixels), clip.regions)
    try:
        reader = ScreenReader(house)
    except ScreenReaderMissingError:
        return plan_without_reading(~picture_mask(picture, rows, cols, margin_px=_EDGE_PX))
    with open_frames(item, clip, limits) as frames:
        texts = read_every_text(reader, _shown_chunks(frames, beat), picture)
    return plan_pixels(texts, rows, cols, blank_inside=blank_inside)


def copy_clip(
    item: Item,
    clip: Clip,
    house: House,
    key_folder: Path,
    animal: str,
    out_dir: Path,
    blank_inside: bool,
    limits: Limits,
    *,
    beat: Beat,
) -> ClipRemoval | Refusal:
    """Write the teaching copy of one clip; worker task.

    Parameters
    ----------
    item, clip : Item, Clip
        Where the clip lies, and what was found in its header.
    house : House
        Tables "screen_words" and "confidentiality".
    key_folder : Path
        Folder of the key.
    animal : str
        What tells this animal from others; "" lets the file's own tags say it.
    out_dir : Path
        Folder of the copies.
    blank_inside : bool
        Blank text on the picture too, instead of flagging it.
    limits : Limits
        What is too large.
    """
    beat("reading the screen", within_s=_TEXT_WITHIN_S)
    key = DeidentificationKey.load_or_create(key_folder)
    keep = KeepList.of(house)
    try:
        plan = _plan(item, clip, house, blank_inside, limits, beat)
        beat("writing the copy", within_s=_WRITE_WITHIN_S)
        data = None
        if item.kind in DICOMS:
            with open_dicom(item.path, item.name, item.kind, limits) as source:
                data = source.data
        with open_frames(item, clip, limits) as frames:
            return deidentify_clip(
                clip,
                data,
                frames,
                plan,
                key=key,
                keep=keep,
                animal=animal or (animal_of(data) if data is not None else "") or clip.key,
                out_dir=out_dir,
            )
    except FileRefusedError as error:
        return error.refusal
    except (EmptyClipError, FrameDamageError) as error:
        return Refusal(
            name=item.name,
            expected="at least one frame that can be decoded",
            found=str(error),
            remedy="Ask for the original file again.",
        )
