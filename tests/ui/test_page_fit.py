"""My box: a log read, asked about beside its field, fitted, and kept as a profile that can be planned with."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.app.common.chart import Dots
from planner.store.profiles import read_profile
from planner.ui.look import theme
from planner.ui.window import Window
from tests.ui.synthetic_log import invented_log

PATIENCE_MS = 120_000


@pytest.fixture
def window(open_window) -> Window:
    """Of each test's own: a page made is not put back."""
    return open_window()


@pytest.fixture(autouse=True)
def _home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SKEPWAY_HOME", str(tmp_path / "home"))


@pytest.fixture
def page(swarm_run: Window):
    swarm_run.book.turn(5)
    return swarm_run.book.page


@pytest.fixture
def log_file(page, swarm_run: Window, tmp_path: Path) -> Path:
    """What a logger in the first box would have written on the candidate looked at; no zone in the file."""
    session = swarm_run.session
    path = tmp_path / "logger.csv"
    path.write_text(invented_log(session.plan, session.choice, session.catalogue))
    return path


def fitted(page, log_file: Path, qtbot) -> None:
    page.document.edit(("file",), str(log_file))
    page.document.edit(("zone",), "Europe/London")
    page.start()
    qtbot.waitUntil(lambda: page.fit.done or page.fit.trouble is not None, timeout=PATIENCE_MS)
    assert page.fit.trouble is None, page.fit.trouble


def test_a_zone_that_the_file_does_not_say_is_asked_beside_its_field(page, log_file: Path, qtbot) -> None:
    page.document.edit(("file",), str(log_file))
    page.start()
    qtbot.waitUntil(lambda: page.fit.trouble is not None, timeout=PATIENCE_MS)
    assert "time zone" in page.zone.fault.text()
    assert page.zone.editor.property("faulty")
    assert not page.curve_panel.filled
    fitted(page, log_file, qtbot)
    assert page.zone.fault.text() == ""
    assert page.curve_panel.filled


def test_a_file_that_is_no_log_is_explained(page, tmp_path: Path, qtbot) -> None:
    path = tmp_path / "letter.csv"
    path.write_text("Dear keeper\n")
    page.document.edit(("file",), str(path))
    page.start()
    qtbot.waitUntil(lambda: page.fit.trouble is not None, timeout=PATIENCE_MS)
    assert "no rows with a time" in page.trouble.text()
    page.document.edit(("file",), str(tmp_path / "missing.csv"))
    page.start()
    qtbot.waitUntil(lambda: "missing.csv" in page.trouble.text(), timeout=PATIENCE_MS)


def test_the_fit_finds_the_activity_and_draws_every_logged_span(page, log_file: Path, qtbot) -> None:
    fitted(page, log_file, qtbot)
    activity = page.fit.answer.fit.factor("activity")
    assert activity.value > 1.1
    assert page.fit.answer.fit.rms_after_k < page.fit.answer.fit.rms_before_k
    (logged,) = (mark for mark in page.curve.chart.marks if isinstance(mark, Dots))
    assert logged.xs.size == page.fit.answer.fit.time_s.size
    picture = page.curve.grab().toImage()
    core = theme.colour(theme.current().core).rgb()
    drawn = sum(
        picture.pixel(x, y) == core for x in range(0, picture.width(), 2) for y in range(picture.height())
    )
    assert drawn > 40
    assert "times the usual" in page.factors.accessibleDescription()


def test_a_profile_is_kept_and_planned_with(page, log_file: Path, swarm_run: Window, qtbot, settled) -> None:
    fitted(page, log_file, qtbot)
    page.document.edit(("yard",), "River yard")
    page.keep.click()
    qtbot.waitUntil(lambda: page.use.isVisible(), timeout=PATIENCE_MS)
    profile = read_profile(page._kept)
    assert (profile.about, profile.name) == ("yard", "River yard")
    assert "logger.csv" in profile.trips[0]
    before = swarm_run.session.catalogue
    page.use.click()
    qtbot.waitUntil(lambda: swarm_run.session.catalogue is not before, timeout=PATIENCE_MS)
    settled(swarm_run)
    name = "activity_driving"
    kept = float(profile.rows["parameters"][name]["value"])
    assert swarm_run.session.catalogue.parameters.rows[name].value == pytest.approx(kept)


def test_without_a_file_the_form_asks_for_one(page, qtbot) -> None:
    page.start()
    assert not page.fit.working
    assert page.file.editor.hasFocus()
