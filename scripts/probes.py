"""Which scripts hold other code against today's, of which files each answers, and which files none asks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Probe:
    """A script that prints a hash of each thing that some rooms of the code give."""

    script: str  # is given a folder of its own, the same for both codes
    rooms: Mapping[str, str]  # a folder or a file, and its name for a reader; of any other file it proves nothing
    things: str


PROBES = (
    Probe(
        script="measure/_same_heart.py",
        rooms={
            "src/fanlight/heart/": "the heart and its chest",
            "src/fanlight/simulate/machine/animal_scene.py": "the animal before a probe",
            "src/fanlight/simulate/spectral/": "its spectra",
        },
        things="that heart, chest and spectra give",
    ),
    Probe(
        script="measure/_same_review.py",
        rooms={
            "src/fanlight/frames/": "what is read off frames",
            "src/fanlight/critique/": "the criteria",
            "src/fanlight/recognise/": "recognition",
            "src/fanlight/review/clip_pass.py": "the pass over a clip",
        },
        things="that a review finds in clips",
    ),
    Probe(
        script="measure/_same_causes.py",
        rooms={"src/fanlight/coach/causes/": "the causes"},
        things="that invented studies come out as",
    ),
    Probe(
        script="measure/_same_strips.py",
        rooms={
            "measure/_m_mode_strips.py": "M-mode strips of the ventricle",
            "measure/_valve_strips.py": "those of the mitral valve",
            "measure/_root_strips.py": "those of the aorta",
        },
        things="that strips show, or that are true of them,",
    ),
)
EVERY_ROOM = tuple(room for probe in PROBES for room in probe.rooms)
# Lies in a room and is not asked: a change there is one of another room. A test holds the rest to what probes import.
UNASKED = tuple(f"src/fanlight/{name}" for name in (
    "heart/fit/", "heart/calipers/", "heart/cable_end.py", "heart/pose_difference.py",
    "critique/coverage.py", "critique/ladder_rules.py", "critique/doppler/beats_on_strip.py",
    "coach/causes/animal.py", "coach/causes/corrections.py", "coach/causes/where_cut.py",
))  # fmt: skip
# These tell how long something takes, which equal results do not prove.
TIMED = tuple(f"measure/{name}.py" for name in (
    "desk_speed", "doppler_speed", "performance", "pose_starts", "recognition_speed", "screen_text", "simulator_speed",
))  # fmt: skip


def is_asked(name: str) -> bool:
    """Return whether a probe asks what a file gives; weights and other data in a room are asked by none."""
    return lies_in_room(name) and name.endswith(".py") and not name.startswith(UNASKED)


def lies_in_room(name: str) -> bool:
    """Return whether a file lies in a room that a probe answers for."""
    return name.startswith(EVERY_ROOM)
