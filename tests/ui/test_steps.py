"""The three steps on real widgets: what a hand enters is what the draft says, and no way leads to a dead end."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, QPointF, QRect, Qt
from PySide6.QtGui import QGuiApplication, QWheelEvent
from PySide6.QtWidgets import (
    QApplication,
    QLabel,
    QLineEdit,
    QScrollArea,
    QSlider,
    QStyle,
    QTableView,
    QWidget,
)

from planner.errors import Fault, ServiceError
from planner.store.tripfile import faults, read_draft
from planner.ui.look import strings as s
from planner.ui.look import theme
from planner.ui.look.panel import Panel, ShortText
from planner.ui.steps.cells import ChoiceLine
from planner.ui.steps.page import Page
from planner.ui.steps.steps import LEAST_LINES, Steps
from planner.ui.trip import edits, moments
from planner.ui.trip.fields import Field
from planner.ui.trip.preferences import Preferences
from planner.ui.trip.tables import number_in
from planner.ui.troubles import things
from planner.ui.window import Window
from planner.ui.work.data_source import DataSource
from tests.ui.conftest import DEMOS, PATIENCE_MS, in_light

A, B = (
    {"name": "Alder yard", "lat": 52.10, "lon": -2.20, "zone": "Europe/London"},
    {"name": "Birch yard", "lat": 52.30, "lon": -2.40, "zone": "Europe/London"},
)


class NoRoads(DataSource):
    """Nothing outside answers; places are still found."""

    def gather(self, *_, **__):
        raise ServiceError("roads.example", "it cannot be reached", "Check that you are online")


@pytest.fixture(scope="module")
def one_window(qapp, catalogue, tmp_path_factory) -> Iterator[Window]:
    """One window without services for all tests here: each opens a new trip in it."""
    folder = tmp_path_factory.mktemp("steps")
    in_light(qapp)
    with theme.dressed_once(qapp):
        preferences = Preferences.load(folder / "window.json")
        window = Window(catalogue, NoRoads(), preferences, folder / "recovery")
    window.show()
    yield window
    window._asked_to_close = True
    window.close()
    window.deleteLater()


@pytest.fixture
def blank(one_window: Window, qtbot) -> Window:
    """A new trip in a window without services, which has the keyboard."""
    window = one_window
    window.resize(1280, 800)
    window.document.stack.setClean()
    window.document.recovered = False
    window.new_trip()
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow, timeout=PATIENCE_MS)
    return window


@pytest.fixture
def filled(blank: Window) -> Window:
    blank.document.edit_many({("origin",): A, ("destination",): B})
    blank.load_editor.add.click()
    return blank


def pick(field: Field, value) -> None:
    """Choose from a list as a hand does."""
    field.box.setCurrentIndex(field.box.findData(value))
    field.box.activated.emit(field.box.currentIndex())


def type_into(field: Field, text: str, qtbot) -> None:
    field.box.setFocus()
    field.box.selectAll()
    qtbot.keyClicks(field.box, text)
    qtbot.keyClick(field.box, Qt.Key.Key_Tab)


def wheel_over(widget: QWidget) -> None:
    at = QPointF(widget.rect().center())
    event = QWheelEvent(
        at,
        widget.mapToGlobal(at),
        QPoint(0, 0),
        QPoint(0, 120),
        Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(widget, event)


# -- closing ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("rule", list(s.CLOSINGS))
def test_every_closing_rule_of_a_new_trip_is_without_fault(filled: Window, rule: str) -> None:
    """Each rule takes its own figures along and leaves those of the others behind."""
    pane = filled.when_pane
    for other in s.CLOSINGS:
        pick(pane.rule, other)
        pick(pane.rule, rule)
        found = faults(filled.document.draft, filled.session.catalogue)
        assert [fault for fault in found if fault.field.startswith("closing")] == []
    shown = [field for field in (pane.delay, pane.clock) if field.isVisibleTo(pane)]
    assert len(shown) == (rule in edits.RULE_NEEDS)


def test_the_clock_time_shown_is_the_one_planned_with(filled: Window, qtbot) -> None:
    filled.steps.turn(2)
    pane = filled.when_pane
    pick(pane.rule, "clock")
    assert pane.clock.box.text() == filled.document.get(("closing", "clock")) == "21:00"
    type_into(pane.clock, "21:00", qtbot)
    assert filled.document.get(("closing", "clock")) == "21:00"
    type_into(pane.clock, "5.15", qtbot)
    assert filled.document.get(("closing", "clock")) == "05:15"


def test_a_rule_come_back_to_finds_its_figure_again(filled: Window) -> None:
    pane = filled.when_pane
    filled.document.edit(("closing", "delay_minutes"), 40)
    pick(pane.rule, "at_loading")
    assert filled.document.get(("closing",)) == {"rule": "at_loading"}
    pick(pane.rule, "after_sunset")
    assert filled.document.get(("closing",)) == {"rule": "after_sunset", "delay_minutes": 40}


def test_a_figure_of_another_rule_in_a_file_is_in_sight(filled: Window) -> None:
    filled.document.edit(("closing",), {"rule": "at_loading", "delay_minutes": 15})
    filled.steps.turn(2)
    assert filled.when_pane.delay.isVisibleTo(filled.when_pane)


# -- groups -------------------------------------------------------------------------------------------


def test_added_copied_and_pasted_groups_bear_names_of_their_own(filled: Window) -> None:
    editor = filled.load_editor
    editor.add.click()
    editor.copy.click()
    editor.groups.paste_text("nucs\t3\t4\nnucs\t2\t3")
    labels = [group["label"] for group in filled.document.get(("load",))]
    assert len(set(labels)) == len(labels)
    assert "nucs 2" in labels
    assert not [f for f in faults(filled.document.draft, filled.session.catalogue) if "label" in f.field]


def test_a_table_pasted_from_a_spreadsheet_becomes_groups(filled: Window) -> None:
    editor = filled.load_editor
    editor.groups.setCurrentIndex(editor.model.index(0, 0))
    editor.groups.paste_text("Strong\t5\t5\nMiddling\t4\t3.5\nWeak\t3\t2")
    held = filled.document.get(("load",))
    assert [(g["label"], g["count"], g["frames_of_bees"]) for g in held] == [
        ("Strong", 5, 5.0),
        ("Middling", 4, 3.5),
        ("Weak", 3, 2.0),
    ]
    filled.document.stack.undo()
    assert len(filled.document.get(("load",))) == 1


def test_groups_pasted_by_the_names_of_the_stops_are_loaded_there(filled: Window) -> None:
    """Eight addresses and eight boxes: each had to be given its stop by hand."""
    stops = [
        {**A, "name": name, "purpose": why}
        for name, why in (("Clun", "load"), ("Knighton", "load"), ("Inn", "rest"))
    ]
    filled.document.edit(("stops",), stops)
    editor = filled.load_editor
    assert not editor.on_the_way.isVisibleTo(editor)
    editor.groups.setCurrentIndex(editor.model.index(0, 0))
    editor.groups.paste_text("clun\t1\t4\nKnighton\t1\t4\nInn\t1\t4")
    assert [group.get("loaded_at") for group in filled.document.get(("load",))] == ["Clun", "Knighton", None]
    assert editor.on_the_way.isVisibleTo(editor)
    assert "2 groups" in editor.on_the_way.text()


def test_after_a_paste_by_keys_what_is_typed_goes_into_one_row(filled: Window, qtbot) -> None:
    """With Ctrl still held for the paste, the row gone to was added to the rows chosen: both were changed."""
    filled.steps.turn(1)
    editor, table = filled.load_editor, filled.load_editor.groups
    qtbot.waitUntil(table.viewport().isVisible, timeout=PATIENCE_MS)
    qtbot.mouseClick(
        table.viewport(), Qt.MouseButton.LeftButton, pos=table.visualRect(editor.model.index(0, 0)).center()
    )
    QGuiApplication.clipboard().setText("Strong\t4\t5\nMiddling\t4\t3.5\nWeak\t4\t2")
    qtbot.keyClick(table, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    assert len(table.chosen_rows()) == 1
    editor.model.setData(editor.model.index(table.currentIndex().row(), 1), "7")
    assert sorted(group["count"] for group in filled.document.get(("load",))) == [4, 4, 7]


def test_several_rows_are_set_at_once_and_filled_down(filled: Window, qtbot) -> None:
    editor, table = filled.load_editor, filled.load_editor.groups
    table.paste_text("a\t5\nb\t4\nc\t3")
    filled.steps.turn(1)
    table.clearSelection()
    table.setCurrentIndex(editor.model.index(0, 1))
    for row in range(3):
        table.selectionModel().select(editor.model.index(row, 1), table.selectionModel().SelectionFlag.Select)
    editor.model.setData(editor.model.index(1, 1), "7")
    assert [g["count"] for g in filled.document.get(("load",))] == [7, 7, 7]
    editor.model.setData(editor.model.index(0, 2), "2")
    table.clearSelection()
    for row in range(3):
        table.selectionModel().select(editor.model.index(row, 2), table.selectionModel().SelectionFlag.Select)
    qtbot.keyClick(table, Qt.Key.Key_D, Qt.KeyboardModifier.ControlModifier)
    assert len({g["frames_of_bees"] for g in filled.document.get(("load",))}) == 1


# -- the vehicle ----------------------------------------------------------------------------------------


def test_two_at_the_wheel_are_told_where_the_vehicle_is_chosen(filled: Window, qtbot) -> None:
    """Only the trip file could say it: the window put a night's rest into every long way."""
    window, vehicle = filled, filled.load_editor.vehicle
    window.steps.turn(1)
    box = vehicle.drivers.box
    assert box.currentText() == "one driver"
    box.setFocus()
    qtbot.keyClick(box, Qt.Key.Key_Down)
    assert window.document.get(("vehicle", "drivers")) == 2
    assert box.currentText() == "two who take turns"
    assert window.session._freeze().draft["vehicle"]["drivers"] == 2
    other = vehicle.vehicle.findData("pickup")
    vehicle.vehicle.setCurrentIndex(other)
    vehicle.vehicle.activated.emit(other)
    assert window.document.get(("vehicle", "drivers")) == 2, "who drives does not hang on what is driven"
    while window.document.get(("vehicle", "drivers")) is not None:
        window.document.stack.undo()
    assert box.currentText() == "one driver"


def test_what_is_wrong_with_who_drives_stands_beside_it(filled: Window) -> None:
    window, vehicle = filled, filled.load_editor.vehicle
    window.document.edit(("vehicle", "drivers"), 3)
    window.troubles.show(faults(window.document.draft, window.session.catalogue))
    assert vehicle.drivers.fault.text()
    assert vehicle.places_fault.fault.text() == ""
    assert vehicle.drivers.box.placeholderText() == "3"


# -- stops and what names them -------------------------------------------------------------------------


def swarm(window: Window) -> Window:
    window.files.open_draft(read_draft(DEMOS / "swarm-run.toml"), None, DEMOS)
    return window


def meant(window: Window, row: int, key: str) -> str:
    """The name of the place a group means, whether it says its name or its number."""
    draft = window.document.draft
    number = edits.waypoint_number(draft, draft["load"][row].get(key, 0), late=key == "unloaded_at")
    return edits.waypoints(draft)[number]["name"]


@pytest.mark.parametrize("said", ["name", "number"])
def test_a_stop_moved_keeps_its_boxes(blank: Window, said: str) -> None:
    window = swarm(blank)
    stops = window.document.get(("stops",))
    window.document.edit(("load", 0, "loaded_at"), stops[0]["name"] if said == "name" else 1)
    name = stops[0]["name"]
    pane = window.route_pane
    pane.stops.setCurrentIndex(pane.model.index(0, 0))
    pane.down.click()
    assert window.document.get(("stops", 1, "name")) == name
    assert meant(window, 0, "loaded_at") == name
    window.document.stack.undo()
    assert window.document.get(("stops", 0, "name")) == name
    assert meant(window, 0, "loaded_at") == name


def test_a_stop_removed_or_renamed_leaves_no_box_at_another(blank: Window) -> None:
    window = swarm(blank)
    window.document.edit(("load", 1, "loaded_at"), 2)
    second = window.document.get(("stops", 1, "name"))
    pane = window.route_pane
    pane.model.remove([0], "")
    assert meant(window, 1, "loaded_at") == second
    window.document.edit(("load", 1, "loaded_at"), second)
    pane.put_place(0, {**A, "name": "Renamed"})
    assert meant(window, 1, "loaded_at") == "Renamed"
    pane.model.remove([0], "")
    assert "loaded_at" not in window.document.get(("load", 1))


def test_loaded_at_is_shown_for_names_and_for_numbers(blank: Window) -> None:
    window = swarm(blank)
    for row, group in enumerate(window.document.get(("load",))):
        window.load_editor.choose(row)
        box = window.load_editor.box.boards.box
        assert box.currentText() == meant(window, row, "loaded_at"), group


def test_a_stop_just_added_is_no_fault_and_the_rest_is_worked_out(filled: Window, qtbot) -> None:
    filled.route_pane.add.click()
    assert len(filled.document.get(("stops",))) == 1
    frozen = filled.session._freeze().draft
    assert frozen.get("stops") == []
    assert faults(frozen, filled.session.catalogue) == ()
    filled.troubles.show(faults(filled.document.draft, filled.session.catalogue))
    assert filled.faults == ()
    assert filled.route_pane.stops_fault.text() == ""


def test_addresses_pasted_become_stops_each_put_on_the_map(blank: Window, qtbot) -> None:
    blank.document.edit_many({("origin",): A, ("destination",): B})
    QGuiApplication.clipboard().setText("Ludlow\nKidderminster\nBromyard\nNowhere-at-all-xyz")
    blank.route_pane.paste.click()
    qtbot.waitUntil(lambda: "lat" in blank.document.get(("stops", 2)), timeout=PATIENCE_MS)
    stops = blank.document.get(("stops",))
    assert all(abs(stop["lat"] - 52.3) < 0.5 for stop in stops[:3]), "near the two ends, not across the sea"
    assert "lat" not in stops[3]


def test_an_address_nobody_knows_is_told_as_that(blank: Window, qtbot) -> None:
    field = blank.route_pane.origin
    type_into(field, "12 Qzxv Lane, Xyzzy", qtbot)
    qtbot.waitUntil(lambda: bool(field.fault.text()), timeout=PATIENCE_MS)
    assert "12 Qzxv Lane" in field.fault.text()
    assert "degrees" not in field.fault.text()
    assert blank.troubles.first_words() == field.fault.text(), "and so on top, once nothing else is missing"


# -- the wheel, undo, dates -----------------------------------------------------------------------------


def test_the_wheel_changes_nothing_even_where_the_keyboard_is(filled: Window) -> None:
    filled.steps.turn(1)
    before = edits.copied(filled.document.draft)
    for field in (*filled.load_editor.fields, *filled.when_pane.fields, *filled.route_pane.fields):
        for part in (field.editor, *field.editor.findChildren(QSlider)):
            part.setFocus()
            wheel_over(part)
    assert filled.document.draft == before


def test_undo_works_where_the_keyboard_is_and_never_stops_at_half_a_number(filled: Window, qtbot) -> None:
    filled.steps.turn(1)
    box = filled.load_editor.box
    type_into(box.count, "28", qtbot)
    assert filled.document.get(("load", 0, "count")) == 28
    box.count.box.setFocus()
    qtbot.keyClick(box.count.box, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert filled.document.get(("load", 0, "count")) == 4
    qtbot.keyClick(
        box.count.box, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier
    )
    assert filled.document.get(("load", 0, "count")) == 28


def test_half_a_number_is_not_planned_with(filled: Window, qtbot) -> None:
    filled.steps.turn(1)
    count = filled.load_editor.box.count
    count.box.setFocus()
    count.box.selectAll()
    qtbot.keyClicks(count.box, "28")
    assert filled.document.get(("load", 0, "count")) == 4
    qtbot.keyClick(count.box, Qt.Key.Key_Return)
    assert filled.document.get(("load", 0, "count")) == 28


def test_what_is_typed_and_not_yet_left_is_saved(filled: Window, qtbot, tmp_path: Path) -> None:
    filled.steps.turn(1)
    count = filled.load_editor.box.count
    count.box.setFocus()
    count.box.selectAll()
    qtbot.keyClicks(count.box, "9")
    assert filled.files.save_to(tmp_path / "t.trip.toml")
    assert read_draft(tmp_path / "t.trip.toml")["load"][0]["count"] == 9


NEAR = datetime(2026, 11, 27, 18, 0)


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("Sat 28 Nov 2026  06:00", datetime(2026, 11, 28, 6, 0)),
        ("2026-11-28T06:00", datetime(2026, 11, 28, 6, 0)),
        ("28.11.2026 6:05", datetime(2026, 11, 28, 6, 5)),
        ("28/11 20.30", datetime(2026, 11, 28, 20, 30)),
        ("Nov 28 9pm", datetime(2026, 11, 28, 21, 0)),
        ("sat 20:30", datetime(2026, 11, 28, 20, 30)),
        ("3 Jan", datetime(2027, 1, 3, 18, 0)),
        ("6", datetime(2026, 11, 27, 6, 0)),
        ("some day", None),
        ("31 Feb 06:00", None),
    ],
)
def test_days_and_times_are_read_as_people_write_them(text: str, meant: datetime | None) -> None:
    assert moments.read_moment(text, NEAR) == meant


def test_a_date_typed_as_it_is_shown_stays_what_it_says(filled: Window, qtbot) -> None:
    filled.steps.turn(2)
    pane = filled.when_pane
    type_into(pane.last, "Sat 28 Nov 2026  12:00", qtbot)
    type_into(pane.first, "Sat 28 Nov 2026  06:00", qtbot)
    assert filled.document.get(("window", "from")) == "2026-11-28T06:00"
    assert moments.read_moment(moments.written(NEAR), datetime(2000, 1, 1)) == NEAR


def test_a_day_is_taken_from_the_calendar_by_mouse_and_by_keys_and_keeps_its_hour(
    filled: Window, qtbot
) -> None:
    filled.document.edit(
        ("window",), {"from": "2026-11-27T18:30", "to": "2026-11-29T06:00", "step_minutes": 30}
    )
    filled.steps.turn(2)
    field = filled.when_pane.first
    begins = partial(filled.document.get, ("window", "from"))
    qtbot.mouseClick(field.box.opener, Qt.MouseButton.LeftButton)
    days = field.box.calendar.findChild(QTableView)
    qtbot.waitUntil(days.isVisible, timeout=PATIENCE_MS)
    cells = [days.model().index(row, column) for row in range(1, 7) for column in range(8)]
    wanted = [cell for cell in cells if cell.data() == 28][-1]  # the one before may be that of October
    qtbot.mouseClick(days.viewport(), Qt.MouseButton.LeftButton, pos=days.visualRect(wanted).center())
    assert begins() == "2026-11-28T18:30"
    assert field.box.text() == moments.written(datetime(2026, 11, 28, 18, 30))
    left, right, enter, leave = Qt.Key.Key_Left, Qt.Key.Key_Right, Qt.Key.Key_Return, Qt.Key.Key_Escape
    for keys, meant in (((left, enter), "27"), ((right, leave), "27")):
        field.box.setFocus()
        qtbot.keyClick(field.box, Qt.Key.Key_Down, Qt.KeyboardModifier.AltModifier)
        shown = field.box.calendar
        qtbot.waitUntil(shown.isVisible, timeout=PATIENCE_MS)
        for key in keys:
            qtbot.keyClick(shown.findChild(QTableView), key)
        assert not QApplication.activePopupWidget()
        assert begins() == f"2026-11-{meant}T18:30"


def test_an_end_of_the_window_that_is_overtaken_moves_along(filled: Window, qtbot) -> None:
    filled.document.edit(
        ("window",), {"from": "2026-11-27T18:00", "to": "2026-11-28T06:00", "step_minutes": 30}
    )
    filled.steps.turn(2)
    type_into(filled.when_pane.first, "Sun 29 Nov 2026 18:00", qtbot)
    assert filled.document.get(("window", "to")) == "2026-11-30T06:00"
    filled.document.stack.undo()
    assert filled.document.get(("window",)) == {
        "from": "2026-11-27T18:00",
        "to": "2026-11-28T06:00",
        "step_minutes": 30,
    }


def test_text_that_is_no_date_is_told_and_changes_nothing(filled: Window, qtbot) -> None:
    filled.steps.turn(2)
    before = filled.document.get(("window", "from"))
    type_into(filled.when_pane.first, "whenever", qtbot)
    assert filled.document.get(("window", "from")) == before
    assert "28" in filled.when_pane.first.fault.text() or ":" in filled.when_pane.first.fault.text()


# -- no network, assumed figures, places --------------------------------------------------------------


def test_a_dead_service_offers_the_way_out_as_a_button(filled: Window, qtbot) -> None:
    qtbot.waitUntil(lambda: filled.notice.kind == "trouble", timeout=PATIENCE_MS)
    offered = [button.text() for button in filled.notice.buttons]
    assert offered[0] == s.say(s.OFFER_OWN)
    filled.notice.buttons[0].click()
    assert filled.document.get(("weather", "source")) == "own"
    assert filled.steps.now == 2
    field, _ = next(iter(filled.when_pane.own.rows.values()))
    room = filled.when_pane.viewport()
    qtbot.waitUntil(
        lambda: room.rect().contains(field[1].mapTo(room, field[1].rect().center())), timeout=5000
    )


def test_a_typical_year_carried_for_near_the_start_is_a_way_out_in_one_click(
    filled: Window, qtbot, monkeypatch: pytest.MonkeyPatch
) -> None:
    read = []
    source = filled.session.data_source
    monkeypatch.setattr(source, "typical", lambda path, _: read.append(path.name) or {"source": "own"})
    near = {"name": "Farm", "lat": 41.6, "lon": -88.1, "zone": "America/Chicago"}
    filled.document.edit_many({("origin",): near, ("destination",): {**near, "name": "Yard", "lat": 41.9}})
    filled.troubles.tell(ServiceError("weather.example", "it cannot be reached", "Check that you are online"))
    offered = [button for button in filled.notice.buttons if "Chicago" in button.text()]
    assert len(offered) == 1
    offered[0].click()
    qtbot.waitUntil(lambda: filled.document.get(("weather", "source")) == "own", timeout=PATIENCE_MS)
    assert read == ["chicago.csv.gz"]


def test_figures_put_in_are_called_assumed_until_somebody_sets_them(filled: Window, qtbot) -> None:
    pick(filled.when_pane.weather, "own")
    pane = filled.when_pane
    filled.steps.turn(2)
    assert pane.own.assumed
    assert pane.chip.isVisibleTo(pane)
    assert "assumed" in pane.assumed_words.text()
    assert "assumed" in filled.steps.heads[2].accessibleName()
    numbers, _ = next(iter(pane.own.rows.values()))
    numbers[1].setValue(24)
    assert not pane.own.assumed
    assert not pane.chip.isVisibleTo(pane)


def test_a_file_keeps_whether_its_weather_was_assumed_or_called_right(
    filled: Window, open_window, tmp_path
) -> None:
    """Figures called right were called assumed when opened again; and after a click on one trip, those of the next
    were taken for the user's."""
    pane = filled.when_pane
    pick(pane.weather, "own")
    assumed, right = (tmp_path / name for name in ("assumed.trip.toml", "right.trip.toml"))
    filled.files.save_to(assumed)
    pane.assumed.click()
    assert not pane.own.assumed
    filled.files.save_to(right)
    filled.open_trip(assumed)
    assert pane.own.assumed
    other = open_window()
    other.open_trip(right)
    assert not other.when_pane.own.assumed
    other.document.stack.undo()
    assert not other.when_pane.own.assumed


def test_a_window_that_moves_on_takes_the_users_weather_along(filled: Window) -> None:
    """A day nobody had spoken of was 10 / 20 again, under the user's name."""
    pane = filled.when_pane
    pick(pane.weather, "own")
    for numbers, _ in pane.own.rows.values():
        numbers[1].setValue(31)
    before = filled.document.get(("window", "to"))
    later = f"{datetime.fromisoformat(before) + timedelta(days=1):%Y-%m-%dT%H:%M}"
    filled.document.edit_many({("window", "to"): later})
    rows = filled.document.get(("weather", "own"))
    assert len({row["date"] for row in rows}) >= 4
    assert {row["afternoon_high_c"] for row in rows} == {31.0}
    assert not pane.own.assumed


def test_weather_may_differ_at_the_other_end_and_has_wind(filled: Window) -> None:
    pick(filled.when_pane.weather, "own")
    own = filled.when_pane.own
    own.both.setChecked(True)
    day = next(day for end, day in own.rows if end == 1)
    own.rows[1, day][0][1].setValue(31)
    own.rows[0, day][0][3].setValue(18)
    told = {(row["place"], row["date"]): row for row in filled.document.get(("weather", "own"))}
    assert told[1, day]["afternoon_high_c"] == 31
    assert told[0, day]["afternoon_high_c"] == 20
    assert told[0, day]["wind_ms"] == pytest.approx(5.0)
    assert told[1, day]["wind_ms"] == pytest.approx(2.0)


@pytest.mark.parametrize(("country", "part"), [("GB", "United Kingdom"), ("US", "United States")])
def test_namesakes_are_ranked_by_the_users_country_and_by_the_other_end(country: str, part: str) -> None:
    source = DataSource()
    for name in ("Leeds", "Ludlow", "Worcester"):
        assert source.suggest(name, (), country)[0].region.endswith(part), name
    near_boston = [(42.36, -71.06)]
    assert source.suggest("Worcester", near_boston, "")[0].region.endswith("United States")


def test_the_region_stands_under_the_name_and_the_map_goes_there(blank: Window, qtbot) -> None:
    field = blank.route_pane.origin
    blank.places.country = "GB"
    type_into(field, "Ludlow", qtbot)
    qtbot.waitUntil(lambda: bool(field.region.text().strip()), timeout=PATIENCE_MS)
    assert "United Kingdom" in field.region.text()
    assert [pin.name for pin in blank.map.pins] == ["Ludlow"]
    (left, right), (low, high) = blank.map._box.viewRange()
    from planner.ui.map.mercator import mercator

    x, y = mercator(blank.map.pins[0].lat_deg, blank.map.pins[0].lon_deg)
    assert left < x < right
    assert low < y < high
    assert right - left < 0.05, "not the whole of Europe"


# -- files -----------------------------------------------------------------------------------------------


def test_saving_adds_the_ending(filled: Window, tmp_path: Path, monkeypatch) -> None:
    from PySide6.QtWidgets import QFileDialog

    asked = []

    def answer(parent, title, proposed, *_):
        asked.append((title, proposed))
        return str(tmp_path / "nucs"), ""

    monkeypatch.setattr(QFileDialog, "getSaveFileName", answer)
    assert filled.files.save_as()
    assert (tmp_path / "nucs.trip.toml").is_file()
    title, proposed = asked[0]
    assert "&" not in title
    assert Path(proposed).is_absolute()


def test_one_file_open_twice_is_told(open_window, tmp_path: Path) -> None:
    one, two = open_window(NoRoads()), open_window(NoRoads())
    swarm(one)
    path = tmp_path / "run.trip.toml"
    assert one.files.save_to(path)
    two.open_trip(path)
    assert two.notice.kind == "twice"


def test_a_trip_dropped_anywhere_is_opened(open_window, tmp_path: Path) -> None:
    from PySide6.QtCore import QMimeData, QUrl
    from PySide6.QtGui import QDropEvent

    window = swarm(open_window(NoRoads()))
    path = tmp_path / "run.trip.toml"
    window.files.save_to(path)
    other = open_window(NoRoads())
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path))])
    none = Qt.KeyboardModifier.NoModifier
    either = Qt.DropAction.CopyAction | Qt.DropAction.MoveAction
    drop = QDropEvent(QPointF(9, 9), either, data, Qt.MouseButton.LeftButton, none)
    drop.setDropAction(Qt.DropAction.MoveAction)  # as file managers offer it
    other.dropEvent(drop)
    assert other.document.path == path
    assert drop.dropAction() == Qt.DropAction.CopyAction, "who moves files deletes what was taken"


# -- layout ------------------------------------------------------------------------------------------------


def test_faults_and_news_move_nothing(filled: Window, qtbot) -> None:
    QApplication.processEvents()
    at = filled.sides.mapTo(filled, QPoint(0, 0))
    size = filled.sides.size()
    filled.notice.tell("fault", "Something long enough to want room of its own. " * 3)
    filled.answer_bar.show_words("A sentence that runs over more lines than two. " * 4, "and more")
    QApplication.processEvents()
    assert filled.sides.mapTo(filled, QPoint(0, 0)) == at
    assert filled.sides.size() == size


def test_a_page_turned_to_takes_no_room_from_the_steps(standing_run: Window) -> None:
    """Once the collection day or a logger's trip had been looked at, the steps were cut off at 1024 pixels."""
    standing_run.resize(1024, 640)
    QApplication.processEvents()
    before = standing_run.steps.width()
    for number in range(len(standing_run.book.rows)):
        standing_run.book.turn(number)
        QApplication.processEvents()
        assert standing_run.steps.width() == before, standing_run.book.rows[number].name
    standing_run.book.turn(5)
    QApplication.processEvents()
    assert standing_run.book.page.minimumSizeHint().width() <= standing_run.book.width()
    standing_run.book.turn(0)


@pytest.mark.parametrize(("wide", "high", "bigger"), [(1024, 640, 0), (960, 540, 0), (1024, 640, 6)])
def test_small_windows_and_large_type_keep_every_step_usable(
    filled: Window, wide: int, high: int, bigger: int
) -> None:
    if bigger:
        filled.looks.scale_type(1.1**bigger)
    filled.resize(wide, high)
    QApplication.processEvents()
    assert (filled.width(), filled.height()) == (wide, high)
    for number in range(3):
        filled.steps.turn(number)
        QApplication.processEvents()
        assert filled.steps.geometry().bottom() <= filled.sides.height()
        assert filled.steps.bodies[number].height() > 80
    bar = filled.answer_bar
    bar.headline.setText("Go if the roof screens are on and you leave between 21:15 and 23:45. " * 2)
    face, _ = bar.headline.faces()
    from planner.ui.plan.answer_bar import _high

    first, rest = bar.headline.parts()
    tall = _high(first, face, bar.headline.width()) + _high(
        rest, bar.headline.faces()[1], bar.headline.width()
    )
    assert tall <= bar.headline.height() + 1


@pytest.mark.parametrize(("wide", "bigger"), [(1280, 0), (1024, 0), (1280, 6)])
def test_no_line_of_the_answer_lies_over_another(filled: Window, wide: int, bigger: int) -> None:
    if bigger:
        filled.looks.scale_type(1.1**bigger)
    filled.resize(wide, 800)
    QApplication.processEvents()
    bar = filled.answer_bar
    above = [bar.headline, bar.second, bar.clock, bar.progress]
    for upper, lower in itertools.pairwise(above):
        foot = upper.mapTo(bar, QPoint(0, upper.height())).y()
        assert foot <= lower.mapTo(bar, QPoint(0, 0)).y()
    assert bar.clock.height() >= bar.clock.sizeHint().height()


@pytest.mark.parametrize("wide", [1280, 1024])
def test_the_names_of_the_load_can_be_told_apart(filled: Window, wide: int) -> None:
    """A long name runs over two lines; where there is no room the kind of box is left to the editor below."""
    filled.document.edit(("load", 0, "label"), "Overwintered, six frames")
    filled.resize(wide, 700)
    filled.steps.turn(1)
    QApplication.processEvents()
    table = filled.load_editor.groups
    cell = table.visualRect(table.rows.index(0, 0)).adjusted(5, 0, -5, 0)
    flags = int(Qt.TextFlag.TextWordWrap)
    needs = table.fontMetrics().boundingRect(
        QRect(0, 0, cell.width(), 999), flags, "Overwintered, six frames"
    )
    assert needs.width() <= cell.width()
    assert needs.height() <= cell.height()
    assert table.isColumnHidden(3) == (wide == 1024)


def test_a_narrow_window_shows_departures_before_the_map(filled: Window) -> None:
    view = filled.plan_view
    for wide, first in ((1400, view.map_panel), (1024, view.board_panel), (1400, view.map_panel)):
        filled.resize(wide, 700)
        QApplication.processEvents()
        assert view.top.widget(0) is first


def test_a_cell_typed_and_left_with_enter_is_taken_once_and_qt_has_nothing_to_say(
    filled: Window, qtbot, qtlog
) -> None:
    table = filled.load_editor.groups
    filled.steps.turn(1)
    qtbot.waitUntil(table.viewport().isVisible, timeout=PATIENCE_MS)
    table.setFocus()
    table.setCurrentIndex(table.rows.index(0, 1))
    qtbot.keyClicks(table, "7")
    assert isinstance(QApplication.focusWidget(), QLineEdit)
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: filled.document.get(("load", 0, "count")) == 7, timeout=PATIENCE_MS)
    assert [record.message for record in qtlog.records] == []


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("double", "Langstroth double, 20 frames, pine 19 mm"),
        ("dad poly", "Dadant brood box, 11 frames, polystyrene 30 mm"),
        ("no such box", "National nuc, 5 frames, pine 19 mm"),
    ],
)
def test_a_choice_typed_into_a_cell_is_found_by_its_words_and_by_nothing_less(
    filled: Window, qtbot, qtlog, typed: str, meant: str
) -> None:
    """The list of a combo box took the first letter for the whole word: ``double`` became a Dadant box unseen."""
    editor = filled.load_editor
    filled.steps.turn(1)
    qtbot.waitUntil(editor.groups.viewport().isVisible, timeout=PATIENCE_MS)
    editor.groups.setFocus()
    editor.groups.setCurrentIndex(editor.model.index(0, 3))
    qtbot.keyClicks(editor.groups, typed[0])
    line = QApplication.focusWidget()
    assert isinstance(line, ChoiceLine)
    qtbot.keyClicks(line, typed[1:])
    offered = line.completer().model().stringList()
    assert line.popup.isVisible() == (offered[0] == meant)
    qtbot.keyClick(line, Qt.Key.Key_Return)
    QApplication.processEvents()
    box = editor.catalogue.box_types[filled.document.get(("load", 0, "box_type"))]
    assert box.title == meant
    said = [record.message for record in qtlog.records]
    assert [words for words in said if "plugin does not support" not in words] == []


def test_a_cell_opened_shows_all_there_is_to_choose_from_and_a_click_takes_it(filled: Window, qtbot) -> None:
    editor = filled.load_editor
    filled.steps.turn(1)
    qtbot.waitUntil(editor.groups.viewport().isVisible, timeout=PATIENCE_MS)
    editor.groups.setFocus()
    editor.groups.setCurrentIndex(editor.model.index(0, 3))
    qtbot.keyClick(editor.groups, Qt.Key.Key_Return)
    line = QApplication.focusWidget()
    assert isinstance(line, ChoiceLine)
    qtbot.waitUntil(line.popup.isVisible, timeout=PATIENCE_MS)
    shown = line.popup.model()
    titles = [shown.index(number, 0).data() for number in range(shown.rowCount())]
    assert titles == [box.title for box in editor.catalogue.box_types.values()]
    wanted = next(number for number, title in enumerate(titles) if "Dadant" in title)
    line.popup.scrollTo(shown.index(wanted, 0))
    at = line.popup.visualRect(shown.index(wanted, 0)).center()
    assert line.popup.viewport().width() >= line.popup.sizeHintForColumn(0)  # no name is cut
    qtbot.mouseClick(line.popup.viewport(), Qt.MouseButton.LeftButton, pos=at)
    qtbot.waitUntil(lambda: "dadant" in filled.document.get(("load", 0, "box_type")), timeout=PATIENCE_MS)


def test_the_kind_of_box_is_told_in_the_table_without_dots_and_copied_whole(filled: Window) -> None:
    editor = filled.load_editor
    filled.document.edit(("load", 0, "box_type"), "langstroth10_double_pine")
    index = editor.model.index(0, 3)
    assert index.data() == "Langstroth double"
    filled.resize(1280, 800)
    filled.steps.turn(1)
    QApplication.processEvents()
    cell = editor.groups.visualRect(index).adjusted(4, 0, -4, 0)
    assert all(
        editor.groups.fontMetrics().horizontalAdvance(word) <= cell.width() for word in index.data().split()
    )
    editor.groups.setCurrentIndex(index)
    assert editor.groups.copied() == "Langstroth double, 20 frames, pine 19 mm"


@pytest.mark.parametrize("wide", [1280, 1024])
def test_why_a_stop_is_made_is_told_in_the_table_without_dots_and_copied_whole(
    filled: Window, wide: int
) -> None:
    """At 1280 pixels the cell said "load b..."."""
    filled.resize(wide, 800)
    filled.document.edit(
        ("stops",), [{**A, "purpose": purpose, "dwell_minutes": 10} for purpose in s.PURPOSES]
    )
    filled.steps.turn(0)
    QApplication.processEvents()
    table, model = filled.route_pane.stops, filled.route_pane.model
    edges = 8 + 2 * (table.style().pixelMetric(QStyle.PixelMetric.PM_FocusFrameHMargin) + 1)
    for row, whole in enumerate(s.PURPOSES.values()):
        cell = model.index(row, 1)
        room = table.visualRect(cell).width() - edges
        assert table.fontMetrics().horizontalAdvance(cell.data()) <= room, cell.data()
        table.setCurrentIndex(cell)
        assert table.copied() == s.say(whole)
    last = table.horizontalHeader().count() - 1
    assert table.columnViewportPosition(last) + table.columnWidth(last) <= table.viewport().width()


def test_no_way_out_of_a_trouble_has_its_words_cut(filled: Window) -> None:
    """At the usual size they stand beside each other, in a narrow window below each other.

    They lay over the step and the sliders of the load.
    """
    for wide in (1280, 900):
        filled.resize(wide, 700)
        filled.notice.tell("trouble", "The name cannot be found.", filled.troubles._ways_out())
        QApplication.processEvents()
        assert len(filled.notice.buttons) == 4
        for button in filled.notice.buttons:
            assert button.width() >= button.fontMetrics().horizontalAdvance(button.text()) + 12
            assert filled.notice.rect().contains(button.geometry())
        steps = filled.steps.geometry().translated(filled.sides.mapTo(filled.pages, QPoint(0, 0)))
        assert wide == 900 or not filled.notice.geometry().intersects(steps)
        assert filled.pages.rect().contains(filled.notice.geometry())
    filled.notice.clear()


def test_a_load_that_finds_no_room_leads_to_the_vehicle(filled: Window) -> None:
    filled.troubles.show((Fault("load", "2000", "no place holds the 2000 boxes", "Drive twice"),))
    assert "2000 boxes" in filled.answer_bar.headline.text()  # what is wrong, not what the bar is for
    filled.troubles.show_first()
    assert filled.load_editor.editors.currentWidget() is filled.load_editor.vehicle


def test_the_sky_of_every_day_can_be_read(filled: Window) -> None:
    filled.resize(1280, 800)
    filled.when_pane.weather.write("own")
    filled.steps.turn(2)
    QApplication.processEvents()
    own = filled.when_pane.own
    assert own.rows
    for numbers, sky in own.rows.values():
        assert sky.width() >= sky.fontMetrics().horizontalAdvance("overcast") + 30
        for box in numbers:
            assert box.lineEdit().width() >= box.fontMetrics().horizontalAdvance(box.text()) + 3


def test_in_too_little_room_the_steps_scroll_and_the_open_one_keeps_its_height(qapp, qtbot) -> None:
    """Type six steps larger in a low window once squeezed the list of the load to half a row."""
    steps = Steps([(s.STEP_ROUTE, QWidget()), (s.STEP_LOAD, QWidget()), (s.STEP_WHEN, QWidget())])
    qtbot.addWidget(steps)
    steps.resize(420, 300)
    steps.show()
    qtbot.waitExposed(steps)
    steps.turn(1)
    theme.apply(qapp, "light", 1.1**6)
    QApplication.processEvents()
    assert steps.bodies[1].height() >= LEAST_LINES * steps.fontMetrics().lineSpacing()
    assert steps.verticalScrollBar().maximum() > 0
    theme.apply(qapp, "light", 1.0)
    steps.resize(420, 900)
    QApplication.processEvents()
    assert steps.verticalScrollBar().maximum() == 0


def test_words_that_do_not_fit_are_written_smaller_before_they_are_shortened(qtbot) -> None:
    text = ShortText("Sat 23:00, cabin seat, windows shut, white car, misted on the way", 3)
    qtbot.addWidget(text)
    text.show()
    qtbot.waitExposed(text)
    seen = []
    for width in range(text.sizeHint().width(), 60, -6):
        text.resize(width, 60)
        seen.append((text._face().pointSizeF(), "…" in "".join(text._lines(width))))
    sizes = [size for size, _ in seen]
    first_cut = next(n for n, (_, cut) in enumerate(seen) if cut)
    assert sizes == sorted(sizes, reverse=True)
    assert len(set(sizes[:first_cut])) > 2, "smaller and smaller, all of it to be read"
    assert sizes[first_cut] == min(sizes)


@pytest.mark.parametrize("scale", [1.0, 1.1**6])
def test_the_title_of_a_panel_is_told_whole_beside_its_controls(qtbot, qapp, scale: float) -> None:
    """Six type steps larger it ended in dots; and once made small it stayed so."""
    theme.apply(qapp, "light", scale)
    panel = Panel("Departures and harm", "", QWidget())
    tool = QWidget()
    panel.add_tool(tool)
    panel.note.setText("accepted: harm in 5 of 100")
    qtbot.addWidget(panel)
    panel.show()
    qtbot.waitExposed(panel)
    panel.resize(900, 200)
    QApplication.processEvents()
    large = panel.title._face().pointSizeF()
    panel.set_filled(True)
    tool.setFixedWidth(round(130 * scale))
    panel.resize(round(230 * scale), 200)
    QApplication.processEvents()
    title = panel.title
    lines = title._lines(title.width())
    assert "…" not in "".join(lines)
    assert " ".join(line.strip() for line in lines) == title.text()
    panel.set_filled(False)
    panel.resize(900, 200)
    QApplication.processEvents()
    assert title._face().pointSizeF() == large
    assert title._lines(title.width()) == [title.text()]
    theme.apply(qapp, "light", 1.0)


def test_tab_stops_where_it_can_be_seen_and_goes_from_left_to_right(blank: Window) -> None:
    """Areas that scroll took the keyboard and showed nothing; the pins at the left came after the export."""
    window = blank
    for area in window.findChildren(QScrollArea):
        if window.steps.isAncestorOf(area) or area in (window.steps, window.plan_view):
            assert area.focusPolicy() == Qt.FocusPolicy.NoFocus, area.accessibleName()
    view = window.plan_view
    wanted = [view.curves, *(view.candidates.pin[one] for one in "AB"), view.group, view.along, view.export]
    found, part = [], view.curves
    for _ in range(400):
        if part in wanted:
            found.append(part)
        part = part.nextInFocusChain()
        if part is view.curves:
            break
    assert found == wanted


def test_the_answer_comes_before_the_steps_and_these_before_the_pages(blank: Window) -> None:
    """As it is read. The keyboard begins in the first step, and one Tab back is the answer."""
    bar, heads = blank.answer_bar, blank.steps.heads
    wanted = [bar.why, bar.cautions, bar.stop, *heads, blank.book.tabs]
    found, part = [], blank.nextInFocusChain()
    while part is not blank:
        if part in wanted:
            found.append(part)
        part = part.nextInFocusChain()
    assert found == wanted


def test_the_steps_ask_for_the_width_of_what_comes_into_them(blank: Window, qtbot) -> None:
    """In a narrow window their right edge was cut off as soon as a trip stood in them."""
    steps = blank.steps
    blank.resize(940, 520)
    wide = QLabel("a")
    steps.bodies[0].layout().addWidget(wide)
    wide.setMinimumWidth(390)
    qtbot.waitUntil(lambda: steps.width() >= steps.minimumSizeHint().width() > 390, timeout=PATIENCE_MS)
    steps.bodies[0].layout().removeWidget(wide)
    wide.hide()
    wide.deleteLater()
    QApplication.processEvents()


def test_no_two_lines_of_a_menu_share_a_letter(one_window: Window) -> None:
    """With two, the first is taken: the key for the picture of the view once opened a trip to learn from."""
    for menu in (action.menu() for action in one_window.menuBar().actions()):
        texts = [action.text().replace("&&", "") for action in menu.actions()]
        letters = [text[text.index("&") + 1].lower() for text in texts if "&" in text]
        assert sorted(letters) == sorted(set(letters)), menu.title()


def test_a_road_that_is_looked_for_is_not_asked_for(blank: Window) -> None:
    """The step asked for both ends while both were set."""
    window = blank
    window.document.edit_places({"origin": A})
    assert window.route_pane.road_words.text() == s.say(s.ROUTE_ROAD_NONE)
    window.document.edit_places({"destination": B})
    assert window.route_pane.road_words.text() == s.say(s.ROUTE_ROAD_COMING)
    window.route_pane.show_road("23 km")
    window.document.edit(("title",), "a")
    assert window.route_pane.road_words.text() == "23 km"


def test_buttons_and_fields_stay_where_they_are_when_lists_and_regions_grow(blank: Window, qtbot) -> None:
    window = blank
    pane, editor = window.route_pane, window.load_editor

    def at(part: QWidget) -> QPoint:
        QApplication.processEvents()
        return part.mapTo(window, QPoint(0, 0))

    before = at(pane.destination.box)
    pane.origin.show_region("England, United Kingdom")
    assert at(pane.destination.box) == before
    window.steps.turn(1)
    before = at(editor.copy)
    for _ in range(3):
        qtbot.mouseClick(editor.add, Qt.MouseButton.LeftButton)
    assert at(editor.copy) == before


def test_a_place_nobody_knows_is_one_thing_to_mend() -> None:
    """ "2 things on the left need mending" beside one field in red."""
    unknown = [Fault(f"stops[1].{axis}", "", "is missing", "set it") for axis in ("lat", "lon")]
    assert things(unknown) == 1
    assert (
        things([*unknown, Fault("stops[2].lat", "", "is missing", "set it"), Fault("window.to", "", "", "")])
        == 3
    )


def test_what_is_scrolled_to_stays_in_sight_while_the_page_around_it_still_grows(qtbot) -> None:
    """On a busy machine the figures put in were laid out after the page had scrolled to where they would be."""
    page = Page()
    qtbot.addWidget(page)
    page.resize(300, 200)
    above, wanted = QWidget(), QWidget()
    for part, high in ((above, 100), (wanted, 40)):
        part.setFixedHeight(high)
        page.column.addWidget(part)
    page.show()
    qtbot.waitExposed(page)
    page.reveal(wanted)
    above.setFixedHeight(900)

    def seen() -> bool:
        return (
            page.viewport()
            .rect()
            .contains(wanted.geometry().translated(0, -page.verticalScrollBar().value()))
        )

    qtbot.waitUntil(seen)
    page._let_go()
    above.setFixedHeight(1500)
    qtbot.waitUntil(lambda: wanted.y() > 1400)
    assert not seen(), "afterwards the page stays where the hand left it"


@pytest.mark.parametrize(
    ("typed", "near", "meant"),
    [
        ("28/12 6:00", datetime(2027, 1, 2, 9), datetime(2026, 12, 28, 6)),
        ("2/1 6:00", datetime(2026, 12, 28, 9), datetime(2027, 1, 2, 6)),
        ("12.30 am", datetime(2026, 6, 2, 9), datetime(2026, 6, 2, 0, 30)),
        ("Sat 6:00", datetime(2026, 11, 27, 9), datetime(2026, 11, 28, 6)),
        ("Fri 6:00", datetime(2026, 11, 27, 9), datetime(2026, 11, 27, 6)),
    ],
)
def test_a_day_without_its_year_is_the_nearest_one(typed: str, near: datetime, meant: datetime) -> None:
    assert moments.read_moment(typed, near) == meant


def test_a_number_typed_is_read_with_comma_and_unit_and_held_within_its_range() -> None:
    assert number_in("3,5 kg", 0.0, 10.0) == 3.5
    assert number_in(" 7.6", 0.0, 10.0, whole=True) == 8
    for text in ("10.5", "-1"):
        with pytest.raises(ValueError, match=text):
            number_in(text, 0.0, 10.0)
    with pytest.raises(ValueError, match="float"):
        number_in("many", 0.0, 10.0)


def test_another_box_is_filled_as_proposed_until_something_was_said(blank: Window, qtbot) -> None:
    """A double of 20 frames kept the 4.5 frames of bees and the name of the nuc that was proposed."""
    window, editor = blank, blank.load_editor
    qtbot.mouseClick(editor.add, Qt.MouseButton.LeftButton)
    before = dict(window.document.get(("load", 0)))
    box = editor.box.kind.box
    box.setCurrentIndex(box.findData("langstroth10_double_pine"))
    box.activated.emit(box.currentIndex())
    group = window.document.get(("load", 0))
    assert (group["label"], group["box_type"]) == ("hives", "langstroth10_double_pine")
    hung = [
        group[key] for key in ("frames_of_bees", "open_brood_frames", "sealed_brood_frames", "stores_frames")
    ]
    assert hung == [18.0, 4.0, 6.0, 4.0]
    window.document.stack.undo()
    assert window.document.get(("load", 0)) == before, "one step of undo"
    window.document.stack.redo()
    model = editor.groups.model()
    column = next(n for n in range(model.columnCount()) if model.columns[n].key == "box_type")
    model.setData(model.index(0, column), "national_nuc5_pine", Qt.ItemDataRole.EditRole)
    assert window.document.get(("load", 0)) == before, "the cell of the table does the same"
    window.document.edit(("load", 0, "frames_of_bees"), 3.0)
    model.setData(model.index(0, column), "langstroth10_double_pine", Qt.ItemDataRole.EditRole)
    group = window.document.get(("load", 0))
    assert (group["label"], group["frames_of_bees"], group["stores_frames"]) == ("nucs", 3.0, 1.0)
