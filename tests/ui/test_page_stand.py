"""Standing still: strip, worst spot, delay and tipping point, all on the cursor of the window."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt

from planner.app.standing.delays import KINDS, Delay, delayed
from planner.app.standing.pictures import left_text
from planner.app.standing.reserve import HORIZON_S
from planner.app.standing.tipping import tipping_at
from planner.ui.look import theme
from planner.ui.pages.page_stand import StandPage
from planner.ui.window import Window
from planner.ui.work.background_query import Subject
from planner.units import US
from planner.words import say

PATIENCE_MS = 60_000


@pytest.fixture
def page(standing_run: Window, qtbot):
    return turned_to(standing_run, qtbot)


def turned_to(window: Window, qtbot):
    window.book.turn(3)
    page = window.book.page
    qtbot.waitUntil(lambda: page.reserve.done and page.tipping.done and page.delay.done, timeout=PATIENCE_MS)
    return page


def test_the_strip_reads_the_reserve_under_the_cursor(page, qtbot) -> None:
    found = page.reserve.answer
    page.set_cursor(float(found.time_s[4]))
    for v, (title, usual, agitated) in enumerate(page.strip.readings()):
        assert title == found.variants[v].title
        assert usual == left_text(found.shortest_s(v, 0)[4], found.horizon_s)
        assert agitated == left_text(found.shortest_s(v, 1)[4], found.horizon_s)


def test_too_short_to_stand_is_said_in_the_words_of_the_sheets() -> None:
    """The map gave three minutes where the driver's sheet said not to stop."""
    assert left_text(0.0, HORIZON_S) == left_text(299.0, HORIZON_S) == say("sheets.do_not_stop")
    assert left_text(301.0, HORIZON_S) == "5 min"


def test_hand_on_the_strip_moves_the_cursor_of_the_window(page, standing_run: Window, qtbot) -> None:
    field = page.strip.frame().field
    qtbot.mouseMove(page.strip, QPoint(int(field.left + field.width * 0.7), int(field.middle[1])))
    qtbot.mouseMove(page.strip, QPoint(int(field.left + field.width * 0.5), int(field.middle[1])))
    time = page.reserve.answer.time_s
    assert standing_run.curves.cursor_s == pytest.approx((time[0] + time[-1]) / 2, abs=600)
    qtbot.waitUntil(
        lambda: page.tipping.done and abs(page.tipping.answer.time_s - standing_run.curves.cursor_s) < 61,
        timeout=PATIENCE_MS,
    )


def test_arrow_keys_walk_the_strip(page, qtbot) -> None:
    page.set_cursor(float(page.reserve.answer.time_s[3]))
    qtbot.keyClick(page.strip, Qt.Key.Key_Right)
    assert page.strip.cursor_s == page.reserve.answer.time_s[4]


def test_lanes_are_drawn_and_unknown_ones_say_so(page) -> None:
    """Areas vanish in silence when a polygon is wrong: count coloured pixels."""
    picture = page.strip.grab().toImage()
    panel = theme.colour(theme.current().panel).rgb()
    field = page.strip.frame().field
    y = int(field.top + field.height / len(page.reserve.answer.variants) - 4)
    ratio = picture.devicePixelRatio()
    row = [
        picture.pixel(int(x * ratio), int(y * ratio))
        for x in range(int(field.left) + 2, int(field.right) - 2)
    ]
    assert np.mean([pixel != panel for pixel in row]) > 0.5


def test_the_worst_spot_is_named(page) -> None:
    assert "worst spot" in page.lead.text() or "wherever" in page.lead.text()


def test_the_delay_asked_for_is_the_delay_told(page, standing_run: Window, qtbot) -> None:
    form = page.form
    form.kind.setCurrentIndex(form.kind.findData("breakdown"))
    form.minutes.setValue(120)
    form.set_km(20.0)
    lasts = 120 * 60.0
    qtbot.waitUntil(
        lambda: (
            page.delay.done
            and page.delay.answer.delay.lasts_s == lasts
            and page.delay.answer.delay.at_km == 20.0
        ),
        timeout=PATIENCE_MS,
    )
    session = standing_run.session
    (expected,) = delayed(
        session.plan, session.choice, session.catalogue, [Delay(KINDS["breakdown"], 20.0, lasts)]
    )
    assert page.delay.answer == expected
    assert page.units.temp_text(expected.peak_c[1]) in page.effect.text()


def test_the_balance_is_that_of_the_use_case(page, standing_run: Window) -> None:
    session, shown = standing_run.session, page.tipping.answer
    expected = tipping_at(session.plan, session.choice, session.catalogue, shown.time_s)
    np.testing.assert_array_equal(shown.made_w, expected.made_w)
    assert "it bears" in page.tips.text() or "no balance" in page.tips.text()


def test_us_units_reach_every_figure(swarm_run: Window, qtbot) -> None:
    page = turned_to(swarm_run, qtbot)
    km = page.form.draft_edits()[1]
    swarm_run.looks.set_units("us")
    assert page.form.place.suffix().strip() == US.distance_unit
    assert page.form.draft_edits()[1] == pytest.approx(km)
    assert "°F" in page.effect.text()
    assert "°F" in page.tips.text()


def test_a_delay_is_tried_at_once_where_the_map_asked_before_the_page_was_turned_to(
    open_window, settled, small_trip: Path, qtbot
) -> None:
    """The map had asked how long one may stand; turned to later, the page of delays stayed empty."""
    window = open_window()
    window.open_demo(small_trip)
    settled(window)
    page = StandPage(window.session)
    qtbot.addWidget(page)
    aside = window.session.aside
    aside._ask()
    qtbot.waitUntil(lambda: aside.reserve.done, timeout=PATIENCE_MS)
    page.look(Subject(window.session.plan, window.session.choice, window.session.catalogue))
    page.resize(900, 560)
    page.show()
    qtbot.waitUntil(lambda: page.delay.done, timeout=PATIENCE_MS)
    assert page.effect.text()
    page.close()
