"""Counting of clips in files, on records made by hand; the refusal to mix networks; and one clip from end to end."""

from __future__ import annotations

import gzip
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fanlight.recognise.picture_network import network_hash
from fanlight.simulate.clip.ring import Ring
from fanlight.study import Sector
from measure import _recognition_file_clips as clips
from measure import _recognition_file_colour as colour
from measure import _recognition_file_figures as figures
from measure import recognition_files
from measure._recognition_file_answers import listening, overlap, record_of
from measure._recognition_file_held import held_table
from measure._recognition_file_time import time_table
from training.label_sets import views

LONG, SHORT = views()[0], views()[3]
SEED = 9503  # ring A, kept from training


def record(true: str, *said: tuple[str, float], **more: Any) -> dict[str, Any]:
    shares = np.eye(len(views()) + 1)[views().index(true) if true else -1]
    return {
        "seed": 1, "kind": "displaced", "view": true, "heart": "normal", "species": "dog", "unit_mm": 20.0,
        "shares": list(shares), "said": [list(pair) for pair in said], "fan": 0.99, "has_regions": True,
        "mode": "two_d", "landmarks": [], "picture_s": 0.13, "lines_s": 0.02, "bare_s": 0.10, "n_frames": 15,
        "held_off": "", "unsure": 0.01,
    } | more  # fmt: skip


def cells(table: str, first: str) -> list[str]:
    row = next(line for line in table.splitlines() if line.startswith(f"| {first}"))
    return [cell.strip() for cell in row.strip("|").split("|")][1:]


def test_wrong_of_all_counts_every_clear_clip_and_a_clip_that_was_not_asked_proposes_nothing() -> None:
    records = [
        record(LONG, (LONG, 0.9)), record(LONG, (SHORT, 0.8)), record("", (SHORT, 0.75)), record(SHORT, (SHORT, 0.6)),
        record(SHORT, fan=0.0), record("", ("", 0.99)), record(LONG, (SHORT, 0.99), kind="long"),
    ]  # fmt: skip
    table = figures.limit_table({"B": records}, 0.7)
    proposed, right, wrong = cells(table, "**0.70** (House)")
    assert proposed.startswith("50.0 %")
    assert proposed.endswith("n 6")
    assert (right[:6], right[-3:]) == ("33.3 %", "n 3")
    assert (wrong[:6], wrong[-3:]) == ("33.3 %", "n 6")
    assert cells(table, "0.50")[0].startswith("66.7 %")  # one more, proposed rightly
    assert "taken for" in figures.wrong_words({"B": records}, 0.7)
    assert "Ring B: none." in figures.wrong_words({"B": records[:1]}, 0.7)


def test_unclear_planes_are_left_out_and_a_steady_hand_is_asked_for_its_view() -> None:
    unclear = record(LONG, (SHORT, 0.9))
    unclear["shares"] = [0.5, 0.0, 0.0, 0.5] + [0.0] * (len(views()) - 3)
    steady = {**unclear, "kind": "standard", "view": LONG, "said": [[LONG, 0.9]]}
    assert not figures.is_clear(unclear)
    assert figures.is_clear(steady)
    assert figures.is_right(steady)
    hidden = record("", ("", 0.9), kind="standard")
    assert figures.truth(hidden) == ""


def test_clips_that_were_not_shown_or_whose_fan_was_not_found_are_counted_apart() -> None:
    air = {"mode": "no_contact", "fan": 0.0}
    records = [
        record(LONG, (LONG, 0.9)), record(LONG, (SHORT, 0.9), fan=0.4), record(LONG, **air), record("", **air),
    ]  # fmt: skip
    table = figures.view_table({"B": records})
    assert cells(table, "**all shown, fan found**")[0].startswith("100.0 %")
    assert cells(table, "shown, but the fan was not found")[0].startswith("0.0 %")
    assert cells(table, "not shown (apart)")[0].startswith("50.0 %")  # nothing is proposed where nothing is to be
    assert cells(table, "every clip")[0].startswith("50.0 %")
    way = figures.way_table({"B": records})
    assert cells(way, "shown to the network")[0].startswith("50.0 %")
    assert cells(way, "not shown: what")[0] == "no contact (2)"


def test_landmarks_off_the_plane_are_told_apart_from_errors() -> None:
    rows = [[0, 0.9, 1.0, 0.05, 1.0], [1, 0.9, 3.0, 0.05, 1.0], [2, 0.9, 9.0, 0.4, 1.0], [3, 0.5, 50.0, 0.0, 1.0]]
    table = figures.landmark_table({"B": [record(LONG, (LONG, 0.9), landmarks=rows)]}, 0.6)
    assert cells(table, "error, median")[0] == "2.0, 2.8, n 2"
    assert cells(table, "in %")[0] == "10.0, 14.0, n 2"
    assert cells(table, "within twice")[0].startswith("50.0 %")
    assert cells(table, "proposed, yet")[0].startswith("33.3 %")


def test_time_is_told_beside_bare_with_and_without_calipers() -> None:
    clip, photo = record(LONG, (LONG, 0.9)), record(LONG, (LONG, 0.9), kind="photo", picture_s=0.9)
    table = time_table({"B": [clip, photo, record(LONG, kind="long", picture_s=0.22, n_frames=72)]})
    assert cells(table, "as drawn, 15 frames") == ["130", "20", "100", "1.10 (1.10)", "1.30 (1.30)", "1"]
    assert cells(table, "three beats as stored, 72 frames")[3:5] == ["2.00 (2.00)", "2.20 (2.20)"]


def test_times_of_clips_whose_calipers_were_not_timed_do_not_count() -> None:
    old = record(LONG, (LONG, 0.9), picture_s=0.5)
    del old["lines_s"]
    assert cells(time_table({"B": [old, record(LONG, (LONG, 0.9))]}), "as drawn, 15 frames")[-1] == "1"


def test_what_masks_hold_off_is_counted_by_whether_it_was_right() -> None:
    held = {"held_off": "it shows no left atrium", "unsure": 0.2}
    records = [
        record(LONG, (LONG, 0.9)), record(LONG, (LONG, 0.9), **held), record(LONG, (SHORT, 0.8), **held),
        record(LONG, (SHORT, 0.6), **held),
    ]  # fmt: skip
    table = held_table({"B": records}, 0.7)
    assert cells(table, "a right view")[0].startswith("50.0 %")
    assert cells(table, "a wrong view")[0].startswith("100.0 %")
    assert cells(table, "% of the picture")[0] == "20.0, 20.0, n 3"


def test_odd_pictures_and_colour_count_what_would_be_proposed() -> None:
    odd: list[dict[str, Any]] = [
        {"kind": "noise", "said": [["", 0.9], [LONG, 0.1]], "proposed": "", "held_off": ""},
        {"kind": "report", "said": [], "proposed": "", "held_off": ""},
        {"kind": "organ", "said": [[LONG, 0.9]], "proposed": "", "held_off": "it shows no left atrium"},
        {"kind": "organ", "said": [[LONG, 0.6]], "proposed": "", "held_off": "it shows no left atrium"},
    ]
    table = figures.odd_table({"B": odd}, 0.7)
    assert cells(table, "**all**")[:3] == ["4", "3", "1"]
    assert cells(table, "noise")[-1] == "0.10"
    told: list[dict[str, Any]] = [{"view": LONG, "luma": [[LONG, 0.9]], "filled": [[SHORT, 0.8]]}]
    table = figures.colour_table({"B": told}, 0.7)
    assert cells(table, "view right, grey")[0].startswith("100.0 %")
    assert cells(table, "wrong of all, colour filled")[0].startswith("100.0 %")


def test_records_of_another_network_are_refused(tmp_path: Path) -> None:
    for ring in Ring:
        path = recognition_files.record_path(tmp_path, "echo", ring, 1)
        path.write_bytes(gzip.compress(json.dumps({"network": network_hash(), "clips": [{"seed": 1}]}).encode()))
    assert set(recognition_files.read_records(tmp_path)["echo"]) == {"A'", "B", "C"}

    other = tmp_path / "0123456789abcdef-echo-B-00002.json.gz"
    other.write_bytes(gzip.compress(json.dumps({"network": "0123456789abcdef", "clips": []}).encode()))
    with pytest.raises(SystemExit, match="figures of two networks must not be mixed"):
        recognition_files.read_records(tmp_path)


def test_a_ring_without_clips_is_said(tmp_path: Path) -> None:
    with pytest.raises(SystemExit, match="no clips of ring A', B, C"):
        recognition_files.read_records(tmp_path)


def test_overlap_of_fans() -> None:
    fan = Sector(apex_row_px=10.0, apex_col_px=100.0, left_deg=-30.0, right_deg=30.0, near_px=0.0, far_px=150.0)
    half = Sector(apex_row_px=10.0, apex_col_px=100.0, left_deg=-30.0, right_deg=0.0, near_px=0.0, far_px=150.0)
    assert overlap(fan, fan, (200, 200)) == 1.0
    assert overlap(fan, half, (200, 200)) == pytest.approx(0.5, abs=0.02)
    assert overlap(fan, None, (200, 200)) == 0.0


def test_cut_up_pictures_keep_their_greys_and_colour_is_filled_from_around() -> None:
    rng = np.random.default_rng(2)
    levels = rng.integers(0, 256, (2, 40, 24)).astype(np.uint8)
    cut = clips.cut_up(levels, rng)
    assert np.array_equal(np.sort(cut.ravel()), np.sort(levels.ravel()))
    assert not np.array_equal(cut, levels)

    frame = np.full((1, 60, 60, 3), 100, np.uint8)
    frame[0, 25:35, 25:35] = (240, 20, 10)
    assert np.abs(colour.filled_grey(frame).astype(int) - 100).max() <= 1


def test_a_clip_in_a_file_is_read_as_the_product_reads_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A steady hand's clip: fan, view and landmarks are where they were painted (4 mm: about a tenth of the LV)."""
    whole = clips.planned(SEED, Ring.A)
    monkeypatch.setattr(clips, "planned", lambda seed, ring: whole[:1])
    stored = next(clips.store_echoes(SEED, Ring.A, tmp_path))
    with listening() as heard:
        told = record_of(stored, heard)
    assert told["fan"] >= figures.FAN_IS_FOUND
    assert told["said"][0][0] == stored.shot.view
    assert told["bare_s"] > 0
    assert 0 < told["lines_s"] < told["picture_s"]  # it names the left ventricle's view: calipers are laid
    in_plane = [row for row in told["landmarks"] if row[1] >= 0.6 and row[3] < 0.15]
    assert len(in_plane) >= 5
    assert np.median([row[2] for row in in_plane]) < 4.0
