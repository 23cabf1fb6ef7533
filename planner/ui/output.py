"""What leaves the window: the view as a PDF or on paper, the curves as a picture or a table."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from datetime import datetime
from functools import partial
from pathlib import Path

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QFileDialog, QMenu, QMessageBox, QWidget

from planner.errors import SkepwayError
from planner.files import passing_folder, write_bytes
from planner.ui.look import printing
from planner.ui.look import strings as s
from planner.ui.plan.curve_view import CurveView
from planner.ui.plan.seen import candidate_words, weather_words
from planner.ui.trip import trips
from planner.ui.trip_files import with_ending
from planner.ui.work.session import Session

Paper = Callable[[], Sequence[printing.Rows]]
"""Gives what is printed, page by page, as it is shown at this moment."""


class Output(QObject):
    """Asks for a file or a printer, and writes what the panels show at this moment."""

    wrote = Signal(str)
    """Words for the status line."""

    def __init__(
        self,
        window: QWidget,
        session: Session,
        paper: Paper,
        curves: CurveView,
    ) -> None:
        super().__init__(window)
        self._window, self.session, self.document = window, session, session.document
        self.paper, self.curves = paper, curves

    def browse_pdf(self) -> None:
        path = self._ask(s.DIALOG_PDF, ".pdf", s.FILTER_PDF)
        if path:
            self.write_pdf(path)

    def write_pdf(self, path: Path) -> None:
        """The view on two pages: the answer and all departures, then the candidate looked at."""
        self._write(path, lambda draft: printing.write_pdf(draft, self._title(), self._words(), self.paper()))

    def print_view(self) -> None:
        """The same pages on the printer the user chooses."""
        from PySide6.QtPrintSupport import QPrintDialog, QPrinter

        printer = QPrinter(QPrinter.PrinterMode.HighResolution)
        printer.setResolution(printing.PRINTER_DOTS_PER_INCH)
        printer.setPageLayout(printing.page_layout())
        if QPrintDialog(printer, self._window).exec():
            printing.in_light(
                lambda: printing.paint_pages(printer, self._title(), self._words(), self.paper())
            )

    def curve_menu(self) -> QMenu:
        """Ways to write the curves to a file."""
        menu = QMenu(self._window)
        for text, write, kind, ending in (
            (s.CURVES_EXPORT_PNG, self.curves.export_png, s.FILTER_PNG, ".png"),
            (s.CURVES_EXPORT_SVG, self.curves.export_svg, s.FILTER_SVG, ".svg"),
            (s.CURVES_EXPORT_CSV, self.curves.export_csv, s.FILTER_CSV, ".csv"),
        ):
            menu.addAction(s.say(text), partial(self._export, write, kind, ending))
        return menu

    def _export(self, write: Callable[[Path], object], kind: str, ending: str) -> None:
        path = self._ask(s.DIALOG_EXPORT, ending, kind)
        if path:
            self._write(path, write)

    def _write(self, path: Path, write: Callable[[Path], object]) -> None:
        """Through the one door for files: whole or not at all, and what goes wrong is told.

        Qt's own writers say nothing of a full disk; what they made elsewhere is put in its place by us.
        """
        try:
            with passing_folder() as folder:
                draft = folder / "draft"
                write(draft)
                write_bytes(path, draft.read_bytes())
        except (SkepwayError, OSError) as error:
            QMessageBox.warning(self._window, s.say(s.APP), str(error))
        else:
            self.wrote.emit(s.say(s.WROTE, path=path))

    def _ask(self, title: str, ending: str, kind: str) -> Path | None:
        folder = self.document.base_folder or Path.home()
        proposed = str(folder / trips.file_name(self.document.draft, ending))
        name, _ = QFileDialog.getSaveFileName(self._window, s.say(title), proposed, s.say(kind))
        return with_ending(Path(name), ending) if name else None

    def _title(self) -> str:
        return str(self.document.get(("title",), ""))

    def _words(self) -> list[str]:
        """The answer, which candidate the pictures are of, and the caution that goes everywhere."""
        answer, candidate = self.session.answer, self.session.candidate
        if answer is None:
            return [s.say(s.CAUTIONS_LEAD)]
        words = candidate_words(answer)
        best = candidate is None or answer.best is None or candidate.key == answer.best.key
        shown = (
            ""
            if candidate is None
            else s.say(s.CHIP_BEST if best else s.CHIP_SHOWN, candidate=words(candidate))
        )
        printed = s.say(s.PRINTED, when=f"{datetime.now():%Y-%m-%d %H:%M}")
        parts = [
            answer.sentence,
            shown,
            weather_words(answer, time.time()),
            *answer.how_sure[:2],
            *answer.cautions[:2],
            s.say(s.CAUTIONS_LEAD),
            printed,
        ]
        return [part for part in parts if part]
