"""A side view of the vehicle with its loading places; boxes are dropped where they shall ride."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QEvent, QMimeData, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QDragEnterEvent,
    QDragLeaveEvent,
    QDragMoveEvent,
    QDropEvent,
    QFontMetricsF,
    QPainter,
    QPainterPath,
    QPen,
    QTransform,
)
from PySide6.QtWidgets import QWidget

from planner.model.records import BOARD, Line, LoadingZone, Vehicle
from planner.ui.look import strings as s
from planner.ui.look import theme
from planner.ui.trip.tables import ROWS_MIME

SHEET = QRectF(0, 0, *BOARD)
ROAD_Y = 66.0


@dataclass(frozen=True, slots=True)
class Seated:
    """A group shown in a zone: its letter, how many boxes, which zone, whether the user pinned it there."""

    letter: str
    count: int
    zone: str
    pinned: bool


class VehicleDrawing(QWidget):
    """Paints one vehicle of the catalogue; announces the groups dropped on a zone, which it names."""

    dropped = Signal(object, str)

    def __init__(self, vehicle: Vehicle) -> None:
        super().__init__()
        self._over: LoadingZone | None = None
        self.setAcceptDrops(True)
        self.setMinimumHeight(122)
        self.show_load(vehicle, ())

    def sizeHint(self) -> QSize:
        return QSize(310, 126)

    def show_load(self, vehicle: Vehicle, seated: Sequence[Seated]) -> None:
        self.vehicle, self.seated = vehicle, tuple(seated)
        self.setAccessibleName(s.say(vehicle.title))
        self.update()

    # -- painting --------------------------------------------------------------------------------

    def _scale(self) -> QTransform:
        by = min(self.width() / SHEET.width(), self.height() / SHEET.height())
        return (
            QTransform()
            .translate((self.width() - SHEET.width() * by) / 2, (self.height() - SHEET.height() * by) / 2)
            .scale(by, by)
        )

    def paintEvent(self, event: QEvent) -> None:
        look = theme.current()
        paint = QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        paint.setTransform(self._scale())
        paint.setPen(_pen(look.line, 1.0))
        if self.vehicle.drives:
            paint.drawLine(QPointF(8, ROAD_Y), QPointF(192, ROAD_Y))
        self._paint_vehicle(paint)
        for zone in self.vehicle.zones:
            self._paint_zone(paint, zone)

    def _paint_vehicle(self, paint: QPainter) -> None:
        look = theme.current()
        paint.setPen(_pen(look.ink_soft, 1.1))
        paint.setBrush(theme.colour(look.well))
        paint.drawPath(_path(self.vehicle.outline))
        paint.setBrush(theme.colour(look.cool, 0.14))
        paint.setPen(_pen(look.ink_faint, 0.8))
        paint.drawPath(_path(self.vehicle.glass))
        for x in self.vehicle.wheels:
            paint.setPen(_pen(look.ink_soft, 1.1))
            paint.setBrush(theme.colour(look.panel))
            paint.drawEllipse(QPointF(x, ROAD_Y - 8), 8, 8)
            paint.drawEllipse(QPointF(x, ROAD_Y - 8), 3, 3)

    def _paint_zone(self, paint: QPainter, zone: LoadingZone) -> None:
        look, box = theme.current(), QRectF(*zone.rectangle)
        here = [group for group in self.seated if group.zone == zone.name]
        over = self._over == zone
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
        count = sum(group.count for group in here)
        said = s.say(s.ZONE_COUNT, zone=s.say(zone.title), count=count) if count else s.say(zone.title)
        shown = metrics.elidedText(said, Qt.TextElideMode.ElideRight, box.width() - 2)
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
                break
            paint.setPen(_pen(look.accent, 0.8))
            paint.setBrush(theme.colour(look.accent if pinned else look.accent_soft))
            paint.drawRoundedRect(box, 1, 1)
            paint.setPen(theme.colour(look.on_accent if pinned else look.ink))
            paint.drawText(box, Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextDontClip, letter)

    # -- hands -----------------------------------------------------------------------------------

    def _zone_at(self, point: QPointF) -> LoadingZone | None:
        back, _ = self._scale().inverted()
        at = back.map(point)
        for zone in self.vehicle.zones:
            if QRectF(*zone.rectangle).adjusted(-2, -2, 2, 2).contains(at):
                return zone
        return None

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if event.mimeData().hasFormat(ROWS_MIME):
            event.acceptProposedAction()

    def dragMoveEvent(self, event: QDragMoveEvent) -> None:
        self._over = self._zone_at(event.position())
        self.update()
        event.setAccepted(self._over is not None)

    def dragLeaveEvent(self, event: QDragLeaveEvent) -> None:
        self._over = None
        self.update()

    def dropEvent(self, event: QDropEvent) -> None:
        zone = self._zone_at(event.position())
        self._over = None
        self.update()
        if zone is not None:
            event.acceptProposedAction()
            self.dropped.emit(groups_in(event.mimeData()), zone.name)


def groups_in(data: QMimeData) -> list[int]:
    """The numbers of the groups carried by a drag."""
    return [int(part) for part in bytes(data.data(ROWS_MIME).data()).decode().split(",")]


def carry(*groups: int) -> QMimeData:
    """What a drag of these groups carries."""
    data = QMimeData()
    data.setData(ROWS_MIME, ",".join(map(str, groups)).encode())
    return data


def _pen(ink: str, width: float) -> QPen:
    return QPen(
        theme.colour(ink), width, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin
    )


# -- shapes: body, glass, wheels ---------------------------------------------------------------------


def _path(lines: Sequence[Line]) -> QPainterPath:
    """Closed lines; a point of six numbers is a curve by two handles to its end."""
    path = QPainterPath()
    for first, *others in lines:
        path.moveTo(*first)
        for point in others:
            path.cubicTo(*point) if len(point) == 6 else path.lineTo(*point)
        path.closeSubpath()
    return path
