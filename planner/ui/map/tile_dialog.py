"""Asks for a tile server, its credit line and nothing else; empty means no tiles."""

from __future__ import annotations

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QLineEdit, QVBoxLayout, QWidget

from planner.ui.look import strings as s
from planner.ui.look.panel import label


class TileDialog(QDialog):
    """Two lines and the manners that go with them."""

    def __init__(self, parent: QWidget, url: str, credit: str) -> None:
        super().__init__(parent)
        self.setWindowTitle(s.say(s.TILES_TITLE))
        self.setMinimumWidth(520)
        self.url, self.credit = QLineEdit(url), QLineEdit(credit)
        self.url.setPlaceholderText("https://tiles.example.org/{z}/{x}/{y}.png")
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 16, 20, 16)
        column.setSpacing(6)
        manners = label(s.say(s.TILES_MANNERS), "soft")
        manners.setWordWrap(True)
        column.addWidget(manners)
        for text, box in ((s.TILES_URL, self.url), (s.TILES_CREDIT, self.credit)):
            name = label(s.say(text), "field")
            name.setBuddy(box)
            box.setAccessibleName(s.say(text))
            column.addWidget(name)
            column.addWidget(box)
        self.fault = label("", "fault")
        column.addWidget(self.fault)
        buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel
        )
        buttons.accepted.connect(self._check)
        buttons.rejected.connect(self.reject)
        column.addWidget(buttons)

    def _check(self) -> None:
        url = self.url.text().strip()
        named = all(gap in url for gap in ("{z}", "{x}", "{y}")) and url.startswith(("https://", "http://"))
        if url and not named:
            self.fault.setText(s.say(s.TILES_FAULT))
        elif url and not self.credit.text().strip():
            self.fault.setText(s.say(s.TILES_NO_CREDIT))
        else:
            self.accept()
