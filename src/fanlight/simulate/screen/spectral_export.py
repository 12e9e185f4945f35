"""A screen with a spectrum on its way out of the machine: enlarged or reduced, with everything that is true of it."""

from __future__ import annotations

from dataclasses import replace

from fanlight.simulate.screen.export import exported
from fanlight.simulate.screen.screen_spectral import SpectralScreen, VelocityTick
from fanlight.simulate.screen.screen_truth import Placed, Screen
from fanlight.study import Box, Region, Sector


def exported_spectrum(screen: SpectralScreen, ratio: float) -> SpectralScreen:
    """Return the screen at another size; `ratio` is the new size over the old.

    The baseline of the strip comes to lie between two rows of the new screen where the ratio is not whole; the region
    says the nearest, as a file must.
    """
    if ratio == 1.0:
        return screen
    whole = Screen(
        frames=screen.frames, regions=screen.regions, placed=screen.placed or _nowhere(screen.strip_box),
        texts=screen.texts, ruler=None, ecg_box=screen.ecg_box, strip_box=screen.strip_box, cursor_px=screen.cursor_px,
    )  # fmt: skip
    out = exported(whole, ratio)
    assert out.strip_box is not None
    gate = screen.gate_px
    return SpectralScreen(
        frames=out.frames,
        regions=tuple(_with_gate(new, old, ratio) for new, old in zip(out.regions, screen.regions, strict=True)),
        placed=None if screen.placed is None else out.placed,
        texts=out.texts,
        ticks=tuple(VelocityTick(row_px=_place(tick.row_px, ratio), cm_s=tick.cm_s) for tick in screen.ticks),
        strip_box=out.strip_box,
        baseline_row_px=_place(screen.baseline_row_px, ratio),
        ecg_box=out.ecg_box,
        cursor_px=out.cursor_px,
        gate_px=None if gate is None else (_place(gate[0], ratio), _place(gate[1], ratio)),
    )


def _place(px: int, ratio: float) -> int:
    """Where a pixel's centre comes to lie: centres are at whole numbers, edges half a pixel off."""
    return round((px + 0.5) * ratio - 0.5)


def _with_gate(new: Region, old: Region, ratio: float) -> Region:
    """Return a region whose gate follows: it counts from the reference pixel, as the cursor does."""
    if old.sample_volume_px is None:
        return new
    down, across = old.sample_volume_px
    return replace(new, sample_volume_px=(round(down * ratio), round(across * ratio)))


def _nowhere(box: Box) -> Placed:
    """Return a place for the guide that is not there, so that the rest can be exported like any screen."""
    sector = Sector(
        apex_row_px=float(box.row0), apex_col_px=float(box.col0), left_deg=-1.0, right_deg=1.0, near_px=0.0, far_px=1.0
    )
    return Placed(sector=sector, box=box, mm_per_px=1.0)
