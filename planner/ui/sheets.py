"""Sheets beside the window: why, cautions, a picture read as a table, pages that explain, keys, about."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QMessageBox, QWidget

from planner.ui.look import strings as s
from planner.ui.plan import cautions
from planner.ui.work.session import Session

if TYPE_CHECKING:
    from planner.ui.look.paint import Readable
    from planner.ui.look.reader import Reader
    from planner.ui.plan.cautions import Sheet


class Sheets(QObject):
    """Opens sheets; none blocks the window."""

    def __init__(self, window: QWidget, session: Session, readable: Callable[[], Readable]) -> None:
        super().__init__(window)
        self._window, self.session, self._readable = window, session, readable
        self.sheet: Sheet | None = None
        self.reader: Reader | None = None

    def show_cautions(self) -> None:
        own = self.session.answer.cautions if self.session.answer is not None else ()
        self._open(cautions.cautions_sheet(self._window, own))

    def show_reasons(self) -> None:
        answer = self.session.answer
        if answer is not None:
            lines = (*answer.reasons, *answer.how_sure, *answer.settle)
            self._open(cautions.reasons_sheet(self._window, answer.sentence, lines, answer.notes))

    def read_picture(self) -> None:
        """The picture with the keyboard, as a table in words."""
        view = self._readable()
        heads, rows = view.table()
        sheet = cautions.Sheet(self._window, s.say(s.READ_TITLE, title=view.heading()))
        sheet.add_grid(heads, rows)
        self._open(sheet.finish())

    def _open(self, sheet: Sheet) -> None:
        self.sheet = sheet
        sheet.show()

    def show_trips(self) -> None:
        """What is said of common trips."""
        from planner.app.explain.page import TRIPS

        self._explain(TRIPS)

    def show_model(self) -> None:
        """The model in one drawing."""
        from planner.app.explain.page import MODEL

        self._explain(MODEL)

    def _explain(self, name: str) -> None:
        from planner.app.explain.pages import explaining_pages
        from planner.ui.look.reader import Reader

        pages = explaining_pages(self.session.catalogue, self.session.units)
        self.reader = Reader(self._window, pages[name])
        self.reader.show()

    def show_keys(self) -> None:
        QMessageBox.information(self._window, s.say(s.APP), s.say(s.KEYS_TEXT))

    def show_about(self) -> None:
        QMessageBox.about(self._window, s.say(s.APP), s.say(s.ABOUT_TEXT))
