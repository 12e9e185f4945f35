"""The stages of reading one clip, and the key under which each result is kept.

A key changes when anything the result rests on changes: the code's version, the stored pixels and the facts of
the file, marks, the results upstream, the animal's size, and the House tables that the stage reads. Change one
threshold and exactly the stages that read it run again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from importlib.util import find_spec

from fanlight.critique.doppler.families import READ_AXES, READ_WHAT_IS_TOLD
from fanlight.critique.every_family import EVERY_FAMILY
from fanlight.frames import clip_time, layout_of, screen_text
from fanlight.frames.text_network import PACKAGE
from fanlight.measure import from_strip
from fanlight.recognise import mode, named_view, picture_reading
from fanlight.recognise.picture_network import network_hash
from fanlight.review.cache import stage_key
from fanlight.study import SPECTRA, Clip, FileMarks, House, Identity, Mode, Patient, SpatialFormat
from fanlight.study.codec import to_bytes

# House tables that each stage reads; a test runs the stages with a House that records what was asked of it.
LAYOUT_TABLES = ("screen_words",)
VIEW_TABLES = ("views",)


def family_tables(family: str) -> tuple[str, ...]:
    """Return the House tables that a criterion family reads."""
    return (f"criteria/{family}",)


@dataclass(frozen=True, slots=True, kw_only=True)
class StageKeys:
    """Where the results of one clip are kept."""

    frames: str
    layout: str
    mode: str
    view: str
    time: str
    picture: str
    measured: str
    families: tuple[tuple[str, str], ...]

    def all(self) -> tuple[str, ...]:
        """Every key."""
        own = (self.frames, self.layout, self.mode, self.view, self.time, self.picture, self.measured)
        return (*own, *dict(self.families).values())


def _facts(clip: Clip) -> str:
    """Everything about a clip that a stage may read, without who it is and where it stands in the study."""
    bare = replace(clip, number=1, name="", identity=Identity(), patient=Patient(), acquired_at=None)
    return hashlib.sha256(to_bytes(bare)).hexdigest()


def stage_keys(clip: Clip, patient: Patient, marks: FileMarks | None, house: House) -> StageKeys:
    """Return the keys of all stages of one clip."""
    facts = _facts(clip)
    scale_marks = repr(marks.scale) if marks and marks.scale else ""
    view_mark = repr((marks.view, marks.valve)) if marks and (marks.view or marks.valve) else ""
    layout = stage_key(
        "layout",
        layout_of.VERSION,
        str(screen_text.VERSION),
        facts,
        scale_marks,
        house.fingerprint(LAYOUT_TABLES),
        *(() if _reads_text() else ("no reader",)),  # what was kept without one is read anew once there is one
    )
    mode_key = stage_key("mode", mode.VERSION, layout, *((marks.mode,) if marks and marks.mode else ()))
    time = stage_key("time", clip_time.VERSION, layout)
    # A text on the screen that is the animal's name is no view, so names decide; only their hash goes in.
    passed_over = hashlib.sha256(repr(named_view.names_passed_over(clip.identity)).encode()).hexdigest()
    view = stage_key("view", named_view.VERSION, layout, view_mark, passed_over, house.fingerprint(VIEW_TABLES))
    animal = f"{patient.species} {patient.weight_kg}"
    # Only spectra are judged by what is told of them: naming the view of a picture reads nothing again.
    told = stage_key("told", 2, view, repr(marks.drawn) if marks else "") if _may_be_spectrum(clip, marks) else ""
    axes = repr(marks.axes) if marks and marks.axes else ""
    families = tuple(
        (
            family.name,
            stage_key(
                f"critique.{family.name}",
                family.version,
                mode_key,
                time,
                animal,
                told if family.name in READ_WHAT_IS_TOLD else "",
                *((axes,) if axes and family.name in READ_AXES else ()),
                house.fingerprint(family_tables(family.name)),
            ),
        )
        for family in EVERY_FAMILY
    )
    return StageKeys(
        frames=stage_key("frames", 1, facts),
        layout=layout,
        mode=mode_key,
        view=view,
        time=time,
        picture=stage_key("picture", picture_reading.VERSION, mode_key, time, network_hash()),
        measured=stage_key(
            "measured",
            from_strip.VERSION,
            mode_key,
            *(_told_of_strip(view, marks, house) if _may_be_strip(clip, marks) else ()),
        ),
        families=families,
    )


def _reads_text() -> bool:
    """Whether the packages that read screen text are there; opens nothing."""
    return all(find_spec(package) is not None for package in ("onnxruntime", PACKAGE))


def _told_of_strip(view: str, marks: FileMarks | None, house: House) -> tuple[str, ...]:
    return view, repr(marks.axes) if marks and marks.axes else "", house.fingerprint(from_strip.TABLES)


def _may_be_strip(clip: Clip, marks: FileMarks | None) -> bool:
    """Whether the file or a hand says that there are axes: without them nothing is measured by itself."""
    is_m_mode = any(region.spatial_format == SpatialFormat.M_MODE for region in clip.regions)
    return is_m_mode or _may_be_spectrum(clip, marks) or (marks is not None and marks.mode is Mode.M_MODE)


def _may_be_spectrum(clip: Clip, marks: FileMarks | None) -> bool:
    """Whether the file or a hand says so; an M-mode of which a hand marked the time is among them."""
    is_told = any(region.spatial_format == SpatialFormat.SPECTRAL for region in clip.regions)
    return is_told or (marks is not None and (bool(marks.axes) or marks.mode in SPECTRA))


def missing_families(keys: StageKeys, found: Mapping[str, bytes]) -> tuple[str, ...]:
    """Return the names of the families whose results are not known."""
    return tuple(name for name, key in keys.families if key not in found)
