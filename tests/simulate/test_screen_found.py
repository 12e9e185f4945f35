"""What the finders read off the screens of rings A and B is what was painted there.

The sector here is plain speckle: pictures of hearts are measured elsewhere. Ring C is not looked at: nothing may be
tuned on it. docs/simulator.md says what the finders make of it.
"""

import numpy as np
import pytest

from fanlight.frames.find_picture import find_picture
from fanlight.frames.layout_of import read_layout
from fanlight.frames.polar import to_grey
from fanlight.frames.screen_text import ScreenReader, overlay_of
from fanlight.reference.load import load_house
from fanlight.simulate.screen.screen_layouts import LAYOUTS
from fanlight.simulate.screen.screen_truth import Screen
from fanlight.study import Clip, Layout, ScaleSource
from tests.simulate import screen_stand_ins as stand_in

CORNER_PX = 1.5  # of the fan, on screens of 640 to 1024 columns
LENGTH_FRACTION = 0.01  # a clinical length turns on 3 % and more
MARK_PX = 7  # half a large mark: the finder may count from one of its ends
# Says "D" for the depth and numbers nothing: without a region the step of its ruler cannot be told, and is not.
NO_STEP = "corners"


@pytest.fixture(scope="module")
def reader():
    return ScreenReader(load_house())


@pytest.fixture(scope="module", params=list(LAYOUTS))
def found(request, reader):
    """One screen of every kind, painted and read."""
    rng = np.random.default_rng(3)
    screen = stand_in.two_d(LAYOUTS[request.param], rng, 8, depth_mm=110.0, half_deg=36.0, beating=True)
    picture = find_picture(to_grey(screen.frames))
    texts = reader.read(overlay_of(screen.frames), picture[0])
    return request.param, screen, picture, texts


def layout_of(screen: Screen, picture, texts, with_regions: bool) -> Layout:
    rows, cols = screen.frames.shape[1:3]
    clip = Clip(
        key="k",
        number=1,
        name="clip",
        container="DICOM",
        rows=rows,
        cols=cols,
        n_frames=len(screen.frames),
        is_colour=True,
        regions=screen.regions if with_regions else (),
    )
    return read_layout(clip, screen.frames, texts, found=picture)


def test_fan_is_found_where_it_was_painted(found):
    """All four corners lie within a pixel and a half, without a hint from the file."""
    _, screen, (picture, confidence, _), _ = found

    corners = [(depth, beam) for depth in (0.0, 1.0) for beam in (0.0, 1.0)]
    errors = [np.subtract(picture.point(*at), screen.placed.sector.point(*at)) for at in corners]
    assert np.hypot(*np.transpose(errors)).max() < CORNER_PX
    assert confidence > 0.9


def test_regions_are_believed(found):
    """The pixels bear the regions out, and the scale is theirs."""
    _, screen, picture, texts = found
    layout = layout_of(screen, picture, texts, with_regions=True)

    assert all(reading.trusted for reading in layout.regions)
    assert layout.scale.mm_per_row_px == pytest.approx(screen.placed.mm_per_px, rel=1e-6)
    assert layout.depth_mm == pytest.approx(110.0, rel=0.02)


def test_ruler_alone_gives_the_scale(found):
    """Without regions, marks and words make the same size of a pixel; where they tell no step, none is claimed."""
    key, screen, picture, texts = found
    layout = layout_of(screen, picture, texts, with_regions=False)

    ruler = layout.ruler
    steps = round(ruler.spacing_px * screen.placed.mm_per_px / screen.ruler.step_mm)
    per_step_px = screen.ruler.step_mm / screen.placed.mm_per_px
    assert ruler.col_px == pytest.approx(screen.ruler.col_px, abs=MARK_PX)
    assert ruler.spacing_px == pytest.approx(steps * per_step_px, rel=LENGTH_FRACTION)
    if key == NO_STEP:
        assert (ruler.mm_per_mark, layout.scale) == (None, None)
    else:
        assert ruler.mm_per_mark == steps * screen.ruler.step_mm
        assert layout.scale.source is ScaleSource.RULER
        assert layout.scale.mm_per_row_px == pytest.approx(screen.placed.mm_per_px, rel=LENGTH_FRACTION)


def test_every_word_is_read(found):
    """Each painted line stands in one of the boxes that the reader returns, letter for letter."""
    _, screen, _, texts = found

    read = "".join("".join(item.text.split()) for item in texts).lower()
    missed = [item.text for item in screen.texts if "".join(item.text.split()).lower() not in read]
    assert missed == []


def test_no_name_counts_as_technical(found):
    """Whatever is identity on the screen is treated as such by the reader."""
    _, screen, _, texts = found

    names = [item for item in screen.texts if item.identity]
    kept = [
        (item.text, other.text)
        for item in texts
        if item.is_technical
        for other in names
        if item.box.overlap_px(other.box) > 0.5 * other.box.area_px
    ]
    assert kept == []
    assert len(names) >= 3
