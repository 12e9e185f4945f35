"""A row of words is no ECG, however sharply its letters rise and fall."""

import pytest

from fanlight.frames.ecg import is_line_of_words
from fanlight.study import Box, ScreenText

TRACE = Box(row0=500, col0=100, row1=560, col1=700)


def text(row0, col0, row1, col1):
    return ScreenText(text="", box=Box(row0=row0, col0=col0, row1=row1, col1=col1), confidence=1.0)


def test_a_title_bar_is_a_line_of_words():
    assert is_line_of_words(TRACE, [text(505, 110, 520, 260), text(505, 400, 520, 560)])


@pytest.mark.parametrize(
    "beside",
    [
        [],
        [text(510, 620, 525, 690)],  # a heart rate over the end of the trace
        [text(300, 100, 320, 700)],  # words elsewhere on the screen
        [text(555, 100, 600, 700)],  # a row below that only touches the trace
    ],
)
def test_a_trace_with_few_words_stays_a_trace(beside):
    assert not is_line_of_words(TRACE, beside)
