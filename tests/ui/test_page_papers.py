"""The page Papers on real widgets: a preview of what will be printed, all of it written, its text copied."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from PySide6.QtGui import QGuiApplication

from planner.ui.pages.page_papers import PapersPage
from planner.ui.work.runner import Runner
from planner.units import METRIC
from tests.paper.made import facts


@pytest.fixture
def page(qtbot: Any) -> Any:
    runner = Runner()
    session: Any = SimpleNamespace(runner=runner, units=METRIC, answer=None, catalogue=None)
    shown = PapersPage(session)
    shown.resize(900, 700)
    qtbot.addWidget(shown)
    shown.show()
    yield shown
    shown.stop()
    runner.close()


def known(page: PapersPage, qtbot: Any) -> None:
    page.facts.answer = facts()
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
