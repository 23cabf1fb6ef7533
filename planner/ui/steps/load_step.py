"""Step two, the load: groups of boxes as a table, and beside it the box or the vehicle to edit."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QTabWidget, QVBoxLayout, QWidget

from planner.model.catalogue import Catalogue
from planner.ui.look import strings as s
from planner.ui.look.panel import label
from planner.ui.steps.box_editor import BoxEditor
from planner.ui.steps.cells import fitting
from planner.ui.steps.grid import Grid
from planner.ui.steps.page import ListAndEditor
from planner.ui.steps.vehicle_editor import Anchor, VehicleEditor, letter
from planner.ui.trip import edits
from planner.ui.trip.document import Document, FieldPath
from planner.ui.trip.fields import Field
from planner.ui.trip.tables import Column, Kept, Row, RowsModel, number_in
from planner.units import KG_PER_LB, METRIC, UnitSystem

MOST_ROWS = 5
"""So many rows of the table are in sight where the step has the height for them."""
MOST_BOXES, MOST_FRAMES, MOST_KG = 5000, 40.0, 20.0
NEW_GROUP = {
    "label": edits.called(5),
    "count": 4,
    "box_type": "national_nuc5_pine",
    **edits.filling(5),
    "floor": "mesh",
    "roof": "solid",
    "entrance": "foam",
}


class LoadStep(QWidget):
    """Edits the load and the vehicle of the draft."""

    group_chosen = Signal(int)
    least_lines = 19
    """Of text, when open: two groups, the buttons and a field of the editor."""

    def __init__(self, document: Document, catalogue: Catalogue, units: UnitSystem = METRIC) -> None:
        super().__init__()
        self.document, self.catalogue, self.units = document, catalogue, units
        self.harm_of_100: list[str] = []
        self.setAccessibleName(s.say(s.STEP_LOAD))
        self.model = RowsModel(self._columns(), self._blank, letter)
        self.model.changed.connect(self._keep)
        self.groups = Grid(self.model, s.say(s.LOAD_GROUPS), lines=2)
        self.groups.row_chosen.connect(self._row_chosen)
        self.box, self.vehicle = BoxEditor(document, catalogue, units), VehicleEditor(document, catalogue)
        self.load_fault = Anchor(document, ("load",))
        self.none = label(s.say(s.LOAD_NONE), "small")
        self.none.setWordWrap(True)
        self.on_the_way = label("", "small")
        self.add = self._button(s.LOAD_ADD, self._add)
        self.copy = self._button(s.LOAD_COPY, self._copy)
        self.remove = self._button(s.LOAD_REMOVE, self._remove)
        self.editors = QTabWidget()
        self.editors.setDocumentMode(True)
        self.editors.addTab(self.box, s.say(s.LOAD_BOX_TAB))
        self.editors.addTab(self.vehicle, s.say(s.LOAD_PLACES))
        self._lay_out()
        document.changed.connect(self.refresh)

    def _lay_out(self) -> None:
        listing = QWidget()
        column = QVBoxLayout(listing)
        column.setContentsMargins(0, 2, 6, 0)
        column.setSpacing(6)
        tools = QHBoxLayout()
        tools.setSpacing(6)
        for button in (self.add, self.copy, self.remove):
            tools.addWidget(button)
        tools.addStretch(1)
        column.addLayout(tools)  # above the list, whose growing would move them from under the hand
        column.addWidget(self.none)
        column.addWidget(self.groups, 1)
        column.addWidget(self.on_the_way)
        column.addWidget(self.load_fault)
        self.split = ListAndEditor(listing, self.editors)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(self.split)

    def _button(self, text: str, act: Callable[[], None]) -> QPushButton:
        button = QPushButton(s.say(text))
        button.clicked.connect(lambda _=False: act())
        return button

    # -- the table -------------------------------------------------------------------------------

    def _columns(self) -> tuple[Column, ...]:
        return (
            Column(
                "label",
                s.LOAD_LABEL,
                lambda r: str(r.get("label") or ""),
                _label_taken,
                letters=12,
                stretch=True,
            ),
            Column(
                "count",
                s.LOAD_COUNT_SHORT,
                lambda r: str(r.get("count") or 0),
                lambda r, text: {**r, "count": number_in(text, 1, MOST_BOXES, whole=True)},
                letters=4,
                right=True,
            ),
            Column("frames_of_bees", s.LOAD_BEES_SHORT, self._bees, self._bees_taken, letters=5, right=True),
            Column(
                "box_type",
                s.LOAD_TYPE,
                self._kind,
                self._kind_taken,
                words=self._kinds,
                letters=13,
                spare=True,
                brief=lambda r: self._kind(r).split(",")[0],
            ),
            Column("harm", s.LOAD_HARM, self._harm, letters=4, right=True, hint=s.FIG_HARM),
            Column(
                "place",
                s.LOAD_RIDES,
                self._rides,
                self._rides_taken,
                words=self._rides_words,
                letters=12,
            ),
        )

    def _blank(self, rows: Sequence[Row]) -> Row:
        before = dict(rows[-1]) if rows else dict(NEW_GROUP)
        return {
            **before,
            "label": edits.free_label(str(before.get("label")), (str(r.get("label")) for r in rows)),
        }

    def _harm(self, row: Row) -> str:
        labels = [group.get("label") for group in self.document.get(("load",)) or []]
        at = labels.index(row.get("label")) if row.get("label") in labels else -1
        return self.harm_of_100[at] if 0 <= at < len(self.harm_of_100) else ""

    def show_harm(self, texts: Sequence[str]) -> None:
        """In how many of 100 variants each group is harmed, as the candidate looked at has it."""
        self.harm_of_100 = list(texts)
        self.groups.viewport().update()

    def _bees(self, row: Row) -> str:
        if "bees_kg" in row:
            return self.units.mass_text(float(row["bees_kg"] or 0))
        return f"{float(row.get('frames_of_bees') or 0):g}"

    def _bees_taken(self, row: Row, text: str) -> Row:
        """Frames where the bees sit on frames, else a weight in the unit shown; a unit typed decides."""
        by_weight = any(unit in text.lower() for unit in ("kg", "lb"))
        if not by_weight and "bees_kg" not in row:
            return {**row, "frames_of_bees": number_in(text, 0.0, MOST_FRAMES)}
        shown = float(number_in(text, 0.0, 100.0))
        in_pounds = "lb" in text.lower() or ("kg" not in text.lower() and self.units.name == "us")
        kg = shown * KG_PER_LB if in_pounds else shown
        if kg > MOST_KG:
            raise ValueError(text)
        return {**{k: v for k, v in row.items() if k != "frames_of_bees"}, "bees_kg": round(kg, 3)}

    def _kind(self, row: Row) -> str:
        box = self.catalogue.box_types.get(str(row.get("box_type")))
        return box.title if box else str(row.get("box_type") or "")

    def _kinds(self, _: Row) -> Mapping[str, str]:
        return {name: box.title for name, box in self.catalogue.box_types.items()}

    def _kind_taken(self, row: Row, text: str) -> Row:
        """Another box, with what is proposed for it where nothing was said of what hangs in the one before."""
        others = (str(one.get("label")) for one in self._groups() if one.get("label") != row.get("label"))
        return self.box.in_box(row, _key_of(self._kinds(row), text), others)

    def _rides(self, row: Row) -> str:
        place = self.catalogue.loading_places.get(str(row.get("place") or ""))
        return place.title if place else s.say(s.LOAD_ANYWHERE)

    def _rides_words(self, _: Row) -> Mapping[str, str]:
        places = {name: self.catalogue.loading_places[name].title for name in self.vehicle.allowed()}
        return {"": s.say(s.LOAD_ANYWHERE), **places}

    def _rides_taken(self, row: Row, text: str) -> Row:
        name = _key_of(self._rides_words(row), text)
        kept = {key: value for key, value in row.items() if key != "place"}
        return {**kept, "place": name} if name else kept

    # -- following the draft -----------------------------------------------------------------------

    @property
    def fields(self) -> list[Field]:
        return [*self.box.fields, self.load_fault, *self.vehicle.fields]

    @property
    def index(self) -> int:
        """The group edited."""
        return self.box.index

    def refresh(self, spot: FieldPath) -> None:
        if not spot or spot[0] == "load":
            self._match_rows()
        if not spot or spot[0] == "vehicle":
            self._offer_places()
        self.box.refresh(spot)
        self.vehicle.refresh(spot)

    def _match_rows(self) -> None:
        groups = self.document.get(("load",)) or []
        self.model.show_rows(groups)
        if self.box.index >= len(groups):
            self.box.rebind(max(len(groups) - 1, 0))
        self.none.setVisible(not groups)
        self.groups.setVisible(bool(groups))
        for button in (self.copy, self.remove):
            button.setEnabled(bool(groups))
        boarding = sum(bool(group.get("loaded_at")) for group in groups)
        self.on_the_way.setText(s.say(s.LOAD_ON_THE_WAY, count=boarding))
        self.on_the_way.setVisible(boarding > 0)
        self.groups.choose_row(self.box.index)
        self.split.give_list(self.groups.rows_high(min(len(groups), MOST_ROWS)) + self._below())

    def _below(self) -> int:
        """How tall what stands under the table is."""
        parts = [self.add, *(part for part in (self.on_the_way, self.load_fault) if part.isVisibleTo(self))]
        return sum(part.sizeHint().height() + 6 for part in parts)

    def _offer_places(self) -> None:
        self.box.offer_places(
            {name: self.catalogue.loading_places[name].title for name in self.vehicle.allowed()}
        )

    def choose(self, index: int) -> None:
        """Edit group ``index``."""
        self.box.rebind(index)
        self.refresh(("load",))
        self.groups.choose_row(index)
        self.group_chosen.emit(index)

    def _row_chosen(self, row: int) -> None:
        if row >= 0 and row != self.box.index:
            self.box.rebind(row)
            self.box.refresh(("load",))
            self.group_chosen.emit(row)

    def propose(self, place: str | None) -> None:
        """Where the candidate looked at would put the boxes that are not pinned."""
        self.vehicle.propose(place)
        self._offer_places()

    def set_units(self, units: UnitSystem) -> None:
        self.units = units
        self.box.set_units(units)
        self.refresh(("load",))

    def reveal(self, field: Field) -> None:
        """Bring an editor into view, on whichever page of the step it lies."""
        roomless = field is self.load_fault  # the load finds no room: another vehicle is the way out
        page = self.vehicle if roomless or field in self.vehicle.fields else self.box
        self.editors.setCurrentWidget(page)
        if not roomless:
            page.reveal(field)

    # -- hands -----------------------------------------------------------------------------------

    def _keep(self, kept: Kept) -> None:
        """The groups as the hand has left them; a name is never borne by two."""
        rows: list[Row] = []
        taken: set[str] = set()
        for number, row in enumerate(kept.rows):
            fresh = kept.came_from[number] is None or row.get("label") != self._label(kept.came_from[number])
            label_ = str(row.get("label") or "")
            others = {str(r.get("label")) for r in kept.rows[number + 1 :]} if fresh else set()
            name = edits.free_label(label_, taken | others) if label_ else label_
            taken.add(name)
            rows.append({**row, "label": name, **(self._boarding(label_) if fresh else {})})
        self.document.edit(("load",), rows, kept.words)
        if None in kept.came_from:
            self.choose(kept.came_from.index(None))

    def _boarding(self, name: str) -> dict[str, str]:
        """A group just named after a stop where boxes are loaded is loaded there."""
        stops = self.document.get(("stops",)) or []
        found = [
            stop["name"]
            for stop in stops
            if stop.get("purpose") == "load" and str(stop.get("name") or "").lower() == name.strip().lower()
        ]
        return {"loaded_at": found[0]} if len(found) == 1 else {}

    def _label(self, number: int | None) -> Any:
        held = self.document.get(("load",)) or []
        return held[number].get("label") if number is not None and number < len(held) else None

    def _groups(self) -> list[dict[str, Any]]:
        return list(edits.copied(self.document.get(("load",)) or []))

    def _add(self) -> None:
        groups = self._groups()
        taken = [str(group.get("label")) for group in groups]
        fresh = {**NEW_GROUP, "label": edits.free_label(str(NEW_GROUP["label"]), taken)}
        self.document.edit(("load",), [*groups, fresh], s.say(s.LOAD_ADD))
        self.choose(len(groups))
        self.editors.setCurrentWidget(self.box)

    def _copy(self) -> None:
        groups = self._groups()
        made = edits.copied(groups[self.index])
        made["label"] = edits.free_label(str(made.get("label")), (str(g.get("label")) for g in groups))
        groups.insert(self.index + 1, made)
        self.document.edit(("load",), groups, s.say(s.LOAD_COPY))
        self.choose(self.index + 1)

    def _remove(self) -> None:
        chosen = self.groups.chosen_rows() or [self.index]
        self.model.remove(chosen, s.LOAD_REMOVE)
        left = len(self.document.get(("load",)) or [])
        if left:
            self.choose(max(min(self.index, left - 1), 0))


def _label_taken(row: Row, text: str) -> Row:
    if not text.strip():
        raise ValueError(text)
    return {**row, "label": text.strip()}


def _key_of(words: Mapping[str, str], text: str) -> str:
    """The key of a choice named by itself, or by its words as far as they were typed."""
    wanted = text.strip()
    if wanted.lower() in words:
        return wanted.lower()
    found = fitting(wanted, (s.say(said) for said in words.values()))
    if not found:
        raise ValueError(text)
    return next(key for key, said in words.items() if s.say(said) == found[0])
