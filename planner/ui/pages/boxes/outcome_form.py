"""What became of a box, as it is written down: alive or lost, and a remark."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QLineEdit,
    QVBoxLayout,
    QWidget,
)

from planner.ui.look.icons import chooser
from planner.words import say

if TYPE_CHECKING:
    from collections.abc import Sequence


class OutcomeForm(QDialog):
    """Asks for the outcome of a box; nothing is chosen before somebody has chosen it."""

    def __init__(self, boxes: Sequence[str], box: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(say("logbook.outcome_write"))
        self.box, self.became, self.remark = chooser(), chooser(), QLineEdit()
        self.box.addItems(list(boxes))
        self.box.setCurrentText(box)
        self.became.addItem(say("logbook.outcome_arrived"), False)
        self.became.addItem(say("logbook.outcome_lost"), True)
        self.became.setCurrentIndex(-1)
        self.became.currentIndexChanged.connect(lambda _: self._may_end())
        form = QFormLayout()
        fields = (("outcome_box", self.box), ("outcome_became", self.became), ("outcome_text", self.remark))
        for key, field in fields:
            field.setAccessibleName(say(f"logbook.{key}"))
            form.addRow(say(f"logbook.{key}"), field)
        self.buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel
        )
        self.buttons.accepted.connect(self.accept)
        self.buttons.rejected.connect(self.reject)
        whole = QVBoxLayout(self)
        whole.addLayout(form)
        whole.addWidget(self.buttons)
        self._may_end()

    def told(self) -> tuple[str, dict[str, Any]]:
        """The box, and the body of the event."""
        remark = self.remark.text().strip()
        return self.box.currentText(), {"lost": bool(self.became.currentData())} | (
            {"text": remark} if remark else {}
        )

    def _may_end(self) -> None:
        ready = self.became.currentIndex() >= 0 and self.box.count() > 0
        self.buttons.button(QDialogButtonBox.StandardButton.Ok).setEnabled(ready)
