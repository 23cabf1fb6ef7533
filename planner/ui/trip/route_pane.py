"""The way and the time: places, stops, window, closing, arrival, vehicle, where the weather comes from."""

from __future__ import annotations

import copy
from collections.abc import Callable
from functools import partial
from pathlib import Path

from PySide6.QtCore import QMimeData, QPoint, QRect, QSize, Qt, Signal
from PySide6.QtGui import (
    QDrag,
    QDragEnterEvent,
    QDragLeaveEvent,
    QDragMoveEvent,
    QDropEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
)
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from planner.ui.look import strings as s
from planner.ui.look import theme
from planner.ui.look.icons import SignButton
from planner.ui.look.panel import label, named
from planner.ui.trip.document import MISSING, Document, FieldPath
from planner.ui.trip.fields import (
    ChoiceField,
    ClockField,
    Field,
    MomentField,
    NumberField,
    TextField,
    TickField,
    beside,
    heading,
)
from planner.ui.trip.own_weather import OwnWeatherField
from planner.ui.trip.place_edit import PlaceField, Search

STOP_MIME = "application/x-skepway-stop"
ROAD_ENDINGS = (".gpx", ".geojson", ".json", ".kml")
NEW_STOP = {"name": "", "purpose": "rest", "dwell_minutes": 20}


class Page(QScrollArea):
    """A scrolling column of fields."""

    def __init__(self) -> None:
        super().__init__()
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.page = named(QWidget(), "page")
        self.column = QVBoxLayout(self.page)
        self.column.setContentsMargins(2, 2, 8, 8)
        self.column.setSpacing(7)
        self.setWidget(self.page)

    def minimumSizeHint(self) -> QSize:
        """Wide enough for the page: it never scrolls sideways."""
        return QSize(self.page.minimumSizeHint().width() + 12, 120)

    def reveal(self, part: QWidget) -> None:
        self.ensureWidgetVisible(part, 0, 40)


class Grip(QWidget):
    """The handle a stop is dragged by."""

    def __init__(self, carried: QWidget, index_of: Callable[[], int]) -> None:
        super().__init__()
        self._carried, self._index_of = carried, index_of
        self._from: QPoint | None = None
        self.setFixedWidth(12)
        self.setCursor(Qt.CursorShape.OpenHandCursor)

    def paintEvent(self, event: QPaintEvent) -> None:
        paint = QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        paint.setPen(Qt.PenStyle.NoPen)
        paint.setBrush(theme.colour(theme.current().ink_faint))
        for x in (3, 8):
            for y in range(3):
                paint.drawEllipse(QPoint(x, self.height() // 2 - 6 + y * 6), 1, 1)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self._from = event.position().toPoint()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._from is None or (event.position().toPoint() - self._from).manhattanLength() < 6:
            return
        self._from = None
        drag = QDrag(self)
        data = QMimeData()
        data.setData(STOP_MIME, str(self._index_of()).encode())
        drag.setMimeData(data)
        drag.setPixmap(self._carried.grab())
        drag.exec(Qt.DropAction.MoveAction)


class StopCard(QFrame):
    """One stop: where, why, how long, how it stands; moved by its grip or its arrows."""

    wished = Signal(str, int)

    def __init__(self, document: Document, index: int, search: Search) -> None:
        super().__init__()
        self.setObjectName("card")
        self.index = index
        self.place = PlaceField(document, ("stops", index), "", search)
        self.place.box.setAccessibleName(s.say(s.STOP_PLACE))
        self.purpose = ChoiceField(document, self._spot("purpose"), "", s.PURPOSES)
        self.purpose.editor.setAccessibleName(s.say(s.ROUTE_PURPOSE))
        self.dwell = NumberField(
            document, self._spot("dwell_minutes"), "", 0, 10080, suffix=s.say(s.SUFFIX_MIN)
        )
        self.dwell.editor.setAccessibleName(s.say(s.ROUTE_DWELL))
        self.dwell.setFixedWidth(72)
        self.ticks = [
            TickField(document, self._spot(key), s.say(text))
            for key, text in (
                ("shade", s.ROUTE_SHADE),
                ("doors_open", s.ROUTE_DOORS),
                ("engine_on", s.ROUTE_ENGINE),
            )
        ]
        outer = QHBoxLayout(self)
        outer.setContentsMargins(4, 6, 6, 6)
        outer.setSpacing(4)
        outer.addWidget(Grip(self, lambda: self.index))
        column = QVBoxLayout()
        column.setSpacing(5)
        outer.addLayout(column, 1)
        first = QHBoxLayout()
        first.setSpacing(0)
        first.addWidget(self.place, 1)
        for sign, name, wish in (
            ("up", s.ROUTE_UP, "up"),
            ("down", s.ROUTE_DOWN, "down"),
            ("cross", s.ROUTE_REMOVE, "remove"),
        ):
            button = SignButton(sign, s.say(name), partial(self._wish, wish))
            first.addWidget(button, 0, Qt.AlignmentFlag.AlignTop)
        column.addLayout(first)
        second = QHBoxLayout()
        second.setSpacing(6)
        second.addWidget(self.purpose, 1)
        second.addWidget(self.dwell)
        column.addLayout(second)
        third = QHBoxLayout()
        third.setSpacing(8)
        for tick in self.ticks:
            third.addWidget(tick)
        third.addStretch(1)
        column.addLayout(third)

    def _wish(self, wish: str) -> None:
        self.wished.emit(wish, self.index)

    def _spot(self, key: str) -> FieldPath:
        return ("stops", self.index, key)

    @property
    def fields(self) -> list[Field]:
        return [self.purpose, self.dwell, *self.ticks, self.place]


class StopList(QWidget):
    """The stops in order; accepts a stop dragged to another place in the row."""

    moved = Signal(int, int)

    def __init__(self) -> None:
        super().__init__()
        self.setAcceptDrops(True)
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(0, 0, 0, 0)
        self.column.setSpacing(6)
        self._line: int | None = None

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if event.mimeData().hasFormat(STOP_MIME):
            event.acceptProposedAction()

    def dragMoveEvent(self, event: QDragMoveEvent) -> None:
        self._line = self._gap(event.position().toPoint().y())
        self.update()
        event.acceptProposedAction()

    def dragLeaveEvent(self, event: QDragLeaveEvent) -> None:
        self._line = None
        self.update()

    def dropEvent(self, event: QDropEvent) -> None:
        start = int(event.mimeData().data(STOP_MIME).data())
        self.moved.emit(start, self._gap(event.position().toPoint().y()))
        self._line = None
        self.update()

    def _cards(self) -> list[StopCard]:
        items = (self.column.itemAt(i) for i in range(self.column.count()))
        parts = (item.widget() for item in items if item is not None)
        return [part for part in parts if isinstance(part, StopCard)]

    def _gap(self, y: int) -> int:
        return sum(1 for card in self._cards() if card.geometry().center().y() < y)

    def paintEvent(self, event: QPaintEvent) -> None:
        if self._line is None:
            return
        cards = self._cards()
        y = cards[self._line].y() - 3 if self._line < len(cards) else self.height() - 1
        paint = QPainter(self)
        paint.fillRect(QRect(0, y - 1, self.width(), 2), theme.colour(theme.current().accent))


class RoutePane(Page):
    """Edits the way and the time of the draft; announces wishes it cannot fulfil itself."""

    pick_on_map = Signal(object)
    remember = Signal(object)
    road_dropped = Signal(Path)

    def __init__(self, document: Document, search: Search) -> None:
        super().__init__()
        self.document, self._search = document, search
        self.setAcceptDrops(True)
        self.setAccessibleName(s.say(s.TAB_ROUTE))
        self.title = TextField(document, ("title",), s.say(s.ROUTE_TITLE_FIELD))
        self.origin = self._place(("origin",), s.say(s.ROUTE_FROM))
        self.destination = self._place(("destination",), s.say(s.ROUTE_TO))
        self.stops = StopList()
        self.stops.moved.connect(self._move)
        self.no_stops = label(s.say(s.ROUTE_NO_STOPS), "small")
        self.no_stops.setWordWrap(True)
        self.add = QPushButton(s.say(s.ROUTE_ADD_STOP))
        self.add.clicked.connect(self._add)
        self.cards: list[StopCard] = []
        self.road_words = label(s.say(s.ROUTE_ROAD_NONE), "small")
        self.road_words.setWordWrap(True)
        self.road_hint = label(s.say(s.ROUTE_IMPORT), "small")
        self.road_hint.setWordWrap(True)
        self.first = MomentField(document, ("window", "from"), s.say(s.ROUTE_FIRST))
        self.last = MomentField(document, ("window", "to"), s.say(s.ROUTE_LAST))
        self.step = NumberField(
            document,
            ("window", "step_minutes"),
            s.say(s.ROUTE_STEP),
            1,
            1440,
            suffix=s.say(s.SUFFIX_MIN),
            default=30,
            step=5,
        )
        self.first.also("window")
        self.rule = ChoiceField(
            document, ("closing", "rule"), s.say(s.ROUTE_CLOSING), s.CLOSINGS, default="after_sunset"
        ).also("closing")
        self.delay = NumberField(
            document,
            ("closing", "delay_minutes"),
            s.say(s.ROUTE_DELAY),
            -180,
            360,
            suffix=s.say(s.SUFFIX_MIN),
            step=5,
        )
        self.clock = ClockField(document, ("closing", "clock"), s.say(s.ROUTE_CLOCK))
        self.dark = TickField(document, ("arrival", "before_light"), s.say(s.ROUTE_BEFORE_LIGHT))
        self.latest = MomentField(
            document, ("arrival", "latest"), s.say(s.ROUTE_ARRIVAL), optional=s.say(s.ROUTE_LATEST)
        )
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
        self.net = TickField(document, ("vehicle", "net"), s.say(s.ROUTE_NET))
        self.shade = TickField(
            document, ("handling", "waiting_shade"), s.say(s.ROUTE_WAIT_SHADE), default=True
        )
        self.weather = ChoiceField(document, ("weather", "source"), s.say(s.ROUTE_WEATHER), s.WEATHERS).also(
            "weather"
        )
        self.own = OwnWeatherField(document)
        self._lay_out()
        document.changed.connect(self.refresh)

    def _place(self, spot: FieldPath, name: str) -> PlaceField:
        field = PlaceField(self.document, spot, name, self._search)
        field.from_map.connect(self.pick_on_map)
        field.remember.connect(self.remember)
        return field

    def _lay_out(self) -> None:
        adding = QHBoxLayout()
        adding.addWidget(self.add)
        adding.addStretch(1)
        above: tuple[QWidget, ...] = (self.title, self.origin, self.no_stops, self.stops)
        for part in above:
            self.column.addWidget(part)
        self.column.addLayout(adding)
        below: tuple[QWidget, ...] = (
            self.destination,
            self.road_words,
            self.road_hint,
            heading(s.say(s.ROUTE_WHEN)),
            self.first,
            self.last,
            beside(self.step, self.rule),
            beside(self.delay, self.clock),
            heading(s.say(s.ROUTE_ARRIVAL)),
            self.dark,
            self.latest,
            heading(s.say(s.ROUTE_VEHICLE)),
            self.factor,
            self.net,
            self.shade,
            heading(s.say(s.ROUTE_WEATHER_HEAD)),
            self.weather,
            self.own,
        )
        for part in below:
            self.column.addWidget(part)
        self.column.addStretch(1)

    @property
    def fields(self) -> list[Field]:
        own = [
            self.title,
            self.origin,
            self.destination,
            self.first,
            self.last,
            self.step,
            self.rule,
            self.delay,
            self.clock,
            self.dark,
            self.latest,
            self.factor,
            self.net,
            self.shade,
            self.weather,
            self.own,
        ]
        return own + [field for card in self.cards for field in card.fields]

    # -- following the draft -----------------------------------------------------------------------

    def refresh(self, spot: FieldPath) -> None:
        if not spot or spot[0] == "stops":
            self._match_cards()
        for field in self.fields:
            if field.touches(spot):
                field.refresh()
        rule = self.document.get(("closing", "rule"), "after_sunset")
        self.delay.setVisible(rule in ("after_sunset", "before_sunrise"))
        self.clock.setVisible(rule == "clock")

    def _match_cards(self) -> None:
        """One card for each stop; cards are kept, only their number changes."""
        wanted = len(self.document.get(("stops",)) or [])
        while len(self.cards) > wanted:
            card = self.cards.pop()
            self.stops.column.removeWidget(card)
            card.hide()
            card.deleteLater()
        while len(self.cards) < wanted:
            card = StopCard(self.document, len(self.cards), self._search)
            card.wished.connect(self._wished)
            card.place.from_map.connect(self.pick_on_map)
            card.place.remember.connect(self.remember)
            self.cards.append(card)
            self.stops.column.addWidget(card)
        self.no_stops.setVisible(wanted == 0)
        self.stops.setVisible(wanted > 0)

    def show_road(self, words: str) -> None:
        self.road_words.setText(words)

    # -- hands -----------------------------------------------------------------------------------

    def _add(self) -> None:
        stops = [*(self.document.get(("stops",)) or []), dict(NEW_STOP)]
        self.document.edit_way(("stops",), stops, s.say(s.ROUTE_ADD_STOP))
        self.cards[-1].place.box.setFocus()
        self.reveal(self.cards[-1])

    def _wished(self, wish: str, index: int) -> None:
        if wish == "remove":
            stops = copy.deepcopy(self.document.get(("stops",)))
            del stops[index]
            self.document.edit_way(("stops",), stops if stops else MISSING, s.say(s.ROUTE_REMOVE))
        else:
            self._move(index, index + 2 if wish == "down" else index - 1)

    def _move(self, start: int, gap: int) -> None:
        """Put stop ``start`` into the gap before stop ``gap``."""
        stops = copy.deepcopy(self.document.get(("stops",)))
        target = gap - 1 if gap > start else gap
        if 0 <= target < len(stops) and target != start:
            stops.insert(target, stops.pop(start))
            self.document.edit_way(("stops",), stops, s.say(s.ROUTE_UP))

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if _road_in(event.mimeData()):
            event.acceptProposedAction()

    def dragMoveEvent(self, event: QDragMoveEvent) -> None:
        event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        path = _road_in(event.mimeData())
        if path:
            self.road_dropped.emit(path)


def _road_in(data: QMimeData) -> Path | None:
    paths = (Path(url.toLocalFile()) for url in data.urls() if url.isLocalFile())
    return next((path for path in paths if path.suffix.lower() in ROAD_ENDINGS), None)
