"""Clips of valves with a jet, for the rules that tell of one: the Doppler clips of all animals hold too few.

Animals of each ring are drawn until enough valves are met that leak or whose way out is narrow. Of each such valve a
steady hand takes colour, pulsed and continuous wave, the picture tilted to the jet in each: a jet that runs beside the
picture shows itself to nobody. They are stored and read as the clips of `doppler_criteria` are.
"""

from __future__ import annotations

import json
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path

from fanlight.simulate.clip.doppler_setting import has_jet
from fanlight.simulate.clip.ring import Ring
from fanlight.study import Mode, Valve
from measure._doppler_answers import Job, ask_subject
from measure._doppler_bench import PLACES, Bench, Rung, Wanted, draw_bench, steady_rung
from measure._doppler_clips import LIST, Camera

# Beside the seeds of all other measurements.
FIRST_SEED = {Ring.A: 8000, Ring.B: 14_000, Ring.C: 17_000}
MOST_SEEDS = 90  # of a ring
N_JETS, A_VALVE = 10, 4  # colour clips of a jet a ring, and at most of one valve
MODES = (Mode.COLOUR, Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE)


def keep_jets(ring: Ring, folder: Path) -> tuple[Path, Path]:
    """Make the clips of a ring in a folder and ask about them, unless both was done; return answers and looks."""
    answers, looks = folder / "answers", folder / "looks"
    done = folder / f"{ring.value}.done"
    if done.is_file():
        return answers, looks
    met: Counter[Valve] = Counter()
    for seed in range(FIRST_SEED[ring], FIRST_SEED[ring] + MOST_SEEDS):
        if met.total() >= N_JETS:
            break
        name = f"{ring.value}-{seed}"
        rungs = _jets_of(draw_bench(seed, ring), met)
        if not rungs:
            continue
        marks = folder / "marks" / f"{name}.json"
        _make(rungs, folder / name, marks)
        ask_subject(
            Job(
                ring=ring, folder=folder / name, looks=looks / f"{name}.json", marks=marks,
                answers=answers / f"{name}.json",
            )
        )  # fmt: skip
        print(f"ring {ring} {seed}: {met.total()} jets", file=sys.stderr, flush=True)
    if met.total() < N_JETS:
        print(f"ring {ring}: {met.total()} jets in {MOST_SEEDS} animals, {N_JETS} were wanted", file=sys.stderr)
    done.write_text(json.dumps({valve.value: n for valve, n in met.items()}), encoding="utf-8")
    return answers, looks


def _jets_of(bench: Bench, met: Counter[Valve]) -> list[Rung]:
    """Return the rungs of an animal at its valves with a jet, and count them; none that colour does not meet."""
    found: list[Rung] = []
    for valve in Valve:
        if met[valve] >= A_VALVE or met.total() >= N_JETS or not has_jet(bench.circulation, valve):
            continue
        rungs = list(_at_valve(bench, valve, len(found)))
        if any(rung.steady.doppler.mode is Mode.COLOUR for rung in rungs):
            met[valve] += 1
            found += rungs
    return found


def _at_valve(bench: Bench, valve: Valve, first: int) -> Iterator[Rung]:
    for mode in MODES:
        for view, of in PLACES[mode]:
            rung = steady_rung(bench, first, view, valve, mode, looks_for_jet=True) if of is valve else None
            if rung is not None:
                first += 1
                yield rung
                break


def _make(rungs: list[Rung], folder: Path, marks: Path) -> None:
    """Store the clips; nobody marks anything on them."""
    for path in (folder, marks.parent):
        path.mkdir(parents=True, exist_ok=True)
    truths = [Camera(rung.bench, rung).store(Wanted(rung=rung, clip=rung.steady, fault=None), folder) for rung in rungs]
    marks.write_text(json.dumps({truth.file: [] for truth in truths}), encoding="utf-8")
    (folder / LIST).write_text(json.dumps([asdict(truth) for truth in truths]), encoding="utf-8")
