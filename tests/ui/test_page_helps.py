"""What helps: gains as the use case finds them, and changes that can be applied and undone."""

from __future__ import annotations

import copy
from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from planner.app.advice.apply import draft_edits
from planner.app.advice.changes import possible
from planner.app.advice.helps import in_words, starts_apart
from planner.ui.plan.seen import figure_text, span_text
from planner.ui.window import Window

PATIENCE_MS = 120_000


@pytest.fixture
def page(swarm_run: Window, qtbot):
    return turned_to(swarm_run, qtbot)


@pytest.fixture
def shown(standing_run: Window, qtbot):
    """The page for tests that apply nothing."""
    return turned_to(standing_run, qtbot)


def turned_to(window: Window, qtbot):
    window.book.turn(2)
    page = window.book.page
    qtbot.waitUntil(lambda: page.helps.done and page.water.done, timeout=PATIENCE_MS)
    return page


def first_with_edits(page) -> int:
    """The row of the first change that edits the draft."""
    gains = [g for g in page.helps.answer.gains if g.telling]
    return next(i for i, g in enumerate(gains) if page._wish((g.change,)) and page._wish((g.change,)).edits)


def test_rows_are_the_gains_best_first(shown) -> None:
    telling = [gain for gain in shown.helps.answer.gains if gain.telling]
    assert len(shown.list.buttons) == len(telling) > 0, "what makes it worse is shown without a button"
    title = telling[0].change.title
    assert title[1:] in shown.list.buttons[0].accessibleName()


def test_the_page_is_at_one_with_the_bar_within_what_both_tell_of_their_variants(
    shown, standing_run: Window
) -> None:
    """No harm in 95 of 100 on one page, in 92 on the next, of the same candidate: other variants, and each says so.

    What helps is asked of the load as the user has it.
    """
    best, told = standing_run.session.answer.best.harm_of_100, shown.helps.answer.base.no_harm
    loaded = standing_run.session.answer.declared.harm_of_100
    harmed, error = 100.0 * (1.0 - told.value), 100.0 * told.error
    assert loaded.low - 2.0 * error <= harmed <= loaded.high + 2.0 * error
    assert standing_run.answer_bar.harm.value.text() == figure_text(best.value)
    assert standing_run.answer_bar.harm.span.text() == span_text(best)


def test_apply_edits_the_draft_and_one_undo_takes_it_back(page, swarm_run: Window, qtbot, settled) -> None:
    before = copy.deepcopy(swarm_run.document.draft)
    row = first_with_edits(page)
    gain = [g for g in page.helps.answer.gains if g.telling][row]
    steps = swarm_run.document.stack.index()
    qtbot.mouseClick(page.list.buttons[row], Qt.MouseButton.LeftButton)
    assert swarm_run.document.draft != before
    assert swarm_run.document.stack.index() == steps + 1
    assert page.list_panel.stale
    settled(swarm_run)
    place = swarm_run.session.plan.loading_places[swarm_run.session.choice.loading_place]
    assert place == (gain.change.place or place)
    swarm_run.document.stack.undo()
    assert swarm_run.document.draft == before


def test_an_applied_change_gains_what_was_promised(page, swarm_run: Window, qtbot, settled) -> None:
    """The changed trip, planned anew, has the margin that the trial had at the middle of all ranges."""
    row = first_with_edits(page)
    trial = [g for g in page.helps.answer.gains if g.telling][row].trial
    qtbot.mouseClick(page.list.buttons[row], Qt.MouseButton.LeftButton)
    settled(swarm_run)
    session = swarm_run.session
    told = session.plan.headroom(session.choice)
    if told.exact:
        assert told.k == pytest.approx(trial.headroom_k, abs=0.35)
    else:  # read from common shifts: no more than there is
        assert told.k - 0.35 <= trial.headroom_k < 20.0


def test_a_change_that_needs_no_edit_is_only_chosen(page, swarm_run: Window, qtbot) -> None:
    """Another hour that is searched already: the draft stays as it is, the candidate of that hour is looked at."""
    session = swarm_run.session
    searched_s = session.answer.departures_s
    hour = next(
        g.change
        for g in page.helps.answer.gains
        if g.change.shift_s and session.candidate.leave_s + g.change.shift_s in searched_s
    )
    wanted_s = session.candidate.leave_s + hour.shift_s
    assert page._wish((hour,)).edits == ()
    draft, steps = copy.deepcopy(swarm_run.document.draft), swarm_run.document.stack.index()
    page.apply((hour,), hour.title)
    assert session.candidate.leave_s == wanted_s
    assert swarm_run.document.draft == draft
    assert swarm_run.document.stack.index() == steps


def test_an_hour_not_searched_yet_only_widens_the_search_and_keeps_the_closing(
    shown, standing_run: Window
) -> None:
    window = standing_run.session.answer.trip.window
    leave_s = standing_run.session.candidate.leave_s
    outside = [
        (g.change, leave_s + g.change.shift_s)
        for g in shown.helps.answer.gains
        if g.change.shift_s and not window.first_s <= leave_s + g.change.shift_s <= window.last_s
    ]
    assert outside
    for change, at_s in outside:
        edge = ("window", "from" if at_s < window.first_s else "to")
        spots = [edit.spot for edit in shown._wish((change,)).edits]
        assert spots[0] == edge, change.name
        assert all(spot[-1] == "closing" for spot in spots[1:]), (
            "as it was tried, or the plan may choose otherwise"
        )


def test_every_change_has_edits_or_says_that_it_has_none(standing_run: Window, shown) -> None:
    session = standing_run.session
    for change in possible(session.plan, session.choice, session.catalogue):
        found = draft_edits(session.plan, session.choice, (change,), session.catalogue)
        moves = (
            change.trip is not None
            and change.trip(session.plan.trip, session.plan.road)[1] is not session.plan.road
        )
        assert (found is None) == moves, change.name
        if found is not None and (change.boxes or change.trip):
            assert found.edits, change.name


def test_the_water_plan_is_told(shown) -> None:
    assert shown.water_words.text()
    assert shown.apply_water.isVisible() == (shown.water.answer.misting is not None)


@pytest.mark.parametrize("size", [(960, 500), (1024, 640), (1280, 800)])
def test_no_window_is_so_narrow_that_the_page_scrolls_sideways(
    shown, standing_run: Window, qtbot, size: tuple[int, int]
) -> None:
    """At 1024 by 640 the words beside the list were cut off at the right edge, and its own three letters wide."""
    standing_run.resize(*size)
    QApplication.processEvents()
    area = standing_run.book.stack.currentWidget()
    qtbot.waitUntil(lambda: area.horizontalScrollBar().maximum() == 0)
    letters = shown.set_panel.width() / shown.fontMetrics().averageCharWidth()
    assert letters > 40
    standing_run.resize(1280, 800)


def test_another_start_than_the_answers_is_said_where_the_answers_own_is_looked_at(
    shown, standing_run: Window
) -> None:
    """It was told by the command alone: of two starts the list's gains are of one, the bar's figures of the other."""
    answer, found = standing_run.session.answer, shown.helps.answer
    leave_s = float(found.plan.departures_s[found.choice.departure])
    apart = replace(
        answer.best, leave_from_s=leave_s + 3600.0, leave_to_s=leave_s + 3600.0, leave_s=leave_s + 3600.0
    )
    before = shown.lead.text()
    assert ("the answer" in before) == starts_apart(leave_s, answer.best)
    standing_run.session.answer = replace(answer, best=apart)
    try:
        shown.show_answers()
        assert len(shown.lead.text()) > len(in_words(found, shown.units).headline)
    finally:
        standing_run.session.answer = answer
        shown.show_answers()
    assert shown.lead.text() == before
