"""Every invented screen: nothing lies over anything else, and it says that it is simulated."""

from itertools import combinations
from typing import Any

import numpy as np
import pytest

from fanlight.simulate.screen.screen import paint
from fanlight.simulate.screen.screen_furniture import draw_block
from fanlight.simulate.screen.screen_layout import Layout, Typeface
from fanlight.simulate.screen.screen_layouts import LAYOUTS
from fanlight.simulate.screen.screen_layouts_shifted import SHIFTED_LAYOUTS
from fanlight.simulate.screen.screen_place import fan_mask, strip_box
from fanlight.simulate.screen.screen_truth import Screen
from fanlight.simulate.visit.invented_names import ANIMALS, FAMILIES, KINDS_OF_PRACTICE, PLACES
from fanlight.study import Box
from tests.simulate import screen_stand_ins as stand_in

ALL = {**LAYOUTS, **SHIFTED_LAYOUTS}
every_layout = pytest.mark.parametrize("layout", [pytest.param(item, id=key) for key, item in ALL.items()])


def painted(layout: Layout, mode: str, **options: Any) -> Screen:
    rng = np.random.default_rng(11)
    return stand_in.two_d(layout, rng, **options) if mode == "2-D" else stand_in.m_mode(layout, rng, **options)


def faces(layout: Layout) -> set[Typeface]:
    blocks = (*layout.blocks, *layout.m_mode_blocks, layout.watermark, layout.view_label)
    return {block.lettering.typeface for block in blocks}


@every_layout
@pytest.mark.parametrize("mode", ["2-D", "M-mode"])
@pytest.mark.parametrize("labelled", [False, True])
def test_words_keep_clear_of_each_other_of_the_trace_and_of_the_strip(layout, mode, labelled):
    """No box round words meets another, nor the field of the ECG, nor the M-mode."""
    screen = painted(layout, mode, labelled=labelled)

    assert screen.ecg_box is not None
    boxes = [(item.text, item.box) for item in screen.texts] + [("ECG", screen.ecg_box)]
    if screen.strip_box is not None:
        boxes.append(("strip", screen.strip_box))
    assert [(a, b) for (a, one), (b, two) in combinations(boxes, 2) if one.overlap_px(two)] == []


@every_layout
@pytest.mark.parametrize(("half_deg", "face_radius_mm"), [(38.0, 0.0), (50.0, 0.0), (32.0, 14.0)])
def test_nothing_lies_over_the_sector(layout, half_deg, face_radius_mm):
    """Every pixel of the fan is the machine's own, however wide it opens; the fan lies on the screen."""
    rng = np.random.default_rng(5)
    placed = stand_in.placed_on(layout, half_deg=half_deg, face_radius_mm=face_radius_mm)
    box = placed.box
    picture = stand_in.noise(rng, 2, box.height_px, box.width_px)
    screen = paint(layout, picture, placed, stand_in.facts(), times_ms=(0.0, 40.0), ecg=stand_in.ecg(), labelled=True)

    assert box == box.clipped_to(layout.rows, layout.cols)
    inside = fan_mask(placed) > 0
    shown = screen.frames[:, box.row0 : box.row1, box.col0 : box.col1]
    assert all(np.array_equal(shown[..., channel][:, inside], picture[:, inside]) for channel in range(3))
    under = [item.text for item in screen.texts if covers(item.box, placed.box, inside)]
    assert under == []


def covers(words: Box, box: Box, inside: np.ndarray) -> bool:
    """Whether words stand on pixels of the fan."""
    whole = np.zeros((max(words.row1, box.row1), max(words.col1, box.col1)), bool)
    whole[box.row0 : box.row1, box.col0 : box.col1] = inside
    return bool(whole[words.row0 : words.row1, words.col0 : words.col1].any())


@every_layout
@pytest.mark.parametrize("mode", ["2-D", "M-mode"])
def test_every_frame_says_simulated_beside_the_picture(layout, mode):
    """The word is among the words, and its ink is the same in every frame."""
    screen = painted(layout, mode, frames=2)

    [word] = [item for item in screen.texts if item.text == "SIMULATED"]
    ink = screen.frames[:, word.box.row0 : word.box.row1, word.box.col0 : word.box.col1].astype(int)
    assert not word.identity
    assert (ink == ink[0]).all()
    assert np.ptp(ink[0]) > 100  # readable: letters stand out from their ground


@every_layout
@pytest.mark.parametrize("mode", ["2-D", "M-mode"])
def test_view_is_named_only_where_the_study_is_labelled(layout, mode):
    """Nothing on an unlabelled screen holds a word of the view's name."""
    view_words = stand_in.facts().view.replace(",", "").split()

    plain = " ".join(item.text for item in painted(layout, mode).texts)
    labelled = " ".join(item.text for item in painted(layout, mode, labelled=True).texts)

    assert not [word for word in view_words if word in plain]
    assert all(word in labelled for word in view_words)


@every_layout
@pytest.mark.parametrize("mode", ["2-D", "M-mode"])
def test_the_longest_invented_names_have_room(layout, mode):
    """Every practice and person that can be drawn fits on every screen, clear of all else."""
    practice = max((f"{place} {kind}" for place in PLACES for kind in KINDS_OF_PRACTICE), key=len)
    said = stand_in.facts(
        animal=max(ANIMALS, key=len),
        owner=max(FAMILIES, key=len),
        practice=practice,
        case_number="MM-88888",
        sweep_mm_s=100.0,
        heart_rate_bpm=228.0,
        frame_rate_hz=128.0,
        gain_db=-18.0,
    )
    canvas = np.zeros((layout.rows, layout.cols, 3), np.uint8)
    blocks = (*(layout.blocks if mode == "2-D" else layout.m_mode_blocks), layout.watermark)
    texts = [item for block in blocks for item in draw_block(canvas, block, said)]

    placed = stand_in.placed_on(layout, guide=mode != "2-D")
    inside = fan_mask(placed) > 0
    fields = [] if mode == "2-D" else [strip_box(layout)]
    assert [item.text for item in texts if covers(item.box, placed.box, inside)] == []
    assert [item.text for item in texts for field in fields if item.box.overlap_px(field)] == []
    assert [(a.text, b.text) for a, b in combinations(texts, 2) if a.box.overlap_px(b.box)] == []


@every_layout
def test_identity_is_told_apart_from_settings(layout):
    """Names, numbers and dates are marked as identity, settings are not."""
    texts = painted(layout, "2-D").texts

    said = {item.text: item.identity for item in texts}
    assert any("Tumbleweed" in text and is_identity for text, is_identity in said.items())
    assert [text for text, is_identity in said.items() if is_identity and ("MHz" in text or "dB" in text)] == []
    assert [text for text, is_identity in said.items() if not is_identity and ("OT-" in text or "10:42" in text)] == []


@every_layout
def test_marker_stands_at_the_right_unless_flipped(layout):
    """The sign of the probe's marker is the only difference between a flipped screen and a usual one."""
    usual = painted(layout, "2-D", frames=1).frames[0].astype(int)
    flipped = painted(layout, "2-D", frames=1, marker_at_left=True).frames[0].astype(int)

    placed = stand_in.placed_on(layout)
    changed = np.argwhere(np.abs(usual - flipped).max(axis=2) > 0)
    middle = placed.sector.apex_col_px
    assert (changed[:, 1] > middle).any()
    assert (changed[:, 1] < middle).any()
    assert np.abs(changed[:, 1] - middle).max() < 60  # beside the face, nowhere else
    assert changed[:, 0].max() < placed.box.row0 + 60


def test_there_are_five_screens_of_three_sizes_and_three_others_for_ring_c():
    """Sizes, grounds and letters of ring C occur in no other ring."""
    assert {(item.cols, item.rows) for item in LAYOUTS.values()} == {(640, 480), (800, 600), (1024, 768)}
    assert len(LAYOUTS) >= 5
    assert len(SHIFTED_LAYOUTS) >= 3
    for kind in (lambda item: (item.cols, item.rows), lambda item: item.ground, lambda item: item.ecg.ink):
        usual, shifted = ({kind(item) for item in ring.values()} for ring in (LAYOUTS, SHIFTED_LAYOUTS))
        assert not usual & shifted
    letters = set().union(*(faces(item) for item in LAYOUTS.values()))
    assert not any(faces(item) <= letters for item in SHIFTED_LAYOUTS.values())


@every_layout
def test_a_depth_is_never_rounded_to_another(layout):
    """9.5 cm must not be printed as 9 or 10."""
    facts = stand_in.facts(depth_mm=95.0)
    lines = [line for block in (*layout.blocks, *layout.m_mode_blocks) for line in block.lines]

    assert all("9.5 cm" in facts.words(line) for line in lines if "{depth_cm" in line)
