"""How sure: the window tells the very figures of the use case, sharpening, and lets a row be chosen."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt

from planner.app.chance.race import chances
from planner.app.chance.sensitivity import SUBJECT_WORDS
from planner.app.plan.results import VERDICTS, Plan
from planner.model.records import Weather
from planner.ui.window import Window
from planner.ui.work.background_query import SEED
from planner.ui.work.data_source import DataSource
from tests.ui.conftest import DEMOS

PATIENCE_MS = 120_000


@pytest.fixture
def page(swarm_run: Window, qtbot):
    swarm_run.book.turn(1)
    page = swarm_run.book.page
    qtbot.waitUntil(lambda: page.chances.done and page.sensitivity.done, timeout=PATIENCE_MS)
    qtbot.waitUntil(lambda: bool(page.rank.rows()), timeout=PATIENCE_MS)
    return page


def test_the_page_tells_the_figures_of_the_use_case(page, swarm_run: Window) -> None:
    session = swarm_run.session
    *_, expected = chances(session.plan, session.catalogue, np.random.default_rng(SEED))
    known = page.chances.answer
    assert known.finished
    for choice in expected.ranking[:5]:
        assert known.no_harm(choice) == expected.no_harm(choice)
    assert page.rank.rows()[0] == expected.ranking[0]
    share = expected.no_harm(session.choice).of_hundred
    assert f"{share} of 100 simulated variants" in page.verdict.text()


def test_five_chances_are_drawn_where_they_are_not_nothing(page) -> None:
    known, choice = page.chances.answer, page.five.choice
    shares = [known.harm(choice, verdict).value for verdict in VERDICTS]
    picture = page.five.grab().toImage()
    from planner.ui.look import theme

    harm = theme.colour(theme.current().harm).rgb()
    drawn = sum(
        picture.pixel(x, y) == harm for x in range(picture.width()) for y in range(0, picture.height(), 3)
    )
    assert (drawn > 60) == (max(shares) > 0.02)  # the key alone has a few


def test_a_row_clicked_is_looked_at_and_its_duels_follow(page, swarm_run: Window, qtbot) -> None:
    row = next(i for i, choice in enumerate(page.rank.rows()) if choice != swarm_run.session.choice)
    wanted = page.rank.rows()[row]
    before, drawn = page.words.text(), page.chances.answer
    y = page.rank._top() + (row + 0.5) * page.rank._row_px()
    qtbot.mouseClick(page.rank, Qt.MouseButton.LeftButton, pos=QPoint(20, int(y)))
    assert swarm_run.session.choice == wanted
    assert page.rank.choice == wanted
    assert page.words.text() != before
    assert page.chances.answer is drawn  # the samples need not be drawn again
    qtbot.waitUntil(
        lambda: page.sensitivity.done and page.sensitivity.answer.choice == wanted, timeout=PATIENCE_MS
    )


def test_arrow_keys_walk_the_ranking(page, swarm_run: Window, qtbot) -> None:
    rows = page.rank.rows()
    swarm_run.session.choose(rows[0])
    qtbot.keyClick(page.rank, Qt.Key.Key_Down)
    assert swarm_run.session.choice == rows[1]


def test_the_doubt_is_told_in_words(page) -> None:
    largest = SUBJECT_WORDS[page.sensitivity.answer.subjects[0]]
    assert largest in page.share.accessibleDescription() or not page.share.lines


@pytest.mark.usefixtures("anew")
def test_a_first_answer_comes_long_before_the_last(swarm_run: Window, qtbot) -> None:
    swarm_run.book.turn(1)
    page = swarm_run.book.page
    sharpness: list[int] = []
    page.chances.answered.connect(lambda known: sharpness.append(known.sharpness))
    qtbot.waitUntil(lambda: len(sharpness) > 1, timeout=PATIENCE_MS)
    assert not page.chances.done
    assert page.rank_panel.filled
    assert sharpness[0] < page.chances.answer.wanted
    page.chances.stop()
    assert page.rank_panel.filled
    assert page.going.button.isVisible()


class WithMembers(DataSource):
    """Offers two invented members of an ensemble."""

    def members(self, plan: Plan, _) -> tuple[Weather, ...]:
        return tuple(replace(plan.weather, air_c=plan.weather.air_c + warmer) for warmer in (0.0, 1.5))


def test_worlds_are_drawn_from_an_ensemble_where_it_is_wanted(open_window, qtbot, settled) -> None:
    window = open_window(WithMembers())
    window.open_demo(DEMOS / "swarm-run.toml")
    settled(window)
    window.book.turn(1)
    page = window.book.page
    assert not page.ensemble.isVisible()  # the demo's weather is a table, no forecast
    plan = window.session.plan
    window.session.plan = replace(plan, weather=replace(plan.weather, kind="forecast"))
    window.book._look()
    assert page.ensemble.isVisible()
    page.ensemble.click()
    qtbot.waitUntil(
        lambda: page.chances.answer is not None and page.chances.answer.sample.member.max() == 1,
        timeout=PATIENCE_MS,
    )
    page.stop()
