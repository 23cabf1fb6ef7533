"""The page of a collection day: tables pasted and taken back in one step, a day file opened, its board shown."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtGui import QGuiApplication

from planner.bundled import resource_path
from planner.store.dayfile import read_day, write_day
from planner.ui.pages.book import PAGES
from planner.ui.pages.page_day import DayPage
from planner.ui.window import Window
from tests.app.small_day import small_draft

PATIENCE_MS = 200_000
BUYERS = "Name\tDrive minutes\tBoxes\nAda\t40\t1\nBo\t60,5\t2\n"


@pytest.fixture(autouse=True)
def _few_samples(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("planner.app.day.plan.TABLE_SAMPLES", 8)
    monkeypatch.setattr("planner.app.day.plan.CLOSE_SAMPLES", 16)
    monkeypatch.setattr("planner.app.day.serving.chosen.MOST_SAMPLES", 16)
    monkeypatch.setattr("planner.app.day.inputs.AHEAD_DAYS", 0)
    monkeypatch.setattr("planner.app.day.later.AHEAD_DAYS", 0)


@pytest.fixture
def page(window: Window) -> DayPage:
    window.new_trip()
    window.book.turn([row.name for row in PAGES].index(DayPage.__name__))
    assert isinstance(window.book.page, DayPage)
    return window.book.page


def copied(text: str) -> None:
    QGuiApplication.clipboard().setText(text)


def test_an_empty_page_says_how_to_begin(page: DayPage) -> None:
    assert not page.panel.filled
    assert not page.go.isEnabled()
    assert page.open.isEnabled()


def test_a_pasted_table_is_taken_back_in_one_step(page: DayPage) -> None:
    copied(BUYERS)
    page.paste("buyers")
    assert page.buyers.rowCount() == 2
    assert page.draft is not None
    assert page.draft["buyers"][1] == {"name": "Bo", "drive_minutes": 60.5, "boxes": 2}
    copied("Name\tDrive minutes\nCy\t10\n")
    page.paste("buyers")
    assert page.buyers.rowCount() == 1
    page.take_back()
    assert [page.buyers.item(row, 0).text() for row in range(2)] == ["Ada", "Bo"]
    page.take_back()
    assert page.draft is None
    assert not page.undo.isEnabled()


def test_a_bad_paste_loses_nothing_and_says_where(page: DayPage) -> None:
    copied(BUYERS)
    page.paste("buyers")
    copied("Name\tDrive minutes\nAda\tsoon\n")
    page.paste("buyers")
    assert page.buyers.rowCount() == 2
    assert "line 2, drive_minutes" in page.told.text()
    copied("")
    page.paste("boxes")
    assert "copy rows" in page.told.text()


def test_a_day_file_is_planned_and_its_board_shown(page: DayPage, tmp_path: Path, qtbot) -> None:
    path = tmp_path / "small.toml"
    draft = small_draft()
    draft["buyers"] = draft["buyers"][:2]
    write_day(draft, path)
    page.take(path)
    qtbot.waitUntil(lambda: page.day.done, timeout=PATIENCE_MS)
    assert page.board.chart is not None
    assert page.words.text()
    assert "2 buyers" in page.lead.text()
    picture = page.board.grab().toImage()
    colours = {
        picture.pixel(x, y) for x in range(0, picture.width(), 7) for y in range(0, picture.height(), 7)
    }
    assert len(colours) > 3


def test_a_broken_file_leaves_what_was_there(page: DayPage, tmp_path: Path) -> None:
    copied(BUYERS)
    page.paste("buyers")
    broken = tmp_path / "broken.toml"
    broken.write_text("version = 1\n", "utf-8")
    page.take(broken)
    assert page.buyers.rowCount() == 2
    assert page.told.text()


def test_the_demo_day_keeps_its_tables_when_saved(page: DayPage, tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setattr(page, "start", lambda: None)
    page.take(resource_path("demo", "day", "collection-day.toml"))
    assert page.buyers.rowCount() == 44
    page.keep(tmp_path / "kept.toml")
    kept = read_day(tmp_path / "kept.toml")
    assert len(kept["buyers"]) == 44
    assert len(kept["boxes"]) == 58
