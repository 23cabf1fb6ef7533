"""A cut through one box: combs with bees, brood and stores, the floor, the roof, the entrance, the water."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPainterPath, QPen
from PySide6.QtWidgets import QWidget

from planner.ui.look import strings as s
from planner.ui.look import theme

WALL_PX = 7.0


@dataclass(frozen=True, slots=True)
class BoxState:
    """What the drawing shows of one group, in the words of the trip file."""

    title: str = ""
    frames: int = 5
    bees: float = 0.0
    brood: float = 0.0
    stores: float = 0.0
    hanging: bool = False
    floor: str = "mesh"
    floor_blocked: float = 0.0
    roof: str = "solid"
    roof_blocked: float = 0.0
    entrance: str = "foam"
    foam_ml: float = 0.0
    mist_ml: float = 0.0

    @classmethod
    def of(cls, group: dict[str, Any], title: str, frames: float) -> BoxState:
        """Read from a group of the draft; ``frames`` hang in the box (0: the bees hang free)."""

        def number(key: str) -> float:
            return float(group.get(key) or 0)

        by_weight = "bees_kg" in group
        hung = max(int(frames), 0)
        return cls(
            title,
            hung or 6,
            hung if by_weight and hung else number("frames_of_bees"),
            number("open_brood_frames") + number("sealed_brood_frames"),
            number("stores_frames"),
            by_weight or not hung,
            group.get("floor", "mesh"),
            number("floor_blocked_share"),
            group.get("roof", "solid"),
            number("roof_blocked_share"),
            group.get("entrance", "foam"),
            number("wet_foam_ml"),
            float((group.get("misting") or {}).get("ml") or 0),
        )


class BoxDrawing(QWidget):
    """Paints one :class:`BoxState`; editing happens in the sliders beneath."""

    def __init__(self) -> None:
        super().__init__()
        self.state = BoxState()
        self.setMinimumHeight(150)

    def sizeHint(self) -> QSize:
        return QSize(300, 160)

    def show_state(self, state: BoxState) -> None:
        self.state = state
        self.setAccessibleName(
            s.say(
                s.BOX_NAME,
                box=state.title,
                bees=f"{state.bees:g}",
                brood=f"{state.brood:g}",
                stores=f"{state.stores:g}",
                floor=s.say(s.FLOORS.get(state.floor, state.floor)),
                roof=s.say(s.ROOFS.get(state.roof, state.roof)),
            )
        )
        self.update()

    def paintEvent(self, event: QEvent) -> None:
        paint = QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        paint.setFont(theme.font(-1.0))
        metrics = QFontMetricsF(paint.font())
        margin = metrics.height() + 8
        high = self.height() - 2 * margin - metrics.height()
        wide = min(self.width() * 0.58, max(high * 1.45, 60 + 16.0 * self.state.frames))
        box = QRectF((self.width() - wide) / 2, margin, wide, high)
        self._paint_walls(paint, box)
        self._paint_combs(paint, box.adjusted(WALL_PX + 4, 8, -WALL_PX - 4, -9))
        self._paint_roof(paint, box, metrics)
        self._paint_floor(paint, box, metrics)
        self._paint_entrance(paint, box)
        self._paint_water(paint, box)
        self._paint_key(paint, metrics)

    def _paint_walls(self, paint: QPainter, box: QRectF) -> None:
        look = theme.current()
        paint.setPen(Qt.PenStyle.NoPen)
        paint.setBrush(theme.colour(look.ink, 0.035))
        paint.drawRect(box)
        paint.setBrush(theme.colour(look.ink, 0.30))
        paint.drawRect(QRectF(box.left(), box.top(), WALL_PX, box.height()))
        paint.drawRect(QRectF(box.right() - WALL_PX, box.top(), WALL_PX, box.height()))

    def _paint_combs(self, paint: QPainter, room: QRectF) -> None:
        """Brood stands in the middle, stores outside it; the bees cover combs from the middle outwards."""
        state, look = self.state, theme.current()
        if state.hanging:
            self._paint_cluster(paint, room)
            return
        pitch = room.width() / state.frames
        middle = (state.frames - 1) / 2
        order = sorted(range(state.frames), key=lambda frame: (abs(frame - middle), frame))
        brood, bees = state.brood, state.bees
        stores_order = sorted(range(state.frames), key=lambda frame: (-abs(frame - middle), frame))
        brood_of, bees_of, stores_of = {}, {}, {}
        for frame in order:
            brood_of[frame], brood = min(brood, 1.0), max(brood - 1.0, 0.0)
            bees_of[frame], bees = min(bees, 1.0), max(bees - 1.0, 0.0)
        stores = state.stores
        for frame in stores_order:
            room_left = 1.0 - brood_of[frame]
            stores_of[frame], stores = min(stores, room_left), max(stores - room_left, 0.0)
        for frame in range(state.frames):
            comb = QRectF(room.left() + frame * pitch + pitch * 0.27, room.top(), pitch * 0.46, room.height())
            paint.setPen(Qt.PenStyle.NoPen)
            paint.setBrush(theme.colour(look.ink, 0.07))
            paint.drawRoundedRect(comb, 2, 2)
            self._fill(paint, comb, stores_of[frame], look.stores, 0.55, from_top=True)
            self._fill(paint, comb, brood_of[frame], look.harm, 0.38, from_top=False)
            self._paint_bees(paint, comb, pitch, bees_of[frame])
            paint.setPen(QPen(theme.colour(look.ink, 0.5), 2))
            paint.drawLine(
                QPointF(comb.left() - pitch * 0.13, comb.top() - 1),
                QPointF(comb.right() + pitch * 0.13, comb.top() - 1),
            )

    def _fill(
        self, paint: QPainter, comb: QRectF, share: float, ink: str, alpha: float, *, from_top: bool
    ) -> None:
        if share <= 0:
            return
        high = comb.height() * share
        part = QRectF(comb.left(), comb.top() if from_top else comb.bottom() - high, comb.width(), high)
        paint.setPen(Qt.PenStyle.NoPen)
        paint.setBrush(theme.colour(ink, alpha))
        paint.drawRoundedRect(part, 2, 2)

    def _paint_bees(self, paint: QPainter, comb: QRectF, pitch: float, share: float) -> None:
        if share <= 0:
            return
        paint.setPen(Qt.PenStyle.NoPen)
        paint.setBrush(theme.colour(theme.current().accent, 0.85))
        side = pitch * 0.13
        high = comb.height() * share
        top = comb.top() + (comb.height() - high) / 2
        for left in (comb.left() - side - 0.8, comb.right() + 0.8):
            paint.drawRoundedRect(QRectF(left, top, side, high), side / 2, side / 2)

    def _paint_cluster(self, paint: QPainter, room: QRectF) -> None:
        path = QPainterPath(QPointF(room.left() + room.width() * 0.18, room.top()))
        path.cubicTo(
            room.left() + room.width() * 0.2,
            room.bottom(),
            room.right() - room.width() * 0.2,
            room.bottom(),
            room.right() - room.width() * 0.18,
            room.top(),
        )
        path.closeSubpath()
        paint.setPen(Qt.PenStyle.NoPen)
        paint.setBrush(theme.colour(theme.current().accent, 0.75))
        paint.drawPath(path)

    def _paint_roof(self, paint: QPainter, box: QRectF, metrics: QFontMetricsF) -> None:
        look = theme.current()
        if self.state.roof == "solid":
            paint.setPen(Qt.PenStyle.NoPen)
            paint.setBrush(theme.colour(look.ink, 0.42))
            paint.drawRoundedRect(QRectF(box.left() - 3, box.top() - 6, box.width() + 6, 6), 2, 2)
        else:
            self._mesh(paint, box.left(), box.right(), box.top() - 3, self.state.roof_blocked)
            if self.state.roof == "shaded_screen":
                paint.setPen(QPen(theme.colour(look.ink, 0.45), 3))
                paint.drawLine(
                    QPointF(box.left() - 6, box.top() - 11), QPointF(box.right() + 6, box.top() - 11)
                )
        text = s.say(s.ROOFS.get(self.state.roof, self.state.roof))
        self._note(
            paint,
            QRectF(0, 0, self.width(), metrics.height()),
            text,
            s.say(s.LOAD_ROOF),
            self.state.roof_blocked if self.state.roof != "solid" else 0,
        )

    def _paint_floor(self, paint: QPainter, box: QRectF, metrics: QFontMetricsF) -> None:
        if self.state.floor == "mesh":
            self._mesh(paint, box.left(), box.right(), box.bottom() + 1, self.state.floor_blocked)
        else:
            paint.setPen(Qt.PenStyle.NoPen)
            paint.setBrush(theme.colour(theme.current().ink, 0.42))
            paint.drawRect(QRectF(box.left(), box.bottom() - 2, box.width(), 6))
        text = s.say(s.FLOORS.get(self.state.floor, self.state.floor))
        at = QRectF(0, box.bottom() + 8, self.width(), metrics.height())
        self._note(
            paint,
            at,
            text,
            s.say(s.LOAD_FLOOR),
            self.state.floor_blocked if self.state.floor == "mesh" else 0,
        )

    def _note(self, paint: QPainter, at: QRectF, text: str, part: str, blocked: float) -> None:
        said = s.say(
            s.BOX_PART_BLOCKED if blocked > 0.004 else s.BOX_PART,
            part=part,
            kind=text,
            share=f"{blocked * 100:.0f}",
        )
        paint.setPen(theme.colour(theme.current().ink_soft))
        paint.drawText(at, Qt.AlignmentFlag.AlignCenter, said)

    def _mesh(self, paint: QPainter, left: float, right: float, y: float, blocked: float) -> None:
        """Open mesh as dashes; the blocked share as a solid dark stretch from the sides inwards."""
        look = theme.current()
        pen = QPen(theme.colour(look.ink, 0.75), 2.4)
        pen.setDashPattern([1.2, 1.3])
        paint.setPen(pen)
        paint.drawLine(QPointF(left, y), QPointF(right, y))
        if blocked > 0.004:
            paint.setPen(QPen(theme.colour(look.harm), 5, c=Qt.PenCapStyle.FlatCap))
            reach = (right - left) * min(blocked, 1.0) / 2
            paint.drawLine(QPointF(left, y), QPointF(left + reach, y))
            paint.drawLine(QPointF(right - reach, y), QPointF(right, y))

    def _paint_entrance(self, paint: QPainter, box: QRectF) -> None:
        gap = QRectF(box.right() - WALL_PX - 1, box.bottom() - 24, WALL_PX + 2, 14)
        look = theme.current()
        paint.fillRect(gap, theme.colour(look.panel))
        kind = self.state.entrance
        if kind == "shut":
            paint.fillRect(gap, theme.colour(look.ink, 0.55))
        elif kind == "mesh":
            pen = QPen(theme.colour(look.ink, 0.75), 2)
            pen.setDashPattern([1.0, 1.0])
            paint.setPen(pen)
            paint.drawLine(QPointF(gap.center().x(), gap.top()), QPointF(gap.center().x(), gap.bottom()))
        elif kind == "foam":
            wet = self.state.foam_ml > 0
            paint.setPen(Qt.PenStyle.NoPen)
            paint.setBrush(theme.colour(look.cool if wet else look.caution, 0.75))
            paint.drawRoundedRect(gap.adjusted(-2, 0, 3, 0), 4, 4)

    def _paint_water(self, paint: QPainter, box: QRectF) -> None:
        if self.state.mist_ml <= 0:
            return
        paint.setPen(Qt.PenStyle.NoPen)
        paint.setBrush(theme.colour(theme.current().cool, 0.8))
        drops = min(3 + int(self.state.mist_ml / 10), 11)
        for drop in range(drops):
            x = box.left() + box.width() * (drop + 0.5) / drops
            y = box.top() + 4 + 4 * (drop % 2)
            paint.drawEllipse(QPointF(x, y), 1.9, 2.6)

    def _paint_key(self, paint: QPainter, metrics: QFontMetricsF) -> None:
        look = theme.current()
        keys = [(s.BOX_KEY_BEES, theme.colour(look.accent, 0.85))]
        if not self.state.hanging:
            keys += [
                (s.BOX_KEY_BROOD, theme.colour(look.harm, 0.38)),
                (s.BOX_KEY_STORES, theme.colour(look.stores, 0.55)),
            ]
        wide = sum(16 + metrics.horizontalAdvance(s.say(text)) + 14 for text, _ in keys) - 14
        x, y = (self.width() - wide) / 2, self.height() - metrics.height()
        for text, ink in keys:
            paint.setPen(Qt.PenStyle.NoPen)
            paint.setBrush(QColor(ink))
            paint.drawRoundedRect(QRectF(x, y + metrics.height() / 2 - 4, 9, 9), 2, 2)
            paint.setPen(theme.colour(look.ink_soft))
            said = s.say(text)
            paint.drawText(QPointF(x + 14, y + metrics.ascent()), said)
            x += 16 + metrics.horizontalAdvance(said) + 14
