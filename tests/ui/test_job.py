"""The whole main job as a person does it, by hand on real widgets, against services that answer on this machine."""

from __future__ import annotations

import time
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent

from planner.services.settings import save_settings
from planner.ui.trip.vehicle_drawing import carry
from planner.ui.window import Window
from tests.services.standin import StandIn, status
from tests.ui.conftest import PATIENCE_MS

TRACK = """<?xml version="1.0"?><gpx version="1.1" creator="own" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>
<trkpt lat="52.00" lon="-2.00"/><trkpt lat="52.05" lon="-1.80"/>
<trkpt lat="52.10" lon="-1.60"/><trkpt lat="52.20" lon="-1.40"/>
</trkseg></trk></gpx>"""


@pytest.fixture
def sample(home: Path) -> Iterator[StandIn]:
    with StandIn() as server:
        save_settings(server.settings())
        yield server


def type_place(field, text: str, qtbot) -> None:
    """Type letter by letter, wait for suggestions, take the first by its name."""
    field.box.setFocus()
    qtbot.keyClicks(field.box, text)
    qtbot.waitUntil(
        lambda: bool(field.suggestions.offered) and field.suggestions.offered[0].text.startswith(text[:4]),
        timeout=PATIENCE_MS,
    )
    field.suggestions.completer.activated.emit(field.suggestions.offered[0].text)
    qtbot.waitUntil(lambda: "lat" in field.place(), timeout=PATIENCE_MS)


def set_window(window: Window) -> None:
    tomorrow = datetime.now() + timedelta(days=1)
    window.document.edit(
        ("window",),
        {"from": f"{tomorrow:%Y-%m-%d}T18:00", "to": f"{tomorrow:%Y-%m-%d}T22:00", "step_minutes": 60},
    )


def test_from_an_empty_page_to_a_saved_plan(
    window: Window, sample: StandIn, qtbot, settled, open_window, tmp_path: Path
) -> None:
    """New trip, two towns typed (of two Worcesters the nearer), boxes dropped on the van, a choice, saved, reopened."""
    qtbot.mouseClick(window.first_page.new, Qt.MouseButton.LeftButton)
    pane, editor = window.route_pane, window.load_editor
    type_place(pane.destination, "Evesham", qtbot)
    type_place(pane.origin, "Worcester", qtbot)
    pane.title.box.setFocus()
    pane.title.box.selectAll()
    qtbot.keyClicks(pane.title.box, "Three nucs to Evesham")
    qtbot.keyClick(pane.title.box, Qt.Key.Key_Return)
    set_window(window)
    window.steps.turn(1)
    qtbot.mouseClick(editor.add, Qt.MouseButton.LeftButton)
    box = editor.box
    box.count.box.setValue(3)
    box.kind.box.setCurrentIndex(box.kind.box.findData("national_nuc5_eps"))
    box.kind.box.activated.emit(box.kind.box.currentIndex())
    settled(window)

    assert sample.asked("/route") == 1, "the road was asked of the service once"
    assert sample.asked("/v1/forecast") == 1, "and so was the forecast"
    assert window.answer_bar.headline.text() == window.session.answer.sentence
    assert window.map.road is not None
    assert (
        "OpenStreetMap" in window.map.attribution
        or window.map.attribution == window.session.plan.road.attribution
    )

    carried = carry(0)
    drop = QDropEvent(
        editor.vehicle.drawing._scale().map(QPointF(120, 30)),
        Qt.DropAction.CopyAction,
        carried,
        Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )
    editor.vehicle.drawing.dropEvent(drop)
    assert window.document.get(("load", 0, "place")) in editor.catalogue.loading_places
    settled(window)
    assert sample.asked("/route") == 1, "a change of the load asks nobody again"

    window.board.setFocus()
    qtbot.keyClick(window.board, Qt.Key.Key_Right)
    assert window.session.candidate is not window.session.answer.best
    settled(window)
    path = tmp_path / "evesham.toml"
    assert window.files.save_to(path)

    other = open_window()
    other.open_trip(path)
    settled(other)
    assert other.document.get(("title",)) == "Three nucs to Evesham"
    assert len(other.session.answer.departures_s) == 5


def test_coordinates_and_a_click_on_the_map_name_the_nearest_town(
    window: Window, sample: StandIn, qtbot
) -> None:
    window.new_trip()
    field = window.route_pane.origin
    field.box.setFocus()
    qtbot.keyClicks(field.box, "52.19, -2.22")
    qtbot.keyClick(field.box, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: "lat" in field.place(), timeout=PATIENCE_MS)
    assert "Worcester" in field.place()["name"]
    assert field.place()["zone"] == "Europe/London"
    target = window.route_pane.destination
    target.pin.click()
    assert window.map.picking
    window.map.point_picked.emit(52.09, -1.95)
    qtbot.waitUntil(lambda: "lat" in target.place(), timeout=PATIENCE_MS)
    assert "Evesham" in target.place()["name"]
    assert not window.map.picking


def test_a_remembered_place_is_offered_first(window: Window, qtbot) -> None:
    window.new_trip()
    place = {"name": "Home yard", "lat": 52.1, "lon": -2.1, "zone": "Europe/London"}
    window.route_pane.remember.emit(place)
    qtbot.waitUntil(lambda: not window.runner.busy("remember"), timeout=PATIENCE_MS)
    field = window.route_pane.origin
    field.box.setFocus()
    qtbot.keyClicks(field.box, "home y")
    qtbot.waitUntil(lambda: bool(field.suggestions.offered), timeout=PATIENCE_MS)
    assert field.suggestions.offered[0].place["name"] == "Home yard"


def test_with_the_services_gone_an_estimated_road_is_used_and_the_forecast_missed_in_words(
    window: Window, sample: StandIn, qtbot
) -> None:
    sample.always("/", status(503))
    _fill(window)
    qtbot.waitUntil(window.notice.isVisible, timeout=PATIENCE_MS)
    assert len(window.notice.words.text()) > 30
    assert "Try again" in [button.text() for button in window.notice.buttons]
    assert window.session.answer is None
    assert window.answer_bar.plate.decision == "cannot_tell"


def test_when_the_services_come_back_trying_again_works(
    window: Window, sample: StandIn, qtbot, settled
) -> None:
    sample.always("/v1/forecast", status(503))
    _fill(window)
    qtbot.waitUntil(window.notice.isVisible, timeout=PATIENCE_MS)
    sample.heal()
    again = next(button for button in window.notice.buttons if button.text() == "Try again")
    qtbot.mouseClick(again, Qt.MouseButton.LeftButton)
    settled(window)
    assert not window.notice.isVisible()


def test_what_one_expects_oneself_needs_no_service(window: Window, sample: StandIn, qtbot, settled) -> None:
    sample.always("/", status(503))
    _fill(window)
    pane = window.when_pane
    pane.weather.box.setCurrentIndex(pane.weather.box.findData("own"))
    pane.weather.box.activated.emit(pane.weather.box.currentIndex())
    numbers, _ = next(iter(pane.own.rows.values()))
    numbers[1].setValue(24)
    settled(window)
    assert window.session.answer.weather.kind == "own"


def test_a_track_dropped_on_the_pane_becomes_the_road(window: Window, qtbot, tmp_path: Path) -> None:
    window.new_trip()
    path = tmp_path / "way.gpx"
    path.write_text(TRACK)
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path))])
    event = QDropEvent(
        QPointF(20, 20),
        Qt.DropAction.CopyAction,
        data,
        Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )
    window.route_pane.dropEvent(event)
    qtbot.waitUntil(lambda: bool(window.document.get(("road", "points"))), timeout=PATIENCE_MS)
    assert window.document.get(("origin", "lat")) == pytest.approx(52.0)
    assert window.document.get(("destination", "lon")) == pytest.approx(-1.4)
    window.document.stack.undo()
    assert window.document.get(("road",)) is None
    assert window.document.get(("origin",)) is None


def _fill(window: Window) -> None:
    window.new_trip()
    set_window(window)
    for key, name, lat, lon in (
        ("origin", "Worcester", 52.19, -2.22),
        ("destination", "Evesham", 52.09, -1.95),
    ):
        window.document.edit((key,), {"name": name, "lat": lat, "lon": lon})
    window.load_editor.add.click()


def test_the_stand_in_is_never_asked_on_every_letter_of_a_place(
    window: Window, sample: StandIn, qtbot
) -> None:
    """Type-ahead uses the bundled towns alone; online search waits for the return key."""
    window.new_trip()
    field = window.route_pane.origin
    field.box.setFocus()
    qtbot.keyClicks(field.box, "Worces")
    qtbot.waitUntil(lambda: bool(field.suggestions.offered), timeout=PATIENCE_MS)
    time.sleep(0.05)
    assert not sample.seen
