"""The pages Checks and Logbook: a key an item, nothing ok unseen; what was found stands on the timeline."""

from __future__ import annotations

import shutil
import tempfile
import threading
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtWidgets import QApplication, QLabel

from planner.app.cause.words import CauseWords
from planner.app.inspect.codes import code_text
from planner.app.inspect.items import items
from planner.app.lessons.timeline import Timeline
from planner.app.plan.results import Choice
from planner.bundled import resource_path
from planner.model.catalogue import Catalogue
from planner.store.logbook import verify
from planner.store.logbook.book import Logbook
from planner.store.logbook.records import KnownTrip
from planner.store.tripfile import read_draft
from planner.ui.pages.boxes.claim_form import ClaimForm
from planner.ui.pages.boxes.outcome_form import OutcomeForm
from planner.ui.pages.boxes.page_checks import ChecksPage
from planner.ui.pages.boxes.page_logbook import LogbookPage
from planner.ui.trip.document import Document
from planner.ui.work.background_query import Subject
from planner.ui.work.runner import Runner
from planner.units import METRIC, UnitSystem
from tests.app.chancy import planned
from tests.app.label_pictures import label_photo
from tests.app.mesh_pictures import Scene, rendered
from tests.model.scenarios import NUC

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
    plan, draft = planned(), desk.document.draft  # pinned together: as many groups and stops in both
    draft["load"] = draft["load"][: len(plan.trip.groups)]
    draft["stops"] = draft.get("stops", [])[: len(plan.trip.stops)]
    page.look(Subject(plan, Choice(0, 0, 0), catalogue))
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
    for _ in page.round.items:
        qtbot.keyClick(page.items, Qt.Key.Key_1)
        keys += 1
    assert page.decision.outcome == "released"
    qtbot.keyClick(page.items, Qt.Key.Key_Return)
    keys += 1
    assert keys <= 14
    events = Logbook().events(subject=box)
    assert sum(event.kind == "check" for event in events) == len(page.round.items)
    assert [event.body["outcome"] for event in events if event.kind == "released"] == ["released"]
    assert all(event.plan for event in events)
    assert verify.faults(Logbook()) == ()


def test_one_key_answers_one_item(page, qtbot) -> None:
    qtbot.keyClick(page.items, Qt.Key.Key_1)
    assert len(page.round.findings()) == 1
    assert page.decision.outcome == "not_looked"


def test_a_differing_figure_takes_three_keys_more_and_is_judged(page, qtbot) -> None:
    at = next(number for number, item in enumerate(page.round.items) if item.name == "strength")
    page.items.at = at
    qtbot.keyClick(page.items, Qt.Key.Key_2)
    figure = page.items._figures[at]
    qtbot.keyClicks(figure, "9")
    qtbot.keyClick(figure, Qt.Key.Key_Return)
    finding = page.round.state_of(page.round.items[at])
    assert (finding.state, finding.value) == ("not_ok", 9.0)
    assert page.items.at == at + 1


def test_a_slip_is_taken_back_by_going_up(page, qtbot) -> None:
    qtbot.keyClick(page.items, Qt.Key.Key_2)
    qtbot.keyClick(page.items, Qt.Key.Key_Up)
    page.items.at = 0
    qtbot.keyClick(page.items, Qt.Key.Key_1)
    assert page.round.state_of(page.round.items[0]).state == "ok"


def test_thumbs_find_every_button(page) -> None:
    buttons = [button for row in page.items._buttons for button in row.values()]
    assert len(buttons) == 3 * len(page.round.items)
    assert min(button.minimumHeight() for button in buttons) >= 44
    assert all(button.accessibleName() for button in buttons)
    assert all(button.isVisible() for button in buttons)


def test_a_held_box_is_let_go_only_for_a_typed_reason(page, qtbot, monkeypatch: pytest.MonkeyPatch) -> None:
    for item in page.round.items:
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


def test_a_box_left_while_it_is_judged_is_written_by_its_own_judgement(page, qtbot) -> None:
    """Whoever goes on before the figures are worked out must not have the answer of a moment ago written down."""
    for item in page.round.items:
        if item.name != "strength":
            qtbot.keyClick(page.items, Qt.Key.Key_1)
        else:
            page.items.at += 1
    assert page.decision is not None
    at = next(number for number, item in enumerate(page.round.items) if item.name == "strength")
    box, before = page.round.box, page.decision
    page.items.at = at
    qtbot.keyClick(page.items, Qt.Key.Key_2)
    figure = page.items._figures[at]
    qtbot.keyClicks(figure, "1")
    qtbot.keyClick(figure, Qt.Key.Key_Return)
    assert page.verdict.working
    page.go_on()
    assert Logbook().events(subject=box, kinds=["released"]) == []
    qtbot.waitUntil(lambda: page.verdict.done, timeout=PATIENCE_MS)
    (event,) = Logbook().events(subject=box, kinds=["released"])
    assert event.body["outcome"] == page.round.known[box].outcome
    assert event.body["outcome"] != before.outcome


@pytest.mark.slow
def test_photos_find_their_boxes_and_every_photo_is_kept(page: ChecksPage, qtbot, tmp_path: Path) -> None:
    """A photo of a mesh goes to the box that is looked at, one of a label to its own, and both are kept."""
    mesh, label, none = tmp_path / "mesh.jpg", tmp_path / "label.jpg", tmp_path / "none.jpg"
    shown = rendered(Scene(2, 0.4, 14.0, quality=85))
    mesh.write_bytes(shown.content)
    label.write_bytes(label_photo(code_text(page.round.box), 3))
    none.write_bytes(b"no picture")
    page.take_photos([mesh, label, none])
    qtbot.waitUntil(lambda: page.photos.done, timeout=PATIENCE_MS)
    floor = next(item for item in items() if item.name == "floor")
    finding = page.round.state_of(floor)
    assert (finding.state, finding.how) == ("not_ok", "photo")
    assert finding.value <= 100 * shown.blocked + 10
    logbook = Logbook()
    assert len(logbook.asked(lambda book: book.execute("select hash from media").fetchall())) == 2
    assert [event.kind for event in logbook.events()] == ["check", "photo", "released"]
    assert "at least" in page.reasons.text()
    assert "none.jpg" in page.reasons.text()


def test_a_typed_list_is_taken_in_and_a_wrong_one_is_not(page: ChecksPage, qtbot, tmp_path: Path) -> None:
    table = tmp_path / "list.csv"
    table.write_text(f"box,straps,floor\n{page.round.box},no,60\n", encoding="utf-8")
    page.take_list(table)
    qtbot.waitUntil(lambda: page.typed.done, timeout=PATIENCE_MS)
    assert page.round.known[page.round.box].outcome == "held"
    table.write_text(f"box,straps\n{page.round.box},perhaps\n", encoding="utf-8")
    before = len(Logbook().events())
    page.take_list(table)
    qtbot.waitUntil(lambda: page.typed.trouble is not None, timeout=PATIENCE_MS)
    assert "2.straps" in page.lead.text()
    assert len(Logbook().events()) == before


@pytest.mark.slow
def test_eighty_boxes_take_at_most_fourteen_keys_each(desk: Desk, qtbot, catalogue: Catalogue) -> None:
    """Counted on real widgets: a key an item and one to go on; nothing else is touched."""
    page = ChecksPage(desk)  # type: ignore[arg-type]
    qtbot.addWidget(page)
    page.show()
    page.look(Subject(planned(replace(NUC, count=80)), Choice(0, 0, 0), catalogue))
    page._open("t")
    assert page.round is not None
    keys = Keys()
    page.items.installEventFilter(keys)
    asked = len(page.round.items)
    for box in page.round.boxes:
        assert page.round.box == box
        for _ in page.round.items:
            qtbot.keyClick(page.items, Qt.Key.Key_1)
        qtbot.keyClick(page.items, Qt.Key.Key_Return)
    assert keys.pressed == 80 * (asked + 1) <= 80 * 14
    assert {page.round.known[box].outcome for box in page.round.boxes} == {"released"}
    assert len(Logbook().events(kinds=["check"])) == 80 * asked


class Keys(QObject):
    """Counts the keys that were pressed."""

    pressed = 0

    def eventFilter(self, _: QObject, event: QEvent) -> bool:
        self.pressed += event.type() == QEvent.Type.KeyPress
        return False


def test_what_was_checked_stands_on_the_timeline(page: ChecksPage, book: LogbookPage, qtbot) -> None:
    qtbot.keyClick(page.items, Qt.Key.Key_1)
    qtbot.keyClick(page.items, Qt.Key.Key_Return)
    book.refresh()
    assert book.trips.count() == 1
    qtbot.waitUntil(lambda: book.timeline.done, timeout=PATIENCE_MS)
    assert "checked" in book.words.text()


def test_the_made_up_season_stays_on_the_disk_as_long_as_somebody_reads_it(
    book: LogbookPage, qtbot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Turned back to the own logbook while the timeline was read, its folder was swept from under the reader."""
    passing = tmp_path / "passing"
    passing.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(passing))
    reading, go_on, found = threading.Event(), threading.Event(), []

    def slowly(logbook: Logbook, trip: str, *_: object) -> Timeline:
        reading.set()
        assert go_on.wait(PATIENCE_MS / 1000.0)
        found.append(len(logbook.events(trip=trip)))
        return Timeline("UTC", (), {}, np.zeros(0), np.zeros((0, 3)), np.zeros((2, 0)))

    monkeypatch.setattr("planner.app.lessons.timeline.timeline", slowly)
    book.show_demo(True)
    qtbot.waitUntil(reading.is_set, timeout=PATIENCE_MS)
    book.show_demo(False)
    assert book.trips.count() == 0
    assert [*passing.iterdir()]
    go_on.set()
    qtbot.waitUntil(lambda: bool(found), timeout=PATIENCE_MS)
    assert found[0] > 0
    Logbook().know_trip(KnownTrip("t", "T", "", "2027-05-01", "", ""))
    book.refresh()  # asks anew, and lets go of what it asked before
    qtbot.waitUntil(lambda: not [*passing.iterdir()], timeout=PATIENCE_MS)


def test_a_claim_goes_from_asked_to_settled(
    page: ChecksPage, book: LogbookPage, qtbot, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The form asks for a box and a word; what was not measured stays away."""
    qtbot.keyClick(page.items, Qt.Key.Key_1)
    qtbot.keyClick(page.items, Qt.Key.Key_Return)
    book.refresh()
    qtbot.waitUntil(lambda: book.timeline.done, timeout=PATIENCE_MS)
    assert not book.settle.isEnabled()
    box = page.round.boxes[0]

    def entered(form: ClaimForm) -> int:
        ok = form.buttons.button(form.buttons.StandardButton.Ok)
        assert not ok.isEnabled()
        qtbot.keyClicks(form.what, "wax down on two frames")
        qtbot.keyClicks(form.amount, "one nuc")
        if not form.settles:
            form.dead.setValue(25)
        assert ok.isEnabled()
        return ClaimForm.DialogCode.Accepted

    monkeypatch.setattr(ClaimForm, "exec", entered)
    for button, settles in ((book.claim, False), (book.settle, True)):
        qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
        qtbot.waitUntil(lambda: book.timeline.done, timeout=PATIENCE_MS)
        assert book.settle.isEnabled() is not settles
    claim, settled = Logbook().events(kinds=["claim", "settled"])
    assert (claim.subject, claim.body) == (
        box,
        {"text": "wax down on two frames", "asked": "one nuc", "dead_mm": 25},
    )
    assert settled.body["given"] == "one nuc"
    assert "settled" in book.words.text()


def test_a_lost_box_is_written_down_by_hand_and_asked_about(
    page: ChecksPage, book: LogbookPage, qtbot, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From the outcome in a form to what may have happened, without a command line."""
    qtbot.keyClick(page.items, Qt.Key.Key_1)
    qtbot.keyClick(page.items, Qt.Key.Key_Return)
    book.refresh()
    qtbot.waitUntil(lambda: book.timeline.done, timeout=PATIENCE_MS)
    assert "skepway" not in book.lead.text()
    box = page.round.boxes[0]

    def entered(form: OutcomeForm) -> int:
        ok = form.buttons.button(form.buttons.StandardButton.Ok)
        assert not ok.isEnabled()
        form.box.setCurrentText(box)
        form.became.setCurrentIndex(form.became.findData(True))
        qtbot.keyClicks(form.remark, "found cold")
        assert ok.isEnabled()
        return OutcomeForm.DialogCode.Accepted

    monkeypatch.setattr(OutcomeForm, "exec", entered)
    nothing = np.zeros(0), np.zeros((0, 3))  # the draft of this desk is another trip's than its plan
    monkeypatch.setattr("planner.app.inspect.judge.Judge.band", lambda *_: nothing)
    words = CauseWords("Floor gummed.", ("it fits",), (), ())
    monkeypatch.setattr(book.cause, "_ask", lambda asked, _: (asked.box, words))
    qtbot.mouseClick(book.outcome, Qt.MouseButton.LeftButton)
    (outcome,) = Logbook().events(kinds=["outcome"])
    assert (outcome.subject, outcome.body) == (box, {"lost": True, "text": "found cold"})
    assert book.boxes.currentItem().text() == box
    qtbot.waitUntil(lambda: book.cause.done, timeout=PATIENCE_MS)
    said = book.words.text()
    assert "Floor gummed." in said
    assert "lost, found cold" in said
    book.boxes.setCurrentRow(0)
    qtbot.waitUntil(lambda: book.timeline.done, timeout=PATIENCE_MS)
    assert "Floor gummed." not in book.words.text()


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


def test_lists_of_the_logbook_bear_their_names_and_stay_away_while_there_is_nothing(
    desk: Desk, qtbot
) -> None:
    """Two empty boxes without a word stood beside the guidance."""
    page = LogbookPage(desk)  # type: ignore[arg-type]
    qtbot.addWidget(page)
    page.show()
    assert not page.lists.isVisible()
    page.show_demo(True)
    assert page.lists.isVisible()
    qtbot.waitUntil(lambda: page.timeline.done, timeout=PATIENCE_MS)
    said = {made.text() for made in page.lists.findChildren(QLabel, "title")}
    assert said == {page.trips.accessibleName(), page.boxes.accessibleName()}
    page.show_demo(False)
    assert not page.lists.isVisible()


def test_in_a_narrow_window_nothing_of_the_round_is_beyond_its_edge(page: ChecksPage, qtbot) -> None:
    """A laptop at 200 per cent: the buttons at the foot made the page scroll sideways, titles had one word a line."""
    items = page.items
    for wide, high in ((590, 300), (900, 600)):
        page.resize(wide, high)
        QApplication.processEvents()
        assert page.minimumSizeHint().width() <= 590
        assert items.horizontalScrollBar().maximum() == 0
        foot = [page.next, page.against, page.photo, page.list]
        assert all(button.width() >= button.sizeHint().width() for button in foot)
        boxes = [button.geometry() for button in foot]
        assert all(box.right() <= page.next.parentWidget().width() for box in boxes)
        assert not any(a.intersects(b) for n, a in enumerate(boxes) for b in boxes[n + 1 :])
        letters = items.fontMetrics().averageCharWidth()
        assert all(mark.width() > 20 * letters for mark in items._marks)
    assert len({box.top() for box in boxes}) == 1
