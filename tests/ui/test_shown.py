"""What the window shows of an answer, on real widgets: whose moment, which boxes, which marks, all of it to read."""

from __future__ import annotations

import re
import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from PySide6.QtGui import QFontMetricsF
from PySide6.QtWidgets import QApplication

from planner import __main__ as door
from planner.app.answer.records import Span
from planner.app.common.chart import Line
from planner.errors import SkepwayError
from planner.ui.look import strings as s
from planner.ui.look import theme
from planner.ui.look.paint import Readable
from planner.ui.plan.answer_bar import AnswerBar, shortened
from planner.ui.plan.plan_view import AGITATED, PlanView
from planner.ui.plan.seen import Verdict, figure_text, shown_of, table_of
from planner.ui.window import Window
from planner.units import METRIC
from tests.app.years import pvgis_text
from tests.ui import invented_answer, synthetic
from tests.ui.conftest import PATIENCE_MS

SURE = 1


def last_place(window: Window):
    """The candidate nobody recommends: the last of the list."""
    return window.session.answer.candidates[-1]


def test_how_sure_is_told_for_a_candidate_that_does_not_lead(swarm_run: Window, qtbot, settled) -> None:
    window = swarm_run
    window.board.chosen.emit(last_place(window))
    settled(window)
    window.book.turn(SURE)
    page = window.book.page
    qtbot.waitUntil(lambda: page.verdict.text() != "" and not window.runner.busy(), timeout=PATIENCE_MS)
    assert all(query.trouble is None for query in page.queries())


def test_every_view_and_paper_names_the_candidate_that_is_not_the_recommended_one(
    swarm_run: Window, settled, tmp_path: Path
) -> None:
    window = swarm_run
    window.board.chosen.emit(last_place(window))
    settled(window)
    words = window.table.words(window.session.candidate)
    assert s.say(s.CHIP_SHOWN, candidate=words) == window.candidates.shown.text()
    for told in (window.map_panel.note.text(), window.curve_panel.title.text(), window.curves.heading()):
        assert words in told
    assert s.say(s.CHIP_SHOWN, candidate=words) in window.output._words()
    window.curves.export_csv(tmp_path / "curves.csv")
    assert words in (tmp_path / "curves.csv").read_text("utf-8").splitlines()[0]
    window.curves.export_svg(tmp_path / "curves.svg")
    drawing = (tmp_path / "curves.svg").read_text("utf-8")
    assert window.curves.heading().split(",")[0] in drawing
    assert "90 of 100 variants" in drawing


def test_paper_bears_the_curves_title_and_the_screen_the_candidates_chips(swarm_run: Window) -> None:
    panel = swarm_run.curve_panel
    assert not panel.title.isVisibleTo(panel)
    assert swarm_run.candidates.isVisibleTo(panel)
    with panel.bare():
        assert panel.title.isVisibleTo(panel)
        assert not swarm_run.candidates.isVisibleTo(panel)
    assert not panel.title.isVisibleTo(panel)


def test_the_worst_with_agitated_bees_can_be_drawn(swarm_run: Window) -> None:
    view, combo = swarm_run.curves, swarm_run.plan_view.group
    combo.setCurrentIndex(combo.findData(AGITATED))
    combo.activated.emit(combo.currentIndex())
    view.show_band(None)
    assert view.agitated
    agitated = view.curves.core_c[:, -1, view.group]
    lines = [
        mark.ys for mark in view._whole.marks if isinstance(mark, Line) and mark.ys.shape == agitated.shape
    ]
    assert any(np.array_equal(ys, agitated, equal_nan=True) for ys in lines)


def test_harm_of_agitated_bees_is_marked_in_the_cell(swarm_run: Window) -> None:
    board, (departure, row) = swarm_run.board, swarm_run.board.at
    held = board.shown.rows[row].cells[departure]
    board.at = None
    pictures = []
    for harmed in (False, True):
        board.shown.rows[row].cells[departure] = replace(held, harm_agitated=harmed)
        pictures.append(board.viewport().grab().toImage())
    board.shown.rows[row].cells[departure] = held
    box = board._box((departure, row)).toRect()
    at = [(box.left() + n, box.bottom() - n - 1) for n in (4, 5, 6)]
    assert any(pictures[0].pixel(x, y) != pictures[1].pixel(x, y) for x, y in at)


def test_every_picture_of_the_plan_can_be_read_as_a_table(swarm_run: Window) -> None:
    for view in (swarm_run.board, swarm_run.curves, swarm_run.strip, swarm_run.ledger, swarm_run.map):
        readable: Readable = view
        assert readable.heading()
        heads, rows = readable.table()
        assert rows, view
        assert {len(row) for row in rows} == {len(heads)}, view
        assert view.accessibleName()


def test_a_page_beside_the_plan_is_read_as_one_table_of_its_charts(swarm_run: Window, qtbot) -> None:
    window = swarm_run
    window.book.turn(SURE)
    page = window.book.page
    qtbot.waitUntil(lambda: page.sensitivity.done, timeout=PATIENCE_MS)
    window.sheets.read_picture()
    reading = window.book.reading()
    heads, rows = reading.table()
    assert heads[0] == s.say(window.book.rows[SURE].title)
    assert any(s.say(s.SURE_SENSITIVITY) in row for row in rows)
    window.sheets.sheet.close()


def test_the_board_says_what_is_accepted_and_marks_what_finds_no_room(swarm_run: Window) -> None:
    assert f"{swarm_run.session.answer.tolerance.harm_of_100:g}" in swarm_run.board_panel.note.text()
    cell = replace(swarm_run.session.answer.best, fits=False, room="fits 2 of 12")
    from planner.ui.plan.seen import cell_words

    assert "2 of 12" in cell_words(cell, swarm_run.units)


def test_how_long_one_may_stand_is_asked_once_all_rests_and_stands_on_the_map_and_in_the_balance(
    swarm_run: Window, qtbot
) -> None:
    window = swarm_run
    window.session.aside._calm.start(0)
    qtbot.waitUntil(lambda: window.showing.reserve is not None, timeout=PATIENCE_MS)
    found = window.map.reserve
    assert found is window.session.aside.reserve.answer
    at = int(np.argmin(np.abs(found.time_s - window.curves.cursor_s)))
    window.set_cursor(float(found.time_s[at]))
    assert window.map.stand_words(window.curves.cursor_s) in window.ledger_panel.note.text()
    window.map.set_quantity("stand")
    assert window.map.span[1] == 0.0
    if found.worst() is not None:
        assert window.map.worst_words() in [row[0] for row in window.map.table()[1]]


def test_the_steps_keep_their_width_whatever_comes_beside_them(swarm_run: Window, qtbot, settled) -> None:
    window = swarm_run
    before = window.steps.width()
    best, other = window.session.answer.best, last_place(window)
    window.board.pinned.emit(best)
    window.board.pinned.emit(other)
    settled(window)
    assert window.steps.width() == before
    window.resize(1100, 700)
    window.resize(1280, 800)
    assert window.steps.width() == before


def test_the_curves_are_322_pixels_tall_with_their_axis_in_sight(swarm_run: Window) -> None:
    """At 1280 x 800 in the usual type."""
    view = swarm_run.plan_view
    lines = swarm_run.fontMetrics().lineSpacing()
    assert swarm_run.curves.height() >= 23 * lines - 1
    foot = swarm_run.curves.mapTo(view.widget(), swarm_run.curves.rect().bottomLeft()).y()
    assert foot <= view.viewport().height()


def test_a_typical_year_at_hand_is_a_way_out_and_moves_onto_the_dates(
    swarm_run: Window, qtbot, tmp_path: Path
) -> None:
    path = tmp_path / "year.csv"
    path.write_text(pvgis_text(), "utf-8")
    swarm_run.troubles.take_typical(path)
    qtbot.waitUntil(lambda: swarm_run.document.get(("weather", "source")) == "embedded", timeout=PATIENCE_MS)
    assert "# kind: typical" in swarm_run.document.get(("weather", "table"))
    day = str(swarm_run.document.get(("window", "from")))[:10]
    assert day in swarm_run.document.get(("weather", "table"))
    swarm_run.document.stack.undo()
    assert swarm_run.document.get(("weather", "source")) != "embedded"


def test_a_file_named_on_the_command_line_opens_in_the_window(
    monkeypatch: pytest.MonkeyPatch, small_trip: Path
) -> None:
    from planner.ui import main as start

    opened: list[list[str]] = []
    monkeypatch.setattr(start, "main", lambda arguments=(): opened.append(list(arguments)) or 0)
    monkeypatch.setattr(sys, "argv", ["skepway", str(small_trip)])
    assert door.main() == 0
    assert opened == [[str(small_trip)]]


def test_a_load_that_finds_no_room_is_told_where_its_curves_would_stand(swarm_run: Window) -> None:
    """The answer stands, its candidate cannot be drawn: the work of the curves ends with an error."""
    window = swarm_run
    window.session._not_drawn(SkepwayError("46 of 200 boxes find room"))
    assert not window.curve_panel.filled
    assert "46 of 200" in window.curve_panel._guide.text()
    assert window.session.plan is None
    assert window.map.curves is None
    assert not window.curve_panel.stale


def test_nothing_of_the_trip_before_stands_in_a_new_one(open_window, settled, small_trip: Path) -> None:
    """The road's header, the count of cautions and the words for curves to come were those of the trip before."""
    window = open_window()
    window.open_demo(small_trip)
    settled(window)
    assert window.map_panel.note.text()
    assert window.ledger_panel.note.text()
    window.map.show_road(replace(window.map.road, attribution="Makers of roads"), window.map.waypoints)
    assert window.map.attribution
    window.session.aside._calm.stop()
    closer_known = window.load_editor.harm_of_100
    assert closer_known
    window.document.stack.setClean()
    window.new_trip()
    assert window.load_editor.harm_of_100 == [], "a group of the same name had the harm of the trip before"
    assert window.map_panel.note.text() == ""
    assert window.ledger_panel.note.text() == ""
    assert window.map.attribution == "", "who made the road of the trip before is owed nothing here"
    assert window.answer_bar.cautions.text() == s.say(s.ANSWER_CAUTIONS)
    assert window.candidates.shown.text() == ""
    assert window.curve_panel._guide.text() == s.say(s.CURVES_GUIDE)


def test_curves_are_drawn_for_an_early_answer_that_a_later_one_sharpens(swarm_run: Window, qtbot) -> None:
    """The candidate of each early answer is a record of its own: its curves were dropped until the last was told."""
    session = swarm_run.session
    early = session.candidate
    session.candidate = replace(early, samples=early.samples + 1)
    drawn = []
    session.picture_changed.connect(drawn.append)
    session._start_curves()
    session.candidate = replace(early, samples=early.samples + 2)
    qtbot.waitUntil(lambda: bool(drawn))
    assert drawn[0].candidate.key == early.key


def test_curves_follow_an_early_answer_that_recommends_another_departure(
    swarm_run: Window, qtbot, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The name over the curves was the new one's, while the curves were the old one's until the last answer."""
    session = swarm_run.session
    other = next(one for one in session.answer.candidates if one.leave_s != session.answer.best.leave_s)
    busy = session.runner.busy
    monkeypatch.setattr(session.runner, "busy", lambda *queue: queue == ("plan",) or busy(*queue))
    drawn = []
    session.picture_changed.connect(drawn.append)
    session._take_early(
        SimpleNamespace(question=SimpleNamespace(number=session._number)), replace(session.answer, best=other)
    )
    assert session.candidate is other
    assert not swarm_run.board_panel.stale
    qtbot.waitUntil(lambda: bool(drawn), timeout=20_000)
    assert drawn[-1].candidate.key == other.key
    assert swarm_run.curves.curves.time_s[0] <= other.leave_s <= swarm_run.curves.curves.time_s[-1]


def test_a_long_sentence_is_told_whole_in_type_that_can_be_read(standing_run: Window) -> None:
    bar = standing_run.answer_bar
    held = bar.headline.text()
    before = bar.height()
    long = (
        'Go if the roof screens of the 108 boxes "doubles" are on and you leave between Friday 22:30 and 23:30, '
        'best at 22:30 (the 46 boxes "doubles": flatbed, outer row, sunny side, windward; the 46 boxes: flatbed, '
        "outer row, shade side, windward; the 108 boxes: flatbed, inner row): harm in 3 of 100 variants (2 to 4)."
    )
    bar._say(f"{long} {'As loaded the same start brings harm in 18 of 100 variants. ' * 3}", "")
    QApplication.processEvents()
    first, rest = bar.headline.parts()
    face, small = bar.headline.faces()
    assert first == long
    assert shortened(first, face, bar.headline.width(), bar.headline.height() + 1) == first
    assert face.pointSizeF() >= QApplication.font().pointSizeF() - 1.1
    shown = shortened(rest, small, bar.headline.width(), QFontMetricsF(small).lineSpacing() + 1)
    assert rest.startswith(shown.removesuffix(" …"))
    assert shown
    assert bar.headline.toolTip().endswith(rest)
    assert bar.height() == before
    bar._say(held, bar.second.text())


def test_larger_type_has_wider_steps_with_every_column_of_the_stops_in_sight(swarm_run: Window) -> None:
    window = swarm_run
    window.looks.scale_type(1.1**6)
    window.resize(1280, 800)
    QApplication.processEvents()
    table = window.route_pane.stops
    last = table.horizontalHeader().count() - 1
    right = table.columnViewportPosition(last) + table.columnWidth(last)
    assert right <= table.viewport().width()
    assert window.book.width() > window.width() * 0.5
    for head in window.steps.heads[1:]:
        assert "…" not in "".join(head._lines(head.width() - 80.0))


def test_the_title_of_a_trip_nobody_has_named_follows_its_ends() -> None:
    from planner.ui.trip.document import Document
    from planner.ui.trip.trips import file_name, new_draft

    document = Document()
    document.open(new_draft(1.8e9), None)
    document.edit_places({"origin": {"name": "Toulouse"}})
    assert document.draft["title"] == "New trip"
    document.edit_places({"destination": {"name": "Dijon, Bourgogne"}})
    assert document.draft["title"] == "Toulouse to Dijon, Bourgogne"
    assert file_name(document.draft) == "toulouse-to-dijon-bourgogne.trip.toml"
    document.edit_places({"destination": {"name": "Lyon"}})
    assert document.draft["title"] == "Toulouse to Lyon"
    document.stack.undo()
    assert document.draft["title"] == "Toulouse to Dijon, Bourgogne", "in the same step of undo"
    document.edit(("title",), "Night move")
    document.edit_places({"origin": {"name": "Albi"}})
    assert document.draft["title"] == "Night move", "a name given by hand stays"
    assert file_name(document.draft) == "night-move.trip.toml"
    assert file_name(new_draft(1.8e9)) == "new-trip.trip.toml"


def test_how_two_departures_compare_is_told_whole_beside_the_way_back(qapp, qtbot) -> None:
    """With both pinned and a third looked at, the verdict had 120 pixels and ended in dots."""
    answer = invented_answer.answer(synthetic.plan(departures=24, places=6, groups=3))
    harms = {"harm_first": "<1", "harm_second": "100"}
    told = (s.say(s.VERDICT, first="A", second="B", wins="100", losses="60", **harms),)
    one, two, third = (answer.candidates[number] for number in (1, 9, -1))
    for bigger, wide in ((1.0, 856), (1.1**6, 700)):  # beside the steps of a window 1280 pixels wide
        theme.apply(qapp, "light", bigger)
        view = PlanView(METRIC)
        qtbot.addWidget(view)
        view.resize(wide, 600)
        view.show()
        view.show_groups(["Strong", "Weak"])
        view.set_filled(True)
        bar = view.candidates
        for short in told:
            bar.show_state(table_of(answer), third, {"A": one, "B": two}, Verdict(short, "whole"))
            QApplication.processEvents()
            assert bar.back.isVisible()
            assert bar.back.accessibleName() == s.say(s.CHIP_BACK)
            assert "…" not in "".join(bar.shown._lines(bar.shown.width())), (bigger, short)
            assert bar.shown.height() <= bar.height()
        view.close()


def test_every_group_has_its_own_share_of_harm_beside_its_boxes(standing_run: Window, qtbot) -> None:
    """The bracket of one group stood beside the worst of another, and the group that died nowhere."""
    window = standing_run
    qtbot.waitUntil(lambda: window.session.closer is not None, timeout=PATIENCE_MS)
    editor, fates = window.load_editor, window.session.closer.candidate.groups
    column = [each.key for each in editor.model.columns].index("harm")
    shown = [editor.model.index(row, column).data() for row in range(len(fates))]
    assert [editor.model.index(row, 0).data() for row in range(len(fates))] == [fate.label for fate in fates]
    assert shown == [figure_text(fate.harm_of_100["any"].value) for fate in fates]


def test_the_sentence_names_the_group_that_is_harmed_most_with_a_bracket_of_its_own(
    standing_run: Window, qtbot
) -> None:
    """The bracket in the headline was the one of one group, the group that died another, named nowhere.

    The headline names the group and no bracket of anybody's; both stand together under how sure.
    """
    session, bar = standing_run.session, AnswerBar()
    qtbot.addWidget(bar)
    best, hurt, slight = session.answer.best, Span(40.0, 50.0, 60.0), Span(0.0, 1.0, 2.0)

    def faring(fate, span: Span):
        return replace(fate, harm_of_100={**fate.harm_of_100, "any": span, "queen": span})

    *others, last = best.groups
    groups = (*(faring(fate, slight) for fate in others), faring(last, hurt))
    held = replace(best, groups=groups, harm_of_100=Span(60.0, 70.0, 80.0))
    found = replace(session.answer, best=held, decision="do_not_go")
    said = session._in_words(found)
    bar.show_answer(shown_of(said, METRIC))
    told = bar.headline.text()
    assert f'most often to "{last.label}".' in told
    assert not any(f'"{fate.label}"' in told for fate in others)
    assert " to 60)" not in told
    full = next(line for line in said.how_sure if line.startswith("In full"))
    assert re.search(rf'"{re.escape(last.label)}"[^.]*: 50 \(40 to 60\)', full), full


def test_with_room_to_spare_the_mover_is_not_kept_shut_overnight(
    window: Window, settled, small_trip: Path
) -> None:
    """Shut in the evening: of departures alike in harm, the window recommends the one with the fewest hours shut."""
    window.open_demo(small_trip)
    window.document.edit_many(
        {
            ("window",): {"from": "2027-06-11T20:00", "to": "2027-06-12T08:00", "step_minutes": 360},
            ("closing",): {"rule": "clock", "clock": "19:00"},
            ("load",): window.document.get(("load",))[:1],
            ("vehicle", "places"): ["open_trailer"],
            ("tolerance",): {"harm_of_100": 50, "boxes_of_100": 50},
        }
    )
    settled(window)
    answer = window.session.answer
    hours = {c.leave_s: (c.open_s - c.shut_s) / 3600.0 for c in answer.candidates}
    assert len(hours) == 3
    assert max(hours.values()) > min(hours.values()) + 11.0
    alike = {c.leave_s for c in answer.candidates if c.harm_of_100.value == answer.best.harm_of_100.value}
    assert len(alike) > 1
    assert hours[answer.best.leave_s] == min(hours[leave_s] for leave_s in alike)
    assert "20:00" in window.answer_bar.headline.text()
    assert window.board.at[0] == 0


def test_every_figure_lies_within_what_is_told_beside_it(standing_run: Window) -> None:
    """A middle outside its own bracket costs all trust in the figures."""
    board = standing_run.board
    harm = re.compile(r"harm in (?:<)?(\d+) of 100 variants \((\d+) to (\d+)\)")
    headroom = re.compile(r"headroom (\S+) .*?\((\S+) / (\S+)\)")
    told = [
        board.spoken((departure, number))
        for number, row in enumerate(board.shown.rows)
        for departure in row.cells
    ]
    assert len(told) > 5
    for words in told:
        for kind in (harm, headroom):
            middle, low, high = map(float, kind.search(words).groups())
            assert low <= middle <= high or words.startswith("harm in <1"), words


def test_a_load_with_nothing_left_open_has_one_row_and_no_other_place_in_its_sentence(
    window: Window, settled, small_trip: Path
) -> None:
    """All pinned to one place, the sentence named another one, and the board offered them all."""
    window.open_demo(small_trip)
    editor = window.load_editor
    editor.groups.setCurrentIndex(editor.model.index(0, 5))
    editor.groups.paste_text("\n".join(["open trailer"] * len(editor.model.rows)))
    assert {row.get("place") for row in editor.model.rows} == {"open_trailer"}
    settled(window)
    assert [row.title for row in window.board.shown.rows] == ["Open trailer"]
    others = [title for title in window.session.answer.place_titles if title.lower() != "open trailer"]
    said = (
        window.answer_bar.headline.text(),
        window.candidates.shown.text(),
        window.curve_panel.title.text(),
    )
    assert not any(title.lower() in text.lower() for title in others for text in said)
