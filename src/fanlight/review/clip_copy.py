"""Worker task: write the teaching copy of one clip, without identity in tags or pixels."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fanlight.frames.find_picture import find_picture
from fanlight.frames.overlay import overlay_of, passing_overlay_of, picture_mask
from fanlight.frames.polar import to_grey
from fanlight.frames.screen_text import ScreenReader, ScreenReaderMissingError
from fanlight.intake import FileRefusedError, Item, Limits, open_frames
from fanlight.intake.deidentify import EmptyClipError, deidentify_clip
from fanlight.intake.deidentify_key import DeidentificationKey
from fanlight.intake.deidentify_pixels import PixelPlan, plan_pixels, plan_without_reading
from fanlight.intake.deidentify_report import ClipRemoval
from fanlight.intake.deidentify_tags import KeepList, animal_of
from fanlight.intake.dicom_header import open_dicom
from fanlight.intake.kinds import DICOMS
from fanlight.review.worker import Beat
from fanlight.study import Clip, FrameDamageError, House, Picture, Refusal, ScreenText

_CHUNK = 32
_TEXT_WITHIN_S = 90.0
_WRITE_WITHIN_S = 120.0
# The mark of the edge of the picture is blurred by compression; blanking must not cut into it (see frames.overlay).
_EDGE_PX = 12.0


def _overlays(
    item: Item, clip: Clip, limits: Limits, beat: Beat
) -> tuple[Picture | None, list[NDArray[np.uint8]], tuple[int, int]]:
    """Return the picture and everything that stood on the screen in any frame."""
    picture: Picture | None = None
    overlays: list[NDArray[np.uint8]] = []
    size = (clip.rows, clip.cols)
    with open_frames(item, clip, limits) as frames:
        try:
            for chunk in frames.chunks(_CHUNK):
                beat("looking for text", done=chunk.first)
                if not overlays:
                    picture, _, _ = find_picture(to_grey(chunk.pixels), clip.regions)
                    size = (chunk.pixels.shape[1], chunk.pixels.shape[2])
                overlays.append(overlay_of(chunk.pixels))
                passing = passing_overlay_of(chunk.pixels, picture)
                if passing is not None:
                    overlays.append(passing)
        except FrameDamageError:
            # What came before the damage is copied; deidentify_clip says where the copy ends.
            pass
    return picture, overlays, size


def _plan(
    picture: Picture | None,
    overlays: list[NDArray[np.uint8]],
    size: tuple[int, int],
    house: House,
    blank_inside: bool,
    beat: Beat,
) -> PixelPlan:
    try:
        reader = ScreenReader(house)
    except ScreenReaderMissingError:
        return plan_without_reading(~picture_mask(picture, *size, margin_px=_EDGE_PX))
    texts: list[ScreenText] = []
    for overlay in overlays:
        beat("reading the screen", within_s=_TEXT_WITHIN_S)
        texts += reader.read(overlay, picture)
    return plan_pixels(texts, *size, blank_inside=blank_inside)


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
        picture, overlays, size = _overlays(item, clip, limits, beat)
        plan = _plan(picture, overlays, size, house, blank_inside, beat)
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
