"""What is painted over the map in pixels: hours, waypoints, towns, wind, the vehicle, the key, the credits.

Each mark is told which boxes are ``taken`` and adds those of its own names, so that no two names collide.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QFont, QFontMetricsF, QPainter, QPen

from planner.app.plan.results import Curves
from planner.model.records import Floats, Road, Site
from planner.ui.look import clock, colours, theme
from planner.ui.map.map_ground import Ground
from planner.ui.map.mercator import Sight

TOWNS_TRIED, TOWNS_NAMED = 60, 16
LOW_PX, LOW_KEY_PX = 220.0, 80.0
"""A map lower than this has its key in one line, so long."""
MOST_HOURS = 9
"""So many hours are marked along the road; a longer drive is marked every second hour, and so on."""
RING_PX = 16
"""So far beside its place a name begins: clear of the sunlit ring of a vehicle that stands there."""
FREE_PX = 16
"""An hour this near a waypoint is left out."""
LINE_PX, MOST_ON_LINE = 6.0, 3000
"""How wide a road is to the names of towns, and into how many pieces it is cut for them at most."""
CREDIT_LINES, APART_PX = 2, 4.0
SUN_AWAY_PX, LIT_DEG = 27.0, 120.0
"""So far from the vehicle the sun is drawn, and so much of the vehicle's ring it lights."""
CALM_MS = 0.5
"""No arrow for less wind than this."""


@dataclass(frozen=True)
class Key:
    """The colour scale's title and the values at its two ends, as text."""

    title: str
    low: str
    high: str


def paint_attribution(painter: QPainter, sight: Sight, text: str) -> QRectF:
    """Whom the map is owed to, at the foot; returns the box it takes.

    Over two lines where one is too short for all the names; only an address at the end may be cut off.
    """
    look = theme.current()
    metrics = _write_in(painter, theme.font(-1.6))
    room = sight.wide - 12
    lines = in_lines(text, metrics, room, CREDIT_LINES)
    wide = max(metrics.horizontalAdvance(line) for line in lines)
    high = metrics.height()
    box = QRectF(sight.wide - wide - 6, sight.high - high * len(lines) - 2, wide, high * len(lines))
    painter.fillRect(box.adjusted(-3, 0, 3, 2), theme.colour(look.panel, 0.7))
    painter.setPen(theme.colour(look.ink_soft))
    for number, line in enumerate(lines):
        painter.drawText(
            QRectF(box.left(), box.top() + number * high, wide, high), Qt.AlignmentFlag.AlignRight, line
        )
    return box


def in_lines(text: str, metrics: QFontMetricsF, room: float, most: int) -> list[str]:
    """A text in at most so many lines, the last one cut off with dots where it is too long."""
    lines, words = [""], text.split()
    while words:
        longer = f"{lines[-1]} {words[0]}".strip()
        if lines[-1] and metrics.horizontalAdvance(longer) > room and len(lines) < most:
            lines.append("")
        else:
            lines[-1] = longer
            words.pop(0)
    lines[-1] = metrics.elidedText(lines[-1], Qt.TextElideMode.ElideRight, room)
    return lines


def paint_key(
    painter: QPainter,
    sight: Sight,
    key: Key,
    road: Road,
    waypoints: Sequence[Site],
    credit: QRectF | None = None,
) -> QRectF:
    """The colour scale in the freest corner, clear of the ``credit`` at the foot; returns the box it takes."""
    look = theme.current()
    foot = sight.high if credit is None else credit.top()
    if sight.high < LOW_PX:
        return _paint_low_key(painter, sight, key, road, waypoints, foot)
    metrics = _write_in(painter, theme.font(-1.0))
    ends_px = metrics.horizontalAdvance(key.low) + metrics.horizontalAdvance(key.high) + 24
    wide = max(128.0, ends_px, metrics.horizontalAdvance(key.title))
    box = _free_corner(sight, wide + 20, metrics.height() * 2 + 24, road, waypoints, foot)
    painter.setPen(QPen(theme.colour(look.line), 1))
    painter.setBrush(theme.colour(look.panel, 0.92))
    painter.drawRoundedRect(box, 5, 5)
    inner = box.adjusted(10, 5, -10, -5)
    top, foot = Qt.AlignmentFlag.AlignTop, Qt.AlignmentFlag.AlignBottom
    painter.setPen(theme.colour(look.ink_soft))
    painter.drawText(inner, top | Qt.AlignmentFlag.AlignLeft, key.title)
    shades = colours.shades()
    step = inner.width() / len(shades)
    y = inner.top() + metrics.height() + 2
    for index, shade in enumerate(shades):
        painter.fillRect(QRectF(inner.left() + index * step, y, step + 0.6, 6), shade)
    painter.setPen(theme.colour(look.ink))
    painter.drawText(inner, foot | Qt.AlignmentFlag.AlignLeft, key.low)
    painter.drawText(inner, foot | Qt.AlignmentFlag.AlignRight, key.high)
    return box


def _paint_low_key(
    painter: QPainter, sight: Sight, key: Key, road: Road, waypoints: Sequence[Site], foot: float
) -> QRectF:
    """The scale in one line, which a low map has room for in one of its corners."""
    look = theme.current()
    metrics = _write_in(painter, theme.font(-1.0))
    low, high = (metrics.horizontalAdvance(text) for text in (key.low, key.high))
    box = _free_corner(
        sight, low + high + LOW_KEY_PX + 26, metrics.height() + 3, road, waypoints, foot, APART_PX
    )
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(theme.colour(look.panel, 0.92))
    painter.drawRoundedRect(box, 4, 4)
    painter.setPen(theme.colour(look.ink))
    painter.drawText(
        box.adjusted(6, 0, 0, 0), Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, key.low
    )
    painter.drawText(
        box.adjusted(0, 0, -6, 0), Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight, key.high
    )
    shades = colours.shades()
    step = LOW_KEY_PX / len(shades)
    for index, shade in enumerate(shades):
        painter.fillRect(
            QRectF(box.left() + low + 13 + index * step, box.center().y() - 3, step + 0.6, 6), shade
        )
    return box


def paint_waypoints(
    painter: QPainter,
    sight: Sight,
    waypoints: Sequence[Site],
    taken: list[QRectF],
    line: Sequence[QRectF] = (),
) -> None:
    """Origin and destination as discs, stops as squares, each with its name where there is room.

    A name keeps off the ``line`` of the road where any side of its mark is free of it.
    """
    look = theme.current()
    metrics = _write_in(painter, theme.font(-0.6, bold=True))
    points = _points(sight, waypoints)
    spots = [QRectF(at.x() - 6, at.y() - 6, 12, 12) for at in points]  # no name over another's mark
    for index, (at, waypoint) in enumerate(zip(points, waypoints, strict=True)):
        painter.setPen(QPen(theme.colour(look.panel), 2))
        painter.setBrush(theme.colour(look.ink))
        if index in (0, len(waypoints) - 1):
            painter.drawEllipse(at, 6.0, 6.0)
        else:
            painter.drawRect(QRectF(at.x() - 4.4, at.y() - 4.4, 8.8, 8.8))
        wide = metrics.horizontalAdvance(waypoint.name)
        held = [*taken, *spots]
        off = [*held, *(piece for piece in line if not piece.contains(at))]
        box = _beside(sight, at, wide, metrics.height(), off) or _beside(
            sight, at, wide, metrics.height(), held
        )
        if box is not None:
            _halo_text(painter, box, waypoint.name, look.ink, look.land)
            taken.append(box)


def paint_wind(painter: QPainter, sight: Sight, road: Road, curves: Curves, taken: list[QRectF]) -> None:
    """Arrows beside the road where the wind blows to; longer for more wind."""
    km = np.linspace(0, road.length_km, 9)[1:-1]
    known, first = np.unique(curves.km, return_index=True)
    lat, lon, east, north = (
        np.interp(km, known, values[first])
        for values in (curves.lat_deg, curves.lon_deg, curves.wind_east_ms, curves.wind_north_ms)
    )
    painter.setPen(QPen(theme.colour(theme.current().ink_soft), 1.4, c=Qt.PenCapStyle.RoundCap))
    for x, y, to_east, to_north in zip(*sight.pixels(lat, lon), east, north, strict=True):
        speed = float(np.hypot(to_east, to_north))
        if not np.isfinite(speed) or speed < CALM_MS:
            continue
        ahead = QPointF(to_east / speed, -to_north / speed)
        reach = ahead * (min(10 + 2.2 * speed, 34) / 2)
        middle = QPointF(float(x) + 20, float(y) + 18)
        _paint_arrow(painter, middle - reach, middle + reach, ahead, taken)


def _paint_arrow(
    painter: QPainter, tail: QPointF, tip: QPointF, ahead: QPointF, taken: Sequence[QRectF]
) -> None:
    if any(QRectF(tail, tip).normalized().adjusted(-4, -4, 4, 4).intersects(box) for box in taken):
        return
    side = QPointF(-ahead.y(), ahead.x()) * 3.2
    painter.drawLine(tail, tip)
    painter.drawLine(tip, tip - ahead * 5 + side)
    painter.drawLine(tip, tip - ahead * 5 - side)


def paint_hours(
    painter: QPainter,
    sight: Sight,
    curves: Curves,
    waypoints: Sequence[Site],
    zone: str,
    taken: list[QRectF],
) -> None:
    """Where the vehicle is at each full local hour."""
    look = theme.current()
    metrics = _write_in(painter, theme.font(-1.0))
    held = _points(sight, waypoints)
    for stamp in _hours(curves, zone):
        at = _vehicle_at(sight, curves, stamp)
        if any((at - point).manhattanLength() < FREE_PX for point in held):
            continue
        painter.setPen(QPen(theme.colour(look.ink), 1.4))
        painter.setBrush(theme.colour(look.panel))
        painter.drawEllipse(at, 3.4, 3.4)
        text = clock.hour(stamp, zone)
        wide, high = metrics.horizontalAdvance(text), metrics.height()
        box = QRectF(at.x() - wide - 9, at.y() - high / 2, wide, high)
        if not any(box.intersects(other) for other in taken):
            _halo_text(painter, box, text, look.ink, look.land)
            taken.append(box)


def _hours(curves: Curves, zone: str) -> list[float]:
    """The hours to mark between the first and the last moment the vehicle rolls, POSIX seconds."""
    moving = curves.time_s[curves.speed_ms > 0.5]
    if not len(moving):
        return []
    start, end = float(moving[0]), float(moving[-1])
    every = next(e for e in (1, 2, 3, 6, 12, 24) if (end - start) / 3600 / e < MOST_HOURS or e == 24)
    return clock.hours(start, end, zone, every)


def paint_towns(painter: QPainter, sight: Sight, ground: Ground, taken: list[QRectF]) -> None:
    """The largest towns in sight that find room for their names."""
    look = theme.current()
    metrics = _write_in(painter, theme.font(-1.0))
    biggest = _largest_in_sight(sight, ground)
    xs, ys = sight.pixels(ground.town_lat_deg[biggest], ground.town_lon_deg[biggest])
    named = 0
    for x, y, town in zip(xs, ys, biggest, strict=True):
        at, text = QPointF(float(x), float(y)), ground.town_names[town]
        high = metrics.height()
        box = QRectF(at.x() + 5, at.y() - high / 2, metrics.horizontalAdvance(text), high)
        room = box.adjusted(-6, -2, 4, 2)
        if box.right() > sight.wide - 4 or any(room.intersects(other) for other in taken):
            continue
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(theme.colour(look.ink_faint))
        painter.drawEllipse(at, 1.7, 1.7)
        _halo_text(painter, box, text, look.ink_soft, look.land)
        taken.append(box)
        named += 1
        if named >= TOWNS_NAMED:
            return


def boxes_along(sight: Sight, road: Road | None, waypoints: Sequence[Site]) -> list[QRectF]:
    """The room the places called at and the line of the road take in sight, piece by piece."""
    places = [QRectF(at.x() - 7, at.y() - 7, 14, 14) for at in _points(sight, waypoints)]
    if road is None:
        return places
    xs, ys = sight.pixels(road.lat_deg, road.lon_deg)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(xs), np.diff(ys)))])
    at = np.linspace(0.0, along[-1], int(min(along[-1] / LINE_PX, MOST_ON_LINE)) + 2)
    x, y = np.interp(at, along, xs), np.interp(at, along, ys)
    seen = (x > 0) & (x < sight.wide) & (y > 0) & (y < sight.high)
    half = LINE_PX / 2
    return places + [
        QRectF(left - half, top - half, LINE_PX, LINE_PX)
        for left, top in zip(x[seen].tolist(), y[seen].tolist(), strict=True)
    ]


def _largest_in_sight(sight: Sight, ground: Ground) -> NDArray[np.intp]:
    (east, north), view = ground.towns, sight.view
    across = (east > view.left()) & (east < view.right())
    inside = np.flatnonzero(across & (north > view.top()) & (north < view.bottom()))
    return inside[np.argsort(-ground.town_people[inside], kind="stable")][:TOWNS_TRIED]


def paint_vehicle(painter: QPainter, sight: Sight, curves: Curves, time_s: float) -> None:
    """The vehicle where it is at ``time_s``; nothing while no moment is looked at."""
    if not np.isfinite(time_s):
        return
    look, at = theme.current(), _vehicle_at(sight, curves, time_s)
    for ink, width in ((look.panel, 6.5), (look.accent, 3.4)):
        painter.setPen(QPen(theme.colour(ink), width))
        painter.setBrush(theme.colour(look.panel))
        painter.drawEllipse(at, 7.5, 7.5)


def paint_sun(painter: QPainter, sight: Sight, curves: Curves, time_s: float, azimuth_deg: float) -> None:
    """Where the sun stands from the vehicle, and the side of its ring it shines on; north is up on the map."""
    look, at = theme.current(), _vehicle_at(sight, curves, time_s)
    turn = np.radians(azimuth_deg)
    ahead = QPointF(float(np.sin(turn)), -float(np.cos(turn)))
    ring, middle = QRectF(at.x() - 11, at.y() - 11, 22, 22), at + ahead * SUN_AWAY_PX
    painter.setBrush(Qt.BrushStyle.NoBrush)
    first = round((90.0 - azimuth_deg - LIT_DEG / 2.0) * 16)
    for ink, width in ((look.panel, 5.0), (look.caution, 2.8)):
        painter.setPen(QPen(theme.colour(ink), width, c=Qt.PenCapStyle.RoundCap))
        painter.drawArc(ring, first, round(LIT_DEG * 16))
        for ray in np.arange(8) * np.pi / 4.0:
            out = QPointF(float(np.cos(ray)), float(np.sin(ray)))
            painter.drawLine(middle + out * 6.5, middle + out * 9.0)
        painter.drawEllipse(middle, 3.4, 3.4)


def paint_worst(
    painter: QPainter,
    sight: Sight,
    place: tuple[float, float],
    words: str,
    taken: list[QRectF],
    line: Sequence[QRectF] = (),
) -> None:
    """Where standing is worst: a triangle on its tip with how long one may, in words beside it, off the road."""
    look = theme.current()
    x, y = sight.pixels(*place)
    at = QPointF(float(x), float(y))
    painter.setPen(QPen(theme.colour(look.panel), 1.6))
    painter.setBrush(theme.colour(look.harm_ink))
    painter.drawPolygon([at, at + QPointF(-7, -13), at + QPointF(7, -13)])
    taken.append(QRectF(at.x() - 8, at.y() - 14, 16, 15))
    metrics = _write_in(painter, theme.font(-0.8, bold=True))
    wide, high, tip = metrics.horizontalAdvance(words), metrics.height(), at + QPointF(0, -8)
    box = _beside(sight, tip, wide, high, [*taken, *line]) or _beside(sight, tip, wide, high, taken)
    if box is not None:
        _halo_text(painter, box, words, look.harm_ink, look.land)
        taken.append(box)


def paint_ghost(painter: QPainter, sight: Sight, curves: Curves, time_s: float, letter: str) -> None:
    """The other candidate's vehicle as far along its own trip as the one looked at is along its own."""
    if not np.isfinite(time_s):
        return
    look, at = theme.current(), _vehicle_at(sight, curves, time_s)
    ink = look.series[1 if letter == "B" else 0]
    pen = QPen(theme.colour(ink, 0.85), 2.0, Qt.PenStyle.DotLine)
    painter.setPen(pen)
    painter.setBrush(theme.colour(look.panel, 0.6))
    painter.drawEllipse(at, 9.0, 9.0)
    _write_in(painter, theme.font(-1.2, bold=True))
    painter.setPen(theme.colour(ink))
    painter.drawText(QRectF(at.x() - 9, at.y() - 9, 18, 18), Qt.AlignmentFlag.AlignCenter, letter)


# -- where, and how ------------------------------------------------------------------------------------


def _vehicle_at(sight: Sight, curves: Curves, time_s: float) -> QPointF:
    lat, lon = (np.interp(time_s, curves.time_s, values) for values in (curves.lat_deg, curves.lon_deg))
    x, y = sight.pixels(lat, lon)
    return QPointF(float(x), float(y))


def _points(sight: Sight, waypoints: Sequence[Site]) -> list[QPointF]:
    return [QPointF(float(x), float(y)) for x, y in zip(*_pixels_of(sight, waypoints), strict=True)]


def _pixels_of(sight: Sight, waypoints: Sequence[Site]) -> tuple[Floats, Floats]:
    return sight.pixels([site.lat_deg for site in waypoints], [site.lon_deg for site in waypoints])


def _beside(sight: Sight, at: QPointF, wide: float, high: float, taken: Sequence[QRectF]) -> QRectF | None:
    """Room for a name right, left, above or below its mark; ``None`` where every place is taken."""
    x, y = at.x(), at.y()
    spots = (
        (x + RING_PX, y - high / 2),
        (x - RING_PX - wide, y - high / 2),
        (x - wide / 2, y - high - 8),
        (x - wide / 2, y + 8),
    )
    canvas = QRectF(4, 0, sight.wide - 8, sight.high)
    for left, top in spots:
        box = QRectF(left, top, wide, high)
        if canvas.contains(box) and not any(box.intersects(other) for other in taken):
            return box
    return None


def _free_corner(
    sight: Sight,
    wide: float,
    high: float,
    road: Road,
    waypoints: Sequence[Site],
    foot: float,
    apart: float = 2 * APART_PX,
) -> QRectF:
    """The corner over ``foot`` with the least road and the fewest names in it."""
    low, right = foot - high - apart, sight.wide - wide - apart
    corners = [QRectF(x, y, wide, high) for y in (low, apart) for x in (apart, right)]
    xs, ys = sight.pixels(road.lat_deg, road.lon_deg)
    cx, cy = _pixels_of(sight, waypoints)

    def crowd(box: QRectF) -> float:
        on_road = (xs > box.left()) & (xs < box.right()) & (ys > box.top()) & (ys < box.bottom())
        across = (cx > box.left() - 130) & (cx < box.right() + RING_PX + 2)
        names = across & (cy > box.top() - 10) & (cy < box.bottom() + 10)
        return float(on_road.mean()) + 0.2 * float(names.sum())

    return min(corners, key=crowd)


def _write_in(painter: QPainter, face: QFont) -> QFontMetricsF:
    painter.setFont(face)
    return QFontMetricsF(face)


def _halo_text(painter: QPainter, box: QRectF, text: str, ink: str, halo: str) -> None:
    flags = Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextDontClip
    painter.setPen(theme.colour(halo, 0.85))
    for shift in (QPointF(1, 0), QPointF(-1, 0), QPointF(0, 1), QPointF(0, -1)):
        painter.drawText(box.translated(shift), flags, text)
    painter.setPen(theme.colour(ink))
    painter.drawText(box, flags, text)
