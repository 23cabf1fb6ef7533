"""Colours for quantities on the screen: the map of the palette in use, from the one list of maps and scales."""

from __future__ import annotations

from functools import lru_cache

from PySide6.QtGui import QColor

from planner.app.common import scale
from planner.model.records import Floats, Ints
from planner.ui.look import theme

STEPS = scale.STEPS
MAPS = {"warmth": scale.SHADES, "red": scale.NIGHT_SHADES}


@lru_cache(maxsize=len(MAPS))
def _table(name: str) -> tuple[QColor, ...]:
    return tuple(QColor(shade) for shade in MAPS[name])


def shades() -> tuple[QColor, ...]:
    """The colours of the current palette's map, lowest value first."""
    return _table(theme.current().heat_map)


def steps(values: Floats, low: float, high: float) -> Ints:
    """Index into :func:`shades` for each value; -1 where the value is unknown."""
    return scale.Scale(low, high).steps(values)


def ink_on(ground: QColor) -> QColor:
    """Black or white, whichever reads better on ``ground``."""
    return QColor(_ink_on(ground.name()))


@lru_cache(maxsize=256)
def _ink_on(ground: str) -> str:
    """Kept: a board asks for a handful of grounds cell by cell."""
    return scale.ink_on(ground)


def level_colour(level: int) -> QColor:
    """The colour of a verdict level (clear, caution, harm, unknown)."""
    palette = theme.current()
    return QColor((palette.clear, palette.caution, palette.harm, palette.unknown)[level])
