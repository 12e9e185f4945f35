"""Hands for tests of Doppler clips: to a clip by its number, what is true of it, and a pen on the picture."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any


def to_clip(page: Any, number: int) -> None:
    page.locator(".path .tile", has_text=re.compile(rf"^\s*{number}\s*$")).click()
    page.wait_for_selector(f".stage-head h2:text-is('clip {number}')")
    page.wait_for_selector(f".tile[aria-current]:text-is('{number}')")


def of_mode(files: dict[str, Path], mode: str, valve: str) -> tuple[int, Path]:
    """Return number in the study and truth of the Doppler clip of a valve."""
    names = [name for name in sorted(files) if name.endswith(".dcm")]
    for number, name in enumerate(names, start=1):
        truth = (files[name].parent.parent / "truth" / name).with_suffix(".json")
        known = json.loads(truth.read_text("utf-8"))
        if known["mode"] == mode and known["doppler"] and known["doppler"]["valve"] == valve:
            return number, truth
    raise AssertionError(f"no {mode} of the {valve} valve")


class Pen:
    """Sets points of a mark by pixel of the stored frame."""

    def __init__(self, page: Any) -> None:
        self.page = page
        box = page.locator(".picture canvas").bounding_box()
        rows, cols = 600, 800
        self.scale = min(box["width"] / cols, box["height"] / rows)
        self.left = box["x"] + (box["width"] - cols * self.scale) / 2
        self.top = box["y"] + (box["height"] - rows * self.scale) / 2

    def click(self, *points: tuple[float, float], last_twice: bool = False) -> None:
        for n, (row, col) in enumerate(points):
            at = (self.left + (col + 0.5) * self.scale, self.top + (row + 0.5) * self.scale)
            twice = last_twice and n == len(points) - 1
            self.page.mouse.click(*at, click_count=2 if twice else 1)
