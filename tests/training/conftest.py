"""One animal with one clip, drawn once for all tests of the room."""

import numpy as np
import pytest

from training.draw import Sample, draw
from training.randomise import Shot, Subject, draw_shot, draw_subject

SEED = 5


@pytest.fixture(scope="session")
def subject() -> Subject:
    return draw_subject(SEED)


@pytest.fixture(scope="session")
def shot(subject: Subject) -> Shot:
    return draw_shot(subject, np.random.default_rng(SEED))


@pytest.fixture(scope="session")
def sample(shot: Shot) -> Sample:
    return draw(shot, np.random.default_rng(1), n_frames=3)
