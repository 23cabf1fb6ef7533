"""The road on the map: coloured by what the vehicle meets, with hours, stops, night, wind and the vehicle itself.

Web Mercator in our own drawing; land, borders and towns are bundled, street tiles are a wish of the user's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFontMetricsF,
    QKeyEvent,
    QPainter,
    QPainterPath,
    QPen,
    QPixmap,
    QPolygonF,
    QTransform,
)

from planner.app.plan.results import TYPICAL, Curves
from planner.model.records import Road, Site
from planner.ui.look import clock, colours, theme
from planner.ui.look import strings as s
from planner.units import METRIC, UnitSystem

VERTICES = 900
"""A road of any length is drawn with at most this many points; more cannot be seen."""
NIGHT_BELOW_DEG = -0.83
QUANTITIES = ("outside", "core", "sun", "wind")


def mercator(lat_deg, lon_deg) -> tuple[np.ndarray, np.ndarray]:
    """Web Mercator, x and y in 0..1 of the world, y growing northwards."""
    lat = np.clip(np.asarray(lat_deg, float), -85.0, 85.0)
    x = np.asarray(lon_deg, float) / 360.0 + 0.5
    y = np.arcsinh(np.tan(np.radians(lat))) / (2 * np.pi) + 0.5
    return x, y


def unmercator(x: float, y: float) -> tuple[float, float]:
    """Latitude and longitude in degrees of a point of the map."""
    return float(np.degrees(np.arctan(np.sinh((y - 0.5) * 2 * np.pi)))), (x - 0.5) * 360.0


NONE = np.empty(0)


@dataclass(frozen=True)
class Ground:
    """What lies under the road: rings of land, lines of borders, towns with their weight."""

    land: tuple[tuple[np.ndarray, np.ndarray], ...] = ()
    borders: tuple[tuple[np.ndarray, np.ndarray], ...] = ()
    town_names: tuple[str, ...] = ()
    town_lat_deg: np.ndarray = field(default_factory=lambda: NONE)
    town_lon_deg: np.ndarray = field(default_factory=lambda: NONE)
    town_people: np.ndarray = field(default_factory=lambda: NONE)


class _Land:
    """Land and borders, each ring with its frame so that only what is in sight is drawn; kept as a picture."""

    def __init__(self) -> None:
        self._rings: list[tuple[QRectF, QPolygonF]] = []
        self._lines: list[tuple[QRectF, QPolygonF]] = []
        self._picture: QPixmap | None = None
        self._key: tuple = ()

    def set_ground(self, ground: Ground) -> None:
        self._rings = [(ring.boundingRect(), ring) for ring in (_polygon(*points) for points in ground.land)]
        self._lines = [
            (line.boundingRect(), line) for line in (_polygon(*points) for points in ground.borders)
        ]
        self._key = ()

    def picture(self, view: QRectF, transform: QTransform, size: QSize, ratio: float) -> QPixmap:
        """The land in sight; drawn anew only when the view, the size or the palette changed."""
        key = (view.getRect(), size.width(), size.height(), ratio, theme.current().name)
        if key != self._key or self._picture is None:
            self._key, self._picture = key, self._drawn(view, transform, size, ratio)
        return self._picture

    def _drawn(self, view: QRectF, transform: QTransform, size: QSize, ratio: float) -> QPixmap:
        look = theme.current()
        picture = QPixmap(size * ratio)
        picture.setDevicePixelRatio(ratio)
        picture.fill(theme.colour(look.water))
        painter = QPainter(picture)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setTransform(transform)
        painter.setPen(_cosmetic(look.border, 0.8))
        painter.setBrush(theme.colour(look.land))
        for frame, ring in self._rings:
            if frame.intersects(view):
                painter.drawPolygon(ring)
        for frame, line in self._lines:
            if frame.intersects(view):
                painter.drawPolyline(line)
        painter.end()
        return picture


class _Path(pg.GraphicsObject):
    """The road: a casing, darker where the vehicle drives by night, and the coloured line above it."""

    def __init__(self) -> None:
        super().__init__()
        self._casing = QPainterPath()
        self._night = QPainterPath()
        self._parts: list[tuple[QColor | None, QPainterPath]] = []
        self._bounds = QRectF()
        self.setZValue(5)

    def set_line(self, x, y, shade_index=None, night=None) -> None:
        self.prepareGeometryChange()
        self._casing = _path(x, y)
        self._bounds = self._casing.boundingRect().adjusted(-0.01, -0.01, 0.01, 0.01)
        self._night, self._parts = QPainterPath(), []
        if night is not None:
            self._night = _pieces(x, y, night[:-1])
        if shade_index is not None:
            shades = colours.shades()
            for index in np.unique(shade_index[:-1]):
                ink = shades[index] if index >= 0 else None
                self._parts.append((ink, _pieces(x, y, shade_index[:-1] == index)))
        self.update()

    def boundingRect(self) -> QRectF:
        return self._bounds

    def paint(self, painter: QPainter, *args) -> None:
        look = theme.current()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(_cosmetic(look.night, 13, alpha=0.34))
        painter.drawPath(self._night)
        for ink, width, alpha in ((look.panel, 9.0, 1.0), (look.ink, 6.2, 0.62)):
            painter.setPen(_cosmetic(ink, width, alpha=alpha))
            painter.drawPath(self._casing)
        if not self._parts:
            painter.setPen(_cosmetic(look.ink_soft, 3.4))
            painter.drawPath(self._casing)
        for ink, part in self._parts:
            painter.setPen(_cosmetic(ink.name() if ink else look.unknown, 4.2))
            painter.drawPath(part)


class MapView(pg.PlotWidget):
    """Shows the road and what is met on it; announces points clicked and the cursor's wish to move."""

    point_picked = Signal(float, float)
    cursor_moved = Signal(float)

    def __init__(self, units: UnitSystem = METRIC) -> None:
        super().__init__()
        self.units = units
        self.road: Road | None = None
        self.waypoints: tuple[Site, ...] = ()
        self.curves: Curves | None = None
        self.group = 0
        self.quantity = "outside"
        self.zone = "UTC"
        self.cursor_s = float("nan")
        self.picking = False
        self.attribution = ""
        self.tile_credit = ""
        self.tiles = None
        self.span: tuple[float, float] | None = None
        self._ground = Ground()
        self._towns = (NONE, NONE)
        self.setAccessibleName(s.say(s.MAP_TITLE))
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMinimumSize(240, 150)
        self.setCacheMode(self.CacheModeFlag.CacheNone)  # the land moves without the scene's transform
        self.setViewportUpdateMode(self.ViewportUpdateMode.FullViewportUpdate)
        item = self.getPlotItem()
        item.setMenuEnabled(False)
        item.hideButtons()
        item.hideAxis("left")
        item.hideAxis("bottom")
        item.setAspectLocked(True)
        item.layout.setContentsMargins(0, 0, 0, 0)
        self._box = item.getViewBox()
        self._box.setLimits(xMin=-0.1, xMax=1.1, yMin=-0.1, yMax=1.1, minXRange=2e-6)
        self._box.setRange(xRange=(0.35, 0.65), yRange=(0.55, 0.75), padding=0)
        self._land, self._line = _Land(), _Path()
        self._line.hide()
        item.addItem(self._line, ignoreBounds=True)
        theme.stage.changed.connect(self.restyle)
        self.restyle()

    # -- what is shown -------------------------------------------------------------------------

    def show_ground(self, ground: Ground) -> None:
        self._ground = ground
        self._towns = mercator(ground.town_lat_deg, ground.town_lon_deg)
        self._land.set_ground(ground)
        self.viewport().update()

    def show_tiles(self, tiles, credit: str) -> None:
        """Lay street tiles under the road, or none."""
        if self.tiles is not None:
            self.tiles.changed.disconnect(self.viewport().update)
            self.tiles.close()
        self.tiles, self.tile_credit = tiles, credit
        if tiles is not None:
            tiles.setParent(self)
            tiles.changed.connect(self.viewport().update)
        self.viewport().update()

    def show_road(self, road: Road | None, waypoints: Sequence[Site]) -> None:
        """Show the road before anything is known of the trip along it."""
        fresh = road is not None and (self.road is None or not _same_way(road, self.road))
        self.road, self.waypoints = road, tuple(waypoints)
        if road is None:
            self.curves = None
            self._line.hide()
        else:
            self._draw()
            self._line.show()
        if fresh or (road is None and self.waypoints):
            self.fit()
        self.viewport().update()

    def show_curves(self, curves: Curves | None, group: int, zone: str) -> None:
        """Colour the road by what the vehicle meets on this trip."""
        self.curves, self.group, self.zone = curves, group, zone
        if self.road is not None:
            self._draw()
        self.viewport().update()

    def set_quantity(self, quantity: str) -> None:
        self.quantity = quantity
        if self.road is not None:
            self._draw()
        self.viewport().update()

    def set_cursor(self, time_s: float) -> None:
        self.cursor_s = time_s
        self.viewport().update()

    def set_units(self, units: UnitSystem) -> None:
        self.units = units
        self.viewport().update()

    def fit(self) -> None:
        """Show the whole road, or the places set so far."""
        if self.road is not None:
            x, y = mercator(self.road.lat_deg, self.road.lon_deg)
        elif self.waypoints:
            x, y = mercator([c.lat_deg for c in self.waypoints], [c.lon_deg for c in self.waypoints])
        else:
            return
        room = max(np.ptp(x), np.ptp(y), 2e-4)
        self._box.setRange(
            xRange=(float(x.min()) - room * 0.08, float(x.max()) + room * 0.08),
            yRange=(float(y.min()) - room * 0.12, float(y.max()) + room * 0.08),
            padding=0,
        )

    def restyle(self) -> None:
        """Take the colours of the current palette."""
        if self.plotItem is None:  # closed already
            return
        self.setBackground(theme.current().water)
        if self.road is not None:
            self._draw()
        self.viewport().update()

    # -- drawing the road ------------------------------------------------------------------------

    def _draw(self) -> None:
        road = self.road
        pick = np.unique(np.linspace(0, len(road.km) - 1, min(VERTICES, len(road.km))).round().astype(int))
        x, y = mercator(road.lat_deg[pick], road.lon_deg[pick])
        if self.curves is None:
            self._line.set_line(x, y)
            return
        km = road.km[pick]
        values = np.interp(km, *self._driven(self._values()))
        sun = np.interp(km, *self._driven(self.curves.sun_elevation_deg))
        self.span = self._span(values)
        self._line.set_line(x, y, colours.steps(values, *self.span), sun < NIGHT_BELOW_DEG)

    def _driven(self, values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Values against kilometres, once each, from the moment the wheels first turn."""
        starts = [phase.start_s for phase in self.curves.phases if phase.kind == "driving"]
        under_way = self.curves.time_s >= (starts[0] if starts else -np.inf)
        km, first = np.unique(self.curves.km[under_way], return_index=True)
        return km, values[under_way][first]

    def _values(self) -> np.ndarray:
        curves = self.curves
        return {
            "outside": curves.outside_c,
            "core": curves.core_c[:, TYPICAL, self.group],
            "sun": curves.ghi_w_m2,
            "wind": curves.wind_ms,
        }[self.quantity]

    def _span(self, values: np.ndarray) -> tuple[float, float]:
        known = values[np.isfinite(values)]
        if not len(known):
            return 0.0, 1.0
        floor = {"outside": 6.0, "core": 6.0, "sun": 100.0, "wind": 3.0}[self.quantity]
        low, high = float(known.min()), float(known.max())
        return (low, high) if high - low > floor else ((low + high - floor) / 2, (low + high + floor) / 2)

    def _write(self, value: float) -> str:
        if self.quantity == "sun":
            return s.say(s.STRIP_SUN_VALUE, value=f"{max(value, 0):.0f}")
        if self.quantity == "wind":
            return self.units.speed_text(max(value, 0))
        return self.units.temp_text(value, 0)

    # -- painting over the map, in pixels --------------------------------------------------------

    def drawBackground(self, painter: QPainter, rect) -> None:
        """Land and borders lie under everything."""
        if self.plotItem is None:
            return
        (left, right), (low, high) = self._box.viewRange()
        view = QRectF(left, low, right - left, high - low)
        frame = self._box.sceneBoundingRect()
        transform = QTransform()
        transform.translate(frame.left(), frame.bottom())
        transform.scale(frame.width() / view.width(), -frame.height() / view.height())
        transform.translate(-left, -low)
        painter.save()
        painter.resetTransform()
        size = self.viewport().size()
        painter.drawPixmap(0, 0, self._land.picture(view, transform, size, self.devicePixelRatioF()))
        if self.tiles is not None:
            self.tiles.paint(painter, view, size)
        painter.restore()

    def drawForeground(self, painter: QPainter, rect) -> None:
        super().drawForeground(painter, rect)
        painter.save()
        painter.resetTransform()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        taken: list[QRectF] = [self._paint_attribution(painter)]
        if self.curves is not None and self.road is not None:
            taken.append(self._paint_bar(painter))
        self._paint_waypoints(painter, taken)
        if self.curves is not None and self.road is not None:
            self._paint_wind(painter, taken)
            self._paint_hours(painter, taken)
        self._paint_towns(painter, taken)
        if self.curves is not None and self.road is not None:
            self._paint_vehicle(painter)
        painter.restore()

    def _pixels(self, lat_deg, lon_deg) -> tuple[np.ndarray, np.ndarray]:
        x, y = mercator(lat_deg, lon_deg)
        (left, right), (low, high) = self._box.viewRange()
        frame = self._box.sceneBoundingRect()
        return (
            frame.left() + (x - left) / (right - left) * frame.width(),
            frame.bottom() - (y - low) / (high - low) * frame.height(),
        )

    def _paint_towns(self, painter: QPainter, taken: list[QRectF]) -> None:
        ground, look = self._ground, theme.current()
        (left, right), (low, high) = self._box.viewRange()
        east, north = self._towns
        inside = np.flatnonzero((east > left) & (east < right) & (north > low) & (north < high))
        biggest = inside[np.argsort(-ground.town_people[inside], kind="stable")][:60]
        if not len(biggest):
            return
        xs, ys = self._pixels(ground.town_lat_deg[biggest], ground.town_lon_deg[biggest])
        face = theme.font(-1.0)
        metrics = QFontMetricsF(face)
        painter.setFont(face)
        shown = 0
        for x, y, town in zip(xs, ys, biggest, strict=True):
            at = QPointF(float(x), float(y))
            text = ground.town_names[town]
            box = QRectF(
                at.x() + 5, at.y() - metrics.height() / 2, metrics.horizontalAdvance(text), metrics.height()
            )
            if box.right() > self.width() - 4 or any(
                box.adjusted(-6, -2, 4, 2).intersects(other) for other in taken
            ):
                continue
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(theme.colour(look.ink_faint))
            painter.drawEllipse(at, 1.7, 1.7)
            _halo_text(painter, box, text, look.ink_soft, look.land)
            taken.append(box)
            shown += 1
            if shown >= 16:
                return

    def _paint_hours(self, painter: QPainter, taken: list[QRectF]) -> None:
        """Where the vehicle is at each full local hour."""
        curves, look = self.curves, theme.current()
        moving = curves.speed_ms > 0.5
        if not moving.any():
            return
        start, end = curves.time_s[moving][[0, -1]]
        every = next(e for e in (1, 2, 3, 6, 12, 24) if (end - start) / 3600 / e < 9 or e == 24)
        face = theme.font(-1.0)
        metrics = QFontMetricsF(face)
        painter.setFont(face)
        waypoints = list(
            zip(
                *self._pixels([c.lat_deg for c in self.waypoints], [c.lon_deg for c in self.waypoints]),
                strict=True,
            )
        )
        for stamp in clock.hours(start, end, self.zone, every):
            x, y = (
                float(v)
                for v in self._pixels(
                    np.interp(stamp, curves.time_s, curves.lat_deg),
                    np.interp(stamp, curves.time_s, curves.lon_deg),
                )
            )
            if any(abs(x - cx) + abs(y - cy) < 16 for cx, cy in waypoints):
                continue
            painter.setPen(QPen(theme.colour(look.ink), 1.4))
            painter.setBrush(theme.colour(look.panel))
            painter.drawEllipse(QPointF(x, y), 3.4, 3.4)
            text = clock.hour(stamp, self.zone)
            box = QRectF(
                x - metrics.horizontalAdvance(text) - 9,
                y - metrics.height() / 2,
                metrics.horizontalAdvance(text),
                metrics.height(),
            )
            if not any(box.intersects(other) for other in taken):
                _halo_text(painter, box, text, look.ink, look.land)
                taken.append(box)

    def _paint_waypoints(self, painter: QPainter, taken: list[QRectF]) -> None:
        look = theme.current()
        if not self.waypoints:
            return
        face = theme.font(-0.6, bold=True)
        metrics = QFontMetricsF(face)
        painter.setFont(face)
        xs, ys = self._pixels([c.lat_deg for c in self.waypoints], [c.lon_deg for c in self.waypoints])
        last = len(self.waypoints) - 1
        for index, (x, y, waypoint) in enumerate(zip(xs, ys, self.waypoints, strict=True)):
            end = index in (0, last)
            at = QPointF(float(x), float(y))
            painter.setPen(QPen(theme.colour(look.panel), 2))
            painter.setBrush(theme.colour(look.ink))
            size = 6.0 if end else 4.4
            if end:
                painter.drawEllipse(at, size, size)
            else:
                painter.drawRect(QRectF(at.x() - size, at.y() - size, 2 * size, 2 * size))
            box = self._beside(at, metrics.horizontalAdvance(waypoint.name), metrics.height(), taken)
            if box is not None:
                _halo_text(painter, box, waypoint.name, look.ink, look.land)
                taken.append(box)

    def _beside(self, at: QPointF, wide: float, high: float, taken: list[QRectF]) -> QRectF | None:
        """Room for a name right, left, above or below its mark; ``None`` where every place is taken."""
        x, y = at.x(), at.y()
        spots = (
            (x + 10, y - high / 2),
            (x - 10 - wide, y - high / 2),
            (x - wide / 2, y - high - 8),
            (x - wide / 2, y + 8),
        )
        for left, top in spots:
            box = QRectF(left, top, wide, high)
            inside = (
                box.left() >= 4
                and box.right() <= self.width() - 4
                and top >= 0
                and box.bottom() <= self.height()
            )
            if inside and not any(box.intersects(other) for other in taken):
                return box
        return None

    def _paint_wind(self, painter: QPainter, taken: list[QRectF]) -> None:
        """Arrows beside the road where the wind blows to; longer for more wind."""
        curves, look = self.curves, theme.current()
        km = np.linspace(0, self.road.length_km, 9)[1:-1]
        known, first = np.unique(curves.km, return_index=True)
        at = [
            np.interp(km, known, values[first])
            for values in (curves.lat_deg, curves.lon_deg, curves.wind_east_ms, curves.wind_north_ms)
        ]
        xs, ys = self._pixels(at[0], at[1])
        ink = QPen(theme.colour(look.ink_soft), 1.4, c=Qt.PenCapStyle.RoundCap)
        painter.setPen(ink)
        for x, y, to_east, to_north in zip(xs, ys, at[2], at[3], strict=True):
            speed = float(np.hypot(to_east, to_north))
            if not np.isfinite(speed) or speed < 0.5:
                continue
            long = min(10 + 2.2 * speed, 34)
            ahead = QPointF(to_east / speed, -to_north / speed)
            middle = QPointF(float(x) + 20, float(y) + 18)
            tail, tip = middle - ahead * (long / 2), middle + ahead * (long / 2)
            side = QPointF(-ahead.y(), ahead.x())
            if any(QRectF(tail, tip).normalized().adjusted(-4, -4, 4, 4).intersects(box) for box in taken):
                continue
            painter.drawLine(tail, tip)
            painter.drawLine(tip, tip - ahead * 5 + side * 3.2)
            painter.drawLine(tip, tip - ahead * 5 - side * 3.2)

    def _paint_vehicle(self, painter: QPainter) -> None:
        curves, look = self.curves, theme.current()
        if not np.isfinite(self.cursor_s):
            return
        lat, lon = (np.interp(self.cursor_s, curves.time_s, v) for v in (curves.lat_deg, curves.lon_deg))
        x, y = (float(v) for v in self._pixels(lat, lon))
        for ink, width, size in ((look.panel, 6.5, 7.5), (look.accent, 3.4, 7.5)):
            painter.setPen(QPen(theme.colour(ink), width))
            painter.setBrush(theme.colour(look.panel))
            painter.drawEllipse(QPointF(x, y), size, size)

    def _paint_bar(self, painter: QPainter) -> QRectF:
        look = theme.current()
        face = theme.font(-1.0)
        metrics = QFontMetricsF(face)
        painter.setFont(face)
        low, high = (self._write(value) for value in self.span or (0.0, 1.0))
        title = s.say(s.MAP_QUANTITIES[self.quantity])
        wide = max(
            128.0,
            metrics.horizontalAdvance(low) + metrics.horizontalAdvance(high) + 24,
            metrics.horizontalAdvance(title),
        )
        box = self._free_corner(wide + 20, metrics.height() * 2 + 24)
        painter.setPen(QPen(theme.colour(look.line), 1))
        painter.setBrush(theme.colour(look.panel, 0.92))
        painter.drawRoundedRect(box, 5, 5)
        inner = box.adjusted(10, 5, -10, -5)
        painter.setPen(theme.colour(look.ink_soft))
        painter.drawText(inner, Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft, title)
        shades = colours.shades()
        step = inner.width() / len(shades)
        y = inner.top() + metrics.height() + 2
        for index, shade in enumerate(shades):
            painter.fillRect(QRectF(inner.left() + index * step, y, step + 0.6, 6), shade)
        painter.setPen(theme.colour(look.ink))
        painter.drawText(inner, Qt.AlignmentFlag.AlignBottom | Qt.AlignmentFlag.AlignLeft, low)
        painter.drawText(inner, Qt.AlignmentFlag.AlignBottom | Qt.AlignmentFlag.AlignRight, high)
        return box

    def _free_corner(self, wide: float, high: float) -> QRectF:
        """The corner with the least road and the fewest names in it."""
        low = self.height() - high - 22
        right = self.width() - wide - 8
        corners = [QRectF(x, y, wide, high) for y in (low, 8.0) for x in (8.0, right)]
        xs, ys = self._pixels(self.road.lat_deg, self.road.lon_deg)
        cx, cy = self._pixels([c.lat_deg for c in self.waypoints], [c.lon_deg for c in self.waypoints])

        def crowd(box: QRectF) -> float:
            on_road = (xs > box.left()) & (xs < box.right()) & (ys > box.top()) & (ys < box.bottom())
            names = (
                (cx > box.left() - 130)
                & (cx < box.right())
                & (cy > box.top() - 10)
                & (cy < box.bottom() + 10)
            )
            return float(on_road.mean()) + 0.2 * float(names.sum())

        return min(corners, key=crowd)

    def _paint_attribution(self, painter: QPainter) -> QRectF:
        look = theme.current()
        painter.setFont(theme.font(-1.6))
        metrics = QFontMetricsF(painter.font())
        text = s.say(s.MAP_ATTRIBUTION, tiles=self.tile_credit, extra=self.attribution).strip()
        text = metrics.elidedText(text, Qt.TextElideMode.ElideRight, self.width() - 12)
        wide = metrics.horizontalAdvance(text)
        box = QRectF(self.width() - wide - 6, self.height() - metrics.height() - 2, wide, metrics.height())
        painter.fillRect(box.adjusted(-3, 0, 3, 2), theme.colour(look.panel, 0.7))
        painter.setPen(theme.colour(look.ink_soft))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)
        return box

    # -- hands -----------------------------------------------------------------------------------

    def mouseReleaseEvent(self, event) -> None:
        moved = (event.position() - getattr(self, "_pressed", event.position())).manhattanLength() > 4
        super().mouseReleaseEvent(event)
        if event.button() != Qt.MouseButton.LeftButton or moved:
            return
        point = self._box.mapSceneToView(self.mapToScene(event.position().toPoint()))
        if self.picking:
            self.point_picked.emit(*unmercator(point.x(), point.y()))
        elif self.curves is not None:
            self._go_to(event.position())

    def mousePressEvent(self, event) -> None:
        self._pressed = event.position()
        super().mousePressEvent(event)

    def _go_to(self, point: QPointF) -> None:
        """Put the time cursor where the vehicle is nearest to the point clicked."""
        xs, ys = self._pixels(self.curves.lat_deg, self.curves.lon_deg)
        away = np.hypot(xs - point.x(), ys - point.y())
        if np.isfinite(away).any() and float(np.nanmin(away)) < 24:
            self.cursor_moved.emit(float(self.curves.time_s[int(np.nanargmin(away))]))

    def set_picking(self, picking: bool) -> None:
        """While picking, a click names a place."""
        self.picking = picking
        self.viewport().setCursor(Qt.CursorShape.CrossCursor if picking else Qt.CursorShape.ArrowCursor)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        (left, right), (low, high) = self._box.viewRange()
        wide, tall = right - left, high - low
        pans = {
            Qt.Key.Key_Left: (-0.1, 0),
            Qt.Key.Key_Right: (0.1, 0),
            Qt.Key.Key_Up: (0, 0.1),
            Qt.Key.Key_Down: (0, -0.1),
        }
        if event.key() in pans:
            across, up = pans[event.key()]
            self._box.translateBy(x=across * wide, y=up * tall)
        elif event.key() in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self._box.scaleBy((0.8, 0.8))
        elif event.key() == Qt.Key.Key_Minus:
            self._box.scaleBy((1.25, 1.25))
        elif event.key() == Qt.Key.Key_0:
            self.fit()
        else:
            super().keyPressEvent(event)


def _polygon(lat, lon) -> QPolygonF:
    x, y = mercator(lat, lon)
    return pg.functions.arrayToQPolygonF(x, y)


def _path(x, y) -> QPainterPath:
    return pg.arrayToQPath(np.asarray(x, float), np.asarray(y, float))


def _pieces(x, y, wanted) -> QPainterPath:
    """The segments of a line where ``wanted`` holds (one flag for each segment)."""
    index = np.flatnonzero(wanted)
    xs = np.column_stack([x[index], x[index + 1]]).ravel()
    ys = np.column_stack([y[index], y[index + 1]]).ravel()
    return pg.arrayToQPath(xs, ys, connect="pairs") if len(xs) else QPainterPath()


def _cosmetic(ink: str, width: float, style: Qt.PenStyle = Qt.PenStyle.SolidLine, alpha: float = 1.0) -> QPen:
    pen = QPen(theme.colour(ink, alpha), width, style, Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin)
    pen.setCosmetic(True)
    return pen


def _halo_text(painter: QPainter, box: QRectF, text: str, ink: str, halo: str) -> None:
    painter.setPen(theme.colour(halo, 0.85))
    for shift in (QPointF(1, 0), QPointF(-1, 0), QPointF(0, 1), QPointF(0, -1)):
        painter.drawText(box.translated(shift), Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextDontClip, text)
    painter.setPen(theme.colour(ink))
    painter.drawText(box, Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextDontClip, text)


def _same_way(one: Road, two: Road) -> bool:
    return (
        len(one.km) == len(two.km)
        and np.array_equal(one.lat_deg, two.lat_deg)
        and np.array_equal(one.lon_deg, two.lon_deg)
    )
