"""Web Mercator in our own words, and what of it is in sight."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from PySide6.QtCore import QRectF
from PySide6.QtGui import QTransform

from planner.model.records import Floats

LEAST_SPAN = 2e-4
"""Of the world: no nearer is gone to a road."""
ALONE_SPAN = 4e-3
"""Of the world: so much is shown around a place that stands alone, for towns around it that tell where it is."""


def mercator(lat_deg: ArrayLike, lon_deg: ArrayLike) -> tuple[Floats, Floats]:
    """Web Mercator, x and y in 0..1 of the world, y growing northwards."""
    lat = np.clip(np.asarray(lat_deg, float), -85.0, 85.0)
    x = np.asarray(lon_deg, float) / 360.0 + 0.5
    y = np.arcsinh(np.tan(np.radians(lat))) / (2 * np.pi) + 0.5
    return x, y


def unmercator(x: float, y: float) -> tuple[float, float]:
    """Latitude and longitude in degrees of a point of the map."""
    return float(np.degrees(np.arctan(np.sinh((y - 0.5) * 2 * np.pi)))), (x - 0.5) * 360.0


def framing(
    x: Floats, y: Floats, room: QRectF, margin_px: float, foot_px: float
) -> tuple[tuple[float, float], tuple[float, float]]:
    """The ranges of x and y that show points whole in ``room``, with a margin around and more at the foot."""
    wide, high = float(np.ptp(x)), float(np.ptp(y))
    least = LEAST_SPAN if wide or high else ALONE_SPAN
    wide, high = max(wide, least), max(high, least)
    across, up = max(room.width() - 2 * margin_px, 40.0), max(room.height() - foot_px - margin_px, 40.0)
    per_px = max(wide / across, high / up)
    left = float(x.min() + x.max()) / 2 - per_px * room.width() / 2
    foot = float(y.min()) - per_px * (foot_px + (up - high / per_px) / 2)
    return (left, left + per_px * room.width()), (foot, foot + per_px * room.height())


@dataclass(frozen=True)
class Sight:
    """The part of the map in sight, ``view`` in Mercator with y northwards, and the pixels that ``frame`` it."""

    view: QRectF
    frame: QRectF
    wide: float
    high: float

    def pixels(self, lat_deg: ArrayLike, lon_deg: ArrayLike) -> tuple[Floats, Floats]:
        """Where points of the earth lie, in pixels."""
        x, y = mercator(lat_deg, lon_deg)
        return (
            self.frame.left() + (x - self.view.left()) / self.view.width() * self.frame.width(),
            self.frame.bottom() - (y - self.view.top()) / self.view.height() * self.frame.height(),
        )

    def transform(self) -> QTransform:
        """From Mercator to pixels."""
        made = QTransform()
        made.translate(self.frame.left(), self.frame.bottom())
        made.scale(self.frame.width() / self.view.width(), -self.frame.height() / self.view.height())
        made.translate(-self.view.left(), -self.view.top())
        return made

    def wider(self, across: int, up: int) -> Sight:
        """The same with so many pixels more on every side."""
        per_x, per_y = self.view.width() / self.frame.width(), self.view.height() / self.frame.height()
        return Sight(
            self.view.adjusted(-across * per_x, -up * per_y, across * per_x, up * per_y),
            QRectF(0, 0, self.frame.width() + 2 * across, self.frame.height() + 2 * up).translated(
                self.frame.topLeft()
            ),
            self.wide + 2 * across,
            self.high + 2 * up,
        )
