"""The pages Checks and Logbook: a key an item, nothing ok unseen; what was found stands on the timeline."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from PySide6.QtCore import Qt

from planner.app.inspect.items import items
from planner.app.plan.results import Choice
from planner.bundled import resource_path
from planner.model.catalogue import Catalogue
from planner.store.logbook import verify
from planner.store.logbook.book import Logbook
from planner.store.tripfile import read_draft
from planner.ui.pages.boxes.page_checks import ChecksPage
from planner.ui.pages.boxes.page_logbook import LogbookPage
from planner.ui.trip.document import Document
from planner.ui.work.background_query import Subject
from planner.ui.work.runner import Runner
from planner.units import METRIC, UnitSystem
from tests.app.chancy import planned

PATIENCE_MS = 120_000


@dataclass
class Desk:
    """What a page asks of the session: the trip being edited, the catalogue, somebody who works behind it."""

    runner: Runner
    document: Document
    catalogue: Catalogue
    units: UnitSystem = METRIC


@pytest.fixture
def desk(qtbot, tmp_path: Path, catalogue: Catalogue) -> Iterator[Desk]:
    for file in resource_path("demo").glob("nuc-pickup*"):
        shutil.copy(file, tmp_path)
    path = tmp_path / "nuc-pickup.toml"
    document = Document()
    document.open(read_draft(path), path)
    runner = Runner()
    yield Desk(runner, document, catalogue)
    runner.close()


@pytest.fixture
def page(desk: Desk, qtbot, catalogue: Catalogue, monkeypatch: pytest.MonkeyPatch) -> ChecksPage:
    monkeypatch.setattr("PySide6.QtWidgets.QMessageBox.information", lambda *_: None)
    page = ChecksPage(desk)  # type: ignore[arg-type]
    qtbot.addWidget(page)
    page.show()
    page.look(Subject(planned(), Choice(0, 0, 0), catalogue))
    qtbot.mouseClick(page.begin, Qt.MouseButton.LeftButton)
    assert page.round is not None
    return page


@pytest.fixture
def book(desk: Desk, qtbot) -> LogbookPage:
    page = LogbookPage(desk)  # type: ignore[arg-type]
    qtbot.addWidget(page)
    page.show()
    return page


def test_a_box_as_planned_takes_a_key_an_item_and_one_to_go_on(page, qtbot) -> None:
    box, keys = page.round.box, 0
    for _ in items():
        qtbot.keyClick(page.items, Qt.Key.Key_1)
        keys += 1
    assert page.decision.outcome == "released"
    qtbot.keyClick(page.items, Qt.Key.Key_Return)
    keys += 1
    assert keys <= 14
    events = Logbook().events(subject=box)
    assert sum(event.kind == "check" for event in events) == len(items())
    assert [event.body["outcome"] for event in events if event.kind == "released"] == ["released"]
    assert all(event.plan for event in events)
    assert verify.faults(Logbook()) == ()


def test_one_key_answers_one_item(page, qtbot) -> None:
    qtbot.keyClick(page.items, Qt.Key.Key_1)
    assert len(page.round.findings()) == 1
    assert page.decision.outcome == "not_looked"


def test_a_differing_figure_takes_three_keys_more_and_is_judged(page, qtbot) -> None:
    at = next(number for number, item in enumerate(items()) if item.name == "strength")
    page.items.at = at
    qtbot.keyClick(page.items, Qt.Key.Key_2)
    figure = page.items._figures[at]
    qtbot.keyClicks(figure, "9")
    qtbot.keyClick(figure, Qt.Key.Key_Return)
    finding = page.round.state_of(items()[at])
    assert (finding.state, finding.value) == ("not_ok", 9.0)
    assert page.items.at == at + 1


def test_a_slip_is_taken_back_by_going_up(page, qtbot) -> None:
    qtbot.keyClick(page.items, Qt.Key.Key_2)
    qtbot.keyClick(page.items, Qt.Key.Key_Up)
    page.items.at = 0
    qtbot.keyClick(page.items, Qt.Key.Key_1)
    assert page.round.state_of(items()[0]).state == "ok"


def test_thumbs_find_every_button(page) -> None:
    buttons = [button for row in page.items._buttons for button in row.values()]
    assert len(buttons) == 3 * len(items())
    assert min(button.minimumHeight() for button in buttons) >= 44
    assert all(button.accessibleName() for button in buttons)
    assert all(button.isVisible() for button in buttons)


def test_a_held_box_is_let_go_only_for_a_typed_reason(page, qtbot, monkeypatch: pytest.MonkeyPatch) -> None:
    for item in items():
        qtbot.keyClick(page.items, Qt.Key.Key_2 if item.name == "straps" else Qt.Key.Key_1)
    assert page.decision.outcome == "held"
    shown: list[str] = []
    monkeypatch.setattr("PySide6.QtWidgets.QMessageBox.warning", lambda *args: shown.append(args[-1]))
    for reason in ("", "straps are waiting at the gate"):
        monkeypatch.setattr(
            "PySide6.QtWidgets.QInputDialog.getText", lambda *_, reason=reason: (reason, True)
        )
        page.override()
    assert len(shown) == 1
    (event,) = Logbook().events(kinds=["released"])
    assert event.body["override"] == "straps are waiting at the gate"


def test_what_was_checked_stands_on_the_timeline(page: ChecksPage, book: LogbookPage, qtbot) -> None:
    qtbot.keyClick(page.items, Qt.Key.Key_1)
    qtbot.keyClick(page.items, Qt.Key.Key_Return)
    book.refresh()
    assert book.trips.count() == 1
    qtbot.waitUntil(lambda: book.timeline.done, timeout=PATIENCE_MS)
    assert "checked" in book.words.text()


def test_an_empty_logbook_guides_and_shows_a_made_up_season(book: LogbookPage, qtbot) -> None:
    assert "Nothing has been written down" in book.lead.text()
    book.show_demo(True)
    assert book.trips.count() == 45
    assert "invented" in book.trips.item(0).text()
    qtbot.waitUntil(lambda: book.timeline.done, timeout=PATIENCE_MS)
    assert "900 boxes rode, 12 lost" in book.lead.text()
    assert book.words.isVisible()
    book.show_demo(False)
    assert book.trips.count() == 0
