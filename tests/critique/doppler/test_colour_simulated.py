"""The criterion of flashes on colour clips of a simulated animal: a probe that jerks, and one that keeps still."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path

from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.clip.unsteady_probe import Jerks
from measure._doppler_answers import Job, ask_subject
from measure._doppler_bench import draw_bench, rungs_of, wanted_of
from measure._doppler_clips import LIST, Camera

SEED = 3  # of ring A: the pulmonary artery in the short axis
STEADY, JERKED = "0-good", "0-colour_flash-3"


def test_a_jerk_of_the_probe_flashes_and_a_steady_clip_stays_quiet(tmp_path: Path) -> None:
    """Through the pixels of two files that differ in the hand only."""
    bench = draw_bench(SEED, Ring.A)
    rungs = rungs_of(bench)
    wanted = {item.name: item for item in wanted_of(rungs) if item.name in (STEADY, JERKED)}
    assert isinstance(wanted[JERKED].clip.doppler.unsteady, Jerks)
    camera = Camera(bench, rungs[0])
    truths = [camera.store(wanted[name], tmp_path) for name in (STEADY, JERKED)]
    (tmp_path / LIST).write_text(json.dumps([asdict(truth) for truth in truths]), encoding="utf-8")
    kept = {name: tmp_path / f"{name}.json" for name in ("looks", "marks", "answers")}
    kept["marks"].write_text(json.dumps({truth.file: [] for truth in truths}), encoding="utf-8")

    steady, jerked = (clip.answer("colour_flash") for clip in ask_subject(Job(ring=Ring.A, folder=tmp_path, **kept)))

    assert steady is not None
    assert jerked is not None
    assert (steady.verdict, jerked.verdict) == ("met", "missed")
