"""A painted layer of the map, kept: painted anew at rest, moved along as it is while the map is dragged."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QPoint, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPixmap

from planner.ui.map.mercator import Sight

BESIDE_SHARE = 0.3
"""While the map is dragged, so much more than is in sight is painted on every side, in shares of the view."""
SAME_SCALE = 1e-6


class KeptLayer:
    """A layer painted by ``paint(painter, sight)`` on ``ground``; transparent where no ground is given."""

    def __init__(
        self, paint: Callable[[QPainter, Sight], None], ground: Callable[[], QColor] | None = None
    ) -> None:
        self._paint, self._ground = paint, ground
        self._picture: QPixmap | None = None
        self._sight: Sight | None = None
        self._beside = QPoint()
        self._key: tuple[object, ...] = ()
        self._dragged = False

    def forget(self) -> None:
        """What it is painted from has changed."""
        self._sight = None

    def rest(self) -> bool:
        """The map lies still: the next paint is of what is in sight alone. Whether that will change anything."""
        moved, self._dragged = self._dragged, False
        if moved:
            self._sight = None
        return moved

    def draw(self, painter: QPainter, sight: Sight, size: QSize, ratio: float, key: object) -> bool:
        """Draw the layer; ``key`` is all it depends on beside what is in sight. Whether it was only moved along."""
        whole = (size.width(), size.height(), ratio, key)
        held = self._sight if whole == self._key and self._picture is not None else None
        self._key = whole
        if held is None or not _same_scale(held, sight):
            self._dragged = False
            self._make(sight, size, ratio, beside=False)
        elif held.view != sight.view:
            self._dragged = True
            if not self._covers(_moved(held, sight)):
                self._make(sight, size, ratio, beside=True)
        assert self._sight is not None
        assert self._picture is not None
        painter.drawPixmap(_moved(self._sight, sight) - self._beside, self._picture)
        return self._dragged

    def _covers(self, by: QPoint) -> bool:
        return abs(by.x()) <= self._beside.x() and abs(by.y()) <= self._beside.y()

    def _make(self, sight: Sight, size: QSize, ratio: float, *, beside: bool) -> None:
        share = BESIDE_SHARE if beside else 0.0
        self._sight = sight
        self._beside = QPoint(round(size.width() * share), round(size.height() * share))
        wide, high = size.width() + 2 * self._beside.x(), size.height() + 2 * self._beside.y()
        picture = QPixmap(QSize(wide, high) * ratio)
        picture.setDevicePixelRatio(ratio)
        picture.fill(self._ground() if self._ground else Qt.GlobalColor.transparent)
        painter = QPainter(picture)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._paint(painter, sight.wider(self._beside.x(), self._beside.y()))
        painter.end()
        self._picture = picture


def _same_scale(one: Sight, two: Sight) -> bool:
    wide, high = one.view.width(), one.view.height()
    return (
        abs(wide - two.view.width()) <= SAME_SCALE * wide
        and abs(high - two.view.height()) <= SAME_SCALE * high
        and one.frame == two.frame
    )


def _moved(held: Sight, sight: Sight) -> QPoint:
    """By how many pixels what was painted for one view lies off in another."""
    across = (held.view.left() - sight.view.left()) / sight.view.width() * sight.frame.width()
    down = (sight.view.top() - held.view.top()) / sight.view.height() * sight.frame.height()
    return QPoint(round(across), round(down))
