"""How each tissue answers a pulse: scattering, impedance, attenuation, texture.

Scattering is in dB against heart muscle seen across its fibres. Heart, chest wall, fat, vessel, leaflets and blood: by
eye on rendered pictures (engineering judgement) inside the usual order of echo strengths (common practice, no source).
Attenuation at 1 MHz, one way: the tissue table of [ATTENUATION2023]; effusion, cartilage, pericardium, leaflets and
vessel walls are not in it (engineering judgement: fluid hardly attenuates, cartilage dims, collagen like muscle).
Impedance, effective: textbook round figures from memory for blood (1.61) and muscle (1.70); collagen-rich sheets are
higher, so that they outshine a wall; fat lies nearer to muscle, bone (7) and lung (0.25) nearer to soft tissue than
they are, because their surfaces are rough and mirror only in part (engineering judgement).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np

from fanlight.heart.tissue import BLOOD, MYOCARDIUM, Tissue

Array = Any

# A border's echo falls as cos^n of its slope. Heart borders are a little rough on the scale of a wavelength; bone and
# air sacs (0.1 to 0.2 mm) are wholly so, and give back most of what reaches them: they shine from the side too
# (engineering judgement; 2 is Lambert's cosine, in amplitude, on the way in and out).
SMOOTH_POWER, ROUGH_POWER = 6.0, 2.0
N_LABELS = 256  # labels are one byte
SILENT_DB = -120.0  # no echo


class Texture(StrEnum):
    """Slow change of echo strength inside a tissue, besides speckle."""

    NONE = "none"
    MUSCLE = "muscle"  # bundles
    LAYERED = "layered"  # sheets along the skin
    PATCHY = "patchy"


# standard deviation dB, correlation length along the beam mm, across it mm; by eye (engineering judgement)
TEXTURES: dict[Texture, tuple[float, float, float]] = {
    Texture.NONE: (0.0, 2.0, 2.0),
    Texture.MUSCLE: (2.2, 1.1, 3.0),
    Texture.LAYERED: (4.0, 0.9, 9.0),
    Texture.PATCHY: (3.0, 2.5, 4.0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Echo:
    """One tissue's answer."""

    scatter_db: float
    impedance_mrayl: float
    attenuation_db: float  # dB/cm/MHz, one way
    texture: Texture = Texture.NONE
    along_fibres_db: float = 0.0  # change where the wall runs along the beam: fibres then scatter away from the probe
    gaps_db: float = 0.0  # standard deviation of the smooth reflection over some millimetres
    mirror_power: float = SMOOTH_POWER
    is_fluid: bool = False  # its speckle changes from frame to frame


_BLOOD = Echo(scatter_db=-31.0, impedance_mrayl=1.61, attenuation_db=0.15, is_fluid=True)
_MUSCLE = Echo(
    scatter_db=0.0, impedance_mrayl=1.70, attenuation_db=0.52, texture=Texture.MUSCLE, along_fibres_db=-9.0, gaps_db=2.0
)
_ATRIAL = Echo(
    scatter_db=0.0, impedance_mrayl=1.71, attenuation_db=0.52, texture=Texture.MUSCLE, along_fibres_db=-6.0, gaps_db=3.0
)
_VESSEL = Echo(scatter_db=4.0, impedance_mrayl=1.76, attenuation_db=0.6, gaps_db=2.5)
_LEAFLET = Echo(scatter_db=1.0, impedance_mrayl=1.79, attenuation_db=0.6, gaps_db=2.0)
_CHORDAE = Echo(scatter_db=-2.0, impedance_mrayl=1.76, attenuation_db=0.6, gaps_db=3.0)
_CHEST = Echo(scatter_db=3.0, impedance_mrayl=1.70, attenuation_db=0.8, texture=Texture.LAYERED, gaps_db=4.0)
_BONE = Echo(scatter_db=6.0, impedance_mrayl=3.5, attenuation_db=15.0, gaps_db=2.0, mirror_power=ROUGH_POWER)

ECHOES: dict[Tissue, Echo] = {
    **dict.fromkeys(BLOOD, _BLOOD),
    **dict.fromkeys(MYOCARDIUM, _MUSCLE),
    Tissue.OUTSIDE: Echo(scatter_db=SILENT_DB, impedance_mrayl=1.63, attenuation_db=0.5),
    Tissue.CHEST_WALL: _CHEST,
    Tissue.RIB: _BONE,
    Tissue.CARTILAGE: Echo(scatter_db=-4.0, impedance_mrayl=1.9, attenuation_db=3.0, gaps_db=3.0),
    Tissue.STERNUM: _BONE,
    # what the beam meets behind the pleura is not tissue but repeats: see lung.py
    Tissue.LUNG: Echo(scatter_db=-12.0, impedance_mrayl=1.0, attenuation_db=0.5, texture=Texture.PATCHY, gaps_db=2.0,
        mirror_power=ROUGH_POWER,
    ),
    Tissue.FAT: Echo(
        scatter_db=2.0, impedance_mrayl=1.60, attenuation_db=0.63, texture=Texture.LAYERED, gaps_db=3.0
    ),
    Tissue.LIVER: Echo(scatter_db=-3.0, impedance_mrayl=1.67, attenuation_db=0.5, texture=Texture.PATCHY),
    Tissue.DIAPHRAGM: Echo(scatter_db=4.0, impedance_mrayl=1.85, attenuation_db=0.6, gaps_db=4.0),
    # a sheet of parallel collagen: bright by its borders, which mirror, not by what lies between them
    Tissue.PERICARDIUM: Echo(
        scatter_db=-3.0, impedance_mrayl=1.92, attenuation_db=0.6, texture=Texture.PATCHY, gaps_db=6.0
    ),
    Tissue.EFFUSION: Echo(scatter_db=-46.0, impedance_mrayl=1.55, attenuation_db=0.02, is_fluid=True),
    Tissue.MITRAL_CHORDAE: _CHORDAE,
    Tissue.TRICUSPID_CHORDAE: _CHORDAE,
    Tissue.MITRAL_SEPTAL_LEAFLET: _LEAFLET,
    Tissue.MITRAL_PARIETAL_LEAFLET: _LEAFLET,
    Tissue.TRICUSPID_LEAFLET: _LEAFLET,
    Tissue.AORTIC_CUSP: _LEAFLET,
    Tissue.PULMONIC_CUSP: _LEAFLET,
    Tissue.LA_WALL: _ATRIAL,
    Tissue.RA_WALL: _ATRIAL,
    Tissue.ATRIAL_SEPTUM: _ATRIAL,
    Tissue.AORTIC_WALL: _VESSEL,
    Tissue.PULMONARY_WALL: _VESSEL,
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EchoTable:
    """The same by label, as arrays of shape (256,) to look up in."""

    solid: Array  # scattered amplitude of what keeps its speckle
    fluid: Array  # scattered amplitude of what does not
    impedance: Array
    attenuation: Array
    texture_db: Array
    texture_along: Array  # 1 / correlation length, 1/mm
    texture_across: Array
    along_fibres_db: Array
    gaps_db: Array
    mirror_power: Array


def echo_table(xp: Any, echoes: dict[Tissue, Echo] | None = None) -> EchoTable:
    """Return the table on an array library; labels without an echo are silent."""
    rows = [(echoes or ECHOES).get(label, ECHOES[Tissue.OUTSIDE]) for label in _all_labels()]

    def column(values: list[float]) -> Array:
        return xp.asarray(np.asarray(values, np.float32))

    amplitude = [10 ** (row.scatter_db / 20) if row.scatter_db > SILENT_DB else 0.0 for row in rows]
    return EchoTable(
        solid=column([0.0 if row.is_fluid else a for row, a in zip(rows, amplitude, strict=True)]),
        fluid=column([a if row.is_fluid else 0.0 for row, a in zip(rows, amplitude, strict=True)]),
        impedance=column([row.impedance_mrayl for row in rows]),
        attenuation=column([row.attenuation_db for row in rows]),
        texture_db=column([TEXTURES[row.texture][0] for row in rows]),
        texture_along=column([1 / TEXTURES[row.texture][1] for row in rows]),
        texture_across=column([1 / TEXTURES[row.texture][2] for row in rows]),
        along_fibres_db=column([row.along_fibres_db for row in rows]),
        gaps_db=column([row.gaps_db for row in rows]),
        mirror_power=column([row.mirror_power for row in rows]),
    )


def _all_labels() -> list[Any]:
    known = {int(label): label for label in Tissue}
    return [known.get(value, value) for value in range(N_LABELS)]
