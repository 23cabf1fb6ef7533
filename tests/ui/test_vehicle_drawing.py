"""The side view of a vehicle: every zone of every vehicle is there to see and to drop on, a user's own too."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QDropEvent, QImage

from planner.model.catalogue import Catalogue
from planner.model.records import LoadingZone, Vehicle
from planner.store.catalogue import load_catalogue
from planner.ui.look import theme
from planner.ui.steps.vehicle_editor import VehicleEditor
from planner.ui.trip.document import Document
from planner.ui.trip.first_page import Card, Entry
from planner.ui.trip.vehicle_drawing import Seated, VehicleDrawing, carry

CARGO_BIKE = Path(__file__).resolve().parents[1] / "fixtures" / "cargo-bike.toml"
VEHICLES = load_catalogue(CARGO_BIKE).vehicles


@pytest.fixture(params=VEHICLES)
def drawing(request: pytest.FixtureRequest, qtbot) -> VehicleDrawing:
    drawing = VehicleDrawing(VEHICLES[request.param])
    qtbot.addWidget(drawing)
    drawing.resize(620, 252)
    return drawing


def picture(drawing: VehicleDrawing) -> QImage:
    return drawing.grab().toImage()


def patch(drawing: VehicleDrawing, zone: LoadingZone, image: QImage) -> QImage:
    return image.copy(drawing._scale().mapRect(QRectF(*zone.rectangle)).toRect())


def accents(image: QImage) -> int:
    accent = theme.colour(theme.current().accent).rgb()
    return sum(image.pixel(x, y) == accent for y in range(image.height()) for x in range(image.width()))


def test_every_zone_shows_the_group_seated_in_it_and_no_other_does(drawing: VehicleDrawing) -> None:
    vehicle = drawing.vehicle
    for zone in vehicle.zones:
        drawing.show_load(vehicle, [Seated("A", 2, zone.name, True)])
        shown = picture(drawing)
        assert [bool(accents(patch(drawing, other, shown))) for other in vehicle.zones] == [
            other == zone for other in vehicle.zones
        ]


def test_the_body_is_painted(drawing: VehicleDrawing) -> None:
    vehicle, before = drawing.vehicle, picture(drawing)
    bare = Vehicle(vehicle.name, vehicle.title, vehicle.road_vehicle, vehicle.zones, ())
    drawing.show_load(bare, ())
    assert picture(drawing) != before


def test_a_drop_names_the_zone_under_it(drawing: VehicleDrawing, qtbot) -> None:
    for zone in drawing.vehicle.zones:
        with qtbot.waitSignal(drawing.dropped) as told:
            drawing.dropEvent(drop_on(drawing, zone))
        assert told.args == [[3], zone.name]


def test_groups_dragged_together_are_dropped_together(drawing: VehicleDrawing, qtbot) -> None:
    zone = drawing.vehicle.zones[0]
    with qtbot.waitSignal(drawing.dropped) as told:
        drawing.dropEvent(drop_on(drawing, zone, 0, 2))
    assert told.args == [[0, 2], zone.name]


def drop_on(drawing: VehicleDrawing, zone: LoadingZone, *groups: int) -> QDropEvent:
    drop_on.carried = carry(*(groups or (3,)))  # the event does not keep its data alive
    at: QPointF = drawing._scale().map(QRectF(*zone.rectangle).center())
    return QDropEvent(
        at,
        Qt.DropAction.CopyAction,
        drop_on.carried,
        Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )


def test_a_users_own_vehicle_is_offered_by_its_title_and_takes_a_group(qtbot) -> None:
    document = Document()
    editor = VehicleEditor(document, load_catalogue(CARGO_BIKE))
    document.open({"vehicle": {"kind": "cargo_bike"}, "load": [{"label": "Nucs", "count": 2}]}, None)
    qtbot.addWidget(editor)
    editor.refresh(())  # as the step does that holds it, whenever another draft is opened
    offered = [editor.vehicle.itemText(at) for at in range(editor.vehicle.count())]
    assert offered == ["car", "estate car", "van", "pickup", "open trailer", "flatbed lorry", "cargo bike"]
    editor._dropped([0], "front_rack")
    assert document.get(("load", 0, "place")) == "cargo_bike_rack"
    document.stack.undo()
    assert document.get(("load", 0, "place")) is None


def test_a_card_without_a_known_vehicle_shows_no_picture(qtbot, catalogue: Catalogue) -> None:
    """Rather than a drawing of something else."""
    entry = Entry(Path("trip.toml"), "Trip", "detail", "sledge")
    for vehicle, pictures in ((catalogue.vehicles["van"], 1), (catalogue.vehicles.get("sledge"), 0)):
        card = Card(entry, vehicle)
        qtbot.addWidget(card)
        assert len(card.findChildren(VehicleDrawing)) == pictures
