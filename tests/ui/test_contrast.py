"""WCAG 2.2 AA in all three palettes: text 4.5, outlines of fields and marks 3.0; on the table, and on pixels."""

from __future__ import annotations

from collections import Counter
from datetime import date
from pathlib import Path

import pytest
from PySide6.QtCore import QRect
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QCheckBox, QLineEdit, QTableView, QToolButton

from planner.app.answer.records import CLASSES
from planner.app.common.scale import contrast
from planner.ui.look import theme
from planner.ui.look.classes import class_colour, ink_of
from planner.ui.look.icons import Choices, MomentEdit, chooser
from planner.ui.look.panel import label
from planner.ui.steps.grid import Grid
from planner.ui.steps.route_step import STOP_COLUMNS, blank_stop
from planner.ui.trip.tables import RowsModel

TEXT, MARK = 4.5, 3.0
GROUNDS = ("ground", "panel", "well")
TEXTS = ("ink", "ink_soft", "ink_faint", "outside", "harm_ink", "core", "stores", "accent")
MARKS = ("edge", "clear", "caution", "harm", "unknown")


@pytest.mark.parametrize("name", list(theme.THEMES))
def test_every_ink_reads_on_every_ground(name: str) -> None:
    look = theme.THEMES[name]
    found = {
        (ink, ground): round(contrast(getattr(look, ink), getattr(look, ground)), 2)
        for ink in TEXTS
        for ground in GROUNDS
    }
    assert {pair: ratio for pair, ratio in found.items() if ratio < TEXT} == {}
    assert contrast(look.on_accent, look.accent) >= TEXT
    assert contrast(look.ink, look.accent_soft) >= TEXT
    assert all(contrast(line, look.panel) >= MARK for line in look.series)


@pytest.mark.parametrize("name", list(theme.THEMES))
def test_outlines_and_marks_stand_out_from_every_ground(name: str) -> None:
    look = theme.THEMES[name]
    found = {
        (mark, ground): round(contrast(getattr(look, mark), getattr(look, ground)), 2)
        for mark in MARKS
        for ground in GROUNDS
    }
    assert {pair: ratio for pair, ratio in found.items() if ratio < MARK} == {}


@pytest.mark.parametrize("name", list(theme.THEMES))
def test_the_figure_in_a_cell_reads_on_its_class(qapp, name: str) -> None:
    theme.apply(qapp, name, 1.0)
    look = theme.current()
    for each in CLASSES:
        ground = look.ground if look.patterned else class_colour(each).name()
        assert contrast(ink_of(each).name(), ground) >= TEXT, each


@pytest.mark.parametrize("name", list(theme.THEMES))
def test_pixels_of_fields_and_words_are_as_the_table_says(qapp, qtbot, name: str) -> None:
    """What is painted, not what is meant: the outline of a field, a tick box, soft and faint words."""
    theme.apply(qapp, name, 1.0)
    look = theme.current()
    for widget in (QLineEdit(), QCheckBox("x")):
        qtbot.addWidget(widget)
        widget.setFixedSize(120, 30)
        widget.show()
        picture = widget.grab().toImage()
        middle = picture.height() // 2
        row = [picture.pixelColor(x, middle).name() for x in range(picture.width())]
        assert max(contrast(pixel, look.panel) for pixel in row[:16]) >= MARK, type(widget).__name__
    for role in ("soft", "small", "field", "fault", "title"):
        words = label("MMMM", role)
        qtbot.addWidget(words)
        words.setAutoFillBackground(True)
        words.show()
        picture = words.grab().toImage()
        colours = Counter(
            picture.pixelColor(x, y).name() for x in range(picture.width()) for y in range(picture.height())
        )
        ground = colours.most_common(1)[0][0]
        assert max(contrast(pixel, ground) for pixel in colours) >= TEXT, role


def strongest(picture: QImage, part: QRect) -> tuple[float, str]:
    """The ink of a part of a picture: the pixel that stands out most from its ground, and how much."""
    pixels = Counter(
        picture.pixelColor(x, y).name()
        for x in range(part.left(), part.right() + 1)
        for y in range(part.top(), part.bottom() + 1)
    )
    ground = pixels.most_common(1)[0][0]
    return max((contrast(pixel, ground), pixel) for pixel in pixels)


@pytest.mark.parametrize("name", list(theme.THEMES))
def test_month_year_and_every_day_of_the_calendar_read_and_weekends_are_no_alarm(
    qapp, qtbot, name: str
) -> None:
    """As the calendar stands under its field: month and year stood pale on the accent, weekends in pure red."""
    theme.apply(qapp, name, 1.0)
    field = MomentEdit()
    qtbot.addWidget(field)
    field.show_day(date(2027, 6, 1))
    field.show()
    field.opener.click()
    shown = field.calendar
    qtbot.waitUntil(shown.isVisible)
    for part in ("monthbutton", "yearbutton", "prevmonth", "nextmonth"):
        button = shown.findChild(QToolButton, f"qt_calendar_{part}")
        place = QRect(button.mapTo(shown, button.rect().topLeft()), button.size())
        assert strongest(shown.grab().toImage(), place)[0] >= TEXT, part
    days = shown.findChild(QTableView)
    last = days.visualRect(days.model().index(6, days.model().columnCount() - 1))
    assert days.viewport().rect().contains(last), "all six weeks are in sight"
    assert last.width() >= days.fontMetrics().horizontalAdvance("Wed") + 8
    picture = days.viewport().grab().toImage()
    week = [days.visualRect(days.model().index(3, column)) for column in range(days.model().columnCount())]
    inks = [strongest(picture, place.adjusted(3, 3, -3, -3)) for place in week if place.width() > 9]
    assert len(inks) == 7
    assert min(inks)[0] >= TEXT
    assert max(inks)[0] - min(inks)[0] < 1.5, inks
    heads = [days.visualRect(days.model().index(0, column)) for column in range(days.model().columnCount())]
    assert all(strongest(picture, place)[0] >= TEXT for place in heads if place.width() > 9)
    shown.parent().close()


def test_every_list_to_choose_from_draws_its_arrow(qapp) -> None:
    """The palette takes the arrow of the desktop away: a bare combo box looked like a field to type into."""
    house = Path(__file__).resolve().parents[2] / "planner" / "ui"
    bare = [path.name for path in house.rglob("*.py") if "QComboBox()" in path.read_text("utf-8")]
    assert bare == []
    made = chooser()
    made.addItem("Driver of the second lorry")
    assert isinstance(made, Choices)
    assert made.sizeHint().width() >= made.fontMetrics().horizontalAdvance("Driver of the second lorry") + 30


def test_no_title_of_a_table_grows_bold_under_the_cursor(qapp) -> None:
    """ "Frames" over the cell with the cursor lost its first letter."""
    grid = Grid(RowsModel(STOP_COLUMNS, blank_stop), "stops")
    assert not grid.horizontalHeader().highlightSections()
    grid.deleteLater()
