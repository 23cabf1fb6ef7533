"""Colours for quantities: maps whose lightness alone tells more from less, so colour blindness loses nothing.

By day ``CET-L18`` (pale to deep red; Kovesi 2015, arXiv:1509.03700), in the dark ``inferno`` (black to pale
yellow; van der Walt and Smith for matplotlib), in the night palette a ramp of red alone.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from PySide6.QtGui import QColor

from planner.ui.look import theme

STEPS = 64


@lru_cache(maxsize=4)
def _table(name: str) -> tuple[QColor, ...]:
    if name == "red":
        return tuple(
            QColor(round(28 + 227 * s), round(120 * s * s), round(90 * s * s))
            for s in np.linspace(0, 1, STEPS)
        )
    import pyqtgraph as pg

    first = {"CET-L18": 0.08, "inferno": 0.12}.get(name, 0.0)  # the very end vanishes into the panel
    rows = pg.colormap.get(name).getLookupTable(start=first, stop=1.0, nPts=STEPS)
    return tuple(QColor(*(int(part) for part in row[:3])) for row in rows)


def shades() -> tuple[QColor, ...]:
    """The colours of the current palette's map, lowest value first."""
    return _table(theme.current().heat_map)


def steps(values, low: float, high: float) -> np.ndarray:
    """Index into :func:`shades` for each value; -1 where the value is unknown."""
    values = np.asarray(values, dtype=float)
    share = (values - low) / max(high - low, 1e-9)
    index = np.clip(np.nan_to_num(share) * (STEPS - 1), 0, STEPS - 1).round().astype(int)
    return np.where(np.isfinite(values), index, -1)


def level_colour(level: int) -> QColor:
    """The colour of a verdict level (clear, caution, harm, unknown)."""
    palette = theme.current()
    return QColor((palette.clear, palette.caution, palette.harm, palette.unknown)[level])
