"""A plain picture of a spectrum with named mode and marked axes, from the command line to its numbers."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path
from typing import Any

import cv2
import pytest

from tests.cli.sealed import Commands
from tests.plain_spectrum import VIEW, PlainSpectrum, draw_plain_spectrum, marks_of

BAND = 0.05  # of a peak on an animal of ring A: half a limit of agreement of docs/spectral-values.md (-9 to +4 %)


@pytest.fixture(scope="module")
def drawn() -> PlainSpectrum:
    return draw_plain_spectrum()


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory, drawn: PlainSpectrum) -> Path:
    home = tmp_path_factory.mktemp("spectrum")
    (home / "study").mkdir()
    cv2.imwrite(str(home / "study" / "strip.png"), cv2.cvtColor(drawn.pixels, cv2.COLOR_RGB2BGR))
    return home


def reviewed(
    commands: Commands, home: Path, drawn: PlainSpectrum, *, mode: str, out: str
) -> tuple[subprocess.CompletedProcess[str], dict[str, Any]]:
    (home / "marks.toml").write_text(marks_of(drawn, "strip.png", mode=mode), "utf-8")
    done = commands(
        "review", str(home / "study"), "--marks", str(home / "marks.toml"), "--out", str(home / out), home=home
    )
    return done, json.loads((home / out / "review.json").read_text("utf-8"))


def test_a_png_of_a_spectrum_gives_its_peak_and_is_judged(commands: Commands, home: Path, drawn: PlainSpectrum) -> None:
    """The peak of the simulator's blood lies within the band and the stated error; the marks reach the criteria."""
    done, review = reviewed(commands, home, drawn, mode="pulsed_wave", out="out")

    assert done.returncode == 0, done.stderr
    (reading,) = review["readings"]
    assert (reading["mode"]["mode"], reading["mode"]["reasons"]) == ("pulsed_wave", ["named by hand"])
    peak = next(item for item in review["measurements"] if item["name"] == "aortic_vmax")
    assert peak["value"] == pytest.approx(drawn.peak_m_s, rel=BAND)
    assert abs(peak["value"] - drawn.peak_m_s) <= 1.96 * peak["uncertainty"]
    assert "aliased" not in peak["reason"]
    judged = {item["criterion"] for item in reading["findings"] if item["value"] is not None}
    assert {"spectrum_filter_gap", "spectrum_edge"} & judged
    assert not [item for item in reading["findings"] if "where the spectrum lies" in item["reason"]]


def test_without_a_mode_the_numbers_say_what_is_missing(commands: Commands, home: Path, drawn: PlainSpectrum) -> None:
    """The pixels alone leave open which kind of spectrum it is: nothing is measured, and the remedy is said."""
    done, review = reviewed(commands, home, drawn, mode="", out="unnamed")

    assert review["readings"][0]["mode"]["mode"] is None
    (only,) = review["measurements"]
    assert only["value"] is None
    assert "name the mode" in only["reason"]
    assert "name the mode" in done.stdout


def test_a_wrong_mode_is_refused_and_the_rest_is_read(commands: Commands, home: Path, drawn: PlainSpectrum) -> None:
    done, review = reviewed(commands, home, drawn, mode="spectral", out="wrong")

    assert done.returncode == 3
    assert "marks.toml" in done.stderr
    assert "file 1.mode" in done.stderr
    assert '"pulsed_wave"' in done.stderr
    assert review["readings"][0]["view"]["view"] == VIEW
