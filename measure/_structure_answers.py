"""What the criteria from masks say of a clip, beside what they would say if the masks were true: one record a clip."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext
from fanlight.critique.picture_masks import FAMILY, NAME, MaskTables, read_mask_tables, with_masks
from fanlight.recognise.picture_network import PictureNetwork
from fanlight.recognise.structure_summary import summarise
from fanlight.reference.criteria import read_family
from fanlight.reference.load import load_house
from fanlight.study import (
    BeatSource,
    Clip,
    ClipReading,
    ClipTime,
    Finding,
    FrameTimes,
    Layout,
    Mode,
    ModeReading,
    Patient,
    PictureReading,
    Sector,
    TimeSource,
    Verdict,
    ViewReading,
    ViewSource,
)
from measure._structure_clips import MaskClip
from training.label_sets import Structure

NAMES = [structure.name.lower() for structure in Structure]
_TIME = ClipTime(times=FrameTimes(times_ms=(), source=TimeSource.NONE), beat_source=BeatSource.NONE)
_MODE = ModeReading(mode=Mode.TWO_D, probability=1.0, reasons=())


@lru_cache(maxsize=1)
def _tables() -> MaskTables:
    return read_mask_tables(load_house())


def record_of(network: PictureNetwork, clip: MaskClip) -> dict[str, Any]:
    """Return the record of a clip; the view that the hand was after is given, as by a tag."""
    sample, animal = clip.sample, clip.shot.subject.animal
    said = network.ask(sample.frames, sample.inside)["structures"]
    true = (sample.masks[:, None] == np.arange(len(NAMES))[None, :, None, None]).astype(np.float32)
    answers = {item.criterion: item for item in _judged(said, network.facts["structures"], clip)}
    truth = {item.criterion: item for item in _judged(true, NAMES, clip)}
    return {
        "seed": clip.shot.subject.seed, "view": clip.shot.view, "fault": clip.fault, "strength": clip.strength,
        "heart": animal.heart.value, "species": animal.species.value,
        "criteria": {key: _beside(answers[key], truth[key]) for key in truth},
    }  # fmt: skip


def _beside(said: Finding, true: Finding) -> dict[str, Any]:
    return {
        "judged": said.verdict is not Verdict.NOT_ASSESSABLE,
        "raised": said.verdict in (Verdict.BORDERLINE, Verdict.MISSED),
        "value": said.value, "true": true.value,
    }  # fmt: skip


def _judged(shares: NDArray[np.float32], names: list[str], clip: MaskClip) -> tuple[Finding, ...]:
    sector = clip.sector
    kept = summarise(shares, names, range(len(shares)), sector)
    picture = PictureReading(structures=kept.structures, unsure_share=kept.unsure_share, network="measured")
    return with_masks(_reading(picture, sector, clip.shot.view, len(shares)), _tables()).findings


def _reading(picture: PictureReading, sector: Sector, view: str, n_frames: int) -> ClipReading:
    """Return a reading of a clip whose screen is the square itself."""
    side = 160
    file = Clip(
        key="drawn", number=1, name="drawn", container="DICOM", rows=side, cols=side, n_frames=n_frames, is_colour=False
    )  # fmt: skip
    layout = Layout(
        rows=side, cols=side, picture=sector, picture_confidence=1.0, picture_reason="drawn", scale=None,
        scale_reason="drawn",
    )  # fmt: skip
    context = ClipContext(
        clip=file, patient=Patient(), layout=layout, mode=_MODE, criteria=read_family(load_house(), NAME)
    )
    return ClipReading(
        clip=file, layout=layout, mode=_MODE, view=ViewReading(view=view, source=ViewSource.SERIES_TEXT), time=_TIME,
        findings=FAMILY.start(context).finish(_TIME), verdicts=(), frames_read=n_frames, picture=picture,
    )  # fmt: skip
