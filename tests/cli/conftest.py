"""A study of one clip with its request sheet, a home for the command, and a process that runs it."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from pydicom.data import get_testdata_file

from tests.cli.sealed import Commands


@pytest.fixture(scope="session")
def commands() -> Iterator[Commands]:
    made = Commands()
    yield made
    made.close()


@pytest.fixture(scope="session")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("home")


@pytest.fixture(scope="session")
def study(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("study")
    shutil.copy(str(get_testdata_file("examples_ybr_color.dcm")), root / "clip.dcm")
    (root / "request.toml").write_text(
        '[animal]\nspecies = "dog"\nbreed = "Mixed breed"\nweight_kg = 8.0\nage_years = 7\n'
        '[identity]\nanimal_name = "Juniper"\n'
        '[request]\nquestion = "murmur"\nbreathing = "laboured"\n'
        '[[measurement]]\nquantity = "LVIDd"\nvalue = 3.6\nunit = "cm"\nmethod = "M-mode"\n'
    )
    return root
