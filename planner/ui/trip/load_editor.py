"""What rides: groups of boxes as cards, the box drawn and edited by hand, the vehicle with its places."""

from __future__ import annotations

import copy
from collections.abc import Callable, Mapping
from typing import Any

from PySide6.QtCore import QPoint, QSignalBlocker, Qt, Signal
from PySide6.QtGui import QDrag, QFocusEvent, QKeyEvent, QMouseEvent
from PySide6.QtWidgets import QCheckBox, QFrame, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from planner.model.catalogue import Catalogue
from planner.ui.look import strings as s
from planner.ui.look.icons import Choices
from planner.ui.look.panel import label
from planner.ui.trip.box_drawing import BoxDrawing, BoxState
from planner.ui.trip.document import MISSING, Document, FieldPath
from planner.ui.trip.fields import ChoiceField, Field, NumberField, SliderField, TextField, beside, heading
from planner.ui.trip.route_pane import Page
from planner.ui.trip.vehicle_drawing import Seated, VehicleDrawing, carry
from planner.units import METRIC, UnitSystem

LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
NEW_GROUP = {
    "label": "nucs",
    "count": 4,
    "box_type": "national_nuc5_pine",
    "frames_of_bees": 4.5,
    "open_brood_frames": 1.0,
    "sealed_brood_frames": 1.5,
    "stores_frames": 1.0,
    "floor": "mesh",
    "roof": "solid",
    "entrance": "foam",
}
MIST_DEFAULT = {"first_minutes": 60, "every_minutes": 30}


def _frames(count: float) -> str:
    return f"{count:g}"


def _per_cent(share: float) -> str:
    return s.say(s.PER_CENT, value=f"{share * 100:.0f}")


def _ml(amount_ml: float) -> str:
    return s.say(s.VALUE_ML, value=f"{amount_ml:.0f}")


def letter(index: int) -> str:
    """A, B, C … and after Z the number itself."""
    return LETTERS[index] if index < len(LETTERS) else str(index + 1)


class GroupCard(QFrame):
    """One group in a line; chosen by click or keys, carried to a loading place by drag."""

    chosen = Signal(int)

    def __init__(self, index: int) -> None:
        super().__init__()
        self.setObjectName("card")
        self.index = index
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self._from: QPoint | None = None
        self.sign = label("", "value")
        self.sign.setFixedWidth(16)
        self.words = label("", "")
        self.detail = label("", "small")
        line = QHBoxLayout(self)
        line.setContentsMargins(10, 5, 10, 5)
        line.setSpacing(6)
        line.addWidget(self.sign)
        line.addWidget(self.words, 1)
        line.addWidget(self.detail)

    def show_group(self, group: dict[str, Any], chosen: bool, units: UnitSystem) -> None:
        self.sign.setText(letter(self.index))
        self.words.setText(s.say(s.GROUP_CARD, count=group.get("count", 0), label=group.get("label", "")))
        if "bees_kg" in group:
            text = s.say(s.GROUP_CARD_KG, kg=units.mass_text(float(group["bees_kg"])))
        else:
            text = s.say(s.GROUP_CARD_FRAMES, bees=f"{float(group.get('frames_of_bees') or 0):g}")
        self.detail.setText(text)
        self.setAccessibleName(f"{self.words.text()}, {text}")
        if self.property("chosen") != chosen:
            self.setProperty("chosen", chosen)
            self.style().unpolish(self)
            self.style().polish(self)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self._from = event.position().toPoint()
        self.chosen.emit(self.index)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._from is None or (event.position().toPoint() - self._from).manhattanLength() < 8:
            return
        self._from = None
        drag = QDrag(self)
        drag.setMimeData(carry(self.index))
        drag.setPixmap(self.grab())
        drag.exec(Qt.DropAction.CopyAction)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Space, Qt.Key.Key_Return):
            self.chosen.emit(self.index)
        else:
            super().keyPressEvent(event)

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        if event.reason() in (Qt.FocusReason.TabFocusReason, Qt.FocusReason.BacktabFocusReason):
            self.chosen.emit(self.index)


class LoadEditor(Page):
    """Edits the load and the vehicle of the draft."""

    group_chosen = Signal(int)

    def __init__(self, document: Document, catalogue: Catalogue, units: UnitSystem = METRIC) -> None:
        super().__init__()
        self.document, self.catalogue, self.units = document, catalogue, units
        self.index = 0
        self.proposed: str | None = None
        self.setAccessibleName(s.say(s.TAB_LOAD))
        self.cards: list[GroupCard] = []
        self._build_groups()
        self._build_vehicle()
        self._build_box()
        self.column.addStretch(1)
        document.changed.connect(self.refresh)

    # -- building --------------------------------------------------------------------------------

    def _build_groups(self) -> None:
        self.none = label(s.say(s.LOAD_NONE), "small")
        self.cards_box = QVBoxLayout()
        self.cards_box.setSpacing(5)
        self.add = self._button(s.LOAD_ADD, self._add)
        self.copy = self._button(s.LOAD_COPY, self._copy)
        self.remove = self._button(s.LOAD_REMOVE, self._remove)
        self.load_fault = _Anchor(self.document, ("load",))
        row = QHBoxLayout()
        row.setSpacing(6)
        for button in (self.add, self.copy, self.remove):
            row.addWidget(button)
        row.addStretch(1)
        self.column.addWidget(self.none)
        self.column.addLayout(self.cards_box)
        self.column.addLayout(row)
        self.column.addWidget(self.load_fault)

    def _button(self, text: str, act: Callable[[], None]) -> QPushButton:
        button = QPushButton(s.say(text))
        button.clicked.connect(act)
        return button

    def _build_vehicle(self) -> None:
        self.vehicle = Choices()
        self.vehicle.setMinimumContentsLength(10)
        self.vehicle.setAccessibleName(s.say(s.ROUTE_VEHICLE))
        for name in self.catalogue.driven:
            self.vehicle.addItem(s.say(self.catalogue.vehicles[name].title), name)
        self.vehicle.activated.connect(self._vehicle_chosen)
        self.drawing = VehicleDrawing(self.catalogue.vehicles[self._shown_vehicle()])
        self.drawing.dropped.connect(self._dropped)
        self.ticks_box = QVBoxLayout()
        self.ticks_box.setSpacing(3)
        self.ticks: dict[str, QCheckBox] = {}
        self.places_fault = _Anchor(self.document, ("vehicle",))
        head = QHBoxLayout()
        head.addWidget(heading(s.say(s.LOAD_PLACES)), 1)
        head.addWidget(self.vehicle)
        self.column.addLayout(head)
        self.column.addWidget(self.drawing)
        hint = label(s.say(s.LOAD_DROP), "small")
        hint.setWordWrap(True)
        self.column.addWidget(hint)
        self.column.addLayout(self.ticks_box)
        self.column.addWidget(self.places_fault)

    def _build_box(self) -> None:
        self.box_head, self.box = heading(""), BoxDrawing()
        self._build_bees()
        self._build_openings()
        self._build_water()
        self._build_way()
        self.box_parts: list[QWidget] = [
            self.box_head,
            self.box,
            *self.colony,
            self.thin,
            self.can,
            self.floor_blocked,
            self.roof_blocked,
            self.mist,
            self.mist_times,
            self.foam,
            beside(self.floor, self.roof, self.entrance),
            self.stand,
            self.kind,
            beside(self.label_field, self.count),
            beside(self.place, self.comb),
            beside(self.boards, self.leaves),
        ]
        for part in self.box_parts:
            self.column.addWidget(part)
        self.group_fields: list[Field] = [
            self.label_field,
            self.count,
            self.kind,
            *self.colony,
            self.thin,
            self.can,
            self.floor_blocked,
            self.roof_blocked,
            self.floor,
            self.stand,
            self.roof,
            self.entrance,
            self.comb,
            self.foam,
            self.mist_first,
            self.mist_every,
            self.mist,
            self.place,
            self.boards,
            self.leaves,
        ]

    def _slider(
        self, key: str, name: str, high: float, step: float, words: Callable[[float], str], low: float = 0
    ) -> SliderField:
        return SliderField(
            self.document, self._spot(key), s.say(name), low, high, step=step, write_value=words
        )

    def _options(self, key: str, name: str, words: Mapping[str, str], default: str) -> ChoiceField:
        return ChoiceField(self.document, self._spot(key), s.say(name), words, default=default)

    def _build_bees(self) -> None:
        """What the group is called, and what hangs in each of its boxes."""
        d, spot = self.document, self._spot
        titles = {name: box.title for name, box in self.catalogue.box_types.items()}
        self.label_field = TextField(d, spot("label"), s.say(s.LOAD_LABEL))
        self.count = NumberField(d, spot("count"), s.say(s.LOAD_COUNT), 1, 5000, whole=True, default=1)
        self.kind = ChoiceField(d, spot("box_type"), s.say(s.LOAD_TYPE), titles)
        self.bees = self._slider("frames_of_bees", s.LOAD_BEES, 12, 0.5, _frames)
        self.bees_kg = self._slider("bees_kg", s.LOAD_BEES_KG, 5, 0.1, self.units.mass_text, low=0.1)
        self.open_brood = self._slider("open_brood_frames", s.LOAD_OPEN_BROOD, 10, 0.5, _frames)
        self.sealed_brood = self._slider("sealed_brood_frames", s.LOAD_SEALED_BROOD, 10, 0.5, _frames)
        self.stores = self._slider("stores_frames", s.LOAD_STORES, 11, 0.5, _frames)
        self.colony = (self.bees, self.bees_kg, self.open_brood, self.sealed_brood, self.stores)
        self.thin = self._slider("thin_syrup_share", s.LOAD_THIN, 1, 0.05, _per_cent)
        self.can = self._slider("syrup_can_kg", s.LOAD_CAN, 3, 0.1, self.units.mass_text)
        self.comb = self._options("comb", s.LOAD_COMB, s.COMBS, "new")

    def _build_openings(self) -> None:
        """Floor, roof and entrance, and how much of the mesh is blocked."""
        self.floor_blocked = self._slider("floor_blocked_share", s.LOAD_FLOOR_BLOCKED, 1, 0.05, _per_cent)
        self.roof_blocked = self._slider("roof_blocked_share", s.LOAD_ROOF_BLOCKED, 1, 0.05, _per_cent)
        self.floor = self._options("floor", s.LOAD_FLOOR, s.FLOORS, "mesh")
        self.stand = ChoiceField(
            self.document, self._spot("stand"), s.say(s.LOAD_STAND), s.STANDS, none=s.say(s.LOAD_STAND_USUAL)
        )
        self.roof = self._options("roof", s.LOAD_ROOF, s.ROOFS, "solid")
        self.entrance = self._options("entrance", s.LOAD_ENTRANCE, s.ENTRANCES, "foam")

    def _build_water(self) -> None:
        """Wet foam, and misting on the way."""
        misting = self._spot("misting")
        self.foam = self._slider("wet_foam_ml", s.LOAD_FOAM, 300, 10, _ml)
        self.mist = MistField(self.document, misting, s.say(s.LOAD_MISTING), _ml)
        self.mist_first = NumberField(
            self.document,
            (*misting, "first_minutes"),
            s.say(s.LOAD_MIST_FIRST),
            0,
            10080,
            suffix=s.say(s.SUFFIX_MIN),
            step=10,
        )
        self.mist_every = NumberField(
            self.document,
            (*misting, "every_minutes"),
            s.say(s.LOAD_MIST_EVERY),
            1,
            1440,
            suffix=s.say(s.SUFFIX_MIN),
            step=10,
            default=30,
        )
        self.mist_times = beside(self.mist_first, self.mist_every)

    def _build_way(self) -> None:
        """Where the group rides, and from which waypoint to which."""
        d, spot = self.document, self._spot
        self.place = ChoiceField(d, spot("place"), s.say(s.LOAD_PLACE), {}, none=s.say(s.LOAD_ANYWHERE))
        self.boards = ChoiceField(d, spot("loaded_at"), s.say(s.LOAD_BOARDS), {}, default=0)
        self.leaves = ChoiceField(d, spot("unloaded_at"), s.say(s.LOAD_LEAVES), {}, none=s.say(s.LOAD_END))

    def _spot(self, key: str) -> FieldPath:
        return ("load", self.index, key)

    @property
    def fields(self) -> list[Field]:
        return [*self.group_fields, self.load_fault, self.places_fault]

    @property
    def group(self) -> dict[str, Any]:
        return self.document.get(("load", self.index)) or {}

    # -- following the draft -----------------------------------------------------------------------

    def refresh(self, spot: FieldPath) -> None:
        if not spot or spot[0] in ("load", "stops", "origin", "destination"):
            self._match_cards()
            self._name_waypoints()
        if not spot or spot[0] == "vehicle":
            self._match_places()
        for field in self.group_fields:
            if field.touches(spot):
                field.refresh()
        self._show_box()
        self._show_vehicle()

    def choose(self, index: int) -> None:
        """Edit group ``index``."""
        self.index = index
        for field in self.group_fields:
            field.rebind(("load", index, *field.spot[2:]))
        self.refresh(("load",))
        self.group_chosen.emit(index)

    def propose(self, place: str | None) -> None:
        """Where the candidate looked at would put the boxes that are not pinned."""
        if place == self.proposed:
            return
        self.proposed = place
        known = self.catalogue.loading_places.get(place or "")
        if known:
            with QSignalBlocker(self.vehicle):
                self.vehicle.setCurrentIndex(self.vehicle.findData(known.vehicle))
            self._show_ticks(self._allowed())
        self._show_vehicle()

    def set_units(self, units: UnitSystem) -> None:
        self.units = units
        self.can.write_value = units.mass_text
        self.bees_kg.write_value = units.mass_text
        self.refresh(("load",))

    def _match_cards(self) -> None:
        groups = self.document.get(("load",)) or []
        while len(self.cards) > len(groups):
            card = self.cards.pop()
            self.cards_box.removeWidget(card)
            card.hide()
            card.deleteLater()
        while len(self.cards) < len(groups):
            card = GroupCard(len(self.cards))
            card.chosen.connect(self.choose)
            self.cards.append(card)
            self.cards_box.addWidget(card)
        if self.index >= len(groups):
            self.index = max(len(groups) - 1, 0)
            for field in self.group_fields:
                field.rebind(("load", self.index, *field.spot[2:]))
        for card, group in zip(self.cards, groups, strict=True):
            card.show_group(group, card.index == self.index, self.units)
        self.none.setVisible(not groups)
        for button in (self.copy, self.remove):
            button.setEnabled(bool(groups))
        for part in self.box_parts:
            part.setVisible(bool(groups))

    def _name_waypoints(self) -> None:
        waypoints = [self.document.get(("origin", "name")) or s.say(s.ROUTE_FROM)]
        waypoints += [
            stop.get("name") or str(number)
            for number, stop in enumerate(self.document.get(("stops",)) or [], start=1)
        ]
        self.boards.set_words(dict(enumerate(waypoints)))
        self.leaves.set_words({number: name for number, name in enumerate(waypoints) if number})

    def _show_box(self) -> None:
        group = self.group
        if not group:
            return
        kind = self.catalogue.box_types.get(str(group.get("box_type")))
        frames = kind.frames if kind else 5
        by_weight = "bees_kg" in group
        self.bees.setVisible(not by_weight)
        self.bees_kg.setVisible(by_weight)
        combs = bool(frames) and not by_weight
        for field in (self.open_brood, self.sealed_brood, self.stores, self.thin):
            field.setVisible(combs)
        self.thin.setVisible(combs and float(group.get("stores_frames") or 0) > 0)
        self.can.setVisible(not combs)
        self.roof_blocked.setVisible(group.get("roof", "solid") != "solid")
        self.floor_blocked.setVisible(group.get("floor", "mesh") == "mesh")
        self.mist_times.setVisible("misting" in group)
        for field in (self.open_brood, self.sealed_brood, self.stores):
            field.set_high(max(frames, 1))
        self.bees.set_high(max(frames * 1.4, 2))
        self.box_head.setText(s.say(s.GROUP_CARD, count=group.get("count", 0), label=group.get("label", "")))
        self.box.show_state(BoxState.of(group, kind.title if kind else "", frames))

    # -- the vehicle -----------------------------------------------------------------------------

    def _allowed(self) -> list[str]:
        """Loading places the draft compares."""
        places = self.document.get(("vehicle", "places"))
        if isinstance(places, list):
            return [place for place in places if place in self.catalogue.loading_places]
        kind, colour = (self.document.get(("vehicle", key)) or "" for key in ("kind", "colour"))
        return list(self.catalogue.alternatives_of(kind, colour))

    def _places_of(self, vehicle: str) -> list[str]:
        return [name for name, place in self.catalogue.loading_places.items() if place.vehicle == vehicle]

    def _shown_vehicle(self) -> str:
        return self.vehicle.currentData() or "van"

    def _match_places(self) -> None:
        allowed = self._allowed()
        kind = self.document.get(("vehicle", "kind"))
        vehicles = {self.catalogue.loading_places[name].vehicle for name in allowed}
        if self._shown_vehicle() not in vehicles or self.proposed is None:
            shown = (
                kind
                if kind in vehicles
                else next(
                    iter(self.catalogue.loading_places[name].vehicle for name in allowed), kind or "van"
                )
            )
            with QSignalBlocker(self.vehicle):
                self.vehicle.setCurrentIndex(max(self.vehicle.findData(shown), 0))
        self._show_ticks(allowed)
        self.place.set_words({name: self.catalogue.loading_places[name].title for name in allowed})

    def _show_ticks(self, allowed: list[str]) -> None:
        wanted = self._places_of(self._shown_vehicle())
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
        vehicle = self._shown_vehicle()
        seated = []
        for index, group in enumerate(self.document.get(("load",)) or []):
            pinned = group.get("place")
            place = str(pinned or self.proposed or "")
            known = self.catalogue.loading_places.get(place)
            if known and known.vehicle == vehicle:
                seated.append(Seated(letter(index), int(group.get("count") or 0), known.zone, bool(pinned)))
        self.drawing.show_load(self.catalogue.vehicles[vehicle], seated)

    def _vehicle_chosen(self) -> None:
        vehicle = self._shown_vehicle()
        held = dict(self.document.get(("vehicle",)) or {})
        if not any(self.catalogue.loading_places[name].vehicle == vehicle for name in self._allowed()):
            held.pop("places", None)
            held["kind"] = vehicle
            self.document.edit(("vehicle",), held, s.say(s.ROUTE_VEHICLE))
        self._show_ticks(self._allowed())
        self._show_vehicle()

    def _ticked(self, name: str, on: bool) -> None:
        allowed = [place for place in self._allowed() if place != name] + ([name] if on else [])
        if not allowed:
            with QSignalBlocker(self.ticks[name]):
                self.ticks[name].setChecked(True)
            return
        order = list(self.catalogue.loading_places)
        self.document.edit(("vehicle", "places"), sorted(allowed, key=order.index), s.say(s.LOAD_PLACES))

    def _dropped(self, group: int, zone: str) -> None:
        """Pin the group to the first place of the zone, a ticked one if there is any."""
        vehicle = self._shown_vehicle()
        allowed = self._allowed()
        here = [name for name in self._places_of(vehicle) if self.catalogue.loading_places[name].zone == zone]
        if not here:
            return
        place = next((name for name in here if name in allowed), here[0])
        if place not in allowed:
            self._ticked(place, True)
        title = next(known.title for known in self.catalogue.vehicles[vehicle].zones if known.name == zone)
        self.document.edit(("load", group, "place"), place, s.say(title))

    # -- groups ----------------------------------------------------------------------------------

    def _groups(self) -> list[dict[str, Any]]:
        return copy.deepcopy(self.document.get(("load",)) or [])

    def _add(self) -> None:
        self.document.edit(("load",), [*self._groups(), dict(NEW_GROUP)], s.say(s.LOAD_ADD))
        self.choose(len(self.cards) - 1)

    def _copy(self) -> None:
        groups = self._groups()
        groups.insert(self.index + 1, copy.deepcopy(groups[self.index]))
        self.document.edit(("load",), groups, s.say(s.LOAD_COPY))
        self.choose(self.index + 1)

    def _remove(self) -> None:
        groups = self._groups()
        del groups[self.index]
        self.document.edit(("load",), groups, s.say(s.LOAD_REMOVE))
        self.choose(max(min(self.index, len(groups) - 1), 0))


class MistField(SliderField):
    """Millilitres each misting; nothing means no misting at all."""

    def __init__(self, document: Document, spot: FieldPath, name: str, ml: Callable[[float], str]) -> None:
        super().__init__(document, spot, name, 0, 200, step=5, write_value=ml)

    def write(self, value: float) -> None:
        held = self.document.get(self.spot)
        if value <= 0:
            super().write(MISSING)
        elif isinstance(held, dict):
            self.document.edit((*self.spot, "ml"), value, self.name.text())
        else:
            super().write({"ml": value, **MIST_DEFAULT})

    def show_value(self, value: Any) -> None:
        super().show_value((value or {}).get("ml") if isinstance(value, dict) else None)


class _Anchor(Field):
    """Shows faults that concern a whole list rather than one editor."""

    def __init__(self, document: Document, spot: FieldPath) -> None:
        super().__init__(document, spot, "", QLabel())
        self.editor.hide()

    def show_value(self, value: Any) -> None:
        """Nothing to show but faults."""
