"""The window that tests lend each other: put back it is as new, and what cannot be put back is lent no more."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from planner.ui.look import theme
from planner.ui.window import Window
from tests.ui.lent import Lender

STAND = 3


def worked(window: Window, settled: Callable[[Window], None], trip: Path) -> None:
    """Opened, edited, looked at and pinned, in other units, with half a name typed."""
    window.open_demo(trip)
    settled(window)
    window.board.pinned.emit(window.session.answer.candidates[-1])
    window.document.edit(("load", 0, "bees_kg"), 1.0)
    window.looks.set_units("us")
    window.steps.turn(2)
    settled(window)
    window.resize(1000, 700)


def test_a_window_put_back_is_lent_again_as_new(lender: Lender, settled, small_trip: Path) -> None:
    window, made = lender.lend(), lender.made
    worked(window, settled, small_trip)
    lender.take_back()
    assert not lender.left_behind
    assert lender.lend() is window
    assert lender.made == made
    assert window.session.answer is None
    assert not window.document.dirty
    assert not window.session.pins
    assert window.pages.currentWidget() is window.first_page


@pytest.mark.parametrize("what", ["page", "quantity", "country", "beside the road"])
def test_what_cannot_be_put_back_is_seen_and_the_next_test_gets_another(
    lender: Lender, what: str, qapp
) -> None:
    window = lender.lend()
    if what == "page":
        window.new_trip()
        window.book.turn(STAND)
    elif what == "quantity":
        window.map.set_quantity("stand")
    elif what == "country":
        window.places.country = "XX"
    else:
        window.preferences.beside_road = False
    lender.take_back()
    assert lender.left_behind
    assert lender.lend() is not window


def test_the_palette_of_a_test_ends_with_it(lender: Lender) -> None:
    window = lender.lend()
    window.looks.set_theme("dark")
    lender.take_back()
    assert window.preferences.theme == "light"
    assert theme.current().name == "dark", "the application is dressed anew before the next test"
