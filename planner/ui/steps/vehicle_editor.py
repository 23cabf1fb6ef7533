"""The vehicle drawn with its loading places, and which of them are compared."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QSignalBlocker
from PySide6.QtWidgets import QCheckBox, QLabel, QVBoxLayout

from planner.model.catalogue import Catalogue
from planner.ui.look import strings as s
from planner.ui.look.icons import Choices
from planner.ui.look.panel import label
from planner.ui.steps.page import Page
from planner.ui.trip.document import Document, FieldPath
from planner.ui.trip.fields import ChoiceField, Field, TickField
from planner.ui.trip.hands import still
from planner.ui.trip.vehicle_drawing import Seated, VehicleDrawing

LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def letter(index: int) -> str:
    """A, B, C … and after Z the number itself."""
    return LETTERS[index] if index < len(LETTERS) else str(index + 1)


class VehicleEditor(Page):
    """Edits the vehicle of the draft; boxes are dropped on its drawing."""

    def __init__(self, document: Document, catalogue: Catalogue) -> None:
        super().__init__()
        self.document, self.catalogue = document, catalogue
        self.proposed: str | None = None
        self.setAccessibleName(s.say(s.ROUTE_VEHICLE))
        self.vehicle = Choices()
        self.vehicle.setMinimumContentsLength(10)
        self.vehicle.setAccessibleName(s.say(s.ROUTE_VEHICLE))
        still(self.vehicle)
        for name in self.catalogue.driven:
            self.vehicle.addItem(s.say(self.catalogue.vehicles[name].title), name)
        self.vehicle.activated.connect(self._vehicle_chosen)
        self.colour = ChoiceField(
            document, ("vehicle", "colour"), s.say(s.LOAD_COLOUR), s.COLOURS, default="dark", above=False
        )
        self.drivers = ChoiceField(
            document, ("vehicle", "drivers"), s.say(s.VEHICLE_DRIVERS), s.DRIVERS, default=1, above=False
        )
        self.drivers.box.setToolTip(s.say(s.VEHICLE_DRIVERS_HINT))
        self.drawing = VehicleDrawing(self.catalogue.vehicles[self.shown_vehicle()])
        self.drawing.dropped.connect(self._dropped)
        self.ticks_box = QVBoxLayout()
        self.ticks_box.setSpacing(3)
        self.ticks: dict[str, QCheckBox] = {}
        self.places_fault = Anchor(document, ("vehicle",))
        self.net = TickField(document, ("vehicle", "net"), s.say(s.ROUTE_NET))
        hint = label(s.say(s.LOAD_DROP), "small")
        hint.setWordWrap(True)
        self.column.addWidget(self.vehicle)
        self.column.addWidget(self.drawing)
        self.column.addWidget(hint)
        self.column.addLayout(self.ticks_box)
        for part in (self.places_fault, self.colour, self.drivers, self.net):
            self.column.addWidget(part)
        self.column.addStretch(1)

    @property
    def fields(self) -> list[Field]:
        return [self.places_fault, self.colour, self.drivers, self.net]

    # -- following the draft -----------------------------------------------------------------------

    def refresh(self, spot: FieldPath) -> None:
        if not spot or spot[0] == "vehicle":
            self._match_places()
        for field in self.fields:
            if field.touches(spot):
                field.refresh()
        self._show_vehicle()

    def propose(self, place: str | None) -> None:
        """Where the candidate looked at would put the boxes that are not pinned."""
        if place == self.proposed:
            return
        self.proposed = place
        known = self.catalogue.loading_places.get(place or "")
        if known:
            with QSignalBlocker(self.vehicle):
                self.vehicle.setCurrentIndex(self.vehicle.findData(known.vehicle))
            self._show_ticks(self.allowed())
        self._show_vehicle()

    def allowed(self) -> list[str]:
        """Loading places the draft compares."""
        places = self.document.get(("vehicle", "places"))
        if isinstance(places, list):
            return [place for place in places if place in self.catalogue.loading_places]
        kind, colour = (self.document.get(("vehicle", key)) or "" for key in ("kind", "colour"))
        return list(self.catalogue.alternatives_of(kind, colour))

    def _places_of(self, vehicle: str) -> list[str]:
        return [name for name, place in self.catalogue.loading_places.items() if place.vehicle == vehicle]

    def shown_vehicle(self) -> str:
        return self.vehicle.currentData() or "van"

    def _match_places(self) -> None:
        allowed = self.allowed()
        kind = self.document.get(("vehicle", "kind"))
        vehicles = [self.catalogue.loading_places[name].vehicle for name in allowed]
        if self.shown_vehicle() not in vehicles or self.proposed is None:
            shown = kind if kind in vehicles else next(iter(vehicles), kind or "van")
            with QSignalBlocker(self.vehicle):
                self.vehicle.setCurrentIndex(max(self.vehicle.findData(shown), 0))
        self._show_ticks(allowed)

    def _show_ticks(self, allowed: list[str]) -> None:
        wanted = self._places_of(self.shown_vehicle())
        if list(self.ticks) != wanted:
            for tick in self.ticks.values():
                self.ticks_box.removeWidget(tick)
                tick.hide()
                tick.deleteLater()
            self.ticks = {}
            for name in wanted:
                tick = QCheckBox(self.catalogue.loading_places[name].title)
                tick.toggled.connect(lambda on, name=name: self._ticked(name, on))
                self.ticks[name] = tick
                self.ticks_box.addWidget(tick)
        for name, tick in self.ticks.items():
            with QSignalBlocker(tick):
                tick.setChecked(name in allowed)

    def _show_vehicle(self) -> None:
        vehicle = self.shown_vehicle()
        seated = []
        for index, group in enumerate(self.document.get(("load",)) or []):
            pinned = group.get("place")
            known = self.catalogue.loading_places.get(str(pinned or self.proposed or ""))
            if known and known.vehicle == vehicle:
                seated.append(Seated(letter(index), int(group.get("count") or 0), known.zone, bool(pinned)))
        self.drawing.show_load(self.catalogue.vehicles[vehicle], seated)

    # -- hands -----------------------------------------------------------------------------------

    def _vehicle_chosen(self) -> None:
        vehicle = self.shown_vehicle()
        held: dict[str, Any] = dict(self.document.get(("vehicle",)) or {})
        if not any(self.catalogue.loading_places[name].vehicle == vehicle for name in self.allowed()):
            held.pop("places", None)
            held["kind"] = vehicle
            self.document.edit(("vehicle",), held, s.say(s.ROUTE_VEHICLE))
        self._show_ticks(self.allowed())
        self._show_vehicle()

    def _ticked(self, name: str, on: bool) -> None:
        allowed = [place for place in self.allowed() if place != name] + ([name] if on else [])
        if not allowed:
            with QSignalBlocker(self.ticks[name]):
                self.ticks[name].setChecked(True)
            return
        order = list(self.catalogue.loading_places)
        self.document.edit(("vehicle", "places"), sorted(allowed, key=order.index), s.say(s.LOAD_PLACES))

    def _dropped(self, groups: list[int], zone: str) -> None:
        """Pin groups to the first place of the zone, a ticked one if there is any."""
        vehicle = self.shown_vehicle()
        allowed = self.allowed()
        here = [name for name in self._places_of(vehicle) if self.catalogue.loading_places[name].zone == zone]
        if not here:
            return
        place = next((name for name in here if name in allowed), here[0])
        title = next(known.title for known in self.catalogue.vehicles[vehicle].zones if known.name == zone)
        changes: dict[FieldPath, Any] = {("load", group, "place"): place for group in groups}
        if place not in allowed:
            order = list(self.catalogue.loading_places)
            changes = {("vehicle", "places"): sorted([*allowed, place], key=order.index), **changes}
        self.document.edit_many(changes, s.say(title))


class Anchor(Field):
    """Shows faults that concern a whole list rather than one editor."""

    def __init__(self, document: Document, spot: FieldPath) -> None:
        super().__init__(document, spot, "", QLabel())
        self.editor.hide()

    def show_value(self, value: Any) -> None:
        """Nothing to show but faults."""
