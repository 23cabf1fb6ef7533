"""The page Papers on real widgets: a preview of what will be printed, all of it written, its text copied."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from PySide6.QtGui import QGuiApplication

from planner.app.inspect.pinned import pinned_before
from planner.bundled import resource_path
from planner.errors import StorageError
from planner.store.logbook.book import Logbook
from planner.store.tripfile import read_draft
from planner.ui.pages.page_papers import Asked, PapersPage, Told
from planner.ui.work.runner import Runner
from planner.units import METRIC
from tests.app.chancy import planned
from tests.model.scenarios import catalogue
from tests.paper.made import facts


@pytest.fixture
def page(qtbot: Any) -> Any:
    runner = Runner()
    session: Any = SimpleNamespace(runner=runner, units=METRIC, language="en", answer=None, catalogue=None)
    shown = PapersPage(session)
    shown.resize(900, 700)
    qtbot.addWidget(shown)
    shown.show()
    yield shown
    shown.stop()
    runner.close()


def known(page: PapersPage, qtbot: Any) -> None:
    page.facts.answer = Told(facts())
    page._ask_preview()
    qtbot.waitUntil(lambda: page.preview.answer is not None, timeout=60_000)


def test_nothing_can_be_printed_before_there_is_an_answer(page: PapersPage) -> None:
    assert not page.panel.filled
    assert not page.write.isEnabled()


def test_what_is_chosen_is_shown_as_it_will_be_printed(page: PapersPage, qtbot: Any) -> None:
    known(page, qtbot)
    assert page.panel.filled
    assert page.picture.pixmap().width() > 300
    first = page.preview.answer.png
    page.language.setCurrentIndex(page.language.findData("de"))
    qtbot.waitUntil(lambda: page.preview.answer.png != first, timeout=60_000)
    assert page.preview.answer.sheet.language == "de"
    page._copy()
    assert "FLUGLOCH" in QGuiApplication.clipboard().text()


def test_all_of_it_is_written_to_a_folder(page: PapersPage, qtbot: Any, tmp_path: Path) -> None:
    known(page, qtbot)
    page.write_to(tmp_path)
    qtbot.waitUntil(lambda: page.writing.answer is not None, timeout=120_000)
    assert {"driver.pdf", "driver.html", "labels.pdf", "trip.ics"} <= {one.name for one in tmp_path.iterdir()}
    assert str(tmp_path) in page.note.text()


def test_the_plan_that_was_printed_is_kept_as_the_command_line_keeps_it(
    page: PapersPage, qtbot: Any, tmp_path: Path
) -> None:
    """An unsaved trip is given the id it will be saved with; what is typed after printing is not in what is kept."""
    draft: dict[str, Any] = dict(read_draft(resource_path("demo", "nuc-pickup.toml")))
    draft.pop("id", None)
    page.session.document = SimpleNamespace(draft=draft, path=None, dirty=False)
    held, numbers = dict(draft), catalogue()
    known(page, qtbot)
    page.facts.answer = Told(facts(), planned(), Asked(None, None, numbers, held))  # type: ignore[arg-type]
    draft["title"] = "typed later"
    page.write_to(tmp_path)
    qtbot.waitUntil(lambda: page.writing.answer is not None, timeout=120_000)
    assert page.writing.answer.unkept == ""
    assert draft["id"]
    logbook = Logbook()
    assert pinned_before(logbook, draft["id"], held, numbers) is not None
    (paper,) = logbook.events(trip=draft["id"], kinds=["paper"])
    assert paper.body["code"] == page.writing.answer.written.code


def test_sheets_are_written_where_the_logbook_cannot_be(
    page: PapersPage, qtbot: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: Any, **__: Any) -> None:
        raise StorageError("The disk is full.")

    monkeypatch.setattr("planner.app.sheets.issued.issued", full)
    page.session.document = SimpleNamespace(draft={"id": "t"}, path=None, dirty=False)
    known(page, qtbot)
    page.facts.answer = Told(facts(), planned(), Asked(None, None, catalogue(), {}))  # type: ignore[arg-type]
    page.write_to(tmp_path)
    qtbot.waitUntil(lambda: page.writing.answer is not None, timeout=120_000)
    assert (tmp_path / "driver.pdf").is_file()
    assert "The disk is full." in page.note.text()


def test_whoever_collects_gets_a_sheet_of_their_own(page: PapersPage, qtbot: Any, tmp_path: Path) -> None:
    """Those whom the trip file names are among the sheets, and their files in the folder."""
    draft = {"people": [{"name": "Ada Moss", "language": "de", "boxes": 1}]}
    page.session.document = SimpleNamespace(draft=draft)
    page._list_people()
    known(page, qtbot)
    page.kind.setCurrentIndex(page.kind.count() - 1)
    qtbot.waitUntil(lambda: page.preview.answer.sheet.kind == "buyer", timeout=60_000)
    assert page.kind.currentText() == "Buyer: Ada Moss"
    assert page.preview.answer.sheet.language == "de"
    page.write_to(tmp_path)
    qtbot.waitUntil(lambda: page.writing.answer is not None, timeout=120_000)
    assert (tmp_path / "buyer-Ada-Moss.pdf").is_file()
    draft["people"] = [{"name": ""}]
    page._list_people()
    assert page.kind.count() == 4


def test_every_control_has_a_name(page: PapersPage) -> None:
    for control in (page.kind, page.language, page.paper, page.keeper, page.phone):
        assert control.accessibleName()
    assert all(button.text() for button in (page.write, page.copy, page.mail))
