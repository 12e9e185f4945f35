"""One file's header, read into a clip, into measurements, or into the reason why it cannot be used."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

from fanlight.intake.clip_tags import tags_of
from fanlight.intake.decoders import is_colour, refuse_syntax
from fanlight.intake.dicom_form import REPORT_CLASSES, PixelForm, read_form, refuse_other_objects
from fanlight.intake.dicom_header import DicomSource, open_dicom, text_of
from fanlight.intake.fragments import list_fragments
from fanlight.intake.frame_times import times_of_dicom, times_of_gif, times_of_video
from fanlight.intake.gather import Item
from fanlight.intake.gif_blocks import read_gif_blocks
from fanlight.intake.grey_levels import palette_table
from fanlight.intake.identity_of import acquired_at, identity_of, patient_of
from fanlight.intake.kinds import CONTAINER_WORDS, DICOMS, VIDEOS, Kind
from fanlight.intake.limits import Limits
from fanlight.intake.refused import SEND_AGAIN, FileRefusedError
from fanlight.intake.regions_of import regions_of
from fanlight.intake.sign_of_life import SignOfLife, say_nothing
from fanlight.intake.still_frames import probe_still
from fanlight.intake.structured_report import read_report
from fanlight.intake.video_frames import demuxer_of_file, probe_video
from fanlight.study import Clip, ClipTags, GivenMeasurement, Refusal

_HASH_BYTES = 1024 * 1024
# FFmpeg's names of codecs that keep every level; what was lost before they were used, nobody knows.
_LOSSLESS_CODECS = frozenset({"rawvideo", "ffv1", "huffyuv", "ffvhuff", "utvideo", "png", "gif", "msrle", "qtrle"})
_UNNUMBERED = 0  # the study gives the number


@dataclass(frozen=True, slots=True, kw_only=True)
class Probed:
    """What one file brought. Clips have number 0 until the study is assembled."""

    clips: tuple[Clip, ...] = ()
    measurements: tuple[GivenMeasurement, ...] = ()
    refused: tuple[Refusal, ...] = ()
    notes: tuple[str, ...] = ()


def probe_item(item: Item, limits: Limits, tell: SignOfLife = say_nothing) -> Probed:
    """Read the header of one file.

    Parameters
    ----------
    item : Item
        As `gather` listed it.
    limits : Limits
        What is too large.
    tell : callable, optional
        Called with the megabytes or packets read so far, while a large file is walked through: a sign of life.

    Returns
    -------
    Probed
        One clip, or measurements, or a refusal. Never raises for what the file holds.
    """
    try:
        if item.kind in DICOMS:
            return _probe_dicom(item, limits, tell)
        if item.kind in VIDEOS:
            return _probe_video(item, limits, tell)
        if item.kind is Kind.GIF:
            return _probe_gif(item, limits, tell)
        return _probe_still(item, limits, tell)
    except FileRefusedError as error:
        return Probed(refused=(error.refusal,))
    except OSError as error:
        refusal = Refusal(
            name=item.name,
            expected="a file that can be read",
            found=error.strerror or type(error).__name__,
            remedy="Check that the disk is still there, and try again.",
        )
        return Probed(refused=(refusal,))


def _probe_dicom(item: Item, limits: Limits, tell: SignOfLife) -> Probed:
    with open_dicom(item.path, item.name, item.kind, limits) as source:
        if text_of(source.data, "SOPClassUID") in REPORT_CLASSES:
            return Probed(measurements=read_report(source))
        refuse_other_objects(source)
        form = read_form(source, limits)
        refuse_syntax(source, form)
        palette = palette_table(source.data, form) if form.photometric == "PALETTE COLOR" else None
        if form.photometric == "PALETTE COLOR" and palette is None:
            raise FileRefusedError(
                item.name, "the palette of a palette picture", "none that can be read", SEND_AGAIN, "header"
            )
        regions, misplaced = regions_of(source.data)
        notes = []
        if misplaced:
            notes.append(f"{item.name}: {misplaced} ultrasound region(s) have no place on the picture; not used")
        clip = Clip(
            key=_key_of_pixels(source, form, tell),
            number=_UNNUMBERED,
            name=item.name,
            container="DICOM",
            rows=form.rows,
            cols=form.cols,
            n_frames=form.n_frames,
            is_colour=is_colour(form, palette),
            times=times_of_dicom(source.data, form.n_frames),
            regions=regions,
            tags=tags_of(source),
            acquired_at=acquired_at(source.data),
            identity=identity_of(source.data),
            patient=patient_of(source.data),
            burned_in_identity={"YES": True, "NO": False}.get(text_of(source.data, "BurnedInAnnotation").upper()),
        )
        return Probed(clips=(clip,), notes=tuple(notes))


def _key_of_pixels(source: DicomSource, form: PixelForm, tell: SignOfLife) -> str:
    """Hash the stored pixel bytes, with the numbers that say how to read them."""
    digest = hashlib.sha256(
        f"{form.rows},{form.cols},{form.n_frames},{form.samples},{form.bits_stored},{form.photometric}".encode()
    )
    if source.is_encapsulated:
        pieces = [(fragment.offset, fragment.length) for fragment in list_fragments(source)[0]]
    else:
        # Padding behind the last frame is no part of the picture.
        pieces = [(source.pixel_offset, form.native_frame_bytes * form.n_frames)]
    done = 0
    for offset, length in pieces:
        source.file.seek(offset)
        while length > 0 and (block := source.file.read(min(length, _HASH_BYTES))):
            digest.update(block)
            length -= len(block)
            done += len(block)
            tell(done // _HASH_BYTES)
    return digest.hexdigest()[:16]


def _key_of_file(item: Item, tell: SignOfLife) -> str:
    digest = hashlib.sha256()
    with item.path.open("rb") as file:
        while block := file.read(_HASH_BYTES):
            digest.update(block)
            tell(file.tell() // _HASH_BYTES)
    return digest.hexdigest()[:16]


def _probe_video(item: Item, limits: Limits, tell: SignOfLife) -> Probed:
    with item.path.open("rb") as file:
        facts = probe_video(file, demuxer_of_file(item.path, item.kind), item.name, limits, tell)
    _refuse_long(item, facts.rows * facts.cols * facts.n_frames * (3 if facts.is_colour else 1), limits)
    clip = Clip(
        key=_key_of_file(item, tell),
        number=_UNNUMBERED,
        name=item.name,
        container=CONTAINER_WORDS[item.kind],
        rows=facts.rows,
        cols=facts.cols,
        n_frames=facts.n_frames + facts.is_cut_short,
        is_colour=facts.is_colour,
        times=times_of_video(facts.times_ms, facts.nominal_hz, facts.n_frames),
        tags=ClipTags(lossy=None if facts.codec in _LOSSLESS_CODECS else True, pixel_aspect=facts.pixel_aspect),
    )
    notes = (
        (f"{item.name}: the video ends early; its first {facts.n_frames} frames are used",)
        if facts.is_cut_short
        else ()
    )
    return Probed(clips=(clip,), notes=notes)


def _probe_gif(item: Item, limits: Limits, tell: SignOfLife) -> Probed:
    still = probe_still(item.path, item.kind, item.name, limits)
    try:
        with item.path.open("rb") as file:
            facts = read_gif_blocks(file, limits.frames)
    except ValueError as error:
        raise FileRefusedError(item.name, "a GIF picture", str(error), SEND_AGAIN) from error
    n_frames = len(facts.delays_ms)
    if n_frames == 0:
        raise FileRefusedError(item.name, "a GIF with at least one frame", "none", SEND_AGAIN)
    _refuse_long(item, still.rows * still.cols * n_frames * 3, limits)
    clip = Clip(
        key=_key_of_file(item, tell),
        number=_UNNUMBERED,
        name=item.name,
        container=CONTAINER_WORDS[item.kind],
        rows=still.rows,
        cols=still.cols,
        n_frames=n_frames,
        is_colour=True,
        times=times_of_gif(facts.delays_ms),
    )
    return Probed(clips=(clip,))


def _probe_still(item: Item, limits: Limits, tell: SignOfLife) -> Probed:
    facts = probe_still(item.path, item.kind, item.name, limits)
    clip = Clip(
        key=_key_of_file(item, tell),
        number=_UNNUMBERED,
        name=item.name,
        container=CONTAINER_WORDS[item.kind],
        rows=facts.rows,
        cols=facts.cols,
        n_frames=1,
        is_colour=facts.is_colour,
        tags=ClipTags(lossy=True if item.kind is Kind.JPEG else None),
    )
    notes = (f"{item.name}: page 1 of {facts.n_pages} is used",) if facts.n_pages > 1 else ()
    return Probed(clips=(clip,), notes=notes)


def _refuse_long(item: Item, decoded_bytes: int, limits: Limits) -> None:
    if decoded_bytes > limits.decoded_bytes:
        raise FileRefusedError(
            item.name,
            f"a clip of at most {limits.decoded_bytes / 1e9:.0f} GB when decoded",
            f"{decoded_bytes / 1e9:.0f} GB",
            "Export a shorter clip.",
        )
