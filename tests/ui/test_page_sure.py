"""How sure: the page shows the record of the one answer, and asks only which unknown matters most."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QFontMetricsF

from planner.app.answer.records import FATES
from planner.app.chance.sensitivity import SUBJECT_WORDS
from planner.ui.look import theme
from planner.ui.pages.page_sure import NAME_GAP_PX, NAME_STEP, WRAPPED, fate_text
from planner.ui.window import Window
from planner.units import ends
from tests.ui.conftest import PATIENCE_MS


@pytest.fixture
def page(standing_run: Window, qtbot, settled):
    standing_run.book.turn(1)
    page = standing_run.book.page
    qtbot.waitUntil(
        lambda: page.sensitivity.done and standing_run.session.closer is not None, timeout=PATIENCE_MS
    )
    settled(standing_run)
    return page


def test_every_group_has_the_answers_own_figures(page, standing_run: Window) -> None:
    held = standing_run.session.closer.candidate
    assert page.candidate() is held
    assert held.key == standing_run.session.candidate.key
    assert page.table.rowCount() == len(held.groups)
    for row, fate in enumerate(held.groups):
        assert page.table.item(row, 0).text() == fate.label
        for column, name in enumerate(FATES, start=2):
            assert page.table.item(row, column).text() == fate_text(fate.harm_of_100.get(name))


def test_the_sentence_and_the_best_are_those_of_the_answer(page, standing_run: Window) -> None:
    answer = standing_run.session.answer
    held = page.candidate()
    assert str(ends(held.harm_of_100.low, held.harm_of_100.high)[1]) in page.verdict.text()
    assert standing_run.table.words(answer.best) in page.others.text()


def test_no_two_of_the_best_read_alike_and_heads_stand_over_their_figures(page) -> None:
    """Two ways of setting up some groups were called the same, with harm in 3 and in 18 of 100."""
    named = [line.rsplit(":", 1)[0] for line in page.others.text().splitlines() if ": harm in" in line]
    assert named
    assert len(named) == len(set(named))
    for column in range(page.table.columnCount()):
        head = page.table.horizontalHeaderItem(column)
        assert head.textAlignment() == page.table.item(0, column).textAlignment()
        assert head.text()[0] == head.text()[0].lower()


def test_what_matters_most_is_named(page) -> None:
    found = page.sensitivity.answer
    assert SUBJECT_WORDS[found.subjects[0]].split()[0].lower() in " ".join(page.share.lines).lower()


@pytest.mark.parametrize("size", [(960, 500), (1024, 640), (1280, 800)])
def test_what_the_uncertainty_comes_from_is_told_whole_in_every_window(
    page, standing_run: Window, qtbot, size: tuple[int, int]
) -> None:
    """The bar's names ended in dots; now they take the lines they need, and the page scrolls."""
    standing_run.resize(*size)
    view = page.share
    qtbot.waitUntil(lambda: view.width() < 700 or size[0] > 1100)
    assert len(view.rows()) == view.MOST
    room = QRectF(0, 0, view._names_px() - NAME_GAP_PX, view._row_px())
    metrics = QFontMetricsF(theme.font(NAME_STEP))
    for name, _, _ in view.rows():
        needed = metrics.boundingRect(QRectF(0, 0, room.width(), 1000), WRAPPED, name)
        assert needed.height() <= room.height(), name
        assert needed.width() <= room.width() + 1, name
    assert view._lead_px() + len(view.rows()) * view._row_px() <= view.height() + 1
    standing_run.resize(1280, 800)
