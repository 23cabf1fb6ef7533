"""Season chart: one short year drawn, stopped and taken up again, its cells told in words."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt

from planner.store.weatherfile import write_weather
from planner.ui.look import colours, theme
from planner.ui.window import Window
from tests.app.years import season_weather

PATIENCE_MS = 120_000
MAY_S = 1_809_734_400.0  # 2027-05-08 00:00 UTC


@pytest.fixture
def window(open_window) -> Window:
    """Of each test's own: a page made is not put back."""
    return open_window()


@pytest.fixture(autouse=True)
def _home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Finished weeks are kept in a folder of the test's own."""
    monkeypatch.setenv("SKEPWAY_HOME", str(tmp_path / "home"))


@pytest.fixture
def weather_file(tmp_path: Path) -> Path:
    """Eleven days of invented hours, in three weeks of the year."""
    path = tmp_path / "hours.csv"
    write_weather(season_weather(MAY_S, 11), path)
    return path


@pytest.fixture
def page(swarm_run: Window):
    swarm_run.book.turn(4)
    return swarm_run.book.page


def test_nothing_is_begun_before_a_file_is_chosen(page) -> None:
    assert not page.season.working
    assert not page.panel.filled
    assert not page.go.isVisible()


def test_a_carried_year_near_the_start_is_offered_and_elsewhere_the_file_to_fetch_is_named(page) -> None:
    """The heath of the demo lies near none; a start at Chicago has one, named with how far off it is."""
    assert "52.960, 9.860 as CSV from https://" in page.panel.plain_guidance
    guide = page.panel._guide
    guide.setSelection(guide.text().index("https://"), 12)
    assert guide.selectedText() == "https://re.j", "to be copied, not typed off"
    assert page.path is None
    start = page.subject.plan.trip.origin
    page._look_near(replace(start, lat_deg=41.5, lon_deg=-88.0))
    page._buttons()
    assert "Chicago" in page.panel.plain_guidance
    assert page.go.text() in page.panel.plain_guidance, "what to do now, and not what was done"
    assert "54 km from the start" in page.panel.note.text()
    assert page.go.isVisibleTo(page)
    page._look_near(start)
    page._buttons()
    assert not page.go.isVisibleTo(page)


def test_the_chart_shows_known_cells_and_hatches_the_rest(page, weather_file: Path, qtbot) -> None:
    page.take(weather_file)
    qtbot.waitUntil(lambda: page.season.done, timeout=PATIENCE_MS)
    found = page.season.answer
    assert page.panel.filled
    assert 8 * 24 < found.days.sum() <= 10 * 24
    known = np.flatnonzero((found.days > 0).any(axis=1))
    picture, frame = page.chart.grab().toImage(), page.chart.frame()
    ratio = picture.devicePixelRatio()

    def pixel(week: int, hour: int) -> int:
        box = frame.box(week, week + 1, hour, hour + 1)
        return picture.pixel(int((box.left + 2) * ratio), int((box.top + 2) * ratio))

    shades = {shade.rgb() for shade in colours.shades()}
    week = next(int(w) for w in known if w != page.chart.cell[0])
    assert pixel(week, 12) in shades
    assert pixel(2, 12) not in shades
    assert pixel(2, 12) != theme.colour(theme.current().panel).rgb()


def test_arrow_keys_read_cells(page, weather_file: Path, qtbot) -> None:
    page.take(weather_file)
    qtbot.waitUntil(lambda: page.season.done, timeout=PATIENCE_MS)
    before, hour = page.cell.text(), page.chart.cell[1]
    qtbot.keyClick(page.chart, Qt.Key.Key_Down)
    assert page.chart.cell[1] == hour + 1
    assert f"{hour + 1:02d}:00" in page.cell.text() != before
    page.chart.pick(2, 12)
    assert "not known" in page.cell.text()


@pytest.mark.usefixtures("anew")
def test_a_chart_stopped_goes_on_from_the_weeks_that_are_kept(page, weather_file: Path, qtbot) -> None:
    page.take(weather_file)
    qtbot.waitUntil(lambda: (page.season.share or 0) > 0.3, timeout=PATIENCE_MS)
    page.season.stop()
    assert page.season.stopped
    qtbot.waitUntil(lambda: not page.session.runner.busy("season"), timeout=PATIENCE_MS)
    page.season.again()
    qtbot.waitUntil(lambda: page.season.done, timeout=PATIENCE_MS)
    assert page.season.answer.reused >= 1


def test_a_file_that_is_no_weather_is_explained(page, tmp_path: Path, qtbot) -> None:
    path = tmp_path / "letter.csv"
    path.write_text("Dear keeper\n")
    page.take(path)
    qtbot.waitUntil(lambda: page.season.trouble is not None, timeout=PATIENCE_MS)
    assert not page.panel.filled
    assert "letter.csv" in page.panel._guide.text()


@pytest.mark.slow
def test_a_chart_of_an_older_trip_is_dimmed(
    page, weather_file: Path, swarm_run: Window, qtbot, settled
) -> None:
    page.take(weather_file)
    qtbot.waitUntil(lambda: page.season.done, timeout=PATIENCE_MS)
    assert not page.panel.stale
    swarm_run.document.edit(("load", 0, "bees_kg"), 1.1)
    settled(swarm_run)
    assert page.panel.stale
    page.start()
    qtbot.waitUntil(lambda: page.season.done and not page.panel.stale, timeout=PATIENCE_MS)
