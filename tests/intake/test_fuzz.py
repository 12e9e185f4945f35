"""Three hundred mutated files beside good ones, forty of them through the whole review; more by hand (docs/fuzz.md)."""

from unittest.mock import patch

from fanlight.report.write import write_review
from fanlight.review.conclude import conclude
from scripts.fuzz import fuzz


def test_mutated_files_never_stop_a_study():
    """No unforeseen error, no crash, nothing hangs or is lost, and the good file beside them is read every time."""
    outcome = fuzz(300, seed=2, review_files=40)

    assert outcome.failures == []
    assert outcome.files == 300
    assert outcome.reviewed == 40
    # The mutations are neither all harmless nor all refused at the door: decoders and stages do meet them.
    assert min(outcome.ends[end] for end in ("read", "damaged", "refused")) >= 20
    assert outcome.ends["reviewed"] >= 10


def _second_time(function, change):
    """Return a stand-in that does what it should at first, when the good file is reviewed alone."""
    calls = []

    def stand_in(*arguments, **named):
        calls.append(1)
        return function(*arguments, **named) if len(calls) == 1 else change(*arguments, **named)

    return stand_in


def test_a_review_that_ends_is_found():
    """A document that cannot be written is a failure of the round."""

    def breaks(*_, **__):
        raise RuntimeError("broken on purpose")

    with patch("scripts.fuzz.write_review", _second_time(write_review, breaks)):
        outcome = fuzz(3, seed=2, review_files=3)

    assert len(outcome.failures) == 1
    assert "the review ended" in outcome.failures[0]
    assert "broken on purpose" in outcome.failures[0]


def test_a_file_that_is_lost_is_found():
    """Readings that go missing between the clips and the draft are told by name."""

    def forgets(study, _readings, *others, **named):
        return conclude(study, (), *others, **named)

    with patch("fanlight.review.run.conclude", _second_time(conclude, forgets)):
        outcome = fuzz(3, seed=2, review_files=3)

    assert any("the good file was lost in the review" in words for words in outcome.failures)
    assert any("good.dcm: neither read nor refused" in words for words in outcome.failures)
