"""The pages beside the plan: turning, asking only while shown, stale answers dimmed, empty pages with guidance."""

from __future__ import annotations

import time
from importlib.util import find_spec
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence

from planner.errors import Cancelled, InputError
from planner.ui.look.panel import Panel
from planner.ui.pages.book import HEAVY, PAGES
from planner.ui.window import Window
from planner.ui.work.background_query import BackgroundQuery
from planner.ui.work.runner import Runner, Watch

PATIENCE_MS = 60_000
DEMOS = Path(__file__).resolve().parents[2] / "resources" / "demo"
SURE, HELPS, STAND, SEASON, FIT, PAPERS, DAY, PARCEL, CHECKS, LOGBOOK = range(1, 11)
BEGUN_IN_THE_PANEL = ("ChecksPage", "LogbookPage")


def test_keys_turn_to_every_page_and_back(window: Window, qtbot) -> None:
    window.new_trip()
    for number, page in enumerate(PAGES):
        pressed = QKeySequence(page.key)[0]
        qtbot.keyClick(window, pressed.key(), pressed.keyboardModifiers())
        assert window.book.tabs.currentIndex() == number
        assert window.book.stack.currentIndex() == number
    qtbot.keyClick(window.book.tabs, Qt.Key.Key_Left)
    assert window.book.tabs.currentIndex() == len(PAGES) - 2


def test_what_the_pages_rest_on_is_read_beforehand() -> None:
    """Named as text, so that nothing heavy is loaded with the window: every name must still lead somewhere."""
    assert [
        name for name in (*HEAVY, *(page.room for page in PAGES if page.room)) if find_spec(name) is None
    ] == []


def test_a_page_without_a_trip_says_what_will_be_there(window: Window) -> None:
    window.new_trip()
    for number in range(1, len(PAGES)):
        window.book.turn(number)
        page = window.book.page
        panels = page.findChildren(Panel)
        assert panels, PAGES[number].name
        for panel in panels:
            assert len(panel.plain_guidance) > 20, PAGES[number].name
            assert panel.accessibleName(), PAGES[number].name
            told = panel._guide.text()
            if panel.filled:  # what stands in it can be begun without a trip: that says what will be there
                assert PAGES[number].name in BEGUN_IN_THE_PANEL
                told = getattr(page, "guide", page.lead).text()
            assert told == panel.plain_guidance, PAGES[number].name


def test_no_page_is_made_before_it_is_turned_to(swarm_run: Window) -> None:
    assert swarm_run.book.made == {}
    assert swarm_run.book.page is None


def test_an_edit_dims_the_page_and_gives_up_its_work(swarm_run: Window, qtbot, settled) -> None:
    book = swarm_run.book
    book.turn(STAND)
    page = book.page
    qtbot.waitUntil(lambda: page.reserve.done and page.tipping.done, timeout=PATIENCE_MS)
    assert page.strip_panel.filled
    assert not page.strip_panel.stale
    before = page.reserve.answer
    swarm_run.document.edit(("load", 0, "bees_kg"), 1.4)
    assert page.strip_panel.stale
    settled(swarm_run)
    qtbot.waitUntil(lambda: page.reserve.answer is not before, timeout=PATIENCE_MS)
    assert not page.strip_panel.stale


def test_another_trip_leaves_no_answer_of_the_old_one(swarm_run: Window, qtbot) -> None:
    swarm_run.book.turn(STAND)
    page = swarm_run.book.page
    qtbot.waitUntil(lambda: page.reserve.done, timeout=PATIENCE_MS)
    swarm_run.document.stack.setClean()
    swarm_run.new_trip()
    assert page.reserve.answer is None
    assert not page.strip_panel.filled


def test_answers_sharpen_and_the_last_one_stays(qtbot) -> None:
    runner = Runner()
    seen: list[int] = []

    def rounds(subject: int, _: Watch):
        for number in range(3):
            yield subject + number

    query = BackgroundQuery(runner, "rounds", rounds)
    query.answered.connect(seen.append)
    query.put("a", 10)
    qtbot.waitUntil(lambda: query.done, timeout=PATIENCE_MS)
    assert seen == [10, 11, 12, 12]
    assert query.answer == 12
    runner.close()


def test_the_same_question_is_not_asked_twice_but_another_is(qtbot) -> None:
    runner = Runner()
    asked: list[str] = []

    def ask(subject: str, _: Watch) -> str:
        asked.append(subject)
        return subject

    query = BackgroundQuery(runner, "ask", ask)
    for key in ("a", "a", "b", "b"):
        query.put(key, key)
        qtbot.waitUntil(lambda: query.done, timeout=PATIENCE_MS)
    assert asked == ["a", "b"]
    runner.close()


def test_a_stopped_question_keeps_its_answer_and_can_go_on(qtbot) -> None:
    runner = Runner()
    held = {"on": True}

    def ask(subject: str, watch: Watch):
        yield "early"
        while held["on"]:
            if watch.should_stop():
                raise Cancelled
            time.sleep(0.002)
        yield "late"

    query = BackgroundQuery(runner, "slow", ask)
    query.put("a", "a")
    qtbot.waitUntil(lambda: query.answer == "early", timeout=PATIENCE_MS)
    query.stop()
    assert query.stopped
    assert not query.working
    assert query.answer == "early"
    held["on"] = False
    query.again()
    qtbot.waitUntil(lambda: query.answer == "late", timeout=PATIENCE_MS)
    runner.close()


def test_trouble_is_told_in_place_of_the_answer(qtbot) -> None:
    runner = Runner()

    def ask(subject: str, _: Watch) -> str:
        raise InputError([])

    query = BackgroundQuery(runner, "bad", ask)
    query.put("a", "a")
    qtbot.waitUntil(lambda: query.trouble is not None, timeout=PATIENCE_MS)
    assert not query.working
    assert query.answer is None
    runner.close()


@pytest.mark.parametrize("number", [SURE, HELPS, STAND, PAPERS, DAY, PARCEL, CHECKS, LOGBOOK])
def test_every_control_of_a_page_has_a_name(standing_run: Window, number: int, qtbot) -> None:
    from PySide6.QtWidgets import QAbstractButton, QAbstractSpinBox, QComboBox

    standing_run.book.turn(number)
    page = standing_run.book.page
    asked = [query for query in page.queries() if query.working or query.answer is not None]
    assert asked or number in (DAY, PARCEL, CHECKS, LOGBOOK), "those ask nothing by themselves"
    qtbot.waitUntil(lambda: all(query.answer is not None for query in asked), timeout=PATIENCE_MS)
    for kind in (QAbstractButton, QComboBox, QAbstractSpinBox):
        for control in page.findChildren(kind):
            named = control.accessibleName() or getattr(control, "text", str)()
            assert named or not control.isVisible(), control


def test_an_answer_to_a_question_that_was_dropped_meanwhile_is_not_taken(qapp) -> None:
    """Early answers come by the loop of events, where one may wait while the question is forgotten."""
    runner = Runner()
    query = BackgroundQuery(runner, "any", lambda subject, _: subject)
    query.put("one", 1)
    asked = query._count
    query.forget()
    query._take(asked, 1, last=True)
    assert query.answer is None
    assert not query.done
    runner.close()
