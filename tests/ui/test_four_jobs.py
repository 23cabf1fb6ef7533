"""Four people finish their job on real widgets from an empty home, without help; every event and action is counted.

An event is a click, a drag or a key; an action is a click, a drag, a shortcut, or one field typed or pasted whole.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QApplication, QFileDialog, QWidget

from planner.services.settings import save_settings
from planner.ui.steps.grid import Grid
from planner.ui.window import Window
from tests.services.standin import StandIn, status
from tests.ui.conftest import PATIENCE_MS

pytestmark = pytest.mark.slow
LEFT, NONE = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
CONTROL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier
DAY = datetime.now() + timedelta(days=2)


class Hand:
    """Does what a hand does, on what can be seen, and counts it."""

    def __init__(self, window: Window, qtbot) -> None:
        self.window, self.qtbot = window, qtbot
        self.clicks = self.keys = self.actions = 0

    @property
    def events(self) -> int:
        return self.clicks + self.keys

    def click(self, widget: QWidget, at=None, keys=NONE) -> None:
        assert widget.isVisible(), widget
        self.qtbot.mouseClick(widget, LEFT, keys, *([at] if at is not None else []))
        self.clicks += 1
        self.actions += 1

    def type(self, text: str, *, end=Qt.Key.Key_Tab) -> None:
        """A field typed whole, where the keyboard is."""
        self.qtbot.keyClicks(QApplication.focusWidget(), text)
        self.qtbot.keyClick(QApplication.focusWidget(), end)
        self.keys += len(text) + 1
        self.actions += 1

    def shortcut(self, key, modifiers=CONTROL) -> None:
        self.qtbot.keyClick(QApplication.focusWidget() or self.window, key, modifiers)
        self.keys += 1
        self.actions += 1

    def write(self, widget: QWidget, text: str, *, end=Qt.Key.Key_Tab) -> None:
        """Into a field: a click, everything in it chosen, the text."""
        self.click(widget)
        self.shortcut(Qt.Key.Key_A)
        self.actions -= 1  # the field typed whole is one action
        self.type(text, end=end)

    def choose(self, box, value) -> None:
        """From a list: a click that opens it, a click on the line."""
        self.clicks += 2
        self.actions += 2
        box.setCurrentIndex(box.findData(value))
        box.activated.emit(box.currentIndex())

    def cell(self, table: Grid, row: int, column: int, text: str) -> None:
        """A cell of a table: clicked, typed, left with Enter."""
        index = table.rows.index(row, column)
        self.click(table.viewport(), table.visualRect(index).center())
        self.qtbot.keyClicks(table, text[0])
        self.qtbot.keyClicks(QApplication.focusWidget(), text[1:])
        self.qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Return)
        QApplication.processEvents()  # Qt takes what was entered with the next turn of the loop
        self.keys += len(text) + 1
        self.actions += 1

    def paste(self, table: Grid, text: str) -> None:
        """A block copied from a spreadsheet."""
        QGuiApplication.clipboard().setText(text)
        table.setFocus()
        self.shortcut(Qt.Key.Key_V)

    def wait(self, done) -> None:
        self.qtbot.waitUntil(done, timeout=PATIENCE_MS)


@pytest.fixture
def offline(home: Path) -> Iterator[StandIn]:
    """Nobody answers: no roads, no forecast, no addresses."""
    with StandIn() as server:
        save_settings(server.settings())
        server.always("/", status(503))
        yield server


@pytest.fixture
def hand(window: Window, offline: StandIn, qtbot) -> Hand:
    window.places.country = "GB"
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow, timeout=PATIENCE_MS)
    return Hand(window, qtbot)


def save(hand: Hand, monkeypatch, path: Path) -> None:
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(path), ""))
    hand.shortcut(Qt.Key.Key_S)
    hand.keys += len(path.name) + 1  # the name and Enter in the dialog
    hand.actions += 1
    assert path.with_name(path.name + ".trip.toml").is_file()


def reopened(open_window, path: Path, hand: Hand) -> None:
    other = open_window()
    other.open_trip(path.with_name(path.name + ".trip.toml"))
    assert other.document.draft == hand.window.document.draft


def ends(hand: Hand, start: str, end: str) -> None:
    """A new trip and its two ends."""
    window = hand.window
    hand.click(window.first_page.new)
    hand.type(start, end=Qt.Key.Key_Return)
    hand.wait(lambda: "lat" in (window.document.get(("origin",)) or {}))
    hand.click(window.route_pane.destination.box)
    hand.type(end, end=Qt.Key.Key_Return)
    hand.wait(lambda: "lat" in (window.document.get(("destination",)) or {}))


def when(hand: Hand, first: str, last: str, rule: str = "") -> None:
    """The third step: from when to when, how the boxes are shut, and the weather expected."""
    pane = hand.window.when_pane
    hand.click(hand.window.steps.heads[2])
    hand.write(pane.first.box, f"{DAY.day}/{DAY.month} {first}")
    hand.write(pane.last.box, f"{DAY.day}/{DAY.month} {last}")
    hand.write(pane.step.box, "240")
    if rule:
        hand.choose(pane.rule.box, rule)


def own_weather(hand: Hand, high: str) -> None:
    """The way out that the dead forecast offers, and one figure better than assumed."""
    window = hand.window
    hand.wait(lambda: window.notice.kind == "trouble")
    hand.click(window.notice.buttons[0])
    own = window.when_pane.own
    hand.wait(lambda: bool(own.rows))
    numbers, _ = own.rows[0, f"{DAY:%Y-%m-%d}"]
    hand.wait(numbers[1].isVisible)  # a row just made is shown with the next turn of the loop
    window.when_pane.reveal(numbers[1])
    hand.write(numbers[1], high)


def test_the_buyer_compares_morning_and_evening_offline(
    hand: Hand, settled, tmp_path: Path, open_window, monkeypatch
) -> None:
    """Two nucs, no network: is six in the morning better than the evening?"""
    window = hand.window
    ends(hand, "Ludlow", "Leominster")
    hand.click(window.steps.heads[1])
    hand.click(window.load_editor.add)
    hand.cell(window.load_editor.groups, 0, 1, "2")
    when(hand, "6", "20", "at_loading")
    own_weather(hand, "26")
    settled(window)
    board = window.board
    row = board.at[1]
    for departure in (0, len(board.shown.departures_s) - 1):
        hand.click(board.viewport(), board._box((departure, row)).center().toPoint(), SHIFT)
    settled(window)
    assert window.session.verdict
    assert window.answer_bar.plate.decision in ("go", "go_if", "do_not_go", "cannot_tell")
    assert window.answer_bar.headline.text() == window.session.answer.sentence
    save(hand, monkeypatch, tmp_path / "nucs")
    reopened(open_window, tmp_path / "nucs", hand)
    assert hand.events <= 85, (hand.clicks, hand.keys)
    assert hand.clicks <= 25


def test_the_producer_sees_which_of_twelve_nucs_need_screens(
    hand: Hand, settled, tmp_path: Path, open_window, monkeypatch
) -> None:
    window = hand.window
    ends(hand, "Ludlow", "Leeds, uk")
    hand.click(window.steps.heads[1])
    hand.click(window.load_editor.add)
    hand.click(
        window.load_editor.groups.viewport(),
        window.load_editor.groups.visualRect(window.load_editor.model.index(0, 0)).center(),
    )
    hand.paste(window.load_editor.groups, "Strong\t4\t5\nMiddling\t4\t3.5\nWeak\t4\t2")
    when(hand, "6", "20")
    own_weather(hand, "30")
    settled(window)
    hand.click(window.steps.heads[1])
    settled(window)
    told = [window.load_editor._harm(row) for row in window.load_editor.model.rows]
    assert all(told), "each strength has its own share of harm"
    setups = {choice.setup for choice in window.session.answer.best.by_group}
    assert setups
    save(hand, monkeypatch, tmp_path / "twelve")
    reopened(open_window, tmp_path / "twelve", hand)
    assert hand.actions <= 45


def test_the_mover_plans_two_hundred_doubles_with_breaks(
    hand: Hand, settled, tmp_path: Path, open_window, monkeypatch
) -> None:
    window, editor = hand.window, hand.window.load_editor
    ends(hand, "Toulouse, fr", "Dijon, fr")
    hand.click(window.steps.heads[1])
    hand.click(editor.add)
    hand.click(editor.groups.viewport(), editor.groups.visualRect(editor.model.index(0, 0)).center())
    doubles = next(name for name, box in editor.catalogue.box_types.items() if box.frames >= 20)
    inner, sunny, shaded = (
        next(p.title for p in editor.catalogue.loading_places.values() if p.name == name)
        for name in ("flatbed_inner", "flatbed_outer_sunny_windward", "flatbed_outer_shade_windward")
    )
    rows = (("Inner\t112", inner), ("Sunny side\t44", sunny), ("Shaded side\t44", shaded))
    vehicle = editor.vehicle
    hand.click(editor.editors.tabBar(), editor.editors.tabBar().tabRect(1).center())
    hand.choose(vehicle.vehicle, "flatbed")
    hand.paste(editor.groups, "\n".join(f"{row}\t15\t{doubles}\t\t{place}" for row, place in rows))
    assert [row.get("place") for row in editor.model.rows] == [
        "flatbed_inner",
        "flatbed_outer_sunny_windward",
        "flatbed_outer_shade_windward",
    ]
    when(hand, "16", "20")
    own_weather(hand, "24")
    settled(window)
    answer = window.session.answer
    assert sum(group.count for group in answer.groups) == 200
    assert answer.best.fits
    assert answer.breaks, "the legal break is put in"
    assert any("break" in text.lower() for text in (answer.sentence, *answer.cautions, *answer.reasons))
    save(hand, monkeypatch, tmp_path / "move")
    reopened(open_window, tmp_path / "move", hand)
    assert hand.actions <= 45


def test_the_club_makes_a_round_of_eight_addresses(
    hand: Hand, settled, tmp_path: Path, open_window, monkeypatch
) -> None:
    window, editor = hand.window, hand.window.load_editor
    names = (
        "Tenbury Wells",
        "Bromyard",
        "Leominster",
        "Kington",
        "Presteigne",
        "Knighton",
        "Clun",
        "Craven Arms",
    )
    ends(hand, "Ludlow", "Church Stretton")
    QGuiApplication.clipboard().setText("\n".join(f"{name}\tload\t10" for name in names))
    hand.click(window.route_pane.paste)
    hand.wait(lambda: all("lat" in stop for stop in window.document.get(("stops",)) or [{}]))
    hand.click(window.steps.heads[1])
    hand.click(editor.add)
    hand.click(editor.groups.viewport(), editor.groups.visualRect(editor.model.index(0, 0)).center())
    hand.paste(editor.groups, "\n".join(f"{name}\t1\t4" for name in names))
    assert [group["loaded_at"] for group in window.document.get(("load",))] == list(names)
    when(hand, "16", "20", "at_loading")
    own_weather(hand, "22")
    settled(window)
    assert len(window.session.answer.groups) == len(names)
    save(hand, monkeypatch, tmp_path / "round")
    reopened(open_window, tmp_path / "round", hand)
    assert hand.actions <= 40
