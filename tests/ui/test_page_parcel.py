"""The page of a parcel lane: a file opened, the carrier's word ticked with its date, the answer in words."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.bundled import resource_path
from planner.ui.pages.book import PAGES
from planner.ui.pages.page_parcel import ParcelPage
from planner.ui.window import Window

PATIENCE_MS = 200_000
DEMO = resource_path("demo", "lane", "parcel-spring.toml")


@pytest.fixture
def window(open_window) -> Window:
    """Of each test's own: a page made is not put back."""
    return open_window()


@pytest.fixture(autouse=True)
def _few_samples(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("planner.app.lane.plan.FIRST_SAMPLES", 8)
    monkeypatch.setattr("planner.app.lane.plan.SAMPLES", 16)
    monkeypatch.setattr("planner.app.lane.plan.LATE_SAMPLES", 8)
    monkeypatch.setattr("planner.app.lane.plan.MOST_SAMPLES", 16)


@pytest.fixture
def page(window: Window) -> ParcelPage:
    window.new_trip()
    window.book.turn([row.name for row in PAGES].index(ParcelPage.__name__))
    assert isinstance(window.book.page, ParcelPage)
    return window.book.page


@pytest.fixture
def short_lane(tmp_path: Path) -> Path:
    """The demo, posted on one day of the week with one set-up."""
    text = DEMO.read_text("utf-8")
    for was, now in (
        ('weekdays = ["mon", "tue", "wed", "thu"]', 'weekdays = ["mon"]'),
        ('setups = ["as_declared", "roof_screen"]', 'setups = ["as_declared"]'),
    ):
        assert was in text
        text = text.replace(was, now)
    for beside in DEMO.parent.iterdir():
        if beside.suffix != ".toml":
            (tmp_path / beside.name).write_bytes(beside.read_bytes())
    path = tmp_path / DEMO.name
    path.write_text(text, "utf-8")
    return path


def test_a_lane_is_answered(page: ParcelPage, short_lane: Path, qtbot) -> None:
    page.take(short_lane)
    assert page.stages.rowCount() == 7
    assert page.tick.isChecked()
    assert page.asked_on.date().toString("yyyy-MM-dd") == "2027-03-30"
    qtbot.waitUntil(lambda: page.lane.done, timeout=PATIENCE_MS)
    assert "of 100 variants" in page.lead.text()
    assert page.words.text()


def test_taking_the_tick_away_takes_the_go_away(page: ParcelPage, monkeypatch) -> None:
    asked = []
    monkeypatch.setattr(page.lane, "put", lambda key, subject: asked.append(subject.draft))
    page.take(DEMO)
    page.tick.setChecked(False)
    assert asked[-1]["carrier"] == {"accepts_live_bees": False}
    page.tick.setChecked(True)
    assert asked[-1]["carrier"]["asked_on"] == "2027-03-30"


def test_a_broken_file_leaves_what_was_there(page: ParcelPage, tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setattr(page.lane, "put", lambda key, subject: None)
    page.take(DEMO)
    broken = tmp_path / "broken.toml"
    broken.write_text("version = 1\n", "utf-8")
    page.take(broken)
    assert page.stages.rowCount() == 7
    assert page.told.text()


def test_stages_are_told_in_words_and_the_week_is_another_by_hand(page: ParcelPage, monkeypatch) -> None:
    asked = []
    monkeypatch.setattr(page.lane, "put", lambda key, subject: asked.append(subject.draft))
    page.take(DEMO)
    cells = [page.stages.item(row, column).text() for row in range(7) for column in (0, 2)]
    assert not any("_" in cell for cell in cells), "names of the file"
    assert "{" not in "".join(cells)
    assert page.week.date().toString("yyyy-MM-dd") == "2027-04-19"
    page.week.setDate(page.week.date().addDays(7))
    assert asked[-1]["week"] == "2027-04-26"
    assert len(asked) == 2
    assert "2027-04-26" in page.lead.text()


def test_the_week_is_shown_as_a_picture(page: ParcelPage, short_lane: Path, qtbot) -> None:
    assert page.board.isHidden()
    page.take(short_lane)
    qtbot.waitUntil(lambda: page.lane.done, timeout=PATIENCE_MS)
    assert not page.board.isHidden()
    assert page.board.chart is not None
    days = page.board.chart.x.rows[0]
    assert [(day.text, day.strong) for day in days] == [("Monday", True)]
