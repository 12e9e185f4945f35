"""What the gallery says of each fault: the view that it is shown in, its size in words, and what to notice.

The signs are those that the trade looks for: common practice, no source. Whether a picture shows them is for the reader
to see.
"""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.heart.kinds import HeartClass

LONG = "right_parasternal_long_axis_four_chamber"
OUTFLOW = "right_parasternal_long_axis_outflow"
PAPILLARY = "right_parasternal_short_axis_papillary_muscles"
CHORDAE = "right_parasternal_short_axis_chordae"
MITRAL = "right_parasternal_short_axis_mitral_valve"
BASE = "right_parasternal_short_axis_aorta"
APICAL = "left_apical_four_chamber"


@dataclass(frozen=True, slots=True)
class FaultWords:
    """How one fault is shown."""

    view: str
    size: str  # a template for the amount
    notice: str


FAULT_WORDS = {
    "slide_dorsal": FaultWords(LONG, "{a:+.0f} mm", "apex comes in at screen left; the base leaves, then lung"),
    "slide_ventral": FaultWords(LONG, "{a:+.0f} mm", "the base sinks and comes to the middle, the apex leaves"),
    "space_cranial": FaultWords(LONG, "{a:+.1f} spaces", "apex comes in round, a papillary muscle; left atrium cut"),
    "space_caudal": FaultWords(LONG, "{a:+.1f} spaces", "thick wall before the heart; the base sinks, the apex leaves"),
    "rotate_clockwise": FaultWords(LONG, "{a:+.0f}°", "the aorta appears, then the plane runs oblique"),
    "rotate_counterclockwise": FaultWords(OUTFLOW, "{a:+.0f}°", "the aorta disappears, the atrial septum comes in"),
    "tilt_plus": FaultWords(BASE, "{a:+.0f}°", "towards the ventricle: muscle at the rim of the aorta, atrium changes"),
    "tilt_minus": FaultWords(BASE, "{a:+.0f}°", "towards the vessels: left atrium smaller, pulmonary artery appears"),
    "rock_plus": FaultWords(LONG, "{a:+.0f}°", "the picture swings: the septum slopes, the same structures stay"),
    "rock_minus": FaultWords(LONG, "{a:+.0f}°", "the picture swings the other way"),
    "frozen_slide_dorsal": FaultWords(OUTFLOW, "{a:+.0f} mm", "plane beside the heart's axis: ventricle small"),
    "frozen_slide_ventral": FaultWords(LONG, "{a:+.0f} mm", "plane beside the axis; aorta or atrium lost"),
    "level_towards_apex": FaultWords(CHORDAE, "{a:.2f} of the length", "papillary muscles, then a small round cavity"),
    "level_towards_base": FaultWords(
        PAPILLARY, "{a:.2f} of the length", "the muscles shrink to their tips, then chordae"
    ),
    "foreshortened": FaultWords(APICAL, "{a:.1f} spaces", "ventricle short and round, apex thick, a papillary muscle"),
    "off_centre": FaultWords(PAPILLARY, "{a:.2f} of the half width", "the ventricle lies beside the middle"),
    "mirrored": FaultWords(LONG, "flipped", "marker at screen left, base at screen left"),
    "gain_high": FaultWords(OUTFLOW, "{a:+.0f} dB", "blood turns grey, walls run white"),
    "gain_low": FaultWords(OUTFLOW, "{a:+.0f} dB", "muscle fades into the blood"),
    "tgc_slider": FaultWords(OUTFLOW, "{a:.0f} dB", "a bright or dark band across the whole picture at one depth"),
    "far_field_loss": FaultWords(LONG, "{a:+.0f} dB at the bottom", "the far wall and the left atrium fade"),
    "near_field_dark": FaultWords(LONG, "{a:+.0f} dB at the face", "chest wall and wall of the right ventricle fade"),
    "focus_shallow": FaultWords(LONG, "focus × {a:.2f}", "speckle of the far half runs wide; see the wedge"),
    "focus_deep": FaultWords(LONG, "focus × {a:.2f}", "septum and near wall are drawn wide; see the wedge"),
    "depth_large": FaultWords(LONG, "depth × {a:.2f}", "the heart is small, empty room below it"),
    "depth_small": FaultWords(LONG, "depth × {a:.2f}", "far wall and left atrium are cut off"),
    "sector_wide": FaultWords(PAPILLARY, "{a:.0%} of what is left", "room beside the heart, paid for in frame rate"),
    "sector_narrow": FaultWords(LONG, "width × {a:.2f}", "apex and base are cut off"),
    "frequency_low": FaultWords(LONG, "frequency × {a:.2f}", "coarse speckle, thick leaflets"),
    "frequency_high": FaultWords(LONG, "frequency × {a:.2f}", "the depth darkens into noise"),
    "frame_rate_low": FaultWords(LONG, "rate × {a:.2f}", "the strip is stepped: each step is a picture"),
    "persistence_heavy": FaultWords(LONG, "{a:.2f} stays", "moving edges are smeared in time"),
    "compounding_heavy": FaultWords(LONG, "{a:.0f} directions", "smooth speckle, blurred movement"),
    "contact_lifted": FaultWords(LONG, "{a:.0%} of the face", "dark beams from the very surface at one edge"),
    "contact_dry": FaultWords(LONG, "{a:.0f} dB one way", "echoes weak in patches, from the face down"),
    "lung_in_the_way": FaultWords(
        BASE, "{a:.0%} of the width", "bright line, its repeats and a veil at one edge; it moves with the breath"
    ),
    "rib_shadow": FaultWords(LONG, "{a:.0%} of the width", "a bright line near the face and a black shadow below"),
    "near_field_clutter": FaultWords(LONG, "{a:+.0f} dB", "standing haze over wall and near chambers"),
    "cursor_off_centre": FaultWords(CHORDAE, "{a:.0f} mm", "cavity too small"),
    "cursor_oblique": FaultWords(LONG, "{a:.0f}°", "cursor crosses the walls at a slant: walls too thick"),
    "cursor_through_papillary": FaultWords(PAPILLARY, "{a:.2f} of the way", "a band of muscle inside the free wall"),
    "sweep_slow": FaultWords(CHORDAE, "{a:g} mm/s", "beats crowd, nothing can be timed"),
    "wrong_label": FaultWords(LONG, "", "the words name another view than the picture shows"),
    "few_beats": FaultWords(LONG, "{a:g} beats", "the strip ends early"),
    "no_ecg": FaultWords(LONG, "leads off", "no trace, no heart rate"),
    "drift_during_clip": FaultWords(LONG, "{a:.0f}°", "first and last picture show other places"),
    "sweep_as_clip": FaultWords(CHORDAE, "{a:.0f}°", "first and last picture show other levels"),
    "jpeg_strong": FaultWords(LONG, "quality {a:.0f}", "blocks of 8 by 8 pixels, frayed edges"),
    "rescaled_export": FaultWords(LONG, "× {a:.2f}", "soft speckle at the same field of view"),
}

CLASS_VIEWS = {
    HeartClass.LA_ENLARGED: (LONG, BASE),
    HeartClass.MITRAL_DISEASE: (LONG, APICAL),
    HeartClass.LV_DILATED: (LONG, CHORDAE),
    HeartClass.RIGHT_OVERLOAD: (PAPILLARY, "right_parasternal_short_axis_pulmonary_artery"),
    HeartClass.THICK_WALLS: (OUTFLOW, PAPILLARY),
    HeartClass.EFFUSION: (LONG, PAPILLARY),
}
CLASS_WORDS = {
    HeartClass.LA_ENLARGED: "left atrium alone enlarged: the atrial septum bows to the right",
    HeartClass.MITRAL_DISEASE: "left atrium and ventricle enlarged, leaflets thick, prolapse in systole",
    HeartClass.LV_DILATED: "wide left ventricle that hardly moves, walls thin beside it",
    HeartClass.RIGHT_OVERLOAD: "right ventricle and pulmonary artery enlarged, septum flattened",
    HeartClass.THICK_WALLS: "thick septum and free wall, small cavity",
    HeartClass.EFFUSION: "black rim between heart and pericardium",
}
