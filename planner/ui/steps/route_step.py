"""Step one, the route: its two ends, the stops between them as a table, the road that was found."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

from PySide6.QtCore import QMimeData, Signal
from PySide6.QtGui import QDragEnterEvent, QDragMoveEvent, QDropEvent
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QPushButton, QWidget

from planner.errors import Fault
from planner.ui.look import strings as s
from planner.ui.look.icons import SignButton
from planner.ui.look.panel import label
from planner.ui.steps.grid import Grid
from planner.ui.steps.page import Page
from planner.ui.trip import edits
from planner.ui.trip.document import MISSING, Document, FieldPath
from planner.ui.trip.fields import Field, NumberField, TextField, fault_text
from planner.ui.trip.hands import take_copy
from planner.ui.trip.place_edit import PlaceField, Search, Suggestion, Suggestions
from planner.ui.trip.tables import Column, Kept, Row, RowsModel, number_in

ROAD_ENDINGS = (".gpx", ".geojson", ".json", ".kml")
LONGEST_STOP_MIN = 10080.0


def _place_taken(row: Row, text: str) -> Row:
    """The row with another name; where it is has to be found anew."""
    kept = {key: value for key, value in row.items() if key not in edits.WHERE}
    return row if text == row.get("name") else {"name": text, **kept}


def _dwell_taken(row: Row, text: str) -> Row:
    return {**row, "dwell_minutes": number_in(text, 0.0, LONGEST_STOP_MIN)}


def _purpose_taken(row: Row, text: str) -> Row:
    for key, words in s.PURPOSES.items():
        if text.strip().lower() in (key, s.say(words).lower()):
            return {**row, "purpose": key}
    raise ValueError(text)


def _purpose(row: Row, words: Mapping[str, str]) -> str:
    """Why a stop is made; a purpose nobody knows is told as the file has it."""
    said = str(row.get("purpose") or "")
    return words.get(said, said)


STOP_COLUMNS = (
    Column(
        "name", s.STOP_PLACE, lambda row: str(row.get("name") or ""), _place_taken, letters=12, stretch=True
    ),
    Column(
        "purpose",
        s.ROUTE_PURPOSE,
        lambda row: s.say(_purpose(row, s.PURPOSES)),
        _purpose_taken,
        words=lambda _: s.PURPOSES,
        letters=9,
        brief=lambda row: s.say(_purpose(row, {**s.PURPOSES, **s.PURPOSES_BRIEF})),
    ),
    Column(
        "dwell_minutes",
        s.ROUTE_DWELL,
        lambda row: f"{float(row.get('dwell_minutes') or 0):g}",
        _dwell_taken,
        letters=4,
        right=True,
        hint=s.ROUTE_DWELL_HINT,
    ),
    Column("shade", s.ROUTE_SHADE, lambda _: "", tick=True, letters=3, hint=s.ROUTE_SHADE_HINT),
    Column("doors_open", s.ROUTE_DOORS, lambda _: "", tick=True, letters=3, hint=s.ROUTE_DOORS_HINT),
    Column("engine_on", s.ROUTE_ENGINE, lambda _: "", tick=True, letters=3, hint=s.ROUTE_ENGINE_HINT),
)


def blank_stop(_: Sequence[Row]) -> Row:
    return {"name": "", "purpose": "rest", "dwell_minutes": 20}


class RouteStep(Page):
    """Edits where the trip leads; announces wishes it cannot fulfil itself."""

    pick_on_map = Signal(object)
    remember = Signal(object)
    road_dropped = Signal(Path)

    def __init__(self, document: Document, search: Search) -> None:
        super().__init__()
        self.document, self._search = document, search
        self.setAcceptDrops(True)
        self.setAccessibleName(s.say(s.STEP_ROUTE))
        self.title = TextField(document, ("title",), s.say(s.ROUTE_TITLE_FIELD))
        self.origin = self._place(("origin",), s.say(s.ROUTE_FROM))
        self.destination = self._place(("destination",), s.say(s.ROUTE_TO))
        self._build_stops()
        self._road = ""
        self.road_words = label(s.say(s.ROUTE_ROAD_NONE), "small")
        self.road_hint = label(s.say(s.ROUTE_IMPORT), "small")
        for words in (self.road_words, self.road_hint):
            words.setWordWrap(True)
        self.factor = NumberField(
            document,
            ("vehicle", "drive_time_factor"),
            s.say(s.ROUTE_FACTOR),
            0.3,
            5,
            digits=2,
            step=0.05,
            default=1.0,
        )
        self.factor.box.setPrefix("× ")
        self._lay_out()
        document.changed.connect(self.refresh)

    def _place(self, spot: FieldPath, name: str) -> PlaceField:
        field = PlaceField(self.document, spot, name, self._search)
        field.from_map.connect(self.pick_on_map)
        field.remember.connect(self.remember)
        return field

    def _build_stops(self) -> None:
        self.model = RowsModel(STOP_COLUMNS, blank_stop)
        self.model.changed.connect(self._keep)
        self.stops = Grid(self.model, s.say(s.ROUTE_STOPS), lines=2)
        self.stops.cells.dress["name"] = self._suggest
        self.no_stops = label(s.say(s.ROUTE_NO_STOPS), "small")
        self.stops_fault = label("", "fault")
        for words in (self.no_stops, self.stops_fault):
            words.setWordWrap(True)
        self.add = QPushButton(s.say(s.ROUTE_ADD_STOP))
        self.add.clicked.connect(self._add)
        self.paste = QPushButton(s.say(s.ROUTE_PASTE))
        self.paste.setToolTip(s.say(s.ROUTE_PASTE_HINT))
        self.paste.clicked.connect(self._paste)
        self.up, self.down, self.cross, self.pin, self.star = (
            SignButton(sign, s.say(name), act)
            for sign, name, act in (
                ("up", s.ROUTE_UP, lambda: self._shift(-1)),
                ("down", s.ROUTE_DOWN, lambda: self._shift(1)),
                ("cross", s.ROUTE_REMOVE, self._remove),
                ("pin", s.ROUTE_FROM_MAP, lambda: self.pick_on_map.emit(StopSpot(self, self.row))),
                ("keep", s.ROUTE_SAVE_PLACE, lambda: self.remember.emit(self._known(self.row))),
            )
        )

    def _lay_out(self) -> None:
        tools = QWidget()
        line = QHBoxLayout(tools)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(4)
        line.addWidget(self.add)
        line.addWidget(self.paste)
        line.addStretch(1)
        for sign in (self.up, self.down, self.pin, self.star, self.cross):
            line.addWidget(sign)
        for part in (
            self.origin,
            self.destination,
            label(s.say(s.ROUTE_STOPS), "title"),
            tools,
            self.no_stops,
            self.stops,
            self.stops_fault,
            self.road_words,
            self.road_hint,
            self.factor,
            self.title,
        ):
            self.column.addWidget(part)
        self.column.addStretch(1)
        self._settle()

    @property
    def fields(self) -> list[Field]:
        return [self.title, self.origin, self.destination, self.factor]

    @property
    def row(self) -> int:
        """The stop the cursor is in, -1 for none."""
        return self.stops.currentIndex().row()

    # -- following the draft -----------------------------------------------------------------------

    def refresh(self, spot: FieldPath) -> None:
        if not spot or spot[0] == "stops":
            self.model.show_rows(self.document.get(("stops",)) or [])
            self._settle()
        if not spot or spot[0] in ("origin", "destination"):
            self._tell_road()
        for field in self.fields:
            if field.touches(spot):
                field.refresh()

    def _settle(self) -> None:
        """The table takes the room its rows need, up to seven; then it scrolls."""
        count = len(self.model.rows)
        self.no_stops.setVisible(count == 0)
        self.stops.setVisible(count > 0)
        self.stops.setFixedHeight(self.stops.rows_high(min(max(count, 2), 7)))
        for sign in (self.up, self.down, self.cross, self.pin, self.star):
            sign.setVisible(count > 0)

    def show_road(self, words: str) -> None:
        """What was found of the road, nothing where it is not known."""
        self._road = words
        self._tell_road()

    def _tell_road(self) -> None:
        ends = (self.document.get(("origin",)) or {}, self.document.get(("destination",)) or {})
        coming = all("lat" in end for end in ends)
        self.road_words.setText(self._road or s.say(s.ROUTE_ROAD_COMING if coming else s.ROUTE_ROAD_NONE))

    def show_stop_faults(self, faults: Sequence[Fault]) -> list[Fault]:
        """Mark the cells at fault and say the first below the table; hands back what belongs to no stop."""
        told: dict[tuple[int, str], str] = {}
        rest = []
        for fault in faults:
            row, key = _stop_of(fault.field)
            if row is None:
                rest.append(fault)
                continue
            unplaced = key in ("lat", "lon", "") and "lat" not in self.model.rows[row]
            name = str(self.model.rows[row].get("name") or "")
            words = s.say(s.PLACE_UNKNOWN, name=name) if unplaced and name else fault_text(fault)
            told.setdefault((row, "name" if key in edits.WHERE or not key else key), words)
        self.model.marks.faults = told
        self.stops_fault.setText(next(iter(told.values()), ""))
        self.stops_fault.setVisible(bool(told))
        self.stops.viewport().update()
        return rest

    def show_fault(self) -> None:
        """Put the keyboard into the first cell at fault."""
        (row, key), _ = next(iter(self.model.marks.faults.items()))
        column = next((n for n, one in enumerate(STOP_COLUMNS) if one.key == key), 0)
        self.stops.setCurrentIndex(self.model.index(row, column))
        self.stops.setFocus()
        self.reveal(self.stops)

    # -- hands -----------------------------------------------------------------------------------

    def _keep(self, kept: Kept) -> None:
        """The list as the hand has left it; names typed or pasted are looked for."""
        stops: Any = kept.rows if kept.rows else MISSING
        self.document.edit_places({"stops": stops}, kept.words, kept.came_from)
        self.find_missing()

    def find_missing(self) -> None:
        """Look for every stop that has a name and no place."""
        wanted = [
            row["name"] for row in self.document.get(("stops",)) or [] if row.get("name") and "lat" not in row
        ]
        if wanted:
            self._search.find_all(wanted, self._found)

    def _found(self, places: Mapping[str, dict[str, Any]]) -> None:
        """Put in where the stops are that were asked for; those renamed meanwhile are left."""
        stops = edits.copied(self.document.get(("stops",)) or [])
        for number, stop in enumerate(stops):
            place = places.get(stop.get("name", ""))
            if place and "lat" not in stop:
                stops[number] = _placed(stop, place)
        self.document.edit_places({"stops": stops}, s.say(s.STOP_PLACE))

    def put_place(self, row: int, place: dict[str, Any]) -> None:
        """Put stop ``row`` somewhere."""
        stops = edits.copied(self.document.get(("stops",)) or [])
        if 0 <= row < len(stops):
            stops[row] = _placed(stops[row], place)
            self.document.edit_places({"stops": stops}, s.say(s.STOP_PLACE))

    def _known(self, row: int) -> dict[str, Any]:
        stop = self.model.rows[row] if 0 <= row < len(self.model.rows) else {}
        return {key: stop[key] for key in edits.WHERE if key in stop}

    def _suggest(self, line: QLineEdit) -> None:
        """Offer places while a cell is typed; one taken puts the stop there at once."""
        row = self.row
        Suggestions(line, self._search, lambda found: self._take(row, line, found))

    def _take(self, row: int, line: QLineEdit, found: Suggestion) -> None:
        line.setText(str(self.model.rows[row].get("name") or ""))
        self.put_place(row, found.place)
        self.stops.setFocus()

    def _add(self) -> None:
        self.model.append(words=s.ROUTE_ADD_STOP)
        self._edit_place(len(self.model.rows) - 1)

    def _edit_place(self, row: int) -> None:
        at = self.model.index(row, 0)
        self.stops.setCurrentIndex(at)
        self.stops.scrollTo(at)
        self.reveal(self.stops)
        self.stops.setFocus()
        self.stops.edit(at)

    def _paste(self) -> None:
        """Addresses from the clipboard, one to a line, below the last stop."""
        from PySide6.QtGui import QGuiApplication

        lines = [line.split("\t") for line in QGuiApplication.clipboard().text().splitlines() if line.strip()]
        if lines:
            self.model.paste((len(self.model.rows), 0), lines, s.ROUTE_PASTE)

    def _shift(self, by: int) -> None:
        if self.row >= 0:
            gap = self.row - 1 if by < 0 else self.row + 2
            if 0 <= gap <= len(self.model.rows):
                self.stops.choose_row(self.model.move([self.row], gap, s.ROUTE_UP))

    def _remove(self) -> None:
        self.model.remove(self.stops.chosen_rows() or [self.row], s.ROUTE_REMOVE)

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if _road_in(event.mimeData()):
            take_copy(event)

    def dragMoveEvent(self, event: QDragMoveEvent) -> None:
        take_copy(event)

    def dropEvent(self, event: QDropEvent) -> None:
        path = _road_in(event.mimeData())
        if path:
            take_copy(event)
            self.road_dropped.emit(path)


class StopSpot:
    """Stop ``row`` as somewhere a click on the map may put it."""

    def __init__(self, step: RouteStep, row: int) -> None:
        self.take: Callable[[dict[str, Any]], None] = partial(step.put_place, row)


def _placed(stop: dict[str, Any], place: Mapping[str, Any]) -> dict[str, Any]:
    kept = {key: value for key, value in stop.items() if key not in edits.WHERE}
    return {**{key: place[key] for key in edits.WHERE if key in place}, **kept}


def _stop_of(field: str) -> tuple[int | None, str]:
    """The stop a fault's field names, and what of it."""
    if not field.startswith("stops["):
        return None, ""
    number, _, key = field[len("stops[") :].partition("]")
    return int(number), key.lstrip(".").split(".")[0]


def _road_in(data: QMimeData) -> Path | None:
    paths = (Path(url.toLocalFile()) for url in data.urls() if url.isLocalFile())
    return next((path for path in paths if path.suffix.lower() in ROAD_ENDINGS), None)
