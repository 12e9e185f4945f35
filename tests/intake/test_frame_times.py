"""Frame times as PS3.3 C.7.6.5 defines them, and what is doubted."""

import pytest
from pydicom.dataset import Dataset

from fanlight.intake.frame_times import times_of_dicom, times_of_gif, times_of_video
from fanlight.study import TimeSource


def header(**tags):
    data = Dataset()
    for keyword, value in tags.items():
        setattr(data, keyword, value)
    return data


def test_frame_time_vector_holds_increments():
    """C.7.6.5.1.2: T(n) is the sum of the increments; the first one counts for nothing."""
    times = times_of_dicom(header(FrameTimeVector=[0, 20, 30, 25], FrameIncrementPointer=0x00181065), 4)

    assert times.times_ms == (0, 20, 50, 75)
    assert times.source is TimeSource.FRAME_TIME_VECTOR
    assert times.doubts == ()


def test_first_increment_is_no_delay():
    """Some machines write a step where the standard wants 0: the first frame is still at 0."""
    assert times_of_dicom(header(FrameTimeVector=[20, 20, 20]), 3).times_ms == (0, 20, 40)


def test_frame_time_is_the_step():
    """C.7.6.5.1.1."""
    times = times_of_dicom(header(FrameTime=40), 3)

    assert times.times_ms == (0, 40, 80)
    assert times.source is TimeSource.FRAME_TIME
    assert times.rate_hz == pytest.approx(25)


def test_the_pointer_chooses():
    """Frame Increment Pointer (0028,0009) names the attribute that holds."""
    both = {"FrameTime": 40, "FrameTimeVector": [0, 40, 40]}

    assert times_of_dicom(header(**both, FrameIncrementPointer=0x00181063), 3).source is TimeSource.FRAME_TIME
    assert times_of_dicom(header(**both, FrameIncrementPointer=0x00181065), 3).source is TimeSource.FRAME_TIME_VECTOR
    assert times_of_dicom(header(**both), 3).source is TimeSource.FRAME_TIME_VECTOR


def test_pointer_with_a_second_value_of_a_maker_is_understood():
    """Several pointers, one of them private."""
    data = header(FrameTimeVector=[0, 40, 40], FrameIncrementPointer=[0x00181065, 0xFB843290])

    assert times_of_dicom(data, 3).source is TimeSource.FRAME_TIME_VECTOR


@pytest.mark.parametrize(
    ("tags", "source"),
    [
        ({"CineRate": 50}, TimeSource.CINE_RATE),
        ({"RecommendedDisplayFrameRate": 50}, TimeSource.RECOMMENDED_RATE),
        ({"CineRate": 50, "RecommendedDisplayFrameRate": 25}, TimeSource.CINE_RATE),
    ],
)
def test_rates_serve_where_times_are_absent(tags, source):
    """Cine Rate before the rate for display; the latter is doubted."""
    times = times_of_dicom(header(**tags), 3)

    assert times.times_ms == pytest.approx((0, 20, 40))
    assert times.source is source
    assert bool(times.doubts) == (source is TimeSource.RECOMMENDED_RATE)


def test_nothing_stated_is_nothing_guessed():
    """No attribute: no times."""
    times = times_of_dicom(header(), 30)

    assert times.times_ms == ()
    assert times.source is TimeSource.NONE
    assert times.rate_hz is None


def test_stills_have_no_times():
    """One frame, even with a frame time: PS3.3 C.7.6.5.1.1, note."""
    assert times_of_dicom(header(FrameTime=33), 1).times_ms == ()


@pytest.mark.parametrize(
    ("tags", "words"),
    [
        ({"FrameTime": 33.3, "CineRate": 60}, "Frame Time says 30.0 frames a second, Cine Rate 60"),
        ({"FrameTimeVector": [0, 20, 20], "FrameTime": 40}, "Frame Time Vector says 50.0"),
        ({"FrameTimeVector": [0, 20], "FrameTime": 40}, "2 entries for 3 frames"),
        ({"FrameTimeVector": [0, 20, 0], "FrameTime": 40}, "steps of zero or less"),
        ({"FrameTime": 0, "CineRate": 25}, "Frame Time is 0 ms"),
        ({"FrameTime": 40, "EffectiveDuration": 1.0}, "Effective Duration says 1 s"),
        ({"FrameTime": 1000}, "1 frames a second is not a rate"),
        ({"FrameTime": 0.033}, "not a rate at which a heart is scanned"),
    ],
)
def test_contradictions_are_doubts(tags, words):
    """Each names both statements."""
    assert any(words in doubt for doubt in times_of_dicom(header(**tags), 3).doubts)


@pytest.mark.parametrize(
    "tags",
    [
        {"FrameTime": 54.241, "CineRate": 18},  # 18.44 rounded down: 2.4 %
        {"FrameTime": 33.333, "CineRate": 30},
        {"FrameTime": 40, "EffectiveDuration": 0.12},
        {"FrameTime": 40, "EffectiveDuration": 0.08},
    ],
)
def test_rounding_is_no_contradiction(tags):
    """Whole frames a second, and durations with and without the last frame's step."""
    assert times_of_dicom(header(**tags), 3).doubts == ()


def test_video_without_stamps_says_so():
    """A nominal rate only: times with a doubt; nothing at all: no times, and why."""
    assert "no time for each frame" in times_of_video((), 40.0, 3).doubts[0]
    assert times_of_video((), None, 3).times_ms == ()
    assert times_of_video((), None, 3).doubts


def test_gif_delays_are_always_doubted():
    """Whole hundredths of a second."""
    assert times_of_gif((40.0, 50.0, 40.0)).times_ms == (0, 40, 90)
    assert times_of_gif((40.0, 50.0, 40.0)).doubts
