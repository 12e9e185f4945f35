"""Moving excerpts: which frames, how fast, what they show, and what goes when the letter grows too large."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import datetime
from html import unescape

import numpy as np
import pytest
from PIL import Image, ImageSequence

from fanlight.reference.letter import ExcerptLimits, read_excerpt_limits
from fanlight.reference.load import load_house
from fanlight.report.annotate import picture_box
from fanlight.report.document import Advice, Document, Excerpt, Excerpts
from fanlight.report.excerpt import CutPassage, Cutting, ExcerptError, encode_passage
from fanlight.report.html import render_html
from fanlight.report.letter import build_letter
from fanlight.report.mentor import Cited, MentorWords
from fanlight.report.moving import with_excerpts
from fanlight.report.passage import Passage, passage_of
from fanlight.study import Box, ClipReading, ClipVerdict, Evidence, FrameTimes, House, ScreenText, TimeSource
from tests.report.sample import PICTURE, InventedFrames, reading, sample_review

WHEN = datetime(2026, 11, 25, 9, 0)
POINTS = ["Focal depth", "Lung over the picture", "Focal depth"]
LIMITS = ExcerptLimits(most_mb=25.0, sizes_px=(640, 480, 320), quality=80, seconds_without_beat=1.0, seconds_max=2.0)


def timed(step_ms: float, n: int = 90, waves: tuple[float, ...] = (), period: float | None = None) -> ClipReading:
    """A clip with a frame each so many ms, and R waves at these frames."""
    made = reading(1, (), ClipVerdict.DIAGNOSTIC)
    times = FrameTimes(times_ms=tuple(step_ms * k for k in range(n)), source=TimeSource.FRAME_TIME)
    time = replace(made.time, times=times, r_frames=waves, beat_period_frames=period)
    return replace(made, clip=replace(made.clip, n_frames=n, times=times), time=time, frames_read=n)


def passage(made: ClipReading, frame: int, limits: ExcerptLimits = LIMITS, evidence: object = ()) -> Passage:
    found = passage_of(made, frame, evidence, "Focal depth", limits)  # type: ignore[arg-type]
    assert found is not None
    return found


def test_a_passage_is_the_beat_around_the_cited_frame() -> None:
    found = passage(timed(20.0, waves=(3.6, 28.4, 53.1, 78.0), period=24.8), 30)

    assert (found.frames[0], found.frames[-1]) == (28, 52)
    assert found.is_beat
    assert sum(found.durations_ms) == 25 * 20
    assert found.caption == "Clip 1, frames 29 to 53: one beat"


@pytest.mark.parametrize(("frame", "first", "end"), [(26, 5, 29), (60, 53, 77)])
def test_a_beat_before_the_first_or_after_the_last_wave_is_taken_whole(frame: int, first: int, end: int) -> None:
    """One period long, from where a wave would have been or was; only if all of it was stored."""
    found = passage(timed(20.0, waves=(29.0, 53.0), period=24.0), frame)

    assert (found.frames[0], found.frames[-1] + 1, found.is_beat) == (first, end, True)


def test_without_a_beat_it_is_a_second_around_the_frame() -> None:
    middle, early, late = (passage(timed(20.0), frame) for frame in (45, 2, 89))

    assert (middle.frames[0], middle.frames[-1]) == (20, 69)
    assert (early.frames[0], late.frames[-1]) == (0, 89)
    assert {sum(each.durations_ms) for each in (middle, early, late)} == {1000}
    assert not middle.is_beat


def test_above_sixty_frames_a_second_frames_are_passed_over_and_the_speed_stays_true() -> None:
    found = passage(timed(6.25, n=400, waves=(0.0, 80.0, 160.0), period=80.0), 100)

    assert np.diff(found.frames).tolist() == [3] * (len(found.frames) - 1)
    assert min(found.durations_ms[:-1]) >= 16
    assert sum(found.durations_ms) == 500


def test_times_that_are_not_known_are_said() -> None:
    made = timed(0.0)
    unknown = replace(made, clip=replace(made.clip, times=FrameTimes()), time=replace(made.time, times=FrameTimes()))

    found = passage(unknown, 40)

    assert not found.is_true_speed
    assert "true speed not known, shown at 30 frames a second" in found.caption
    assert set(found.durations_ms) == {33, 34}


def test_a_beat_that_never_ends_is_cut_around_the_cited_frame() -> None:
    found = passage(timed(20.0, n=300, waves=(0.0, 290.0), period=290.0), 200)

    assert found.frames[0] <= 200 <= found.frames[-1]
    assert sum(found.durations_ms) <= 2000


def test_a_still_has_no_passage() -> None:
    assert passage_of(timed(20.0, n=1), 0, (), "", LIMITS) is None


def frames_of(n: int = 90) -> list[tuple[int, np.ndarray]]:
    """Grey screens, each a little brighter, with a name written above the fan."""
    made = []
    for k in range(n):
        pixels = np.full((480, 640), 60 + k, np.uint8)
        pixels[:12] = 255
        made.append((k, pixels))
    return made


def test_what_plays_is_as_long_as_the_beat_and_no_larger_than_allowed() -> None:
    made = passage(timed(20.0, waves=(10.0, 35.0), period=25.0), 12)
    cut = encode_passage(frames_of(), made, Cutting(longest_px=320, quality=80))

    moving = Image.open(io.BytesIO(cut.moving))
    lasted = []
    for frame in ImageSequence.Iterator(moving):
        frame.load()
        lasted.append(frame.info["duration"])
    assert max(moving.size) == 320
    assert Image.open(io.BytesIO(cut.still)).size == moving.size
    assert sum(lasted) == 500


def test_an_excerpt_shows_its_marks_and_no_text_of_the_screen() -> None:
    """The screen's name lies above the fan and a word that may name somebody lies on it: both are gone."""
    named = ScreenText(text="", box=Box(row0=200, col0=280, row1=215, col1=360), confidence=0.9)
    made = timed(20.0, waves=(10.0, 35.0), period=25.0)
    made = replace(made, layout=replace(made.layout, texts=(named,)))
    mark = Evidence(shape=Box(row0=300, col0=300, row1=340, col1=340), label="focus")
    frames = frames_of()
    for _, pixels in frames:
        pixels[200:215, 280:360] = 255
    cut = encode_passage(frames, passage(made, 12, evidence=(mark,)), Cutting(longest_px=640, quality=90))

    moving = np.asarray(Image.open(io.BytesIO(cut.moving)).convert("RGB")).astype(int)
    box = picture_box(PICTURE, 480, 640)
    scale = moving.shape[1] / box.width_px
    assert scale <= 1
    assert moving[..., 2].max() < 200  # the name is white, marks are ochre
    spot = moving[round((207 - box.row0) * scale), round((320 - box.col0) * scale)]
    assert spot.max() < 30
    lit = np.argwhere(moving[..., 0] - moving[..., 2] > 60)  # ochre
    middle = (lit.min(axis=0) + lit.max(axis=0)) / 2 / scale
    assert middle == pytest.approx((319.5 - box.row0, 319.5 - box.col0), abs=2)


def test_where_the_picture_ends_is_not_known_nothing_is_cut() -> None:
    made = timed(20.0)
    with pytest.raises(ExcerptError, match="names on it could not be left out"):
        encode_passage(
            frames_of(), passage(replace(made, layout=replace(made.layout, picture=None)), 3),
            Cutting(longest_px=640, quality=80),
        )  # fmt: skip


def test_a_frame_that_did_not_come_leaves_the_passage_out() -> None:
    with pytest.raises(ExcerptError, match="cannot be decoded"):
        encode_passage(frames_of(n=20), passage(timed(20.0), 45), Cutting(longest_px=640, quality=80))


class Sized:
    """Passages of a known size: so many bytes at 640 pixels, and by the square less below."""

    def __init__(self, n_bytes: int) -> None:
        self._n_bytes = n_bytes

    def cut(self, passage: Passage, cutting: Cutting) -> CutPassage:
        if passage.layout.picture is None:
            raise ExcerptError("where the picture ends on the screen is not known")
        n = round(self._n_bytes * (cutting.longest_px / 640) ** 2)
        return CutPassage(still=b"s", moving=b"m" * n, width_px=cutting.longest_px, height_px=10)


def letter(limits: ExcerptLimits) -> Document:
    review = sample_review(n_points=3)
    mentor = MentorWords(findings=("Clip 4: it slides.",), cited=(Cited(clip="clip04", title="It slides"),))
    return build_letter(review, InventedFrames(), WHEN, mentor, limits)


def moving_of(document: Document) -> tuple[list[str], list[str]]:
    """Titles of what plays: of points, and of the rest."""
    points = [item.moving.title for item in document.blocks if isinstance(item, Advice) and item.moving]
    rest = [each for item in document.blocks if isinstance(item, Excerpts) for each in item.items]
    assert all(isinstance(each, Excerpt) for each in rest)
    return points, [each.title for each in rest if isinstance(each, Excerpt)]


def limited(n_bytes: int) -> tuple[Document, str]:
    """The letter under a limit of the rest of it and so many bytes."""
    bare = len(render_html(letter(LIMITS)).encode())
    limits = replace(LIMITS, most_mb=(bare + n_bytes) / 1e6)
    made = with_excerpts(letter(limits), Sized(90_000), limits)
    html = render_html(made)
    assert len(html.encode()) <= 1e6 * limits.most_mb
    return made, unescape(html)


def test_everything_plays_where_there_is_room() -> None:
    made, html = limited(1_000_000)

    assert moving_of(made) == (POINTS, ["A good example", "It slides"])
    assert "left out" not in html
    assert html.count('class="moving"') == 5
    assert "Will play" not in html


def test_what_is_right_goes_first_and_is_named() -> None:
    """Five excerpts of 120 kB in base64 and room for four and some words."""
    made, html = limited(500_000)

    assert moving_of(made) == (POINTS, ["It slides"])
    assert "Moving excerpts left out" in html
    assert "a good example: the letter would have been larger than" in html
    assert "pixels, so that" not in html


def test_then_the_rest_gets_fewer_pixels() -> None:
    """Four of 120 kB do not fit; at 480 of 640 pixels they take 68 kB each and do."""
    made, html = limited(300_000)

    assert moving_of(made) == (POINTS, ["It slides"])
    assert "Moving excerpts have 480 pixels" in html


def test_then_the_last_point_goes() -> None:
    """At 320 pixels each takes 30 kB: three have room."""
    made, html = limited(100_000)

    assert moving_of(made) == (POINTS, [])
    assert "it slides: the letter would have been larger than" in html
    assert "Moving excerpts have 320 pixels" in html


def test_a_clip_whose_picture_is_not_known_is_listed() -> None:
    review = sample_review(n_points=3)
    blind = tuple(replace(item, layout=replace(item.layout, picture=None)) for item in review.readings)
    made = with_excerpts(
        build_letter(replace(review, readings=blind), InventedFrames(), WHEN, excerpts=LIMITS), Sized(9), LIMITS
    )

    assert moving_of(made) == ([], [])
    assert render_html(made).count("where the picture ends on the screen is not known") == 4


def test_a_preview_says_what_will_play() -> None:
    html = unescape(render_html(letter(LIMITS)))

    assert "Will play in the signed letter: It slides (Clip 4, frames 1 to 24: one beat)" in html
    assert '<img class="moving"' not in html


def test_the_page_runs_no_script() -> None:
    html = render_html(with_excerpts(letter(LIMITS), Sized(9), LIMITS))

    assert "<script" not in html
    assert "default-src 'none'; img-src data:; style-src 'unsafe-inline'" in html


def test_the_shipped_limits_are_those_of_the_documents() -> None:
    limits = read_excerpt_limits(load_house())

    assert (limits.most_mb, limits.sizes_px[0]) == (25.0, 640)


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"sizes_px": [320, 640]}, "sizes_px"),
        ({"sizes_px": [800]}, "sizes_px"),
        ({"quality": 0}, "quality"),
        ({"most_mb": 30.0}, "most_mb"),
        ({"seconds_max": 0.5}, "seconds"),
    ],
)
def test_a_house_that_asks_for_what_cannot_be_is_refused(changes: dict[str, object], named: str) -> None:
    letter = load_house().table("letter")
    house = House(tables={"letter": {**letter, "excerpts": {**letter["excerpts"], **changes}}})
    with pytest.raises(ValueError, match=f"letter.excerpts.{named}"):
        read_excerpt_limits(house)
