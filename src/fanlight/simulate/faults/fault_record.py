"""Faults of what is stored: label, length, ECG, a hand that moves meanwhile, and the way out of the machine."""

from __future__ import annotations

from dataclasses import replace

from fanlight.heart.animal import Animal
from fanlight.heart.movements import Movement
from fanlight.simulate.clip.clip_setting import ClipSetting, Drift
from fanlight.simulate.faults.fault import Change, Fault, FaultGroup, FaultKind, either_sign
from fanlight.study import Mode

# A view that is taken for another: its neighbours in the sweep or in the window. Common practice, no source.
MISTAKEN_FOR = {
    "right_parasternal_long_axis_four_chamber": "right_parasternal_long_axis_outflow",
    "right_parasternal_long_axis_outflow": "right_parasternal_long_axis_four_chamber",
    "right_parasternal_short_axis_apex": "right_parasternal_short_axis_papillary_muscles",
    "right_parasternal_short_axis_papillary_muscles": "right_parasternal_short_axis_chordae",
    "right_parasternal_short_axis_chordae": "right_parasternal_short_axis_mitral_valve",
    "right_parasternal_short_axis_mitral_valve": "right_parasternal_short_axis_chordae",
    "right_parasternal_short_axis_aorta": "right_parasternal_short_axis_pulmonary_artery",
    "right_parasternal_short_axis_pulmonary_artery": "right_parasternal_short_axis_aorta",
    "left_apical_four_chamber": "left_apical_five_chamber",
    "left_apical_four_chamber_right_heart": "left_apical_four_chamber",
    "left_apical_five_chamber": "left_apical_four_chamber",
    "left_apical_two_chamber": "left_apical_three_chamber",
    "left_apical_three_chamber": "left_apical_two_chamber",
    "left_cranial_long_axis_aorta": "left_cranial_long_axis_right_outflow",
    "left_cranial_long_axis_right_inflow": "left_cranial_long_axis_right_auricle",
    "left_cranial_long_axis_right_auricle": "left_cranial_long_axis_right_inflow",
    "left_cranial_long_axis_right_outflow": "left_cranial_long_axis_aorta",
    "left_cranial_short_axis": "left_cranial_long_axis_aorta",
    "subcostal_outflow": "left_apical_five_chamber",
}


def _is_clip(setting: ClipSetting) -> bool:
    return not setting.recording.is_still


def _is_moving_picture(setting: ClipSetting) -> bool:
    return _is_clip(setting) and setting.mode is Mode.TWO_D


def _is_moving_short_axis(setting: ClipSetting) -> bool:
    return _is_moving_picture(setting) and setting.is_short_axis


def _rescaled(setting: ClipSetting, _: Animal, fault: Fault) -> ClipSetting:
    return replace(setting, recording=replace(setting.recording, scale_ratio=fault.amount))


def _label(setting: ClipSetting, _: Animal, __: Fault) -> ClipSetting:
    return replace(setting, said_view=MISTAKEN_FOR[setting.view])


def _beats(setting: ClipSetting, _: Animal, fault: Fault) -> ClipSetting:
    recording = setting.recording
    return replace(setting, recording=replace(recording, beats=min(recording.beats, fault.amount)))


def _no_ecg(setting: ClipSetting, _: Animal, __: Fault) -> ClipSetting:
    return replace(setting, recording=replace(setting.recording, has_ecg=False))


def _jpeg(setting: ClipSetting, _: Animal, fault: Fault) -> ClipSetting:
    return replace(setting, recording=replace(setting.recording, jpeg_quality=round(fault.amount)))


def _drift(movement: Movement) -> Change:
    def change(setting: ClipSetting, _: Animal, fault: Fault) -> ClipSetting:
        return replace(setting, drifts=(*setting.drifts, Drift(movement=movement, amount=fault.amount)))

    return change


def _signed(change: Change) -> Change:
    def turned(setting: ClipSetting, animal: Animal, fault: Fault) -> ClipSetting:
        return change(setting, animal, replace(fault, amount=fault.amount * fault.parameter("sign")))

    return turned


RECORD_FAULTS = (
    FaultKind(
        key="wrong_label", title="labelled as a neighbouring view", group=FaultGroup.RECORD, knob="label", unit="1",
        steps=(1, 1, 1, 1, 1), change=_label, why="a label is right or wrong: all grades are the same",
    ),
    FaultKind(
        key="few_beats", title="too few beats stored", group=FaultGroup.RECORD, knob="length", unit="beats",
        steps=(2.5, 1.9, 1.4, 1.0, 0.6), change=_beats, fits=_is_clip,
        why="three beats at least are common practice; two is borderline, below that no beat may be whole",
    ),
    FaultKind(
        key="no_ecg", title="no ECG", group=FaultGroup.RECORD, knob="ecg", unit="1", steps=(1, 1, 1, 1, 1),
        change=_no_ecg, why="leads are on or off: all grades are the same",
    ),
    FaultKind(
        key="drift_during_clip", title="probe rocks slowly while the clip is stored", group=FaultGroup.RECORD,
        knob="drift", unit="deg", steps=(5, 8, 12, 16, 21), change=_signed(_drift(Movement.ROCK)), draw=either_sign,
        fits=_is_moving_picture,
        why="15 % of the picture's width is the house limit: 11° of 76. A slide would be aimed at the heart anew and "
        "leave it in its place",
    ),
    FaultKind(
        key="sweep_as_clip", title="a sweep stored as a clip", group=FaultGroup.RECORD, knob="drift", unit="deg",
        steps=(8, 13, 18, 24, 32), change=_signed(_drift(Movement.TILT)), draw=either_sign, fits=_is_moving_short_axis,
        why="the short-axis levels of the ventricle lie about 5 to 10° of tilt apart (measured on the model)",
    ),
    FaultKind(
        key="jpeg_strong", title="exported with strong compression", group=FaultGroup.RECORD, knob="export", unit="1",
        steps=(45, 32, 22, 15, 9), change=_jpeg,
        why="JPEG quality: 25 to 65 to 1 on our screens; blocks are plain to see from about 25 down (engineering "
        "judgement)",
    ),
    FaultKind(
        key="rescaled_export", title="exported enlarged", group=FaultGroup.RECORD, knob="export", unit="1",
        steps=(1.15, 1.3, 1.45, 1.6, 1.8), change=_rescaled,
        why="times the console's own screen: the pictures of a report or of screen capture",
    ),
)  # fmt: skip
