"""A side view of the vehicle with its loading places; boxes are dropped where they shall ride."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QEvent, QMimeData, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QFontMetricsF, QPainter, QPainterPath, QPen, QTransform
from PySide6.QtWidgets import QWidget

from planner.ui.look import strings as s
from planner.ui.look import theme

GROUP_MIME = "application/x-skepway-group"

# Drawn on a board of 200 x 74; the road is at y = 66. Each zone takes the places whose name begins so.
ZONES: dict[str, tuple[tuple[str, tuple[str, ...], QRectF], ...]] = {
    "car": (
        (
            s.ZONE_FRONT,
            ("cabin_seat", "cabin_footwell", "cabin_window", "cabin_shut"),
            QRectF(70, 22, 28, 26),
        ),
        (s.ZONE_BACK, ("cabin_back",), QRectF(102, 22, 28, 26)),
        (s.ZONE_BOOT, ("boot",), QRectF(142, 28, 34, 22)),
    ),
    "estate": ((s.ZONE_LOAD, ("estate",), QRectF(118, 19, 58, 31)),),
    "van": ((s.ZONE_LOAD, ("van",), QRectF(66, 10, 118, 40)),),
    "pickup": ((s.ZONE_BED, ("pickup",), QRectF(112, 20, 68, 26)),),
    "flatbed": (
        (s.ZONE_FRONT_ROW, ("flatbed_front",), QRectF(54, 12, 20, 36)),
        (s.ZONE_OUTER, ("flatbed_outer",), QRectF(77, 12, 39, 36)),
        (s.ZONE_INNER, ("flatbed_inner", "flatbed_top"), QRectF(119, 12, 39, 36)),
        (s.ZONE_REAR, ("flatbed_rear",), QRectF(161, 12, 24, 36)),
    ),
    "trailer": ((s.ZONE_TRAILER, ("trailer", "open_trailer"), QRectF(92, 20, 84, 30)),),
    "ground": ((s.ZONE_GROUND, ("ground",), QRectF(60, 20, 80, 44)),),
}
BOARD = QRectF(0, 0, 200, 74)
ROAD_Y = 66.0


@dataclass(frozen=True, slots=True)
class Seated:
    """A group shown in a zone: its letter, how many boxes, whether the user pinned it there."""

    letter: str
    count: int
    place: str
    pinned: bool


def zone_of(vehicle: str, place: str) -> int:
    """Which zone of the drawing a loading place belongs to; the last zone where none is named."""
    zones = ZONES.get(vehicle, ())
    for index, (_, beginnings, _box) in enumerate(zones):
        if place.startswith(beginnings):
            return index
    return len(zones) - 1


class VehicleDrawing(QWidget):
    """Paints one vehicle; announces a group dropped on a zone."""

    dropped = Signal(int, int)

    def __init__(self) -> None:
        super().__init__()
        self.vehicle = "van"
        self.seated: tuple[Seated, ...] = ()
        self._over: int | None = None
        self.setAcceptDrops(True)
        self.setMinimumHeight(122)

    def sizeHint(self) -> QSize:
        return QSize(310, 126)

    def show_load(self, vehicle: str, seated: Sequence[Seated]) -> None:
        self.vehicle, self.seated = vehicle, tuple(seated)
        self.setAccessibleName(s.say(s.VEHICLES.get(vehicle, vehicle)))
        self.update()

    # -- painting --------------------------------------------------------------------------------

    def _scale(self) -> QTransform:
        by = min(self.width() / BOARD.width(), self.height() / BOARD.height())
        return (
            QTransform()
            .translate((self.width() - BOARD.width() * by) / 2, (self.height() - BOARD.height() * by) / 2)
            .scale(by, by)
        )

    def paintEvent(self, event: QEvent) -> None:
        look = theme.current()
        paint = QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        paint.setTransform(self._scale())
        paint.setPen(_pen(look.line, 1.0))
        if self.vehicle != "ground":
            paint.drawLine(QPointF(8, ROAD_Y), QPointF(192, ROAD_Y))
        self._paint_vehicle(paint)
        for index, (name, _, box) in enumerate(ZONES.get(self.vehicle, ())):
            self._paint_zone(paint, index, s.say(name), box)

    def _paint_vehicle(self, paint: QPainter) -> None:
        look = theme.current()
        body, glass, wheels = _SHAPES.get(self.vehicle, _SHAPES["ground"])()
        paint.setPen(_pen(look.ink_soft, 1.1))
        paint.setBrush(theme.colour(look.well))
        paint.drawPath(body)
        paint.setBrush(theme.colour(look.stores, 0.14))
        paint.setPen(_pen(look.ink_faint, 0.8))
        paint.drawPath(glass)
        for x in wheels:
            paint.setPen(_pen(look.ink_soft, 1.1))
            paint.setBrush(theme.colour(look.panel))
            paint.drawEllipse(QPointF(x, ROAD_Y - 8), 8, 8)
            paint.drawEllipse(QPointF(x, ROAD_Y - 8), 3, 3)

    def _paint_zone(self, paint: QPainter, index: int, name: str, box: QRectF) -> None:
        look = theme.current()
        here = [group for group in self.seated if zone_of(self.vehicle, group.place) == index]
        over = self._over == index
        pen = _pen(look.accent if over else look.ink_faint, 1.4 if over else 0.9)
        pen.setStyle(Qt.PenStyle.SolidLine if over else Qt.PenStyle.DashLine)
        paint.setPen(pen)
        paint.setBrush(theme.colour(look.accent_soft if over else look.panel, 0.9 if over else 0.55))
        paint.drawRoundedRect(box, 2.5, 2.5)
        face = theme.font(-1.4)
        face.setPointSizeF(face.pointSizeF() / self._scale().m11())
        paint.setFont(face)
        metrics = QFontMetricsF(face)
        paint.setPen(theme.colour(look.ink_soft))
        shown = metrics.elidedText(name, Qt.TextElideMode.ElideRight, box.width() - 2)
        paint.drawText(
            QRectF(box.left(), box.top() + 0.5, box.width(), metrics.height()),
            Qt.AlignmentFlag.AlignCenter,
            shown,
        )
        self._paint_boxes(paint, box.adjusted(2, metrics.height() + 1, -2, -2), here)

    def _paint_boxes(self, paint: QPainter, room: QRectF, groups: list[Seated]) -> None:
        """Up to a dozen little boxes for each group, filled when pinned, outlined when only proposed."""
        look = theme.current()
        drawn = [(group.letter, group.pinned) for group in groups for _ in range(min(group.count, 12))]
        if not drawn:
            return
        across = max(int(room.width() // 8.5), 1)
        rows = max(int(room.height() // 8.5), 1)
        size = 7.5 if len(drawn) <= across * rows else 7.5 * (across * rows / len(drawn)) ** 0.5
        across = max(int(room.width() // (size + 1)), 1)
        face = theme.font(0, bold=True)
        face.setPointSizeF(max(size * 0.5, 1.0) * 72 / 96)
        paint.setFont(face)
        for number, (letter, pinned) in enumerate(drawn):
            row, column = divmod(number, across)
            box = QRectF(
                room.left() + column * (size + 1), room.bottom() - (row + 1) * (size + 1) + 1, size, size
            )
            if box.top() < room.top() - 1:
                return
            paint.setPen(_pen(look.accent, 0.8))
            paint.setBrush(theme.colour(look.accent if pinned else look.accent_soft))
            paint.drawRoundedRect(box, 1, 1)
            paint.setPen(theme.colour(look.on_accent if pinned else look.ink))
            paint.drawText(box, Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextDontClip, letter)

    # -- hands -----------------------------------------------------------------------------------

    def _zone_at(self, point: QPointF) -> int | None:
        back, _ = self._scale().inverted()
        at = back.map(point)
        for index, (_, _, box) in enumerate(ZONES.get(self.vehicle, ())):
            if box.adjusted(-2, -2, 2, 2).contains(at):
                return index
        return None

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if event.mimeData().hasFormat(GROUP_MIME):
            event.acceptProposedAction()

    def dragMoveEvent(self, event) -> None:
        self._over = self._zone_at(event.position())
        self.update()
        event.setAccepted(self._over is not None)

    def dragLeaveEvent(self, event) -> None:
        self._over = None
        self.update()

    def dropEvent(self, event: QDropEvent) -> None:
        zone = self._zone_at(event.position())
        self._over = None
        self.update()
        if zone is not None:
            event.acceptProposedAction()
            self.dropped.emit(group_in(event.mimeData()), zone)


def group_in(data: QMimeData) -> int:
    """The number of the group carried by a drag."""
    return int(bytes(data.data(GROUP_MIME)))


def carry(group: int) -> QMimeData:
    """What a drag of group number ``group`` carries."""
    data = QMimeData()
    data.setData(GROUP_MIME, str(group).encode())
    return data


def _pen(ink: str, width: float) -> QPen:
    return QPen(
        theme.colour(ink), width, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin
    )


# -- shapes: body, glass, wheels ---------------------------------------------------------------------


def _line(*points: tuple[float, ...]) -> QPainterPath:
    """A closed outline; a point of six numbers is a curve by two handles to its end."""
    path = QPainterPath(QPointF(*points[0]))
    for point in points[1:]:
        path.cubicTo(*point) if len(point) == 6 else path.lineTo(*point)
    path.closeSubpath()
    return path


def _car() -> tuple[QPainterPath, QPainterPath, tuple[float, ...]]:
    body = _line(
        (22, 58), (20, 46), (24, 41, 34, 38, 54, 36), (62, 24, 70, 17, 84, 16), (118, 15), (132, 16, 140, 24, 148, 30),
        (164, 31, 176, 33, 180, 38), (182, 58),
    )  # fmt: skip
    glass = _line((60, 35), (68, 24, 74, 20, 84, 19), (118, 18), (128, 19, 134, 25, 141, 33))
    return body, glass, (50, 152)


def _estate() -> tuple[QPainterPath, QPainterPath, tuple[float, ...]]:
    body = _line(
        (22, 58),
        (20, 46),
        (24, 41, 34, 38, 54, 36),
        (62, 24, 70, 16, 84, 15),
        (162, 15),
        (172, 16, 176, 26, 180, 38),
        (182, 58),
    )
    glass = _line((60, 35), (68, 24, 74, 19, 84, 18), (112, 18), (112, 35))
    return body, glass, (50, 152)


def _van() -> tuple[QPainterPath, QPainterPath, tuple[float, ...]]:
    body = _line(
        (14, 58),
        (13, 44),
        (15, 38, 24, 34, 30, 32),
        (38, 16, 44, 8, 54, 6),
        (184, 5),
        (188, 6, 189, 8, 189, 12),
        (190, 58),
    )
    glass = _line((34, 32), (41, 18, 46, 12, 54, 11), (61, 11), (61, 32))
    return body, glass, (40, 160)


def _pickup() -> tuple[QPainterPath, QPainterPath, tuple[float, ...]]:
    body = _line(
        (14, 58),
        (13, 44),
        (18, 38, 32, 36, 46, 34),
        (54, 22, 60, 15, 72, 14),
        (98, 14),
        (104, 15, 107, 24, 109, 34),
        (184, 34),
        (186, 58),
    )
    glass = _line((53, 34), (60, 23, 64, 18, 72, 17), (96, 17), (101, 20, 102, 28, 103, 34))
    return body, glass, (40, 154)


def _flatbed() -> tuple[QPainterPath, QPainterPath, tuple[float, ...]]:
    body = _line((8, 58), (8, 26), (10, 14, 14, 10, 20, 9), (46, 9), (46, 50), (190, 50), (190, 58))
    glass = _line((12, 30), (14, 18, 17, 14, 22, 13), (34, 13), (34, 30))
    return body, glass, (28, 138, 160)


def _trailer() -> tuple[QPainterPath, QPainterPath, tuple[float, ...]]:
    body = _line(
        (88, 57),
        (88, 52),
        (64, 57),
        (62, 55),
        (88, 49),
        (88, 20),
        (90, 20),
        (90, 50),
        (178, 50),
        (178, 20),
        (180, 20),
        (180, 57),
    )
    tow = _line((8, 58), (8, 40), (10, 30, 14, 24, 24, 22), (40, 22), (48, 26, 54, 32, 57, 40), (58, 58))
    glass = _line((20, 38), (24, 28, 26, 26, 30, 26), (40, 26), (46, 30, 49, 34, 51, 38))
    body.addPath(tow)
    return body, glass, (34, 128, 146)


def _ground() -> tuple[QPainterPath, QPainterPath, tuple[float, ...]]:
    grass = _line((20, 66), (60, 63, 140, 63, 180, 66), (180, 67), (20, 67))
    return grass, QPainterPath(), ()


_SHAPES = {
    "car": _car,
    "estate": _estate,
    "van": _van,
    "pickup": _pickup,
    "flatbed": _flatbed,
    "trailer": _trailer,
    "ground": _ground,
}
