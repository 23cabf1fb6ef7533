"""One line of news that wants to be read, laid over the foot of the page so that nothing moves for it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QEvent, QObject, Qt, QTimer
from PySide6.QtWidgets import QBoxLayout, QFrame, QHBoxLayout, QPushButton, QToolButton, QVBoxLayout, QWidget

from planner.ui.look import strings as s
from planner.ui.look.panel import label

SAID_MS = 4000
SIDES_PX = 30
Offer = tuple[str, Callable[[], None]]
"""What a button says and does."""


class Toast(QFrame):
    """News with the ways out as buttons: a service that failed, a trip recovered, a fault without a field."""

    def __init__(self, host: QWidget, beside: QWidget | None = None) -> None:
        """``beside``: what it keeps off at the left wherever there is room."""
        super().__init__(host)
        self.setObjectName("toast")
        self.host, self._beside = host, beside
        self.words = label("", "")
        self.words.setWordWrap(True)
        self.words.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.buttons: list[QPushButton] = []
        self.hide_button = QToolButton()
        self.hide_button.setText(s.say(s.NOTICE_HIDE))
        self.hide_button.clicked.connect(lambda _=False: self.clear())
        self.kind = ""
        self._for_a_while = QTimer(self, singleShot=True, interval=SAID_MS)
        self._for_a_while.timeout.connect(lambda: self.clear("said"))
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 10, SIDES_PX - 18, 10)
        column.addWidget(self.words)
        self._row = QHBoxLayout()
        self._row.addStretch(1)
        self._row.addWidget(self.hide_button)
        column.addLayout(self._row)
        host.installEventFilter(self)
        self.hide()

    @property
    def act(self) -> QPushButton:
        """The first button."""
        return self.buttons[0]

    def tell(self, kind: str, text: str, offers: Sequence[Offer] = ()) -> None:
        """Show ``text`` until hidden or replaced; ``kind`` lets :meth:`clear` take back only its own news."""
        self.kind = kind
        self.words.setText(text)
        self.setAccessibleName(text)
        for button in self.buttons:
            self._row.removeWidget(button)
            button.hide()
            button.deleteLater()
        self.buttons = []
        for number, (words, do) in enumerate(offers):
            button = QPushButton(words)
            button.clicked.connect(lambda _=False, do=do: do())
            self._row.insertWidget(1 + number, button)
            self.buttons.append(button)
            button.show()  # else one added to news already in sight has no width yet
        self.show()
        self._place()
        self.raise_()

    def say(self, text: str) -> None:
        """Show a word that goes by itself, unless something weightier stands there."""
        if not self.kind or self.kind == "said":
            self.tell("said", text)
            self._for_a_while.start()

    def clear(self, kind: str = "") -> None:
        """Take the news away (only if it is of ``kind``, when one is given)."""
        if not kind or kind == self.kind:
            self.hide()
            self.kind = ""

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if watched is self.host and event.type() == QEvent.Type.Resize:
            self._place()
        return super().eventFilter(watched, event)

    def _place(self) -> None:
        """At the foot, in the middle, as wide as its words and ways out ask for; where the page is narrower than
        all ways out beside each other they stand below each other.
        """
        metrics, layout = self.fontMetrics(), self.layout()
        most = self.host.width() - 24
        asked = min(metrics.horizontalAdvance(self.words.text()), metrics.averageCharWidth() * 90) + 40
        self._row.setDirection(QBoxLayout.Direction.LeftToRight)
        abreast = self._row.sizeHint().width() + SIDES_PX
        if abreast > most:
            self._row.setDirection(QBoxLayout.Direction.TopToBottom)
            abreast = self._row.sizeHint().width() + SIDES_PX
        wide = min(max(asked, abreast, 360), most)
        self.setFixedWidth(wide)
        high = layout.totalHeightForWidth(wide) if layout is not None else self.sizeHint().height()
        self.setFixedHeight(max(high, self.minimumSizeHint().height()))
        left = (self.host.width() - wide) // 2
        if self._beside is not None and self._beside.isVisibleTo(self.host):
            clear = self._beside.mapTo(self.host, self._beside.rect().topRight()).x() + 12
            left = max(left, min(clear, self.host.width() - wide - 12))
        self.move(left, self.host.height() - self.height() - 12)
