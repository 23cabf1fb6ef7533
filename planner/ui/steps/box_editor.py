"""The editor of one group of boxes: the box drawn, what is in it, its openings, its water, its way."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from PySide6.QtWidgets import QWidget

from planner.model.catalogue import Catalogue
from planner.ui.look import strings as s
from planner.ui.steps.page import Page
from planner.ui.trip import edits
from planner.ui.trip.box_drawing import BoxDrawing, BoxState
from planner.ui.trip.document import MISSING, Document, FieldPath
from planner.ui.trip.fields import ChoiceField, Field, NumberField, SliderField, TextField, beside, heading
from planner.units import UnitSystem

MIST_DEFAULT = {"first_minutes": 60, "every_minutes": 30}


def _frames(count: float) -> str:
    return f"{count:g}"


def _per_cent(share: float) -> str:
    return s.say(s.PER_CENT, value=f"{share * 100:.0f}")


def _ml(amount_ml: float) -> str:
    return s.say(s.VALUE_ML, value=f"{amount_ml:.0f}")


class BoxEditor(Page):
    """Edits group ``index`` of the draft."""

    def __init__(self, document: Document, catalogue: Catalogue, units: UnitSystem) -> None:
        super().__init__()
        self.document, self.catalogue, self.units = document, catalogue, units
        self.index = 0
        self.setAccessibleName(s.say(s.BOX_EDITOR))
        self.head, self.box = heading(""), BoxDrawing()
        self._build_bees()
        self._build_openings()
        self._build_water()
        self._build_way()
        self.parts: list[QWidget] = [
            self.head,
            self.box,
            *self.colony,
            self.thin,
            self.can,
            self.floor_blocked,
            self.roof_blocked,
            beside(self.floor, self.roof, self.entrance),
            self.mist,
            self.mist_times,
            self.foam,
            self.kind,
            beside(self.label_field, self.count),
            beside(self.place, self.comb),
            beside(self.boards, self.leaves),
            self.stand,
        ]
        for part in self.parts:
            self.column.addWidget(part)
        self.column.addStretch(1)
        self.fields: list[Field] = [
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

    # -- building --------------------------------------------------------------------------------

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
        self.kind = KindField(d, spot("box_type"), s.say(s.LOAD_TYPE), titles)
        self.kind.in_box = self.in_box
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
        self.mist_first = self._minutes((*misting, "first_minutes"), s.LOAD_MIST_FIRST, 0, 10080, 0.0)
        self.mist_every = self._minutes((*misting, "every_minutes"), s.LOAD_MIST_EVERY, 1, 1440, 30.0)
        self.mist_times = beside(self.mist_first, self.mist_every)

    def _minutes(self, spot: FieldPath, name: str, low: float, high: float, default: float) -> NumberField:
        suffix = s.say(s.SUFFIX_MIN)
        return NumberField(
            self.document, spot, s.say(name), low, high, suffix=suffix, step=10, default=default
        )

    def _build_way(self) -> None:
        """Where the group rides, and from which waypoint to which."""
        d, spot = self.document, self._spot
        self.place = ChoiceField(d, spot("place"), s.say(s.LOAD_PLACE), {}, none=s.say(s.LOAD_ANYWHERE))
        self.boards = WaypointField(d, spot("loaded_at"), s.say(s.LOAD_BOARDS), {}, default=0)
        self.leaves = WaypointField(
            d, spot("unloaded_at"), s.say(s.LOAD_LEAVES), {}, none=s.say(s.LOAD_END), late=True
        )

    def _spot(self, key: str) -> FieldPath:
        return ("load", self.index, key)

    # -- following the draft -----------------------------------------------------------------------

    def rebind(self, index: int) -> None:
        """Edit another group."""
        self.index = index
        for field in self.fields:
            field.rebind(("load", index, *field.spot[2:]))

    def refresh(self, spot: FieldPath) -> None:
        if not spot or spot[0] in ("load", "stops", "origin", "destination"):
            self._name_waypoints()
        for field in self.fields:
            if field.touches(spot):
                field.refresh()
        self._show_box()

    def set_units(self, units: UnitSystem) -> None:
        self.units = units
        self.can.write_value = units.mass_text
        self.bees_kg.write_value = units.mass_text
        self.refresh(("load",))

    def offer_places(self, words: Mapping[str, str]) -> None:
        """The loading places a group may be pinned to."""
        self.place.set_words(words)
        self.place.refresh()

    def _name_waypoints(self) -> None:
        places = edits.waypoints(self.document.draft)
        names = [
            str(place.get("name") or (number if number else s.say(s.ROUTE_FROM)))
            for number, place in enumerate(places[:-1])
        ]
        self.boards.set_words(dict(enumerate(names)))
        self.leaves.set_words({number: name for number, name in enumerate(names) if number})

    def in_box(self, group: Mapping[str, Any], name: str, taken: Iterable[str]) -> dict[str, Any]:
        """A group in another box of the catalogue."""
        kinds = (self.catalogue.box_types.get(str(one)) for one in (group.get("box_type"), name))
        before, after = (kind.frames if kind else 0.0 for kind in kinds)
        return edits.in_box(group, name, (before, after), taken)

    def _show_box(self) -> None:
        group: dict[str, Any] = self.document.get(("load", self.index)) or {}
        for part in self.parts:
            part.setVisible(bool(group))
        if not group:
            return
        kind = self.catalogue.box_types.get(str(group.get("box_type")))
        frames = kind.frames if kind else 5
        by_weight = "bees_kg" in group
        combs = bool(frames) and not by_weight
        self.bees.setVisible(not by_weight)
        self.bees_kg.setVisible(by_weight)
        for field in (self.open_brood, self.sealed_brood, self.stores):
            field.setVisible(combs)
            field.set_high(max(frames, 1))
        self.thin.setVisible(combs and float(group.get("stores_frames") or 0) > 0)
        self.can.setVisible(not combs)
        self.roof_blocked.setVisible(group.get("roof", "solid") != "solid")
        self.floor_blocked.setVisible(group.get("floor", "mesh") == "mesh")
        self.mist_times.setVisible("misting" in group)
        self.bees.set_high(max(frames * 1.4, 2))
        self.head.setText(s.say(s.GROUP_CARD, count=group.get("count", 0), label=group.get("label", "")))
        self.box.show_state(BoxState.of(group, kind.title if kind else "", frames))


class KindField(ChoiceField):
    """The box of a group; what is proposed to hang in it goes with it, as one step of undo."""

    in_box: Callable[[Mapping[str, Any], str, Iterable[str]], dict[str, Any]]

    def write(self, value: Any) -> None:
        load, number = self.document.get(("load",)) or [], int(self.spot[1])
        others = (str(one.get("label")) for place, one in enumerate(load) if place != number)
        changed = self.in_box(load[number], value, others)
        self.document.edit_many(
            {("load", number, key): held for key, held in changed.items()}, self.name.text()
        )


class WaypointField(ChoiceField):
    """A place of the route, which a file names by its name or by its number; shown either way."""

    def __init__(self, *args: Any, late: bool = False, **more: Any) -> None:
        self.late = late
        super().__init__(*args, **more)

    def show_value(self, value: Any) -> None:
        number = edits.waypoint_number(self.document.draft, value, late=self.late)
        if self.late and number == len(self.document.get(("stops",)) or []) + 1:
            number, value = None, None  # the end itself is what is meant when nothing is said
        super().show_value(value if number is None else number)


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
