"""Colours for quantities, the same on paper and on the screen: one map, the scales read on it, ink for each colour.

The map is CET-L18 (Kovesi 2015, arXiv:1509.03700) without its palest twelfth, which would vanish into the paper: pale
is little heat, deep red is much. Lightness alone tells more from less, so colour blindness loses nothing. Only a
window in night colours differs: it may shine in nothing but red, so there the dark end is the cool one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.model.records import Floats, Ints

STEPS = 64
CET_L18 = (
    "f1f6ca eeefb6 ebe8a5 e9e095 e7d786 e6cf78 e5c76c e5be60 e4b554 e4ac4a e3a23f "
    "e39937 e28f2f e28528 e17b22 e0701d df641b dd5819 dc4b19 da3d19 d72b1b d50f1d"
)
RED_ALONE = "1c0000 380201 550806 71110d 8e1e17 aa2f23 c64433 e35c45 ff785a"
CLASS_STEPS = (3, 18, 33, 48, 63)
"""The five classes of harm on the map, the least first: as far apart as the map allows, pale to deep in every theme."""

BLACK, WHITE = "#000000", "#ffffff"
LEAST_CONTRAST = 4.5
"""Of ink on a colour: WCAG 2.1, success criterion 1.4.3, level AA."""


def _stretched(anchors: str) -> tuple[str, ...]:
    """STEPS colours, evenly between the anchors."""
    known = np.array([channels(f"#{anchor}") for anchor in anchors.split()], dtype=np.float64)
    at = np.linspace(0.0, len(known) - 1.0, STEPS)
    columns = [np.interp(at, np.arange(len(known)), known[:, channel]) for channel in range(3)]
    return tuple("#{:02x}{:02x}{:02x}".format(*row) for row in np.stack(columns, axis=1).round().astype(int))


def channels(colour: str) -> tuple[int, int, int]:
    """Red, green and blue of ``#rrggbb``, each 0..255."""
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


SHADES = _stretched(CET_L18)
"""The map, palest first."""
NIGHT_SHADES = _stretched(RED_ALONE)


@dataclass(frozen=True, slots=True)
class Scale:
    """From the value shown first on the map to the one shown last, which may be the smaller; ``marks`` to write."""

    first: float
    last: float
    marks: tuple[float, ...] = ()

    def steps(self, values: Floats) -> Ints:
        """Index into the map for each value, held at its ends; -1 where a value is unknown."""
        share = (np.asarray(values, dtype=np.float64) - self.first) / ((self.last - self.first) or 1e-9)
        index = np.nan_to_num(np.clip(share, 0.0, 1.0) * (STEPS - 1)).round().astype(np.int64)
        return np.where(np.isnan(values), -1, index)

    def step(self, value: float) -> int:
        """Index into the map, -1 for an unknown value."""
        return int(self.steps(np.array(value)))

    def colour(self, value: float) -> str | None:
        """The colour by day and on paper; None for an unknown value."""
        step = self.step(value)
        return SHADES[step] if step >= 0 else None


WARMTH_C = Scale(31.0, 45.0, (31.0, 35.0, 40.0, 45.0))
"""Core temperature, from a nest at ease to workers dying: one colour always means one warmth."""
SAFE_SHARE = Scale(1.0, 0.0, (0.0, 0.5, 1.0))
"""Share of days without harm: the fewer, the deeper."""


def ink_on(colour: str) -> str:
    """Black or white, whichever reads better on a colour; one of them always has LEAST_CONTRAST."""
    return max((BLACK, WHITE), key=lambda ink: contrast(ink, colour))


def contrast(one: str, other: str) -> float:
    """Contrast of two colours, 1..21 (WCAG 2.1, definition of contrast ratio)."""
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour, 0..1 (WCAG 2.1, definition of relative luminance)."""
    share = np.array(channels(colour)) / 255.0
    linear = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    return float(linear @ (0.2126, 0.7152, 0.0722))
