"""Three hundred mutated files beside good ones; ten thousand by hand (docs/fuzz.md)."""

from scripts.fuzz import fuzz


def test_mutated_files_never_stop_a_study():
    """No unforeseen error, no crash, nothing that hangs, and the good file beside them is read every time."""
    outcome = fuzz(300, seed=2)

    assert outcome.failures == []
    assert outcome.files == 300
    # The mutations are neither all harmless nor all refused at the door: decoders do meet them.
    assert min(outcome.ends[end] for end in ("read", "damaged", "refused")) >= 20
