"""What gallery and blind reading say of each Doppler fault: where it is shown, its size in words, what to notice.

The signs are those that the trade looks for: common practice, no source. Whether a picture shows them is for the reader
to see.
"""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.study import Mode, Valve

APICAL, FIVE = "left_apical_four_chamber", "left_apical_five_chamber"
COLOUR_AT = (APICAL, Valve.MITRAL, Mode.COLOUR)
PULSED_AT = (APICAL, Valve.MITRAL, Mode.PULSED_WAVE)
LINE_AT = (FIVE, Valve.AORTIC, Mode.CONTINUOUS_WAVE)


@dataclass(frozen=True, slots=True)
class DopplerWords:
    """How one fault is shown."""

    at: tuple[str, Valve, Mode]
    size: str  # a template for the amount
    notice: str


DOPPLER_WORDS = {
    "colour_box_large": DopplerWords(
        COLOUR_AT, "{a:.0%} of the way to the rim", "the box takes most of the sector; fewer pictures a second"
    ),
    "colour_box_misplaced": DopplerWords(
        COLOUR_AT, "{a:.2f} of its size", "the valve lies at the rim of the box or outside it"
    ),
    "colour_scale_low": DopplerWords(
        COLOUR_AT, "scale x {a:.2f}", "small numbers at the bar; even inflow turns over into the other colours"
    ),
    "colour_scale_high": DopplerWords(
        COLOUR_AT, "scale x {a:.1f}", "large numbers at the bar; flow is dark and thin, slow flow is gone"
    ),
    "colour_gain_high": DopplerWords(COLOUR_AT, "{a:+.1f} dB", "specks of all colours over the box, tissue too"),
    "colour_gain_low": DopplerWords(
        COLOUR_AT, "{a:+.1f} dB", "colour fills only part of the blood, its edge is ragged"
    ),
    "colour_flash": DopplerWords(
        COLOUR_AT, "{a:.2f} of the filter left", "walls and leaflets light up in whole patches at some moments"
    ),
    "colour_write_over": DopplerWords(
        COLOUR_AT, "up to {a:.0%} of white", "colour covers walls and leaflets beside the flow"
    ),
    "colour_frame_rate_low": DopplerWords(
        COLOUR_AT, "packet x {a:.1f}", "the strip below is stepped: each step is a picture"
    ),
    "gate_misplaced": DopplerWords(
        PULSED_AT, "{a:.0f} mm", "the gate lies away from the tips of the leaflets; lower, broader waves"
    ),
    "beam_aslant": DopplerWords(
        PULSED_AT, "probe {a:.0f} mm off", "the cursor crosses the inflow at an angle; lower waves"
    ),
    "angle_corrected": DopplerWords(
        PULSED_AT, "{a:.0f} deg", "a line across the gate and an angle in the words; the scale is stretched"
    ),
    "baseline_misplaced": DopplerWords(
        PULSED_AT, "room x {a:.2f}", "the waves are cut off or come in at the other end, half the strip is empty"
    ),
    "spectral_scale_low": DopplerWords(
        PULSED_AT, "scale x {a:.2f}", "the waves leave the strip at one end and come in at the other"
    ),
    "spectral_scale_high": DopplerWords(LINE_AT, "scale x {a:.1f}", "the signal is small beside the baseline"),
    "spectral_sweep_slow": DopplerWords(PULSED_AT, "{a:.0f} mm/s", "many narrow beats"),
    "spectral_filter_high": DopplerWords(
        PULSED_AT, "{a:.0%} of the scale", "a black band on both sides of the baseline"
    ),
    "spectral_filter_low": DopplerWords(PULSED_AT, "filter x {a:.2f}", "bright broad band at the baseline: walls"),
    "spectral_gain_high": DopplerWords(PULSED_AT, "{a:+.0f} dB", "grey ground, thick edges"),
    "spectral_gain_low": DopplerWords(PULSED_AT, "{a:+.0f} dB", "faint signal, its edge is broken or gone"),
    "wrong_signal": DopplerWords(
        PULSED_AT, "", "gate beside the valve that was meant; another shape at another time of the beat"
    ),
    "breath_loses_flow": DopplerWords(
        PULSED_AT,
        "{a:.0f} mm",
        "some waves are low or missing, the others whole: the beam leaves the flow with each breath",
    ),
    "no_guide": DopplerWords(PULSED_AT, "", "the strip stands alone"),
}
