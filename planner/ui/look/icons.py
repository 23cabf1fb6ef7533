"""The few small signs on buttons, drawn so that no font has to carry them, and boxes that draw their own arrow."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QFontMetrics, QPainter, QPainterPath, QPaintEvent, QPen
from PySide6.QtWidgets import (
    QComboBox,
    QDateTimeEdit,
    QStyle,
    QStyleOptionComboBox,
    QStylePainter,
    QToolButton,
    QWidget,
)

from planner.ui.look import theme


def _pin(paint: QPainter, box: QRectF) -> None:
    """A drop with a hole: a point on the map."""
    path = QPainterPath(QPointF(box.center().x(), box.bottom()))
    path.cubicTo(box.left() - 1, box.center().y(), box.left() + 2, box.top(), box.center().x(), box.top())
    path.cubicTo(
        box.right() - 2, box.top(), box.right() + 1, box.center().y(), box.center().x(), box.bottom()
    )
    paint.drawPath(path)
    paint.drawEllipse(QPointF(box.center().x(), box.top() + box.height() * 0.38), 1.6, 1.6)


def _keep(paint: QPainter, box: QRectF) -> None:
    """A ribbon: a place remembered."""
    x, y, w, h = box.left() + 2, box.top(), box.width() - 4, box.height()
    path = QPainterPath(QPointF(x, y))
    for point in ((x + w, y), (x + w, y + h), (x + w / 2, y + h * 0.68), (x, y + h), (x, y)):
        path.lineTo(*point)
    paint.drawPath(path)


def _up(paint: QPainter, box: QRectF) -> None:
    middle = box.center().x()
    paint.drawLine(QPointF(middle, box.bottom()), QPointF(middle, box.top()))
    paint.drawLine(QPointF(middle - 3.5, box.top() + 3.5), QPointF(middle, box.top()))
    paint.drawLine(QPointF(middle + 3.5, box.top() + 3.5), QPointF(middle, box.top()))


def _down(paint: QPainter, box: QRectF) -> None:
    paint.save()
    paint.translate(0, box.top() + box.bottom())
    paint.scale(1, -1)
    _up(paint, box)
    paint.restore()


def _cross(paint: QPainter, box: QRectF) -> None:
    paint.drawLine(box.topLeft() + QPointF(1, 1), box.bottomRight() - QPointF(1, 1))
    paint.drawLine(box.topRight() + QPointF(-1, 1), box.bottomLeft() + QPointF(1, -1))


_SIGNS: dict[str, Callable[[QPainter, QRectF], None]] = {
    "pin": _pin,
    "keep": _keep,
    "up": _up,
    "down": _down,
    "cross": _cross,
}


class SignButton(QToolButton):
    """A flat button with one drawn sign and its name for tips and screen readers."""

    def __init__(self, sign: str, name: str, act: Callable[[], None]) -> None:
        super().__init__()
        self.sign = sign
        self.setToolTip(name)
        self.setAccessibleName(name)
        self.setFixedWidth(24)
        self.setMinimumHeight(24)
        self.clicked.connect(lambda _=False: act())

    def sizeHint(self) -> QSize:
        return QSize(24, 24)

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        look = theme.current()
        paint = QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        ink = (
            look.ink_faint
            if not self.isEnabled()
            else look.ink
            if self.underMouse() or self.hasFocus()
            else look.ink_soft
        )
        paint.setPen(QPen(theme.colour(ink), 1.3, c=Qt.PenCapStyle.RoundCap, j=Qt.PenJoinStyle.RoundJoin))
        _SIGNS[self.sign](paint, QRectF(self.width() / 2 - 5, self.height() / 2 - 5.5, 10, 11))


class Choices(QComboBox):
    """A combo box that shortens what does not fit and draws its own arrow."""

    def __init__(self) -> None:
        super().__init__()
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)

    def paintEvent(self, event: QPaintEvent) -> None:
        paint = QStylePainter(self)
        option = QStyleOptionComboBox()
        self.initStyleOption(option)
        paint.drawComplexControl(QStyle.ComplexControl.CC_ComboBox, option)
        metrics = QFontMetrics(self.font())
        option.currentText = metrics.elidedText(
            option.currentText, Qt.TextElideMode.ElideRight, self.width() - 30
        )
        paint.drawControl(QStyle.ControlElement.CE_ComboBoxLabel, option)
        _arrow(paint, self)


class MomentEdit(QDateTimeEdit):
    """A date and time with a calendar behind its arrow."""

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        paint = QPainter(self)
        _arrow(paint, self)


def _arrow(paint: QPainter, owner: QWidget) -> None:
    look = theme.current()
    paint.setRenderHint(QPainter.RenderHint.Antialiasing)
    paint.setPen(
        QPen(
            theme.colour(look.ink_soft if owner.isEnabled() else look.ink_faint),
            1.4,
            c=Qt.PenCapStyle.RoundCap,
        )
    )
    x, y = owner.width() - 13.0, owner.height() / 2.0
    paint.drawLine(QPointF(x - 3.5, y - 1.7), QPointF(x, y + 1.9))
    paint.drawLine(QPointF(x, y + 1.9), QPointF(x + 3.5, y - 1.7))
