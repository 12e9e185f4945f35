"""The borders of a left-ventricular M-mode strip through all its beats, and how well each is borne out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.measure.m_mode.border import Border
from fanlight.measure.m_mode.coarse_layers import find_layers
from fanlight.measure.m_mode.edges import Edge, place_edge
from fanlight.measure.m_mode.order import order_fault
from fanlight.measure.m_mode.refined import Levels, refine
from fanlight.measure.m_mode.strip import MModeStrip
from fanlight.measure.m_mode.tissue_map import map_tissue, smoothed
from fanlight.reference.m_mode import MModeSettings

_LEAST_ROWS, _LEAST_COLS = 48, 32  # fewer hold no ventricle, or no beat


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Borders:
    """Where the borders lie in each column, and what bears them out.

    Attributes
    ----------
    rows : ndarray of shape (5, column)
        Row of each `Border`, to a fraction of a pixel; row 0 is the upper edge of the first row.
    seen : ndarray of shape (5, column), bool
        Where the step from blood to wall stands beside the border.
    blur_mm : ndarray of shape (5,)
        How far each border was moved inwards from the middle of its rise, to where its echo is strongest.
    margin_share : float
        How much worse the best other left cavity explains the strip, 0 to 1.
    has_fluid : bool
        Whether fluid parts the free wall from the pericardium.
    """

    rows: NDArray[np.float64]
    seen: NDArray[np.bool_]
    blur_mm: NDArray[np.float64]
    margin_share: float
    has_fluid: bool

    def confidence(self, border: Border) -> float:
        """Return the share of the columns in which a border is borne out by the picture, 0 to 1."""
        return float(self.seen[border].mean())


def find_borders(strip: MModeStrip, settings: MModeSettings) -> Borders | str:
    """Return the borders of a strip, or why there are none.

    Parameters
    ----------
    strip : MModeStrip
        Through both ventricles, the right one nearer to the probe.
    settings : MModeSettings
        The house's.

    Notes
    -----
    The strip is explained as a whole: chest, fluid if any, wall and cavity of the right ventricle, septum, left cavity,
    free wall, fluid if any, pericardium. Each pixel speaks for wall or blood by the strip's own two levels, so that
    gain matters little; each layer has a range of thickness that costs nothing; the cavity's two borders are the best
    pair of paths over time (`coarse_layers`), found without a start from anybody. Each border is then followed on the
    strip's own grid with its neighbours held (`refined`), and put where its echo is strongest (`edges`).
    """
    rows, cols = strip.levels.shape
    if rows < _LEAST_ROWS or cols < _LEAST_COLS:
        return f"the strip has {rows} rows and {cols} columns; at least {_LEAST_ROWS} and {_LEAST_COLS} are needed"
    tissue = map_tissue(strip)
    if isinstance(tissue, str):
        return tissue
    coarse = find_layers(strip, tissue, settings)
    if coarse.margin_share < settings.least_margin:
        return "more than one dark band could be the left ventricle"
    paths, levels = refine(strip, tissue, coarse.rows, settings)
    edges = [_edge(strip, paths, border, levels) for border in Border]
    step = tissue.wall_level - tissue.blood_level
    found = np.stack([edge.rows for edge in edges])
    seen = np.stack([edge.contrast for edge in edges]) / step >= settings.least_contrast
    is_line_seen = float(seen[Border.EPICARDIUM].mean()) >= settings.least_seen_share
    if fault := order_fault(strip, smoothed(strip), tissue, found, coarse.rows[-1], is_line_seen=is_line_seen):
        return fault
    return Borders(
        rows=found,
        seen=seen,
        blur_mm=np.array([edge.blur_rows for edge in edges]) * strip.mm_per_row,
        margin_share=coarse.margin_share,
        has_fluid=levels.has_fluid,
    )


def _edge(strip: MModeStrip, paths: NDArray[np.float64], border: Border, levels: Levels) -> Edge:
    is_line = border is Border.EPICARDIUM and not levels.has_fluid
    return place_edge(
        strip,
        paths[border],
        wall_is_below=border.enters_wall or is_line,
        is_thin=not is_line,
        may_be_covered=border is Border.SEPTUM_START,  # by the tricuspid valve
    )
