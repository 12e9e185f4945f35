"""From files to a study: the only part of Fanlight that opens pictures.

>>> from pathlib import Path
>>> from tempfile import TemporaryDirectory
>>> from pydicom.data import get_testdata_file
>>> path, limits = Path(get_testdata_file("examples_ybr_color.dcm")), Limits()
>>> with TemporaryDirectory() as scratch:
...     gathered = gather(path, Path(scratch), limits)
...     probed = [probe_item(item, limits) for item in gathered.items]
...     study = assemble(path.name, gathered, probed)
...     with open_frames(gathered.items[0], study.clips[0], limits) as frames:
...         shapes = [chunk.pixels.shape for chunk in frames.chunks(size=16)]
>>> study.clips[0].n_frames, study.clips[0].container, shapes
(30, 'DICOM', [(16, 240, 320, 3), (14, 240, 320, 3)])

`gather` runs on first bytes only; `probe_item` and `open_frames` meet hostile bytes and belong in a worker process.
"""

from fanlight.intake.frames_of import open_frames
from fanlight.intake.gather import Gathered, Item, gather, gather_named
from fanlight.intake.kept_reading import read_sheet
from fanlight.intake.kept_writing import write_sheet
from fanlight.intake.kinds import Kind
from fanlight.intake.limits import Limits
from fanlight.intake.open_item import Probed, probe_item
from fanlight.intake.refused import FileRefusedError
from fanlight.intake.request_sheet import (
    RequestOptions,
    RequestSheet,
    marks_by_clip,
)
from fanlight.intake.shown_frames import FrameForm, ShownFrame, ShownFrames, open_shown_frames
from fanlight.intake.study_of import assemble

__all__ = [
    "FileRefusedError",
    "FrameForm",
    "Gathered",
    "Item",
    "Kind",
    "Limits",
    "Probed",
    "RequestOptions",
    "RequestSheet",
    "ShownFrame",
    "ShownFrames",
    "assemble",
    "gather",
    "gather_named",
    "marks_by_clip",
    "open_frames",
    "open_shown_frames",
    "probe_item",
    "read_sheet",
    "write_sheet",
]
