"""Clips that show the left ventricle in its short axis: each such view by a steady hand, and one of them displaced."""

from __future__ import annotations

import numpy as np

from fanlight.simulate.clip.ring import Ring
from measure._criterion_clips import draw_subject
from measure._recognition_answers import LV_VIEWS
from measure._recognition_clips import shot_of
from training.randomise import PoseKind, Shot, subject_of


def ventricle_shots(seed: int, ring: Ring) -> list[Shot]:
    """Return the clips of a subject, before they are drawn; the displaced view goes by turns of the seeds."""
    drawn = draw_subject(seed, ring)
    subject = subject_of(seed, drawn.animal)
    rng = np.random.default_rng([seed, 173])
    planes = [*((view, PoseKind.STANDARD) for view in LV_VIEWS), (LV_VIEWS[seed % 2], PoseKind.DISPLACED)]
    return [shot_of(subject, drawn.generator, view, kind, drawn.start_ms, rng) for view, kind in planes]
