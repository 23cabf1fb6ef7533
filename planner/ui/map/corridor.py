"""The weather to both sides of the road, as steps with an edge between them, at the minute under the cursor."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QRectF
from PySide6.QtGui import QImage, QPainter

from planner.model.records import Bools, Floats, Road
from planner.ui.look import colours, theme
from planner.ui.map.mercator import Sight, mercator

if TYPE_CHECKING:
    from planner.app.plan.inputs import Beside

FIELDS = {"outside": "air_c", "wind": "wind_ms", "sun": "ghi_w_m2", "rain": "rain_mm"}
"""What of the weather lies beside the road for each thing the road can be coloured by."""
OF_THE_HOUR = ("ghi_w_m2", "rain_mm")
"""Means and sums of the hour before the stamp; the others are instants."""
PIXELS = 320
"""Points of the picture on its longer side: contours look smooth, and a frame costs two milliseconds."""
EVERY_S = 300.0
LEVELS = 8
FADE_SHARE = 0.12
OPACITY, EDGE_OPACITY = 0.50, 0.85
LEAST_WEIGHT = 0.02
NICE = (1.0, 2.0, 2.5, 5.0, 10.0)


@dataclass(frozen=True, eq=False)
class Laid:
    """A corridor made ready for painting: where it lies on the map, and how much of it shows at each point.

    ``down`` (y, row) and ``across`` (column, x) bring the mesh to the points of the picture; ``shown`` (y, x) in 0..1.
    """

    beside: Beside
    box: QRectF
    down: Floats
    across: Floats
    shown: Floats


def lay(beside: Beside, road: Road) -> Laid:
    """Make a corridor ready; worked out once, away from the hand."""
    from planner.app.plan.inputs import away_from_km

    x, _ = mercator(np.zeros(2), beside.lon_deg[[0, -1]])
    _, y = mercator(beside.lat_deg[[0, -1]], np.zeros(2))
    wide, high = float(x[1] - x[0]), float(y[1] - y[0])
    scale = PIXELS / max(wide, high)
    xs = np.linspace(x[0], x[1], max(round(wide * scale), 2))
    ys = np.linspace(y[1], y[0], max(round(high * scale), 2))
    lon_deg = (xs - 0.5) * 360.0
    lat_deg = np.degrees(np.arctan(np.sinh((ys - 0.5) * 2.0 * np.pi)))
    away_km = away_from_km(road, lat_deg[:, None], lon_deg[None, :])
    fade_km = FADE_SHARE * beside.half_km
    shown = np.clip((beside.half_km - away_km) / fade_km, 0.0, 1.0)
    return Laid(
        beside=beside,
        box=QRectF(float(x[0]), float(y[0]), wide, high),
        down=_between(beside.lat_deg, lat_deg),
        across=_between(beside.lon_deg, lon_deg).T,
        shown=shown,
    )


def _between(nodes: Floats, wanted: Floats) -> Floats:
    """Weights (wanted, node) that interpolate straight between rising nodes."""
    return np.stack([np.interp(wanted, nodes, row) for row in np.eye(nodes.size)], axis=1)


class Corridor:
    """Paints what has been laid, of one quantity at one minute; keeps the last picture."""

    def __init__(self) -> None:
        self.laid: Laid | None = None
        self._picture: QImage | None = None
        self._key: tuple[object, ...] = ()

    def show(self, laid: Laid | None) -> None:
        self.laid, self._key, self._picture = laid, (), None

    def holds(self, quantity: str) -> bool:
        """Whether there is weather beside the road of what the road is coloured by."""
        return self.laid is not None and quantity in FIELDS

    def span(self, quantity: str, first_s: float, last_s: float) -> tuple[float, float]:
        """The lowest and the highest value in the corridor between two instants; NaN where nothing is known."""
        if self.laid is None or quantity not in FIELDS:
            return float("nan"), float("nan")
        hours = self.laid.beside.time_s
        during = (hours >= first_s - 3600.0) & (hours <= last_s + 3600.0)
        values = getattr(self.laid.beside, FIELDS[quantity])[during]
        known = values[np.isfinite(values)]
        return (float(known.min()), float(known.max())) if known.size else (float("nan"), float("nan"))

    def values(self, quantity: str, time_s: float) -> Floats:
        """The quantity at an instant on the points of the picture, (y, x); NaN where it is not known."""
        laid = self.laid
        if laid is None:
            return np.zeros((0, 0))
        table = _at(laid.beside, FIELDS[quantity], time_s)
        known: Bools = np.isfinite(table)
        weight = laid.down @ known @ laid.across
        total = laid.down @ np.where(known, table, 0.0) @ laid.across
        return np.where(weight > LEAST_WEIGHT, total / np.maximum(weight, LEAST_WEIGHT), np.nan)

    def paint(
        self, painter: QPainter, sight: Sight, quantity: str, span: tuple[float, float], time_s: float
    ) -> None:
        """Lay the steps under the road; nothing for a quantity that has none."""
        laid = self.laid
        if laid is None or quantity not in FIELDS or not np.isfinite(time_s):
            return
        key = (quantity, span, round(time_s / EVERY_S), theme.current().name)
        if key != self._key or self._picture is None:
            self._key, self._picture = key, self._drawn(quantity, span, time_s)
        corners = sight.transform().mapRect(laid.box)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        painter.drawImage(corners, self._picture)

    def _drawn(self, quantity: str, span: tuple[float, float], time_s: float) -> QImage:
        laid, edges = self.laid, level_edges(*span)
        assert laid is not None
        values = self.values(quantity, time_s)
        known = np.isfinite(values)
        level = np.searchsorted(edges, np.where(known, values, edges[0]))
        middle = np.interp(np.arange(edges.size + 1) - 0.5, np.arange(edges.size), edges)
        shades = colours.shades()
        steps = np.clip(colours.steps(middle, *span), 0, len(shades) - 1)
        table = np.array([shades[step].getRgb()[:3] for step in steps], dtype=np.float64)
        edge = np.zeros(level.shape, dtype=bool)
        edge[:, 1:] |= level[:, 1:] != level[:, :-1]
        edge[1:] |= level[1:] != level[:-1]
        opacity = np.where(edge, EDGE_OPACITY, OPACITY) * laid.shown * known
        pixels = np.empty((*level.shape, 4), dtype=np.uint8)
        pixels[..., :3] = np.round(table[level] * opacity[..., None])
        pixels[..., 3] = np.round(255.0 * opacity)
        high, wide = level.shape
        made = QImage(pixels.tobytes(), wide, high, wide * 4, QImage.Format.Format_RGBA8888_Premultiplied)
        return made.copy()  # its own memory, whatever becomes of the bytes


def level_edges(low: float, high: float, most: int = LEVELS) -> Floats:
    """Round values between ``low`` and ``high`` at which one step of the corridor meets the next; never none."""
    step = max(high - low, 1e-6) / most
    power = float(10.0 ** np.floor(np.log10(step)))
    nice = next(n * power for n in NICE if n * power >= step * (1 - 1e-9))
    edges: Floats = np.arange(np.ceil(low / nice), np.floor(high / nice) + 1) * nice
    return edges if edges.size else np.array([low])


def _at(beside: Beside, name: str, time_s: float) -> Floats:
    """The mesh at an instant, (row, column)."""
    table: Floats = getattr(beside, name)
    hours = beside.time_s
    if name in OF_THE_HOUR:
        of_hour: Floats = table[int(np.clip(np.searchsorted(hours, time_s), 0, hours.size - 1))]
        return of_hour
    place = float(np.interp(time_s, hours, np.arange(hours.size)))
    at = min(int(place), max(hours.size - 2, 0))
    share = place - at
    between: Floats = table[at] * (1.0 - share) + table[min(at + 1, hours.size - 1)] * share
    return between
