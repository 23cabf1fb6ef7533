"""Pages that explain the program, from the Help menu."""

from __future__ import annotations

from PySide6.QtCore import QUrl
from PySide6.QtGui import QAction, QTextDocument

from planner.ui.look import strings as s
from planner.ui.window import Window


def help_action(window: Window, text: str) -> QAction:
    menu = window.menuBar().actions()[-1].menu()
    return next(action for action in menu.actions() if action.text() == s.say(text))


def test_help_opens_what_we_say_of_thirty_common_trips(window: Window) -> None:
    help_action(window, s.ACT_TRIPS).trigger()
    assert window.sheets.reader.isVisible()
    assert window.sheets.reader.windowTitle() == "What we say of thirty common trips"


def test_help_opens_the_model_with_its_drawing_and_every_number(window: Window) -> None:
    help_action(window, s.ACT_MODEL).trigger()
    text = window.sheets.reader.text.toPlainText()
    rest = window.session.catalogue.parameters.rows["rest_heat_w_kg"]
    assert rest.source in text
    kind = QTextDocument.ResourceType.ImageResource
    drawing = window.sheets.reader.text.document().resource(kind, QUrl("figure:0"))
    colours = {
        drawing.pixelColor(x, y).name()
        for x in range(0, drawing.width(), 20)
        for y in range(0, drawing.height(), 10)
    }
    assert len(colours) > 5


def test_the_two_pages_are_told_apart(window: Window) -> None:
    window.sheets.show_trips()
    trips = window.sheets.reader.text.toPlainText()
    window.sheets.show_model()
    assert window.sheets.reader.text.toPlainText() != trips
