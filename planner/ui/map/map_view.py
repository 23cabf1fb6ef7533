"""The road on the map: coloured by what the vehicle meets, with hours, stops, night, wind and the vehicle itself.

Web Mercator in our own painting; land, borders and towns are bundled, street tiles are a wish of the user's.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QPointF, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QMouseEvent, QPainter

from planner.app.plan.results import Curves
from planner.app.plan.sunny import sun_on_load
from planner.model.records import Floats, Road, Site, Weather
from planner.ui.look import colours, theme
from planner.ui.look import strings as s
from planner.ui.look.paint import Cells, focus_ring
from planner.ui.map import map_marks as marks
from planner.ui.map.corridor import Corridor, Laid
from planner.ui.map.kept import KeptLayer
from planner.ui.map.map_ground import Ground, Land
from planner.ui.map.mercator import Sight, framing, mercator, unmercator
from planner.ui.map.met import driven, met, spread, written
from planner.ui.map.road_line import RoadLine
from planner.ui.map.told import hours_met, stand_words, sun_words, worst_standing
from planner.ui.map.ways import far_from, placed, same_way
from planner.ui.trip.edits import waypoints
from planner.units import METRIC, UnitSystem

if TYPE_CHECKING:
    from planner.app.standing.reserve import Reserve
    from planner.ui.map.tiles import Tiles

VERTICES = 900
"""A road of any length is painted with at most this many points; more cannot be seen."""
NIGHT_BELOW_DEG = -0.83
CLICK_PX, NEAR_PX = 4, 24
REST_MS = 160
"""So long after the last move of a dragged map all of it is painted anew."""
FOOT_PX, MARGIN_PX = 42.0, 24.0
"""Room at the foot for whom the map is owed to, and around the road for the names at its ends."""


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
        self.tile_credit = ""
        self.tiles: Tiles | None = None
        self.span: tuple[float, float] | None = None
        self.pins: tuple[Site, ...] = ()
        self.ghosts: tuple[tuple[str, Curves], ...] = ()
        self.weather: Weather | None = None
        self.reserve: Reserve | None = None
        self.corridor = Corridor()
        self.beside = True
        self._ground = Ground()
        self._pressed = QPointF()
        self.setAccessibleName(s.say(s.MAP_TITLE))
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMinimumSize(240, 130)
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
        self._land, self._line = Land(), RoadLine()
        self._under = KeptLayer(self._land.paint, lambda: theme.colour(theme.current().water))
        self._over = KeptLayer(self._paint_still)
        self._version = 0
        self._stopped = QTimer(self, singleShot=True, interval=REST_MS)
        self._stopped.timeout.connect(self._rest)
        theme.stage.changed.connect(self.restyle)
        self.restyle()

    @property
    def attribution(self) -> str:
        """Whom the road shown is owed to; nobody while there is none."""
        return self.road.attribution if self.road is not None else ""

    # -- what is shown -------------------------------------------------------------------------

    def show_ground(self, ground: Ground) -> None:
        self._ground = ground
        self._land.set_ground(ground)
        self._under.forget()
        self._renew()

    def show_tiles(self, tiles: Tiles | None, credit: str) -> None:
        """Lay street tiles under the road, or none."""
        if self.tiles is not None:
            self.tiles.changed.disconnect(self.viewport().update)
            self.tiles.close()
        self.tiles, self.tile_credit = tiles, credit
        if tiles is not None:
            tiles.setParent(self)
            tiles.changed.connect(self.viewport().update)
        self._renew()

    def show_road(self, road: Road | None, waypoints: Sequence[Site]) -> None:
        """Show the road before anything is known of the trip along it."""
        fresh = road is not None and (self.road is None or not same_way(road, self.road))
        known = road is not None and not fresh and tuple(waypoints) == self.waypoints
        self.road, self.waypoints = road, tuple(waypoints)
        if known:  # what is met on it follows with the curves
            return
        if fresh or road is None:
            self.corridor.show(None)
            self.reserve = None
        if road is None:
            self.curves = None
            self.ghosts = ()
        else:
            self._draw()
        if fresh or (road is None and self.waypoints):
            self.fit()
        self._renew()

    def show_pins(self, draft: Mapping[str, Any]) -> None:
        """Places that are set, as soon as they are set; the map goes to where they lie."""
        known = [place for place in waypoints(draft) if placed(place)]
        pins = tuple(Site(str(p.get("name") or ""), float(p["lat"]), float(p["lon"]), "UTC") for p in known)
        if pins == self.pins and (self.road is not None or pins == self.waypoints):
            return
        self.pins = pins
        if self.road is None or far_from(pins, self.waypoints):
            self.road = self.curves = None
            self.waypoints = pins
            self.fit()
        self._renew()

    def show_curves(
        self,
        curves: Curves | None,
        group: int,
        zone: str,
        others: Sequence[Curves] = (),
        letters: Sequence[str] = (),
        weather: Weather | None = None,
    ) -> None:
        """Colour the road by what the vehicle meets on this trip; ``others`` ride along as ghosts with a letter."""
        self.curves, self.group, self.zone, self.weather = curves, group, zone, weather
        self.ghosts = tuple(zip(letters, others, strict=False))
        self._draw()
        self._renew()

    def show_beside(self, laid: Laid | None) -> None:
        """Lay the weather to both sides under the road, or none."""
        self.corridor.show(laid)
        self._draw()
        self._renew()

    def set_beside(self, on: bool) -> None:
        """Whether the weather to both sides is shown where there is any."""
        self.beside = on
        self._draw()
        self._renew()

    def show_reserve(self, reserve: Reserve | None) -> None:
        """Mark where standing is worst, and how long one may stand along the road."""
        self.reserve = reserve
        self._draw()
        self._renew()

    def worst_words(self) -> str:
        """Where standing is worst and how long one may, empty while nothing is known or nowhere is short."""
        worst = worst_standing(self.reserve) if self.curves is not None else None
        return s.say(s.MAP_WORST, left=worst[1]) if worst is not None else ""

    def stand_words(self, time_s: float) -> str:
        """How long one may stand where the vehicle is at an instant; empty while that is not known."""
        return stand_words(self.reserve, time_s)

    def sun_words(self, time_s: float) -> str:
        """From which side the sun shines on the load at an instant; empty by night."""
        return sun_words(self.curves, time_s)

    def _met(self, curves: Curves) -> Floats:
        return met(self.quantity, curves, self.group, self.weather, self.reserve)

    def set_quantity(self, quantity: str) -> None:
        self.quantity = quantity
        self._draw()
        self._renew()

    def set_cursor(self, time_s: float) -> None:
        self.cursor_s = time_s
        self.viewport().update()

    def set_units(self, units: UnitSystem) -> None:
        self.units = units
        self._renew()

    def heading(self) -> str:
        return s.say(s.MAP_TITLE)

    def table(self) -> Cells:
        """The hours of the trip with what the road is coloured by."""
        curves = self.curves
        if curves is None:
            return (s.say(s.MAP_TITLE),), tuple((site.name,) for site in self.waypoints)
        values = self._met(curves)
        return hours_met(curves, values, self.quantity, self.zone, self.units, self.worst_words())

    def fit(self) -> None:
        """Show the whole road, or the places set so far."""
        if self.road is not None:
            x, y = mercator(self.road.lat_deg, self.road.lon_deg)
        elif (
            places := self.pins or self.waypoints
        ):  # a place is gone to as it is set, before any road is asked for
            x, y = mercator([c.lat_deg for c in places], [c.lon_deg for c in places])
        else:
            return
        across, up = framing(x, y, self._box.sceneBoundingRect(), MARGIN_PX, FOOT_PX)
        self._box.setRange(xRange=across, yRange=up, padding=0)

    def restyle(self) -> None:
        """Take the colours of the current palette."""
        if self.plotItem is None:  # closed already
            return
        self.setBackground(theme.current().water)
        self._draw()
        self._renew()

    def _renew(self) -> None:
        """Something other than the cursor has changed: what stands still is painted anew."""
        self._version += 1
        self.viewport().update()

    # -- drawing the road ------------------------------------------------------------------------

    def _draw(self) -> None:
        road, curves = self.road, self.curves
        if road is None:
            return
        pick = np.unique(np.linspace(0, len(road.km) - 1, min(VERTICES, len(road.km))).round().astype(int))
        x, y = mercator(road.lat_deg[pick], road.lon_deg[pick])
        if curves is None:
            self._line.set_line(x, y)
            return
        km = road.km[pick]
        values = np.interp(km, *driven(curves, self._met(curves)))
        sun = np.interp(km, *driven(curves, curves.sun_elevation_deg))
        beside = (float("nan"), float("nan"))
        if self.beside:
            beside = self.corridor.span(self.quantity, float(curves.time_s[0]), float(curves.time_s[-1]))
        self.span = spread(self.quantity, values, beside)
        self._line.set_line(x, y, colours.steps(values, *self.span), sun < NIGHT_BELOW_DEG)

    # -- painting over the map, in pixels --------------------------------------------------------

    def sight(self) -> Sight:
        """What of the map is in sight, and on which pixels."""
        (left, right), (low, high) = self._box.viewRange()
        view = QRectF(left, low, right - left, high - low)
        return Sight(view, self._box.sceneBoundingRect(), self.width(), self.height())

    def drawBackground(self, painter: QPainter, rect: QRectF) -> None:
        """Land and borders lie under everything."""
        if self.plotItem is None:
            return
        sight, size = self.sight(), self.viewport().size()
        painter.save()
        painter.resetTransform()
        self._kept(self._under, painter, sight, theme.current().name)
        if self.tiles is not None:
            self.tiles.paint(painter, sight.view, size)
        if self.beside and self.curves is not None and self.span is not None:
            at_s = self.cursor_s if np.isfinite(self.cursor_s) else float(self.curves.time_s[0])
            self.corridor.paint(painter, sight, self.quantity, self.span, at_s)
        painter.restore()

    def drawForeground(self, painter: QPainter, rect: QRectF) -> None:
        super().drawForeground(painter, rect)
        if self.plotItem is None:
            return
        sight = self.sight()
        painter.save()
        painter.resetTransform()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._kept(self._over, painter, sight, self._version)
        self._paint_corners(painter, sight)
        self._paint_moving(painter, sight)
        focus_ring(painter, self)
        painter.restore()

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        self.viewport().update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        self.viewport().update()

    def _kept(self, layer: KeptLayer, painter: QPainter, sight: Sight, *key: object) -> None:
        """Draw a layer as it is kept; after a drag it is painted anew once the hand rests."""
        size, ratio = self.viewport().size(), self.devicePixelRatioF()
        if layer.draw(painter, sight, size, ratio, key):
            self._stopped.start()

    def _rest(self) -> None:
        moved = [layer.rest() for layer in (self._under, self._over)]
        if any(moved):
            self.viewport().update()

    def _paint_still(self, painter: QPainter, sight: Sight) -> None:
        """The road and everything beside it that does not move with the cursor."""
        if self.road is not None:
            painter.save()
            painter.setTransform(sight.transform(), combine=True)
            self._line.paint(painter)
            painter.restore()
        self._paint_marks(painter, sight)

    def _paint_corners(self, painter: QPainter, sight: Sight) -> list[QRectF]:
        """Whom the map is owed to and the key of its colours, which stay where they are; the boxes they take."""
        credits_text = s.say(s.MAP_ATTRIBUTION, tiles=self.tile_credit, extra=self.attribution).strip()
        taken = [marks.paint_attribution(painter, sight, credits_text)]
        if self.road is not None and self.curves is not None:
            taken.append(marks.paint_key(painter, sight, self._key(), self.road, self.waypoints, *taken))
        return taken

    def _paint_moving(self, painter: QPainter, sight: Sight) -> None:
        """The vehicle on top of all, and those of the other candidates."""
        curves = self.curves
        if self.road is None or curves is None:
            return
        for letter, ghost in self.ghosts:
            at_s = self.cursor_s - curves.time_s[0] + ghost.time_s[0]
            marks.paint_ghost(painter, sight, ghost, at_s, letter)
        marks.paint_vehicle(painter, sight, curves, self.cursor_s)
        sun = sun_on_load(curves, self.cursor_s)
        if sun is not None:
            marks.paint_sun(painter, sight, curves, self.cursor_s, sun.azimuth_deg)

    def _paint_marks(self, painter: QPainter, sight: Sight) -> None:
        """What matters most is painted first and takes its room."""
        road, curves = self.road, self.curves
        line = marks.boxes_along(sight, road, self.waypoints)
        taken = self._paint_corners(painter, sight) if sight.wide <= self.width() else []
        if road is None or curves is None:
            marks.paint_waypoints(painter, sight, self.waypoints, taken, line)
            taken += line
            marks.paint_towns(painter, sight, self._ground, taken)
            return
        worst = worst_standing(self.reserve)
        if worst is not None and self.reserve is not None:
            place = float(self.reserve.lat_deg[worst[0]]), float(self.reserve.lon_deg[worst[0]])
            marks.paint_worst(painter, sight, place, self.worst_words(), taken, line)
        marks.paint_waypoints(painter, sight, self.waypoints, taken, line)
        marks.paint_wind(painter, sight, road, curves, taken)
        marks.paint_hours(painter, sight, curves, self.waypoints, self.zone, taken)
        taken += line
        marks.paint_towns(painter, sight, self._ground, taken)

    def _key(self) -> marks.Key:
        low, high = self.span or (0.0, 1.0)
        low_text, high_text = (written(self.quantity, value, self.units) for value in (low, high))
        return marks.Key(s.say(s.MAP_QUANTITIES[self.quantity]), low_text, high_text)

    # -- hands -----------------------------------------------------------------------------------

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self._pressed = event.position()
        super().mousePressEvent(event)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        moved = (event.position() - self._pressed).manhattanLength() > CLICK_PX
        super().mouseReleaseEvent(event)
        if event.button() != Qt.MouseButton.LeftButton or moved:
            return
        point = self._box.mapSceneToView(self.mapToScene(event.position().toPoint()))
        if self.picking:
            self.point_picked.emit(*unmercator(point.x(), point.y()))
        elif self.curves is not None:
            self._go_to(event.position(), self.curves)

    def _go_to(self, point: QPointF, curves: Curves) -> None:
        """Put the time cursor where the vehicle is nearest to the point clicked."""
        xs, ys = self.sight().pixels(curves.lat_deg, curves.lon_deg)
        away = np.hypot(xs - point.x(), ys - point.y())
        if np.isfinite(away).any() and float(np.nanmin(away)) < NEAR_PX:
            self.cursor_moved.emit(float(curves.time_s[int(np.nanargmin(away))]))

    def set_picking(self, picking: bool) -> None:
        """While picking, a click names a place."""
        self.picking = picking
        self.viewport().setCursor(Qt.CursorShape.CrossCursor if picking else Qt.CursorShape.ArrowCursor)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        (left, right), (low, high) = self._box.viewRange()
        wide, tall = right - left, high - low
        pans: dict[int, tuple[float, float]] = {
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
