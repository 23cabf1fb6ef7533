"""The five classes of harm on the screen: a colour each, and a pattern where one hue has to do for all."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen

from planner.ui.look import theme
from planner.ui.look.colours import ink_on

PATTERNS = {"safe": 0, "doubtful": 1, "risky": 2, "bad": 3, "deadly": 4}
"""How densely a class is hatched where colours cannot tell it."""
EVERY_PX = {1: 12.0, 2: 8.0, 3: 5.0, 4: 3.0}


def class_colour(name: str) -> QColor:
    """The ground of a class in the palette in use; ``unknown`` has one too."""
    look = theme.current()
    return theme.colour(look.well if name == "unknown" else getattr(look, name))


def ink_of(name: str) -> QColor:
    """The ink that reads on a class."""
    look = theme.current()
    if look.patterned or name == "unknown":
        return theme.colour(look.ink)
    return ink_on(class_colour(name))


def fill_class(paint: QPainter, box: QRectF, name: str) -> None:
    """A box in the ground of a class, with its pattern where the palette needs one."""
    look = theme.current()
    paint.fillRect(box, class_colour(name))
    if name == "unknown":
        _hatch(paint, box, 6.0, theme.colour(look.unknown, 0.8))
    elif look.patterned and PATTERNS[name]:
        _hatch(paint, box, EVERY_PX[PATTERNS[name]], theme.colour(look.ink, 0.75))
        if name == "deadly":
            _hatch(paint, box, EVERY_PX[4], theme.colour(look.ink, 0.75), other_way=True)


def words_on(paint: QPainter, box: QRectF, text: str, name: str) -> None:
    """Words in the middle of a class, on a plate of the ground's colour where it is patterned."""
    look = theme.current()
    if look.patterned or name == "unknown":
        metrics = QFontMetricsF(paint.font())
        wide = min(metrics.horizontalAdvance(text) + 5, box.width())
        high = min(metrics.ascent() + 3, box.height())
        plate = QRectF(box.center().x() - wide / 2, box.center().y() - high / 2, wide, high)
        paint.fillRect(plate, theme.colour(look.ground))
    paint.setPen(ink_of(name))
    paint.drawText(box, Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextDontClip, text)


def _hatch(paint: QPainter, box: QRectF, every: float, ink: QColor, *, other_way: bool = False) -> None:
    paint.save()
    paint.setClipRect(box, Qt.ClipOperation.IntersectClip)
    paint.setPen(QPen(ink, 1.0))
    x = box.left() - box.height()
    while x < box.right():
        top, foot = (box.top(), box.bottom()) if other_way else (box.bottom(), box.top())
        paint.drawLine(QPointF(x, top), QPointF(x + box.height(), foot))
        x += every
    paint.restore()
