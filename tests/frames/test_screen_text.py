"""Text on invented screens is found, read, sorted into technical and possible identity, and nothing is fetched."""

import subprocess
import sys
from importlib import metadata
from pathlib import Path

import cv2
import numpy as np
import pytest

from fanlight.frames import text_network
from fanlight.frames.screen_text import (
    ScreenReader,
    ScreenReaderMissingError,
    join_units,
    overlay_of,
    read_clip,
    settle_identity,
    stands_still,
)
from fanlight.reference.load import load_house
from fanlight.study import Box, FrameChunk, ScreenText, Strip

PICTURE = Strip(box=Box(row0=120, col0=200, row1=560, col1=640))


@pytest.fixture(scope="module")
def reader():
    """One reader for all tests of this file."""
    return ScreenReader(load_house())


def screen(*lines, rows=600, cols=800, size=0.6, seed=23, n=1):
    """Frames with speckle in the picture and (words, row, col) drawn over it."""
    rng = np.random.default_rng(seed)
    frames = np.zeros((n, rows, cols, 3), np.uint8)
    box = PICTURE.box
    grey = cv2.blur(rng.integers(0, 160, (box.height_px, box.width_px), dtype=np.uint8), (5, 3))
    for frame in frames:
        frame[box.row0 : box.row1, box.col0 : box.col1] = np.roll(grey, rng.integers(0, 60), axis=1)[..., None]
        for words, row, col in lines:
            cv2.putText(frame, words, (col, row), cv2.FONT_HERSHEY_SIMPLEX, size, (230, 230, 230), 1, cv2.LINE_AA)
    return frames


def text(words, row, col, *, sure=0.99, technical=False, high=14):
    return ScreenText(
        text=words,
        box=Box(row0=row, col0=col, row1=row + high, col1=col + 10 * max(len(words), 1)),
        confidence=sure,
        is_technical=technical,
    )


def test_settings_and_names_are_told_apart(reader):
    """Depth and rate are read with their units and stay; name, number and date count as identity."""
    overlay = overlay_of(
        screen(("Depth 4.5 cm", 40, 20), ("52 Hz", 70, 20), ("Muffin Quillfeather", 40, 400), ("73519046", 70, 400),
               ("14.03.2021", 100, 400))
    )  # fmt: skip

    found = {item.text: item for item in reader.read(overlay, PICTURE)}

    kept = {words for words, item in found.items() if item.is_technical}
    quantities = {(q.value, q.unit) for item in found.values() for q in item.quantities}
    assert {(4.5, "cm"), (52.0, "Hz")} <= quantities
    assert not {"Muffin Quillfeather", "73519046", "14.03.2021"} & kept
    assert {"Muffin Quillfeather", "73519046", "14.03.2021"} <= set(found)


def test_words_on_the_picture_are_flagged_and_speckle_is_not(reader):
    """A note over the echoes is found inside; the speckle itself gives no text."""
    with_note = reader.read(overlay_of(screen(("Quillfeather", 330, 330), n=6)), PICTURE)
    without = reader.read(overlay_of(screen(n=6)), PICTURE)

    assert [item.text for item in with_note if item.inside_picture] == ["Quillfeather"]
    assert not [item for item in without if item.inside_picture]


def test_a_date_on_the_picture_belongs_to_the_screen(reader):
    """Dates and case numbers are never a part of the picture, even where the picture's outline is misjudged."""
    found = reader.read(overlay_of(screen(("14.03.2021", 330, 330), n=6)), PICTURE)

    assert [item.inside_picture for item in found if "2021" in item.text] == [False]


@pytest.mark.parametrize("size", [0.3, 0.35, 0.45, 0.5, 1.0, 1.6])
def test_small_and_large_letters_are_read(reader, size):
    """Capitals from 6 to 30 pixels high on a screen of 600 rows; the network alone misses those below 10."""
    overlay = overlay_of(screen(("PRF 3.5 kHz", 60, 20), ("Muffin Quillfeather", 60, 300), size=size, n=6))

    found = reader.read(overlay, PICTURE)

    assert [(q.value, q.unit) for item in found for q in item.quantities] == [(3.5, "kHz")]
    names = [item for item in found if "Quil" in item.text]
    assert names
    assert not any(item.is_technical for item in names)


def test_dark_letters_on_a_bright_bar_are_read(reader):
    """Small print in a title bar."""
    frame = np.zeros((600, 800, 3), np.uint8)
    frame[:20] = 200
    cv2.putText(frame, "Muffin Quillfeather", (20, 14), cv2.FONT_HERSHEY_SIMPLEX, 0.35, (10, 10, 10), 1, cv2.LINE_AA)

    assert any("feather" in item.text for item in reader.read(frame, PICTURE))


def test_no_box_swallows_the_picture(reader):
    """What the network takes for one huge letter is no text: blanking it would blank the picture."""
    for seed in range(23, 29):
        for item in reader.read(overlay_of(screen(("Depth 15 cm", 40, 20), seed=seed)), PICTURE):
            assert item.box.overlap_px(PICTURE.box) < 0.05 * PICTURE.box.area_px


def test_a_grey_overlay_reads_like_a_colour_one(reader):
    """Grey files are as good."""
    colour = overlay_of(screen(("Gain 55", 60, 20)))

    assert reader.read(colour[..., 0], None) == reader.read(colour, None)


def test_what_has_not_changed_is_not_read_again(reader, monkeypatch):
    """On the next overlay only the changed text goes through the network."""
    reader.read(overlay_of(screen(("Depth 15 cm", 40, 20), ("75 bpm", 580, 700))), PICTURE)
    read = []
    original = text_network.TextNetwork.read

    def counting(self, part):
        read.append(part.shape)
        return original(self, part)

    monkeypatch.setattr(text_network.TextNetwork, "read", counting)

    found = reader.read(overlay_of(screen(("Depth 15 cm", 40, 20), ("91 bpm", 580, 700))), PICTURE)

    assert len(read) == 1
    assert {(q.value, q.unit) for item in found for q in item.quantities} == {(15.0, "cm"), (91.0, "bpm")}


def test_a_reading_does_not_hang_on_what_was_read_before():
    """Nearly the same screen first: the review's reader says what a new one says, and reads no same text twice."""
    rng = np.random.default_rng(47)
    first = overlay_of(screen(("Depth 15 cm", 40, 20), ("75 bpm", 580, 700)))
    noise = rng.integers(-7, 8, first.shape)
    second = np.clip(first.astype(int) + noise, 0, 255).astype(np.uint8)
    house = load_house()
    used, new = ScreenReader(house, same_pixels_only=True), ScreenReader(house, same_pixels_only=True)

    before = used.read(first, PICTURE)

    assert used.read(second, PICTURE) == new.read(second, PICTURE)
    assert used.read(second, PICTURE) != before  # the noise does change the reading
    assert used.read(first, PICTURE) == before


def test_a_name_in_a_few_frames_is_found(reader):
    """For a teaching copy each frame counts, not only the first chunk and not only what stands still."""
    frames = screen(("Depth 15 cm", 40, 20), n=12)
    frames[9] = screen(("Depth 15 cm", 40, 20), ("Quillfeather", 590, 40))[0]
    chunks = [FrameChunk(first=0, pixels=frames[:6]), FrameChunk(first=6, pixels=frames[6:])]

    found = read_clip(reader, chunks, PICTURE)

    assert "Quillfeather" in {item.text for item in found}
    assert [item.text for item in found if item.is_technical] == ["Depth 15 cm"]


def test_an_empty_screen_has_no_text(reader):
    """Black, white and tiny screens are survived."""
    for frame in (np.zeros((480, 640), np.uint8), np.full((480, 640, 3), 255, np.uint8), np.zeros((1, 1), np.uint8)):
        assert not [item for item in reader.read(frame, None) if item.is_technical]


def test_a_unit_by_itself_goes_to_the_number_above_and_to_its_opposite():
    """+61.6 and -61.6 at the ends of a bar, "cm/s" once below."""
    joined = join_units([text("+61.6", 50, 700), text("-61.6", 240, 700), text("cm/s", 256, 705), text("7", 256, 20)])

    assert [[(q.value, q.unit) for q in item.quantities] for item in joined] == [
        [(61.6, "cm/s")], [(-61.6, "cm/s")], [], [],
    ]  # fmt: skip


def test_a_number_beside_a_name_is_taken_for_a_part_of_it():
    """A case number split in two stays with its other half; a number far away is a setting."""
    settled = settle_identity(
        [text("Muffin", 10, 10), text("735", 10, 80, technical=True), text("64", 10, 400, technical=True)]
    )

    assert [item.is_technical for item in settled] == [False, False, True]


def test_models_come_from_the_installed_package_and_one_thread_is_used(reader):
    """Both models lie inside the wheel, as its own record says, and each session has one thread."""
    folder = text_network.model_folder()
    record = {Path(file.locate()).resolve() for file in metadata.files("rapidocr") or ()}
    for name in (text_network.DETECTION_MODEL, text_network.RECOGNITION_MODEL):
        assert (folder / name).resolve() in record
    for session in (reader._network._detection, reader._network._recognition):
        assert session.get_session_options().intra_op_num_threads == 1
        assert session.get_session_options().inter_op_num_threads == 1


def test_only_one_opencv_is_installed():
    """The package with the models asks for the headless build and brings no second one."""
    names = {(dist.metadata["Name"] or "").lower() for dist in metadata.distributions()}
    assert {name for name in names if name.startswith("opencv")} == {"opencv-python-headless"}


def test_reading_needs_no_network_and_importing_is_light():
    """With every socket refused text is read; before that neither the engine nor the model package is imported."""
    program = """
import socket, sys
def refuse(*args, **kwargs): raise AssertionError("a socket was opened")
socket.socket.connect = socket.socket.connect_ex = refuse
socket.create_connection = socket.getaddrinfo = refuse
import cv2, numpy as np
from fanlight.frames.screen_text import ScreenReader
from fanlight.reference.load import load_house
assert "onnxruntime" not in sys.modules
reader = ScreenReader(load_house())
screen = np.zeros((200, 400, 3), np.uint8)
cv2.putText(screen, "15 cm", (20, 60), cv2.FONT_HERSHEY_SIMPLEX, 0.8, (255, 255, 255), 2)
assert [q.value for t in reader.read(screen) for q in t.quantities] == [15.0]
assert not {name for name in sys.modules if name.split(".")[0] in ("rapidocr", "requests")}
"""
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_a_missing_model_is_said_with_its_remedy(monkeypatch):
    """Nothing is fetched in its place."""
    monkeypatch.setattr(text_network, "DETECTION_MODEL", "no_such_model.onnx")
    with pytest.raises(ScreenReaderMissingError, match=r"found no model no_such_model\.onnx .* install fanlight again"):
        ScreenReader(load_house())


def test_a_note_on_the_picture_that_cannot_be_read_is_kept_where_it_stands_still(reader, monkeypatch):
    """It may be a name: it is blanked in excerpts and flagged in copies. On one frame it may as well be speckle."""
    frames = screen(("Quillfeather", 330, 330), n=8)
    monkeypatch.setattr(reader._network, "read", lambda _: ("Qu?ll", 0.4))

    moving = reader.read(overlay_of(frames), PICTURE, has_stood_still=stands_still(frames))
    one = reader.read(overlay_of(frames[:1]), PICTURE, has_stood_still=stands_still(frames[:1]))

    (kept,) = [item for item in moving if item.inside_picture]
    assert not kept.is_technical
    assert kept.box.row0 < 330 < kept.box.row1 + 8
    assert kept.box.col0 <= 334
    assert not [item for item in one if item.inside_picture]


def test_calipers_on_the_picture_are_no_text(reader, monkeypatch):
    """A lone mark that is read as such is none of the words that could name somebody."""
    frames = screen(("+", 330, 330), ("+", 400, 380), n=8)
    monkeypatch.setattr(reader._network, "read", lambda _: ("+", 0.9))

    found = reader.read(overlay_of(frames), PICTURE, has_stood_still=True)

    assert not [item for item in found if item.inside_picture]


def test_a_patch_that_stands_still_on_the_picture_is_no_text(reader, monkeypatch):
    """Colour at a valve that leaks all through a short clip: the finder of text takes it for a huge letter."""
    patch = Box(row0=300, col0=300, row1=420, col1=400)
    monkeypatch.setattr(reader._network, "find", lambda _: [patch])
    monkeypatch.setattr(reader._network, "read", lambda _: ("A", 0.2))

    found = reader.read(overlay_of(screen(n=8)), PICTURE, has_stood_still=True)

    assert not [item for item in found if item.inside_picture]
