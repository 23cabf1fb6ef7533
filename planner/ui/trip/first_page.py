"""What the window shows before there is a trip: three demos, a new trip, the recent ones."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import QEvent, QPointF, QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter, QPen
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from planner.model.records import Vehicle
from planner.ui.look import strings as s
from planner.ui.look import theme
from planner.ui.look.panel import label, named
from planner.ui.trip.vehicle_drawing import VehicleDrawing


@dataclass(frozen=True, slots=True)
class Entry:
    """A trip that can be opened: its file and the words and picture for its card."""

    path: Path
    title: str
    detail: str
    vehicle: str = ""


class Card(QFrame):
    """A whole card to click; the keyboard reaches it too."""

    chosen = Signal(Path)

    def __init__(self, entry: Entry, picture: Vehicle | None = None) -> None:
        super().__init__()
        self.setObjectName("card")
        self.entry = entry
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setAccessibleName(f"{entry.title}. {entry.detail}")
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 12, 16, 12)
        column.setSpacing(4)
        if picture:
            drawing = VehicleDrawing(picture)
            drawing.setAcceptDrops(False)
            drawing.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
            drawing.setMaximumHeight(130)
            column.addWidget(drawing)
        title, detail = label(entry.title, "title"), label(entry.detail, "soft")
        for part in (title, detail):
            part.setWordWrap(True)
            column.addWidget(part)
        if picture:
            column.addStretch(1)

    def _mark(self, on: bool) -> None:
        self.setProperty("chosen", on)
        self.style().unpolish(self)
        self.style().polish(self)

    def enterEvent(self, event: QEvent) -> None:
        self._mark(True)

    def leaveEvent(self, event: QEvent) -> None:
        self._mark(self.hasFocus())

    def focusInEvent(self, event: QEvent) -> None:
        self._mark(True)

    def focusOutEvent(self, event: QEvent) -> None:
        self._mark(False)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        self.chosen.emit(self.entry.path)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
            self.chosen.emit(self.entry.path)
        else:
            super().keyPressEvent(event)


class Mark(QWidget):
    """Our own mark: a coiled straw dome over a road."""

    def sizeHint(self) -> QSize:
        return QSize(64, 58)

    def paintEvent(self, event: QEvent) -> None:
        look = theme.current()
        paint = QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        paint.translate(self.width() - 62, 2)
        paint.setPen(QPen(theme.colour(look.accent), 5.2, c=Qt.PenCapStyle.RoundCap))
        for row, (left, right) in enumerate(((24, 36), (16, 44), (11, 49), (8, 52), (7, 53))):
            y = 6 + row * 9
            paint.drawLine(QPointF(left, y), QPointF(right, y))
        paint.setPen(QPen(theme.colour(look.ink_soft), 2, c=Qt.PenCapStyle.RoundCap))
        paint.drawLine(QPointF(0, 53), QPointF(60, 53))


class FirstPage(QScrollArea):
    """Announces which trip to open, or a new one."""

    open_path = Signal(Path)
    open_demo = Signal(Path)
    new_wanted = Signal()
    browse_wanted = Signal()

    def __init__(self, vehicles: Mapping[str, Vehicle]) -> None:
        super().__init__()
        self._vehicles = vehicles
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        page = named(QWidget(), "page")
        outer = QHBoxLayout(page)
        outer.addStretch(1)
        self.column = QVBoxLayout()
        self.column.setSpacing(12)
        holder = QWidget()
        holder.setMaximumWidth(980)
        holder.setMinimumWidth(560)
        holder.setLayout(self.column)
        outer.addWidget(holder, 100)
        outer.addStretch(1)
        self.setWidget(page)
        self._build()

    def _build(self) -> None:
        head = QHBoxLayout()
        words = QVBoxLayout()
        words.setSpacing(6)
        words.addWidget(label(s.say(s.FIRST_HEAD), "head"))
        lead = label(s.say(s.FIRST_LEAD), "soft")
        lead.setWordWrap(True)
        words.addWidget(lead)
        head.addLayout(words, 1)
        head.addWidget(Mark(), 0, Qt.AlignmentFlag.AlignTop)
        buttons = QHBoxLayout()
        self.new = named(QPushButton(s.say(s.FIRST_NEW)), "chief")
        self.new.clicked.connect(self.new_wanted)
        self.browse = QPushButton(s.say(s.FIRST_OPEN))
        self.browse.clicked.connect(self.browse_wanted)
        buttons.addWidget(self.new)
        buttons.addWidget(self.browse)
        buttons.addStretch(1)
        self.demos, self.recent = QGridLayout(), QVBoxLayout()
        self.demos.setSpacing(12)
        self.recent.setSpacing(6)
        self.left = label("", "")
        self.recover = QPushButton(s.say(s.FIRST_RECOVER))
        self.discard = QPushButton(s.say(s.FIRST_DISCARD))
        self.left_row = named(QFrame(), "card")
        row = QHBoxLayout(self.left_row)
        row.setContentsMargins(16, 8, 10, 8)
        row.addWidget(self.left, 1)
        row.addWidget(self.recover)
        row.addWidget(self.discard)
        self.left_row.hide()
        self.column.addSpacing(34)
        self.column.addWidget(self.left_row)
        self.column.addLayout(head)
        self.column.addSpacing(4)
        self.column.addLayout(buttons)
        self.column.addSpacing(18)
        self.column.addWidget(label(s.say(s.FIRST_DEMOS), "title"))
        self.column.addLayout(self.demos)
        self.column.addSpacing(18)
        self.column.addWidget(label(s.say(s.FIRST_RECENT), "title"))
        self.column.addLayout(self.recent)
        self.column.addStretch(1)
        self.column.addWidget(label(s.say(s.FIRST_ADVICE), "small"))
        self.column.addSpacing(8)

    def show_trips(self, demos: Sequence[Entry], recent: Sequence[Entry]) -> None:
        """List what can be opened."""
        for layout in (self.demos, self.recent):
            while (item := layout.takeAt(0)) is not None:
                part = item.widget()
                if part:
                    part.hide()
                    part.deleteLater()
        for column, entry in enumerate(demos):
            card = Card(entry, self._vehicles.get(entry.vehicle))
            card.chosen.connect(self.open_demo)
            self.demos.addWidget(card, 0, column)
            self.demos.setColumnStretch(column, 1)
        if not demos:
            self.demos.addWidget(label(s.say(s.FIRST_NO_DEMOS), "soft"), 0, 0)
        for entry in recent:
            card = Card(entry)
            card.chosen.connect(self.open_path)
            self.recent.addWidget(card)
        if not recent:
            self.recent.addWidget(label(s.say(s.FIRST_NO_RECENT), "soft"))

    def show_left(self, title: str, act: Callable[[], None], drop: Callable[[], None]) -> None:
        """Offer the trip a crash left behind: to go on with, or to give up."""

        def take() -> None:
            self.left_row.hide()
            act()

        self.left.setText(s.say(s.FIRST_LEFT, title=title))

        def give_up() -> None:
            self.left_row.hide()
            drop()

        self.recover.clicked.connect(take)
        self.discard.clicked.connect(give_up)
        self.left_row.show()
