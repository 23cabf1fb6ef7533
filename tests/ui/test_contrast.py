"""WCAG 2.2 AA in all three palettes: text 4.5, outlines of fields and marks 3.0; on the table, and on pixels."""

from __future__ import annotations

from collections import Counter

import pytest
from PySide6.QtWidgets import QCheckBox, QLineEdit

from planner.app.answer.records import CLASSES
from planner.app.common.scale import contrast
from planner.ui.look import theme
from planner.ui.look.classes import class_colour, ink_of
from planner.ui.look.panel import label

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
