"""The whole window on real widgets: open, look, change, save; errors, cancel, odd nights and big loads."""

from __future__ import annotations

import copy
import errno
import os
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pypdf import PdfReader
from PySide6.QtCore import QCoreApplication, Qt, QTranslator
from PySide6.QtWidgets import QApplication, QMessageBox

from planner.app.common.executors import MOST_THREADS, places_of
from planner.errors import ServiceError
from planner.store.tripfile import read_draft
from planner.ui.look import strings as s
from planner.ui.look import theme
from planner.ui.output import Output
from planner.ui.window import Window
from planner.ui.work import session
from planner.ui.work.data_source import DataSource
from tests.ui.conftest import DEMOS, PATIENCE_MS


def small_draft() -> dict:
    """The smallest demo, as plain values to be changed."""
    return copy.deepcopy(read_draft(DEMOS / "swarm-run.toml"))


# -- the first look ----------------------------------------------------------------------------------


def test_the_first_page_offers_three_demos_and_opens_one_by_keyboard(window: Window, qtbot, settled) -> None:
    page = window.first_page
    cards = [page.demos.itemAt(i).widget() for i in range(page.demos.count())]
    assert len(cards) == 3
    card = next(card for card in cards if card.entry.path.stem == "swarm-run")
    card.setFocus()
    qtbot.keyClick(card, Qt.Key.Key_Return)
    settled(window)
    assert card.entry.title in window.windowTitle()


def test_no_panel_is_ever_empty_without_a_word(window: Window, qtbot) -> None:
    window.new_trip()
    for panel in (window.board_panel, window.curve_panel, window.ledger_panel):
        assert not panel.filled
        assert len(panel._guide.text()) > 20
        assert panel._guide.isVisible()


def test_an_opened_demo_shows_answer_board_curves_road_and_balance(standing_run: Window) -> None:
    window = standing_run
    assert window.answer_bar.headline.text() == window.session.answer.sentence
    for panel in (window.board_panel, window.curve_panel, window.ledger_panel, window.map_panel):
        assert panel.filled
        assert not panel.stale
    assert window.session.candidate is window.session.answer.best
    assert window.board.candidate(window.board.at) is window.session.candidate
    assert not window.document.dirty


# -- choosing ----------------------------------------------------------------------------------------


def other_cell(window: Window, departure: int) -> tuple[int, int]:
    """A cell of the board at this departure."""
    rows = window.board.shown.rows
    return next((departure, row) for row in range(len(rows)) if rows[row].at(departure) is not None)


def test_choosing_a_cell_draws_its_curves_and_keeps_one_time_cursor(swarm_run: Window, settled) -> None:
    window = swarm_run
    cell = other_cell(window, 3)
    window.board._take(cell)
    settled(window)
    assert window.session.candidate.key.departure == 3
    assert window.session.plan.departures_s[0] == window.session.candidate.leave_s
    assert window.candidates.back.isVisible()
    words = window.table.words(window.session.candidate)
    assert words in window.curve_panel.title.text()
    assert words in window.curves.candidate
    window.curves._go(float(window.curves.curves.time_s[30]))
    assert window.curves.cursor_s == window.strip.cursor_s == window.ledger.cursor_s == window.map.cursor_s
    window.candidates.back.click()
    settled(window)
    assert window.session.candidate is window.session.answer.best


def test_two_pinned_candidates_are_laid_over_each_other_with_one_sentence(swarm_run: Window, settled) -> None:
    window = swarm_run
    one, two = (window.board.candidate(other_cell(window, d)) for d in (1, 5))
    window.board.pinned.emit(one)
    window.board.pinned.emit(two)
    settled(window)
    assert window.session.pins == {"A": one, "B": two}
    assert len(window.curves.others) == 2
    assert window.session.verdict
    assert "A" in window.candidates.shown.text()
    assert window.candidates.shown.toolTip() == window.session.verdict.sentence
    assert [letter for letter, _ in window.map.ghosts] == ["A", "B"]
    assert {"core A", "core B", "core shown"} <= {name for _, name, _ in window.curves._names}, (
        "each line is named as its chip"
    )
    window.candidates.cross["B"].click()
    settled(window)
    assert list(window.session.pins) == ["A"]
    assert window.session.verdict is None
    names = {name for _, name, _ in window.curves._names}
    assert "core A" in names
    assert "core B" not in names


def test_a_choice_by_hand_survives_a_new_answer(swarm_run: Window, settled) -> None:
    window = swarm_run
    window.board._take(other_cell(window, 4))
    settled(window)
    before = window.session.candidate
    window.document.edit(("load", 0, "bees_kg"), 1.0)
    settled(window)
    now = window.session.candidate
    assert (now.leave_s, now.place, now.setup) == (before.leave_s, before.place, before.setup)


def test_the_trip_plays_and_ends_where_it_ends(swarm_run: Window, qtbot) -> None:
    window = swarm_run
    curves = window.curves.curves
    window.set_cursor(float(curves.time_s[-40]))
    window.plan_view.play.click()
    before = window.curves.cursor_s
    qtbot.waitUntil(lambda: window.map.cursor_s > before, timeout=PATIENCE_MS)
    qtbot.waitUntil(lambda: not window.plan_view.play.isChecked(), timeout=PATIENCE_MS)
    assert window.curves.cursor_s == window.map.cursor_s == float(curves.time_s[-1])


# -- changing ----------------------------------------------------------------------------------------


def test_a_slider_moved_dims_redraws_and_can_be_undone(swarm_run: Window, qtbot, settled) -> None:
    window = swarm_run
    window.load_editor.choose(0)
    settled(window)
    before = window.curves.curves.core_c.copy()
    slider = window.load_editor.box.bees_kg.slider
    slider.setValue(slider.value() - 12)
    assert window.document.dirty
    qtbot.waitUntil(lambda: window.board_panel.stale, timeout=PATIENCE_MS)
    assert window.answer_bar.stale
    settled(window)
    assert not np.array_equal(before, window.curves.curves.core_c, equal_nan=True)
    assert not window.answer_bar.stale
    window.document.stack.undo()
    settled(window)
    assert np.allclose(before, window.curves.curves.core_c, equal_nan=True)
    assert not window.document.dirty


def test_stops_can_be_added_moved_and_removed_by_their_buttons(swarm_run: Window) -> None:
    window = swarm_run
    pane = window.route_pane
    names = lambda: [stop["name"] for stop in window.document.get(("stops",))]  # noqa: E731
    first = names()
    pane.stops.setCurrentIndex(pane.model.index(0, 0))
    pane.down.click()
    assert names() == [first[1], first[0], *first[2:]]
    pane.add.click()
    assert len(names()) == len(first) + 1
    pane.model.remove([len(first)], "")
    assert len(names()) == len(first)
    for _ in range(3):
        window.document.stack.undo()
    assert names() == first
    assert "road" in window.document.draft


def test_boxes_dropped_on_a_place_ride_there(swarm_run: Window) -> None:
    window = swarm_run
    drawing = window.load_editor.vehicle.drawing
    drawing.dropped.emit([2], drawing.vehicle.zones[0].name)
    place = window.document.get(("load", 2, "place"))
    assert place in window.document.get(("vehicle", "places"))
    assert any(seat.pinned for seat in drawing.seated)


def test_groups_are_added_copied_and_removed(swarm_run: Window) -> None:
    editor = swarm_run.load_editor
    count = len(editor.model.rows)
    editor.add.click()
    assert (len(editor.model.rows), editor.index) == (count + 1, count)
    editor.copy.click()
    assert editor.index == count + 1
    editor.remove.click()
    editor.remove.click()
    assert len(editor.model.rows) == count


# -- faults beside their fields ------------------------------------------------------------------------


FAULTS = [
    (("title",), "", "title"),
    (("origin",), {"name": "Nowhere"}, "origin"),
    (("destination", "lat"), 91.0, "destination"),
    (("stops", 1, "name"), "", "stops"),
    (("window", "to"), "2020-01-01T00:00", "last|first"),
    (("load", 0, "bees_kg"), -1.0, "bees_kg"),
    (("load", 0, "box_type"), "no_such_box", "kind"),
    (("load", 0, "label"), "", "label_field"),
    (("vehicle", "places"), ["no_such_place"], "places_fault"),
]


def test_every_fault_stands_beside_its_field(swarm_run: Window, qtbot) -> None:
    """One after the other in one window, each undone before the next."""
    window = swarm_run
    pane, load, when = window.route_pane, window.load_editor, window.when_pane
    for spot, value, field in FAULTS:
        window.document.edit(spot, value)
        qtbot.waitUntil(lambda: bool(window.faults), timeout=PATIENCE_MS)
        shown = [f for f in (*pane.fields, *load.fields, *when.fields) if f.fault.text()]
        if field == "stops":
            assert pane.stops_fault.text()
            assert (1, "name") in pane.model.marks.faults
        else:
            owners = (pane, load.box, load.vehicle, load, when)
            names = field.split("|")
            wanted = [getattr(owner, name) for owner in owners for name in names if hasattr(owner, name)]
            assert any(f in wanted for f in shown), (spot, [(f.field, f.problem) for f in window.faults])
        assert window.board_panel.stale, spot
        window.document.stack.undo()
        qtbot.waitUntil(lambda: not window.faults, timeout=PATIENCE_MS)
        assert not any(f.fault.text() for f in shown), spot


def test_a_new_trip_is_asked_for_one_thing_after_the_other_and_never_blamed(window: Window, qtbot) -> None:
    window.new_trip()
    said = window.answer_bar.headline.text
    qtbot.waitUntil(lambda: said() == s.UNSAID["origin"], timeout=PATIENCE_MS)
    window.document.edit(("origin",), {"name": "a", "lat": 52.0, "lon": -1.0})
    qtbot.waitUntil(lambda: said() == s.UNSAID["destination"], timeout=PATIENCE_MS)
    window.document.edit(("destination",), {"name": "b", "lat": 52.5, "lon": -1.0})
    qtbot.waitUntil(lambda: said() == s.UNSAID["load"], timeout=PATIENCE_MS)
    every = (*window.route_pane.fields, *window.load_editor.fields, *window.when_pane.fields)
    assert not any(field.fault.text() for field in every)


# -- services that fail, work that is stopped ------------------------------------------------------------


class DeadNetwork(DataSource):
    def gather(self, *_, **__):
        raise ServiceError(
            "roads.example", "it cannot be reached", "Check the network, or give the trip its own road"
        )


def test_a_dead_network_is_said_and_can_be_tried_again(open_window, qtbot) -> None:
    window = open_window(DeadNetwork())
    window.open_demo(DEMOS / "swarm-run.toml")
    qtbot.waitUntil(window.notice.isVisible, timeout=PATIENCE_MS)
    assert "roads.example" in window.notice.words.text()
    assert "Check the network" in window.notice.words.text()
    window.data_source.__class__ = DataSource
    window.notice.buttons[-2].click()
    qtbot.waitUntil(lambda: window.session.answer is not None, timeout=PATIENCE_MS)
    assert not window.notice.isVisible()


@pytest.mark.usefixtures("anew")
def test_work_can_be_stopped_and_started_again(window: Window, qtbot) -> None:
    window.open_demo(DEMOS / "night-pollination.toml")
    qtbot.waitUntil(
        lambda: window.answer_bar.stop.isVisible() and window.runner.busy("plan"), timeout=PATIENCE_MS
    )
    window.session.faults_found.emit(())  # the road came, and nothing is wrong: the work still goes on
    assert window.answer_bar.headline.text() == s.say(s.ANSWER_WORKING)
    window.answer_bar.stop.click()
    assert not window.runner.busy("plan")
    window.session.faults_found.emit(())  # what was under way may still tell that nothing is wrong
    qtbot.wait(300)
    assert window.session.answer is None
    assert "Stopped" in window.answer_bar.headline.text()
    assert not window.answer_bar.progress.isVisible()
    window.session.again()
    qtbot.waitUntil(window.answer_bar.progress.isVisible, timeout=PATIENCE_MS)
    assert window.runner.busy("plan")
    window.answer_bar.stop.click()


def test_an_answer_is_worked_out_by_every_processor(
    window: Window, settled, small_trip: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    handed: list[int | None] = []

    def asked(*args: Any, **more: Any) -> Any:
        handed.append(places_of(more["executor"]))
        return ask(*args, **more)

    ask = session.ask
    monkeypatch.setattr(session, "ask", asked)
    window.open_demo(small_trip)
    settled(window)
    assert handed == [min(MOST_THREADS, os.cpu_count() or 1)]


@pytest.mark.usefixtures("anew")
def test_closing_in_the_middle_of_work_waits_for_it(open_window, qtbot) -> None:
    window = open_window()
    window.open_demo(DEMOS / "night-pollination.toml")
    qtbot.waitUntil(lambda: window.runner.busy("plan"), timeout=PATIENCE_MS)
    window._asked_to_close = True
    window.close()
    assert window.runner._pool.activeThreadCount() == 0


# -- files -------------------------------------------------------------------------------------------


def test_a_saved_trip_opens_again_as_it_was(open_window, settled, small_trip: Path, tmp_path: Path) -> None:
    window = open_window()
    window.open_demo(small_trip)
    settled(window)
    window.document.edit(("title",), "Saved run")
    path = tmp_path / "saved" / "run.toml"
    path.parent.mkdir()
    assert window.files.save_to(path)
    assert not window.document.dirty
    assert tomllib.loads(path.read_text())["title"] == "Saved run"
    other = open_window()
    assert [entry.title for entry in _recent(other)] == ["Saved run"]
    other.open_trip(path)
    settled(other)
    assert other.document.draft == window.document.draft


def _recent(window: Window):
    layout = window.first_page.recent
    return [layout.itemAt(i).widget().entry for i in range(layout.count())]


def test_leaving_unsaved_changes_asks_first(swarm_run: Window, monkeypatch: pytest.MonkeyPatch) -> None:
    window = swarm_run
    window.document.edit(("title",), "x")
    asked = []
    monkeypatch.setattr(
        QMessageBox, "question", lambda *a, **k: asked.append(a[2]) or QMessageBox.StandardButton.Cancel
    )
    window.new_trip()
    assert len(asked) == 1
    assert window.document.get(("title",)) == "x"


def test_a_file_that_is_no_trip_is_explained(
    window: Window, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    said = []
    monkeypatch.setattr(QMessageBox, "warning", lambda *a, **k: said.append(a[2]))
    bad = tmp_path / "bad.toml"
    bad.write_bytes(b"\x00\xff not a trip")
    window.open_trip(bad)
    assert "bad.toml" in said[0]
    assert window.pages.currentIndex() == 0


def test_the_view_becomes_a_pdf(standing_run: Window, tmp_path: Path) -> None:
    standing_run.output.write_pdf(tmp_path / "view.pdf")
    data = (tmp_path / "view.pdf").read_bytes()
    assert data[:5] == b"%PDF-"
    assert len(data) > 20_000
    assert len(PdfReader(tmp_path / "view.pdf").pages) == 2
    assert "Weather:" in PdfReader(tmp_path / "view.pdf").pages[0].extract_text()


def test_paper_takes_no_finer_pictures_than_eyes_see(
    standing_run: Window, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A printer's own 1200 dots to the inch made ten megabytes out of two pages."""
    from PySide6.QtPrintSupport import QPrintDialog, QPrinter

    def accept(dialog: QPrintDialog) -> bool:
        dialog.printer().setOutputFormat(QPrinter.OutputFormat.PdfFormat)
        dialog.printer().setOutputFileName(str(tmp_path / "printed.pdf"))
        return True

    monkeypatch.setattr(QPrintDialog, "exec", accept)
    standing_run.output.print_view()
    assert len(PdfReader(tmp_path / "printed.pdf").pages) == 2
    assert (tmp_path / "printed.pdf").stat().st_size < 3_000_000


def test_the_whole_board_is_printed_whatever_part_of_it_the_screen_shows(standing_run: Window) -> None:
    """The printed page once showed the cells in sight, with the bars to scroll by."""
    (printed,), *_ = standing_run.plan_view.paper()[0]
    board = printed.body
    assert board.shown is standing_run.board.shown
    for row in range(len(board.shown.rows)):
        for departure in range(len(board.shown.departures_s)):
            assert board.laid.field.adjusted(-1, -1, 1, 1).contains(board._box((departure, row)))
    assert board.at == standing_run.board.at


@pytest.mark.parametrize("what", ["pdf", "png", "svg", "csv"])
def test_an_export_that_finds_no_room_is_told_and_leaves_the_old_file(
    standing_run: Window, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, what: str
) -> None:
    said: list[str] = []
    monkeypatch.setattr(QMessageBox, "warning", lambda *a, **k: said.append(a[2]))
    path = tmp_path / f"view.{what}"
    path.write_text("old")
    output = standing_run.output
    with monkeypatch.context() as full:
        full.setattr("planner.files.os.fsync", _no_room)
        _exported(output, what, path)
    assert path.read_text() == "old"
    assert "No space left" in said[0]
    assert str(path) in said[0]
    _exported(output, what, path)
    assert len(said) == 1
    assert path.stat().st_size > 500
    assert [other.name for other in tmp_path.glob("*.skepway-part")] == []


def _no_room(_: int) -> None:
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def _exported(output: Output, what: str, path: Path) -> None:
    if what == "pdf":
        output.write_pdf(path)
    else:
        output._write(path, getattr(output.curves, f"export_{what}"))


# -- looks -------------------------------------------------------------------------------------------


def test_units_change_everywhere_at_once(swarm_run: Window) -> None:
    window = swarm_run
    assert "°C" in window.answer_bar.headroom.value.text()
    window.looks.set_units("us")
    assert "°F" in window.answer_bar.headroom.value.text()
    assert "°F" in window.board.accessibleDescription()
    assert "°F" in window.strip.accessibleDescription()
    assert " ft" in window.strip.accessibleDescription()
    assert window.session.answer.sentence == window.answer_bar.headline.text()


@pytest.mark.parametrize("name", ["dark", "night"])
def test_palettes_reach_the_painted_panels(swarm_run: Window, name: str) -> None:
    swarm_run.looks.set_theme(name)
    QApplication.processEvents()
    picture = swarm_run.curves.grab().toImage()
    along = [picture.pixelColor(x, 12).lightness() for x in range(60, picture.width() - 20)]
    assert np.median(along) < 60  # words stand here and there, the ground shows between them
    if name == "night":
        shot = swarm_run.grab().toImage().scaled(160, 100)
        cool = [shot.pixelColor(x, y) for x in range(160) for y in range(100)]
        assert all(c.blue() <= c.red() + 4 and c.green() <= c.red() + 4 for c in cool), (
            "no light but red at night"
        )


def test_larger_type_enlarges_every_word_and_fits(swarm_run: Window) -> None:
    before = swarm_run.answer_bar.why.fontMetrics().height()
    swarm_run.looks.scale_type(1.5)
    QApplication.processEvents()
    assert swarm_run.answer_bar.why.fontMetrics().height() > before * 1.25
    assert theme.stage.scale == pytest.approx(1.5)


def test_every_control_has_a_name_for_screen_readers(standing_run: Window) -> None:
    from PySide6.QtWidgets import QAbstractButton, QAbstractSpinBox, QComboBox, QLineEdit, QSlider

    nameless = []
    for kind in (QAbstractButton, QAbstractSpinBox, QComboBox, QSlider, QLineEdit):
        for part in standing_run.pages.findChildren(kind):
            inner = isinstance(part.parent(), QAbstractSpinBox | QComboBox) or part.objectName().startswith(
                "qt_"
            )
            words = part.accessibleName() or (part.text() if isinstance(part, QAbstractButton) else "")
            if not words and not inner and part.isVisibleTo(part.parentWidget()):
                nameless.append((kind.__name__, part.parent().__class__.__name__, part.toolTip()))
    assert not nameless


def test_a_translation_reaches_the_window(open_window, qapp) -> None:
    class Shouting(QTranslator):
        def translate(self, context, text, *_):
            return text.upper() if context == "Skepway" else ""

        def isEmpty(self):
            return False

    shouting = Shouting()
    QCoreApplication.installTranslator(shouting)
    try:
        window = open_window()
        assert window.first_page.new.text() == s.FIRST_NEW.upper()
        assert window.board_panel.title.text() == s.BOARD_TITLE.upper()
    finally:
        QCoreApplication.removeTranslator(shouting)


# -- odd nights and big loads --------------------------------------------------------------------------


def _open(window: Window, draft: dict) -> None:
    window.files.open_draft(draft, None, DEMOS)


def _own_weather(draft: dict, days: list[str]) -> None:
    names = [draft["origin"]["name"], draft["destination"]["name"]]
    draft["weather"] = {
        "source": "own",
        "own": [
            {"place": name, "date": day, "dawn_low_c": 6, "afternoon_high_c": 14, "dew_point_c": 5}
            for day in days
            for name in names
        ],
    }


def test_the_night_the_clocks_go_back_shows_one_hour_twice(window: Window, settled) -> None:
    draft = small_draft()
    draft["window"] = {"from": "2027-10-30T22:00", "to": "2027-10-31T05:00", "step_minutes": 60}
    draft["arrival"] = {}
    _own_weather(draft, ["2027-10-29", "2027-10-30", "2027-10-31", "2027-11-01"])
    _open(window, draft)
    settled(window)
    departures = window.session.answer.departures_s
    assert len(departures) == 9, "seven hours on the clock are eight hours of night"
    assert np.all(np.diff(departures) == 3600)


def test_an_hour_that_does_not_exist_is_a_fault_beside_the_field(window: Window, qtbot) -> None:
    draft = small_draft()
    draft["window"] = {"from": "2027-03-28T02:30", "to": "2027-03-28T05:00", "step_minutes": 60}
    _open(window, draft)
    qtbot.waitUntil(lambda: bool(window.when_pane.first.fault.text()), timeout=PATIENCE_MS)
    assert "mending" in window.notice.words.text()


def test_four_hundred_boxes_in_one_group(window: Window, settled) -> None:
    draft = small_draft()
    nuclei = {**draft["load"][0], "count": 400}
    nuclei.pop("place", None)
    draft["load"], draft["vehicle"]["places"] = [nuclei], ["flatbed_inner", "flatbed_outer_shade_lee"]
    draft["window"]["step_minutes"] = 180
    _open(window, draft)
    settled(window)
    assert window.load_editor.model.rows[0]["count"] == 400
    window.steps.turn(1)
    QApplication.processEvents()
    assert not window.load_editor.vehicle.drawing.grab().isNull()


def test_thirty_stops_are_listed_and_drawn(window: Window, settled) -> None:
    draft = small_draft()
    start, end = draft["origin"], draft["destination"]
    draft.pop("road", None)
    draft["stops"] = [
        {
            "name": f"Garden {i + 1}",
            "purpose": "rest",
            "dwell_minutes": 5,
            "lat": start["lat"] + (end["lat"] - start["lat"]) * (i + 1) / 31,
            "lon": start["lon"] + 0.3 * np.sin(i / 4).item(),
        }
        for i in range(30)
    ]
    places = [start, *draft["stops"], end]
    legs = [{"km": 60.0, "minutes": 50.0} for _ in places[1:]]
    draft["road"] = {"legs": legs}
    draft["load"] = [{**draft["load"][0], "loaded_at": 0}]
    draft["window"] = {"from": "2027-05-30T12:00", "to": "2027-05-30T18:00", "step_minutes": 120}
    draft["arrival"] = {}
    _own_weather(draft, ["2027-05-29", "2027-05-30", "2027-05-31", "2027-06-01"])
    _open(window, draft)
    settled(window)
    assert len(window.route_pane.model.rows) == 30
    assert len(window.map.waypoints) == 32
