"""The few small signs on buttons, drawn so that no font has to carry them, and boxes that draw their own arrow."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

from PySide6.QtCore import QDate, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QFontMetrics,
    QIcon,
    QKeyEvent,
    QPainter,
    QPainterPath,
    QPaintEvent,
    QPen,
    QResizeEvent,
    QTextCharFormat,
)
from PySide6.QtWidgets import (
    QCalendarWidget,
    QComboBox,
    QFrame,
    QLineEdit,
    QStyle,
    QStyleOptionComboBox,
    QStylePainter,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from planner.ui.look import strings as s
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


def _play(paint: QPainter, box: QRectF) -> None:
    paint.drawPolygon(
        [
            box.topLeft() + QPointF(1.5, 0),
            box.bottomLeft() + QPointF(1.5, 0),
            QPointF(box.right() + 0.5, box.center().y()),
        ]
    )


def _pause(paint: QPainter, box: QRectF) -> None:
    for x in (box.left() + 2.5, box.right() - 2.5):
        paint.drawLine(QPointF(x, box.top() + 0.5), QPointF(x, box.bottom() - 0.5))


def _whole(paint: QPainter, box: QRectF) -> None:
    """Four corners of a frame: all of the picture."""
    arm = 3.5
    for x, y, across, down in (
        (box.left(), box.top(), arm, arm),
        (box.right(), box.top(), -arm, arm),
        (box.left(), box.bottom(), arm, -arm),
        (box.right(), box.bottom(), -arm, -arm),
    ):
        paint.drawPolyline([QPointF(x + across, y), QPointF(x, y), QPointF(x, y + down)])


_SIGNS: dict[str, Callable[[QPainter, QRectF], None]] = {
    "pin": _pin,
    "keep": _keep,
    "up": _up,
    "down": _down,
    "cross": _cross,
    "play": _play,
    "pause": _pause,
    "whole": _whole,
}


class SignButton(QToolButton):
    """A flat button with one drawn sign and its name for tips and screen readers."""

    def __init__(self, sign: str, name: str, act: Callable[[], None]) -> None:
        super().__init__()
        self.show_sign(sign, name)
        self.setFixedWidth(24)
        self.setMinimumHeight(24)
        self.clicked.connect(lambda _=False: act())

    def show_sign(self, sign: str, name: str) -> None:
        """Another sign, and what it means now."""
        self.sign = sign
        self.setToolTip(name)
        self.setAccessibleName(name)
        self.update()

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


def chooser() -> Choices:
    """A combo box as wide as the longest of its choices."""
    made = Choices()
    made.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)
    return made


ARROW_PX, EDGES_PX = 18, 20
WIDEST_MOMENT = "Wed 30 Nov 2026 00:00"


class MomentEdit(QLineEdit):
    """A date and time as text, with a calendar behind its arrow; up and down keys move it by a quarter of an hour."""

    stepped = Signal(object)
    day_chosen = Signal(object)

    def __init__(self) -> None:
        super().__init__()
        self.calendar: QCalendarWidget | None = None
        self._day = date(2027, 6, 1)
        self.opener = QToolButton(self)
        self.opener.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.opener.setCursor(Qt.CursorShape.ArrowCursor)
        self.opener.setAccessibleName(s.say(s.CALENDAR_NAME))
        self.opener.setToolTip(s.say(s.CALENDAR_NAME))
        self.opener.clicked.connect(lambda _=False: self.open_calendar())
        self.setTextMargins(0, 0, ARROW_PX, 0)

    def minimumSizeHint(self) -> QSize:
        """As wide as a whole date and time."""
        widest = self.fontMetrics().horizontalAdvance(WIDEST_MOMENT)
        return QSize(widest + ARROW_PX + EDGES_PX, super().minimumSizeHint().height())

    def show_day(self, day: date) -> None:
        self._day = day

    def open_calendar(self) -> None:
        """A month to choose a day from, just under the field."""
        popup = QFrame(self, Qt.WindowType.Popup)
        popup.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.calendar = calendar(self._day)
        column = QVBoxLayout(popup)
        column.setContentsMargins(1, 1, 1, 1)
        column.addWidget(self.calendar)

        def take(day: QDate) -> None:
            popup.close()
            self.day_chosen.emit(date(day.year(), day.month(), day.day()))

        self.calendar.clicked.connect(take)
        self.calendar.activated.connect(take)
        popup.move(self.mapToGlobal(self.rect().bottomLeft()))
        popup.show()
        self.calendar.setFocus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        step = {
            Qt.Key.Key_Up: timedelta(minutes=15),
            Qt.Key.Key_Down: timedelta(minutes=-15),
            Qt.Key.Key_PageUp: timedelta(days=1),
            Qt.Key.Key_PageDown: timedelta(days=-1),
        }.get(Qt.Key(event.key()))
        if step is not None and event.modifiers() == Qt.KeyboardModifier.AltModifier:
            self.open_calendar()
        elif step is not None:
            self.stepped.emit(step)
        else:
            super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.opener.setGeometry(self.width() - 24, 1, 23, self.height() - 2)

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        paint = QPainter(self)
        _arrow(paint, self)


def calendar(day: date) -> QCalendarWidget:
    """A month in the palette in use: every day in ink, week days and weekends alike."""
    look = theme.current()
    made = QCalendarWidget()
    made.setFirstDayOfWeek(Qt.DayOfWeek.Monday)
    made.setVerticalHeaderFormat(QCalendarWidget.VerticalHeaderFormat.NoVerticalHeader)
    made.setSelectedDate(QDate(day.year, day.month, day.day))
    plain, head = QTextCharFormat(), QTextCharFormat()
    plain.setForeground(theme.colour(look.ink))
    head.setForeground(theme.colour(look.ink_soft))
    head.setBackground(theme.colour(look.panel))
    made.setHeaderTextFormat(head)
    for weekday in Qt.DayOfWeek:
        made.setWeekdayTextFormat(weekday, plain)
    for name, sign in (("prevmonth", "‹"), ("nextmonth", "›")):
        turn = made.findChild(QToolButton, f"qt_calendar_{name}")
        if turn is not None:  # its own arrow is black in every palette
            turn.setIcon(QIcon())
            turn.setText(sign)
    metrics = QFontMetrics(theme.font())
    widest = max(
        metrics.horizontalAdvance(made.locale().dayName(n, made.locale().FormatType.ShortFormat))
        for n in range(1, 8)
    )
    made.setMinimumSize(7 * (widest + 16), 9 * (metrics.height() + 8))
    return made


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
