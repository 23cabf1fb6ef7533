"""A scrolling column of fields, and two parts that stand beside or under each other as there is room."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, QSize, Qt, QTimer
from PySide6.QtGui import QResizeEvent, QWheelEvent
from PySide6.QtWidgets import QFrame, QScrollArea, QSplitter, QVBoxLayout, QWidget

from planner.ui.look.panel import named

BESIDE_LETTERS = 88
"""A step this many letters wide shows its editor beside its list."""
MOST_SHARE = 0.48
"""Above its editor a list takes no more than this share of the height."""
REVEALED_MS = 1500
"""So long after it was scrolled to, a part is kept in sight while the page around it is laid out."""


class Page(QScrollArea):
    """A scrolling column of fields."""

    def __init__(self) -> None:
        super().__init__()
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.page = named(QWidget(), "page")
        self.column = QVBoxLayout(self.page)
        self.column.setContentsMargins(2, 2, 8, 8)
        self.column.setSpacing(7)
        self.setWidget(self.page)
        self.page.installEventFilter(self)
        self._revealed: QWidget | None = None
        self._forget = QTimer(self, singleShot=True, interval=REVEALED_MS)
        self._forget.timeout.connect(self._let_go)

    def minimumSizeHint(self) -> QSize:
        """Wide enough for the page: it never scrolls sideways."""
        return QSize(self.page.minimumSizeHint().width() + 12, 60)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """What is on the page has come or gone: the page may need more width."""
        if watched is self.page and event.type() == QEvent.Type.LayoutRequest:
            self.updateGeometry()
        if watched is self.page and event.type() == QEvent.Type.Resize and self._revealed is not None:
            QTimer.singleShot(0, self, self._show_revealed)
        return super().eventFilter(watched, event)

    def sizeHint(self) -> QSize:
        return QSize(self.page.minimumSizeHint().width() + 12, self.page.sizeHint().height())

    def reveal(self, part: QWidget) -> None:
        """Scroll to a part; again while the page grows, where what was just put in is still being laid out."""
        self._revealed = part
        self._forget.start()
        self._show_revealed()

    def _show_revealed(self) -> None:
        if self._revealed is not None and self.page.isAncestorOf(self._revealed):
            self.ensureWidgetVisible(self._revealed, 0, 40)

    def _let_go(self) -> None:
        self._revealed = None

    def wheelEvent(self, event: QWheelEvent) -> None:
        """A hand that scrolls has seen what it was shown."""
        self._let_go()
        super().wheelEvent(event)


class ListAndEditor(QSplitter):
    """A list and the editor of its row, both always in sight: beside each other where the step is wide enough."""

    def __init__(self, listing: QWidget, editor: QWidget) -> None:
        super().__init__(Qt.Orientation.Vertical)
        self.setChildrenCollapsible(False)
        self.setHandleWidth(8)
        self.addWidget(listing)
        self.addWidget(editor)
        self.setStretchFactor(1, 1)
        self._wanted_px, self._by_hand = 0, False
        self.splitterMoved.connect(lambda *_: setattr(self, "_by_hand", True))

    def resizeEvent(self, event: QResizeEvent) -> None:
        room = self.fontMetrics().averageCharWidth() * BESIDE_LETTERS
        wanted = Qt.Orientation.Horizontal if self.width() >= room else Qt.Orientation.Vertical
        if wanted != self.orientation():
            self.setOrientation(wanted)
            across = wanted == Qt.Orientation.Horizontal
            self.setSizes([55, 45] if across else [30, 70])
        super().resizeEvent(event)
        self._share()

    def give_list(self, wanted_px: int) -> None:
        """Let the list be so tall above its editor, at most ``MOST_SHARE`` of all; a hand's own choice stays."""
        self._wanted_px = wanted_px
        self._share()

    def _share(self) -> None:
        if self.orientation() != Qt.Orientation.Vertical or self._by_hand or self.height() < 1:
            return
        list_px = min(self._wanted_px, round(self.height() * MOST_SHARE))
        self.setSizes([list_px, max(self.height() - list_px - self.handleWidth(), 1)])

    def minimumSizeHint(self) -> QSize:
        """As narrow as the wider of the two: side by side is a gift, not a need."""
        parts = [self.widget(number) for number in range(self.count())]
        hints = [part.minimumSizeHint() for part in parts if part is not None]
        return QSize(max(hint.width() for hint in hints), sum(hint.height() for hint in hints) + 8)
