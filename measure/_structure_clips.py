"""Clips on which the criteria from the masks are measured: views by a steady hand, and the same spoilt on purpose.

Subjects, machines and steady poses are those of the measurement of the picture network.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from fanlight.recognise.picture_square import square_of
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.faults import faults
from fanlight.simulate.machine.beams import line_geometry
from fanlight.study import Sector
from measure._criterion_clips import VIEWS, draw_subject, views_of
from measure._recognition_clips import FRAMES, shot_of
from training.draw import Sample, draw
from training.randomise import PoseKind, Shot, name_at, subject_of

VIEWS_A_SUBJECT = 4
# What pushes a chamber out of the picture, leaves room below the heart, or lays lung over it. Turned and tilted planes
# are other views, about which these criteria say nothing.
PUSHED = ("slide_dorsal", "slide_ventral", "rock_plus", "rock_minus", "depth_small")
DEEP = "depth_large"
LUNG = "lung_in_the_way"
FAULTS = (*PUSHED, DEEP, LUNG)
STRENGTHS = (3, 4, 5)  # a plain fault and worse


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MaskClip:
    """A clip, the fault that it was given ("" none), and the truth of it."""

    shot: Shot
    fault: str
    strength: int
    sample: Sample

    @property
    def sector(self) -> Sector:
        """Where the picture lies in the square."""
        setting = self.shot.setting
        lines = line_geometry(setting.probe, setting.console)
        return square_of(lines.on_screen(apex_row_px=0.0, apex_col_px=0.0, mm_per_px=1.0)).sector


def clips_of(seed: int, ring: Ring) -> Iterator[MaskClip]:
    """Draw the clips of a subject, one after the other."""
    drawn = draw_subject(seed, ring)
    subject = subject_of(seed, drawn.animal)
    rng = np.random.default_rng([seed, 149])
    for view in views_of(seed)[:VIEWS_A_SUBJECT]:
        steady = shot_of(subject, drawn.generator, view, PoseKind.STANDARD, drawn.start_ms, rng)
        yield _drawn(steady, "", 0)
        for key in FAULTS:
            strength = int(rng.choice(STRENGTHS))
            spoilt = _spoilt(steady, key, strength, rng)
            if spoilt is not None:
                yield _drawn(spoilt, key, strength)


def _spoilt(shot: Shot, key: str, strength: int, rng: np.random.Generator) -> Shot | None:
    """Return the clip with a fault; None where the hand would leave this side of the chest."""
    animal = shot.subject.animal
    try:
        setting = faults.apply(faults.make(key, strength, animal, rng), shot.setting, animal)
    except ValueError:
        return None
    return replace(shot, setting=setting, named=name_at(shot.subject, setting.pose, shot.start_ms))


def _drawn(shot: Shot, fault: str, strength: int) -> MaskClip:
    rng = np.random.default_rng([shot.subject.seed, VIEWS.index(shot.view), 151])  # a fault leaves the speckle as it is
    return MaskClip(shot=shot, fault=fault, strength=strength, sample=draw(shot, rng, n_frames=FRAMES))
