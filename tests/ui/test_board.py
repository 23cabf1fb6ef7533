"""The departure board: hands, words, shapes."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt

from planner.app.common.scale import WARMTH_C
from planner.app.plan.pictures import board_svg
from planner.app.plan.results import HARM, TYPICAL, Choice
from planner.ui.look import theme
from planner.ui.plan.board import Board
from tests.ui import synthetic


@pytest.fixture
def board(qtbot) -> Board:
    made = Board()
    plan = synthetic.plan()
    made.resize(900, 320)
    made.show_plan(plan, np.linspace(-20, 40, len(plan.departures_s)), Choice(10, 2, 0))
    qtbot.addWidget(made)
    made.show()
    qtbot.waitExposed(made)
    return made


def _middle(board: Board, departure: int, place: int) -> QPoint:
    x, y = board.frame().box(departure, departure + 1, place, place + 1).middle
    return QPoint(round(x), round(y))


def test_a_click_chooses_the_cell_under_it(board: Board, qtbot) -> None:
    with qtbot.waitSignal(board.chosen) as told:
        qtbot.mouseClick(board, Qt.MouseButton.LeftButton, pos=_middle(board, 40, 5))
    assert told.args == [Choice(40, 5, 0)]


def test_arrow_keys_walk_the_board_and_stop_at_its_edges(board: Board, qtbot) -> None:
    for key in (Qt.Key.Key_Right, Qt.Key.Key_Down, Qt.Key.Key_Down):
        qtbot.keyClick(board, key)
    assert board.choice == Choice(11, 4, 0)
    for _ in range(12):
        qtbot.keyClick(board, Qt.Key.Key_Up)
    assert board.choice == Choice(11, 0, 0)
    qtbot.keyClick(board, Qt.Key.Key_End)
    assert board.choice.departure == 95


def test_shift_click_compares_at_most_four_and_takes_back(board: Board, qtbot) -> None:
    for departure in (20, 30, 40, 50):
        qtbot.mouseClick(
            board, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.ShiftModifier, _middle(board, departure, 1)
        )
    assert [other.departure for other in board.others] == [30, 40, 50]
    qtbot.mouseClick(
        board, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.ShiftModifier, _middle(board, 40, 1)
    )
    assert [other.departure for other in board.others] == [30, 50]


def test_space_compares_the_chosen_cell(board: Board, qtbot) -> None:
    qtbot.keyClick(board, Qt.Key.Key_Space)
    assert board.others == (Choice(10, 2, 0),)


def test_the_chosen_cell_is_said_in_words(board: Board) -> None:
    said = board.accessibleDescription()
    assert "Fri 17:00" in said
    assert "Panel van" in said
    assert "°C" in said


def test_harm_carries_a_cross_and_not_only_a_colour(board: Board) -> None:
    """Two cells of the same colour scale differ by the shape drawn in them."""
    worst = board.plan.outcomes.verdict[:, :, 0, 1].max(axis=(-1, -2))
    departure, place = (int(i[0]) for i in np.where(worst == HARM))
    picture = board.grab().toImage()
    cell = board.frame().box(departure, departure + 1, place, place + 1)
    shades = {
        picture.pixelColor(int(x), int(y)).name()
        for x in np.arange(cell.left + 1, cell.right - 1)
        for y in np.arange(cell.top + 2, cell.bottom - 2)
    }
    assert len(shades) > 2


def test_unknown_is_grey(board: Board) -> None:
    picture = board.grab().toImage()
    cell = board.frame().box(95, 96, 0, 1)
    assert picture.pixelColor(int(cell.left) + 1, int(cell.top) + 3).name() == theme.current().unknown


def test_night_and_day_stand_above_the_cells(board: Board) -> None:
    picture = board.grab().toImage()
    field = board.frame().field
    y = int(field.top) - 6
    night, day = (picture.pixelColor(int(x), y).lightness() for x in (field.left + 4, field.right - 4))
    assert day > night + 60


def test_a_peak_has_the_colour_in_the_window_that_it_has_on_paper(board: Board) -> None:
    """One colour means one warmth, whoever paints it."""
    picture, plan = board.grab().toImage(), board.plan
    choice = Choice(30, 1, 0)
    cell = board.frame().box(30, 31, 1, 2)
    shown = picture.pixelColor(int(cell.left) + 2, int(cell.top) + 2).name()
    assert shown == WARMTH_C.colour(plan.peak_c(choice)[TYPICAL])
    assert f"fill='{shown}'" in board_svg(plan, choice)
