"""Tables are carried over a change of the simulator's code only with a proof, and say so."""

from __future__ import annotations

import ast
from dataclasses import replace
from pathlib import Path

import pytest

from scripts.carry_over import Proof, carried, changed_rooms, described_now, other_changes, unequal
from scripts.measured import ROOT, Header, read_headers, verify, write_table
from scripts.probes import EVERY_ROOM, PROBES, Probe, is_asked

HEART, JUDGE = "src/fanlight/heart/paint.py", "src/fanlight/report/letter.py"
SCENE, SPECTRUM = "src/fanlight/simulate/machine/animal_scene.py", "src/fanlight/simulate/spectral/spectral_hold.py"
BY_HEART, BY_REVIEW, *_ = PROBES
PROOF = Proof(
    commit="aaaa", now="bbbb", date="2026-11-27", n_things=7, probe=BY_HEART, rooms=("src/fanlight/heart/",)
)  # fmt: skip


@pytest.fixture
def trees(tmp_path: Path) -> tuple[Path, Path]:
    """The project before and now: the heart says the same in other words."""
    before, now = tmp_path / "before", tmp_path / "now"
    for tree, body in ((before, "def paint(): return 1 + 1\n"), (now, "def paint(): return 2\n")):
        texts = {HEART: body, JUDGE: "LIMIT = 3\n", SCENE: "HEARTS = 1\n", SPECTRUM: "MOMENT_MS = 10.0\n"}
        for name, text in {**texts, "measure/criteria.py": "SEEDS = 4\n"}.items():
            (tree / name).parent.mkdir(parents=True, exist_ok=True)
            (tree / name).write_text(text, encoding="utf-8")
    (now / "docs").mkdir()
    (before / "docs").mkdir()
    write_table(
        before / "docs" / "accuracy.md", "criteria", "| a |\n|---|\n| 1 |", script="measure/criteria.py",
        describes=[HEART, JUDGE], root=before,
    )  # fmt: skip
    (now / "docs" / "accuracy.md").write_text((before / "docs" / "accuracy.md").read_text(encoding="utf-8"), "utf-8")
    (now / "src/fanlight/heart/side.py").write_text("SIDE = 1\n", encoding="utf-8")
    return before, now


def _header(tree: Path) -> Header:
    return read_headers((tree / "docs" / "accuracy.md").read_text(encoding="utf-8"))[0]


def test_a_table_that_is_carried_over_is_fresh_and_says_so(trees: tuple[Path, Path]) -> None:
    before, now = trees
    page = now / "docs" / "accuracy.md"
    assert verify(now)
    measured_on = _header(now).date
    text = carried(
        page.read_text(encoding="utf-8"), {"criteria": described_now(_header(now), before, now)}, [PROOF], now
    )
    page.write_text(text, encoding="utf-8")
    assert verify(now) == []
    assert text.count("the code of the heart and its chest changed, and 7 things") == 1
    assert "| 1 |" in text
    assert _header(now).date == measured_on


def test_it_tells_of_new_files_of_the_heart_from_then_on(trees: tuple[Path, Path]) -> None:
    before, now = trees
    page = now / "docs" / "accuracy.md"
    text = carried(
        page.read_text(encoding="utf-8"), {"criteria": described_now(_header(now), before, now)}, [PROOF], now
    )
    page.write_text(text, encoding="utf-8")
    (now / "src/fanlight/heart/side.py").write_text("SIDE = 2\n", encoding="utf-8")
    assert verify(now)


def test_all_proofs_since_the_day_of_a_table_stay_in_their_order(trees: tuple[Path, Path]) -> None:
    before, now = trees
    text = (now / "docs" / "accuracy.md").read_text(encoding="utf-8")
    tables = {"criteria": described_now(_header(now), before, now)}
    later = replace(PROOF, commit="cccc", now="dddd")
    for proof in (PROOF, PROOF, later):
        text = carried(text, tables, [proof], now)
    assert text.count("Carried over on") == 2
    assert text.index("Measured on") < text.index("since aaaa") < text.index("since cccc") < text.index("| 1 |")


@pytest.mark.parametrize("name", ["src/fanlight/recognise/picture.onnx", "src/fanlight/heart/fit/solve.py"])
def test_what_a_probe_does_not_ask_is_another_change(trees: tuple[Path, Path], name: str) -> None:
    """Weights lie beside the code that reads them, and fits beside the heart; both may change what a table tells."""
    before, now = trees
    for tree, text in ((before, "A = 1\n"), (now, "A = 2\n")):
        (tree / name).parent.mkdir(parents=True, exist_ok=True)
        (tree / name).write_text(text, encoding="utf-8")
    assert other_changes(replace(_header(now), describes=(HEART, name)), before, now) == [name]
    assert BY_REVIEW.rooms.keys().isdisjoint(changed_rooms(BY_REVIEW, before, now))


def test_a_table_says_what_was_set_aside_and_only_where_it_tells_of_it(trees: tuple[Path, Path]) -> None:
    _, now = trees
    text = (now / "docs" / "accuracy.md").read_text(encoding="utf-8")
    found = carried(text, {"criteria": [HEART, JUDGE]}, [PROOF], now, {JUDGE: "no figure asks for it", SCENE: "never"})

    said = f"*Set aside, not measured: `{JUDGE}` changed on purpose since then; no figure asks for it.*"
    assert found.index("*Carried over on ") < found.index(said) < found.index("| a |")
    assert "never" not in found


@pytest.mark.parametrize("probe", PROBES, ids=[probe.script for probe in PROBES])
def test_a_probe_imports_all_of_its_rooms(probe: Probe) -> None:
    """A file that it cannot even reach is not asked, and a change of it would pass for proven."""
    reached = _imported(ROOT / probe.script)
    listed = {
        path for room in probe.rooms for path in ((ROOT / room).rglob("*.py") if room.endswith("/") else [ROOT / room])
    }
    names = {path.relative_to(ROOT).as_posix() for path in listed if path.name != "__init__.py"}
    assert sorted(name for name in names if is_asked(name) and ROOT / name not in reached) == []


def _imported(script: Path) -> set[Path]:
    """Return the files of the project that a script imports, those that these import, and so on."""
    found: set[Path] = set()
    left = [script]
    while left:
        path = left.pop()
        if path in found:
            continue
        found.add(path)
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            match node:
                case ast.Import():
                    names = [item.name for item in node.names]
                case ast.ImportFrom(module=str(module)):
                    names = [module, *(f"{module}.{item.name}" for item in node.names)]
                case _:
                    continue
            left += [place for name in names for place in _files_of_module(name)]
    return found


def _files_of_module(name: str) -> list[Path]:
    base = name.replace(".", "/")
    tries = [root / tail for root in (ROOT / "src", ROOT) for tail in (f"{base}.py", f"{base}/__init__.py")]
    return [path for path in tries if path.is_file()]


def test_rooms_are_there() -> None:
    """A room that was moved or renamed would let its changes pass for none."""
    assert [room for room in EVERY_ROOM if not (ROOT / room).exists()] == []


def test_rooms_whose_code_changed_are_found(trees: tuple[Path, Path]) -> None:
    before, now = trees
    heart, scene, spectra = BY_HEART.rooms
    assert changed_rooms(BY_HEART, before, now) == (heart,)
    (now / SCENE).write_text("HEARTS = 2\n", encoding="utf-8")
    (now / SPECTRUM).unlink()
    assert changed_rooms(BY_HEART, before, now) == (heart, scene, spectra)


def test_a_change_of_words_only_is_no_change(trees: tuple[Path, Path]) -> None:
    before, now = trees
    (now / SPECTRUM).write_text("MOMENT_MS = 10.0  # as before\n", encoding="utf-8")
    assert changed_rooms(BY_HEART, before, now) == ("src/fanlight/heart/",)


def test_a_table_is_told_of_its_own_rooms_only() -> None:
    proof = replace(PROOF, rooms=tuple(BY_HEART.rooms))
    assert "the code of the heart and its chest changed, and 7 things" in proof.words([HEART, JUDGE])
    assert "the code of the animal before a probe and of its spectra changed" in proof.words([SCENE, SPECTRUM])
    assert proof.words([JUDGE]) == ""


def test_each_probe_has_its_own_sentence_and_keeps_that_of_another(trees: tuple[Path, Path]) -> None:
    """What one probe proved earlier still stands where another proves something anew."""
    before, now = trees
    gain = "src/fanlight/critique/gain.py"
    (now / gain).parent.mkdir(parents=True)
    (now / gain).write_text("LIMIT = 3\n", encoding="utf-8")
    tables = {"criteria": (*described_now(_header(now), before, now), gain)}
    reviewed = replace(PROOF, n_things=9, probe=BY_REVIEW, rooms=("src/fanlight/critique/",))
    text = carried((now / "docs" / "accuracy.md").read_text(encoding="utf-8"), tables, [PROOF], now)
    text = carried(text, tables, [reviewed], now)
    assert "7 things that heart, chest and spectra give came out equal bit for bit (`measure/_same_heart.py`)" in text
    assert "the code of the criteria changed, and 9 things that a review finds in clips came out equal" in text
    assert carried(text, tables, [PROOF, reviewed], now).count("Carried over on") == 2


def test_no_two_probes_answer_for_one_room() -> None:
    assert len(set(EVERY_ROOM)) == len(EVERY_ROOM)


def test_a_change_of_a_room_is_covered_by_the_proof(trees: tuple[Path, Path]) -> None:
    """Rooms are asked by the probe; what lies beside them is not."""
    before, now = trees
    beside = "src/fanlight/simulate/machine/scene.py"
    for tree, text in ((before, "A = 1\n"), (now, "A = 2\n")):
        for name in (SCENE, SPECTRUM, beside):
            (tree / name).write_text(text, encoding="utf-8")
    header = replace(_header(now), describes=(SCENE, SPECTRUM, beside))
    assert other_changes(header, before, now) == [beside]


def test_new_files_count_in_the_rooms_of_a_table_only(trees: tuple[Path, Path]) -> None:
    before, now = trees
    new = "src/fanlight/simulate/spectral/spectral_chest.py"
    (now / new).write_text("A = 1\n", encoding="utf-8")
    assert new not in described_now(_header(now), before, now)
    assert described_now(replace(_header(now), describes=(SPECTRUM,)), before, now) == (new, SPECTRUM)


def test_a_change_outside_the_rooms_is_named(trees: tuple[Path, Path]) -> None:
    before, now = trees
    assert other_changes(_header(now), before, now) == []
    (now / JUDGE).write_text("LIMIT = 4\n", encoding="utf-8")
    assert other_changes(_header(now), before, now) == [JUDGE]


def test_what_differs_or_is_in_one_of_both_only_is_unequal() -> None:
    assert unequal({"a": "1", "b": "2", "c": "3"}, {"a": "1", "b": "9", "d": "4"}) == ["b", "c", "d"]
