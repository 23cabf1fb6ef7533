"""A claim as it is asked, and as it is settled: a few fields, all optional but the box and a word."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QFileDialog,
    QFormLayout,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QSpinBox,
    QVBoxLayout,
    QWidget,
)

from planner.ui.look.icons import chooser
from planner.ui.look.panel import ShortText
from planner.words import say

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.store.logbook.records import Picture

MOST_MM = 300
ROWS_PX = 84


@dataclass(frozen=True)
class Told:
    """What the form says: the box, the body of the event, photos by path."""

    box: str
    body: dict[str, Any]
    photos: tuple[Path, ...] = ()


class ClaimForm(QDialog):
    """Asks for a claim of a box, or, where one is open, for how it was settled."""

    def __init__(
        self, boxes: Sequence[str], box: str, parent: QWidget | None = None, *, settles: bool
    ) -> None:
        super().__init__(parent)
        self.settles = settles
        self.setWindowTitle(say("logbook.claim_settle" if settles else "logbook.claim_ask"))
        self.box = chooser()
        self.box.addItems(list(boxes))
        self.box.setCurrentText(box)
        self.what = QPlainTextEdit()
        self.what.setTabChangesFocus(True)
        self.what.setFixedHeight(ROWS_PX)
        self.dead = QSpinBox()
        self.dead.setRange(-1, MOST_MM)
        self.dead.setValue(-1)
        self.dead.setSuffix(say("logbook.claim_mm"))
        self.dead.setSpecialValueText(say("logbook.claim_not_measured"))
        self.amount = QLineEdit()
        self.photos: list[Path] = []
        self.photo = QPushButton(say("logbook.claim_photos"))
        self.photo.clicked.connect(lambda _=False: self._choose())
        self.names = ShortText("", 2)
        form = QFormLayout()
        form.addRow(say("logbook.claim_box"), self.box)
        form.addRow(say("logbook.claim_how" if settles else "logbook.claim_what"), self.what)
        if not settles:
            form.addRow(say("logbook.claim_dead"), self.dead)
        form.addRow(say("logbook.claim_given" if settles else "logbook.claim_wants"), self.amount)
        if not settles:
            form.addRow(self.photo, self.names)
        self.buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel
        )
        self.buttons.accepted.connect(self.accept)
        self.buttons.rejected.connect(self.reject)
        self.what.textChanged.connect(self._may_end)
        whole = QVBoxLayout(self)
        whole.addLayout(form)
        if not settles:
            whole.addWidget(ShortText(say("logbook.claim_hint"), 3))
        whole.addWidget(self.buttons)
        for field, key in ((self.box, "claim_box"), (self.what, "claim_what"), (self.amount, "claim_wants")):
            field.setAccessibleName(say(f"logbook.{key}"))
        self._may_end()
        self.what.setFocus()

    def told(self) -> Told:
        """What was entered, empty fields left out."""
        body: dict[str, Any] = {"text": self.what.toPlainText().strip()}
        if self.amount.text().strip():
            body["given" if self.settles else "asked"] = self.amount.text().strip()
        if not self.settles and self.dead.value() >= 0:
            body["dead_mm"] = self.dead.value()
        return Told(self.box.currentText(), body, tuple(self.photos))

    def _may_end(self) -> None:
        ready = bool(self.what.toPlainText().strip()) and self.box.count() > 0
        self.buttons.button(QDialogButtonBox.StandardButton.Ok).setEnabled(ready)

    def _choose(self) -> None:
        from planner.ui.pages.boxes.taken_in import PICTURES

        kinds = say("checks.page_pictures", kinds=PICTURES)
        names, _ = QFileDialog.getOpenFileNames(self, say("logbook.claim_photos"), "", kinds)
        self.photos = [Path(name) for name in names]
        self.names.setText(", ".join(path.name for path in self.photos))


def pictures_of(told: Told, zone: str) -> tuple[dict[str, Any], tuple[Picture, ...]]:
    """The body with the marks of its photos, and the photos without the place they were taken at.

    Raises InputError, StorageError.
    """
    from planner.store.photofile import taken_in
    from planner.ui.pages.boxes.taken_in import content_of

    pictures = tuple(taken_in(content_of(path), path.name, zone) for path in told.photos)
    marks = [hashlib.sha256(picture.content).hexdigest() for picture in pictures]
    return {**told.body, **({"pictures": marks} if marks else {})}, pictures
