"""Day: a collection day from its file or from pasted tables, planned, and its board."""

from __future__ import annotations

import copy
import re
import time
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from PySide6.QtCore import QEvent, QSize, Qt
from PySide6.QtGui import QGuiApplication, QKeyEvent, QKeySequence
from PySide6.QtWidgets import (
    QFileDialog,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QSpinBox,
    QTabWidget,
    QWidget,
)

from planner.errors import Fault, InputError, SkepwayError
from planner.folders import data_dir
from planner.store.daytable import KINDS, columns_of, head_of, read_rows
from planner.ui.look import clock
from planner.ui.look import paint as p
from planner.ui.look.chart_view import ChartView
from planner.ui.look.icons import chooser
from planner.ui.look.panel import ShortText, Veiled
from planner.ui.pages.book import Page
from planner.ui.pages.day.asked import (
    UPSETS,
    AskedDay,
    Planned,
    Upset,
    WantedPapers,
    ask_day,
    ask_papers,
    ask_repair,
)
from planner.ui.pages.day.draft import DayDraft, faults_of, typed
from planner.ui.pages.day.rows import PlaceCells, RowsTable
from planner.ui.pages.day.yard import YardEditor
from planner.ui.trip.hands import commit_typing
from planner.ui.work.background_query import BackgroundQuery, Going, Subject
from planner.ui.work.kept_day import KeptDay
from planner.ui.work.place_search import PlaceSearch
from planner.units import UnitSystem
from planner.words import say

if TYPE_CHECKING:
    from planner.app.day.records import DayPlan
    from planner.ui.work.session import Session

ROW_PX, HEAD_PX, BOARD_PX = 19, 130, 440
SHOWN_FAULTS = 3
ROOM_PX = 1000
"""More than any window has: what is less than its parts need is shared by their needs and not as asked for."""


class DayPage(Page):
    """Buyers and boxes as tables, the plan as a picture and in words."""

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.day = BackgroundQuery(session.runner, "day", ask_day)
        self.repairs = BackgroundQuery(session.runner, "day repair", ask_repair)
        self.papers = BackgroundQuery(session.runner, "day papers", ask_papers)
        self.planned: Planned | None = None
        self._planned_draft: dict[str, Any] | None = None
        """The draft that ``planned`` is of: another one has to be planned before it is repaired."""
        self.draft: dict[str, Any] | None = None
        self.folder: Path | None = None
        self.kept = KeptDay(data_dir() / "recovery")
        self._before: list[tuple[dict[str, Any], Planned | None, dict[str, Any] | None]] = []
        """Drafts before each change, with the plan that was shown and the draft that it was of."""
        self._number = 0
        self._head = ""
        self._faults: list[Fault] = []
        """What the reader of day files says of the draft."""
        self.search = PlaceSearch(self, session.runner, session.data_source, self._places_known, whose="day")
        self.lead, self.told = ShortText("", 3, bold=True), ShortText("", 4)
        self.buyers = RowsTable("buyers", say("day.page_buyers"))
        self.buyers.setItemDelegate(PlaceCells(self.buyers, self.search, self._places_known))
        self.boxes = RowsTable("boxes", say("day.page_boxes"))
        self.yard_draft = DayDraft(self)
        self.yard = YardEditor(self.yard_draft, self.search, self.units)
        self.board = ChartView()
        self.board.setAccessibleName(say("day.page_board"))
        self.board_room = QScrollArea()
        self.board_room.setWidgetResizable(True)
        self.board_room.setWidget(self.board)
        self.board.hide()
        self.words = p.Sentences(say("day.page_list"))
        self.open, self.save = QPushButton(say("day.page_open")), QPushButton(say("day.page_save"))
        self.begin = QPushButton(say("day.page_begin"))
        self.paste_buyers = QPushButton(say("day.page_paste_buyers"))
        self.paste_boxes = QPushButton(say("day.page_paste_boxes"))
        self.undo, self.go = QPushButton(say("day.page_undo")), QPushButton(say("day.page_plan"))
        self.print = QPushButton(say("day.page_papers"))
        self.take_up, self.let_go = QPushButton(), QPushButton(say("day.page_let_go"))
        self._show_left()
        self.upset, self.failed, self.much = chooser(), chooser(), QSpinBox()
        for kind in UPSETS:
            self.upset.addItem(say(f"day.upset_{kind}"), kind)
        self.upset.setAccessibleName(say("day.page_upset"))
        self.failed.setAccessibleName(say("day.page_failed"))
        self.much.setAccessibleName(say("day.page_much"))
        self.upset.currentIndexChanged.connect(lambda _: self._fill_upset())
        self.repair = QPushButton(say("day.page_repair"))
        self.repair.setToolTip(say("day.page_repair_hint"))
        for button, does in (
            (self.repair, self.repair_day),
            (self.take_up, self.take_up_left),
            (self.let_go, self.let_left_go),
            (self.open, self.browse),
            (self.save, self.browse_save),
            (self.begin, self.begin_day),
            (self.paste_buyers, lambda: self.paste("buyers")),
            (self.paste_boxes, lambda: self.paste("boxes")),
            (self.undo, self.take_back),
            (self.go, self.start),
            (self.print, self.browse_papers),
        ):
            button.clicked.connect(lambda _=False, does=does: does())
        for button in (self.paste_buyers, self.paste_boxes):
            button.setToolTip(say("day.page_paste_hint"))
        self.buyers.pasted = lambda: self.paste("buyers")
        self.boxes.pasted = lambda: self.paste("boxes")
        self.buyers.typed.connect(lambda *cell: self.type_cell("buyers", *cell))
        self.boxes.typed.connect(lambda *cell: self.type_cell("boxes", *cell))
        self.yard_draft.wished.connect(self._change)
        self.parts = QTabWidget()
        self.parts.setAccessibleName(say("day.page_parts"))
        for what, table in (("buyers", self.buyers), ("boxes", self.boxes)):
            self.parts.addTab(self._with_buttons(what, table), say(f"day.page_{what}"))
        self.parts.addTab(self.yard, say("day.page_yard"))
        self.parts.setCornerWidget(self.undo)
        self.yard.faulty.connect(self._name_yard)
        self.yard.place.remember.connect(self.search.remember)
        self.search.said.connect(self.told.setText)
        self.search.failed.connect(lambda error: self.told.setText(trouble_words(error)))
        upset = _row(self.upset, self.failed, self.much, self.repair)
        shown = p.split(
            Qt.Orientation.Vertical, (self.board_room, 3), (p.under(upset, self.words, grows=1), 2)
        )
        shown.setObjectName("day.shown")
        shown.setSizes([3 * ROOM_PX, 2 * ROOM_PX])
        self.shown = Veiled()
        p.fill(self.shown, shown)
        sides = p.split(Qt.Orientation.Horizontal, (self.parts, 1), (self.shown, 2))
        sides.setObjectName("day.sides")
        sides.setSizes([ROOM_PX, 2 * ROOM_PX])
        body = p.under(self.lead, sides, grows=1)
        self.panel = self.hang_always("day.page_guide", body)
        buttons = (self.open, self.save, self.begin, self.paste_buyers, self.paste_boxes)
        for tool in (Going(self.day), Going(self.repairs), Going(self.papers), *buttons, self.go, self.print):
            self.panel.head.addWidget(tool)
        p.fill(self, p.under(self.panel, _row(self.take_up, self.let_go), self.told, grows=0))
        self.day.answered.connect(self.show_planned)
        self.repairs.answered.connect(self.show_planned)
        self.day.changed.connect(self._settle)
        self.repairs.changed.connect(self._settle)
        self.papers.answered.connect(lambda words: self.told.setText(str(words)))
        self.papers.changed.connect(self._settle)
        self._settle()

    def _with_buttons(self, what: str, table: RowsTable) -> QWidget:
        """A table over what is done to its rows."""
        buttons = []
        for name, does in (
            ("paste", lambda: self.paste(what)),
            ("add", lambda: self.add_row(what, table)),
            ("remove", lambda: self.remove_rows(what, table)),
        ):
            button = QPushButton(say(f"day.page_{name}"))
            button.setAccessibleName(say(f"day.page_{name}_{what}"))
            button.setToolTip(say("day.page_paste_hint") if name == "paste" else button.accessibleName())
            button.clicked.connect(lambda _=False, does=does: does())
            buttons.append(button)
        return p.under(table, _row(*buttons), grows=0)

    def _places_known(self) -> list[tuple[float, float]]:
        """Where the yard is, so that its namesakes near by come first."""
        yard = (self.draft or {}).get("yard")
        lat, lon = (yard.get(key) if isinstance(yard, dict) else None for key in ("lat", "lon"))
        return [(lat, lon)] if isinstance(lat, int | float) and isinstance(lon, int | float) else []

    def hang_always(self, guide: str, body: Any) -> Any:
        """A panel that stands for itself, whatever trip is planned beside it."""
        from planner.ui.look.panel import Panel

        return Panel(say("day.page"), say(guide), body)

    # -- this page rests on no trip ----------------------------------------------------------------

    def look(self, subject: Subject | None) -> None:
        self.subject = subject

    def dim(self, stale: bool, words: str) -> None:
        """A day stands beside the trip: no change of the trip makes it stale."""

    def set_units(self, units: UnitSystem) -> None:
        super().set_units(units)
        self.yard.set_units(units)
        self._show_yard()

    def queries(self) -> tuple[BackgroundQuery, ...]:
        return (self.day, self.repairs, self.papers)

    # -- wishes ------------------------------------------------------------------------------------

    def browse(self) -> None:
        name, _ = QFileDialog.getOpenFileName(self, say("day.page_open"), "", say("day.page_files"))
        if name:
            self.take(Path(name))

    def browse_save(self) -> None:
        if self.draft is None:
            return
        name, _ = QFileDialog.getSaveFileName(self, say("day.page_save"), "", say("day.page_files"))
        if name:
            self.keep(Path(name))

    def take(self, path: Path) -> None:
        """Read a day file; on a fault what was there stays."""
        from planner.store.dayfile import read_day, resolve_day, whole_draft

        faults: SkepwayError | None = None
        try:
            draft = whole_draft(read_day(path), path.parent)
            if not is_shown(draft):
                resolve_day(draft, self.session.catalogue, path.parent)
        except SkepwayError as error:
            self.told.setText(trouble_words(error))
            return
        try:
            resolve_day(draft, self.session.catalogue, path.parent)
        except SkepwayError as error:  # a half-made day is opened too: it is to be finished
            faults = error
        self.folder = path.parent
        self._change(draft)
        self.kept.drop()
        if faults is None:
            self.start()
        else:
            self.told.setText(trouble_words(faults))

    def take_up_left(self) -> None:
        """Open the day that was not saved: a crash left it behind, or the window was closed."""
        left = self.kept.take_up()
        if left is not None:
            self.folder = left.base_folder
            self._change(left.draft if is_shown(left.draft) else {})
        self._show_left()

    def let_left_go(self) -> None:
        self.kept.let_go()
        self._show_left()

    def _show_left(self) -> None:
        left = self.kept.left
        for button in (self.take_up, self.let_go):
            button.setVisible(left is not None)
        if left is not None:
            age = clock.span(max(time.time() - left.written_s, 0.0))
            self.take_up.setText(say("day.page_take_up", title=str(left.draft.get("title", "")), age=age))

    def keep(self, path: Path) -> None:
        """Write the day, tables and all, to a file."""
        from planner.store.dayfile import write_day

        if self.draft is None:
            return
        try:
            write_day(self.draft, path.with_suffix(path.suffix or ".toml"))
        except SkepwayError as error:
            self.told.setText(str(error))
        else:
            self.kept.drop()

    def browse_papers(self) -> None:
        folder = QFileDialog.getExistingDirectory(self, say("day.page_papers_where"))
        if folder:
            self.write_papers(Path(folder))

    def write_papers(self, folder: Path) -> None:
        """All papers of the plan that is shown."""
        if self.planned is not None:
            self._number += 1
            wanted = WantedPapers(self.planned.plan, folder, self.session.catalogue)
            self.papers.put(self._number, wanted)

    def event(self, event: QEvent) -> bool:
        """Undo belongs to this page while its tables or buttons have the keys: the trip's stays out of it."""
        if isinstance(event, QKeyEvent) and event.matches(QKeySequence.StandardKey.Undo):
            commit_typing()
            if self._before and event.type() in (QEvent.Type.ShortcutOverride, QEvent.Type.KeyPress):
                if event.type() == QEvent.Type.KeyPress:
                    self.take_back()
                event.accept()
                return True
        return super().event(event)

    def type_cell(self, what: str, at: int, name: str, text: str) -> None:
        """One cell as it was written; what the reader of day files says of it is told."""
        rule = columns_of(KINDS[what]).get(name, {"type": "string"})
        before = self.draft
        self.yard_draft.edit((what, at, name), typed(text, rule))
        if self.draft is before:  # as it was, but perhaps written in another way
            self._show_draft()
        else:
            mine = (f"{what}[{at}]", f"{what}[{at}].{name}")
            faults = [fault for fault in self._faults if fault.field in mine]
            self.told.setText(trouble_words(InputError(faults)) if faults else "")

    def add_row(self, what: str, table: RowsTable) -> None:
        """One more row at the end, open to be written."""
        self.yard_draft.edit((what,), [*(self.draft or {}).get(what, []), {}])
        item = table.item(table.rowCount() - 1, 0)
        if item is not None:
            table.setFocus()
            table.setCurrentItem(item)
            table.editItem(item)

    def remove_rows(self, what: str, table: RowsTable) -> None:
        """Take the rows out of which a cell is chosen."""
        gone = {index.row() for index in table.selectedIndexes()}
        rows = (self.draft or {}).get(what, [])
        self.yard_draft.edit((what,), [row for at, row in enumerate(rows) if at not in gone])

    def paste(self, what: str) -> None:
        """Replace a table by what was copied; on a fault what was there stays, and one undo takes it back."""
        text = QGuiApplication.clipboard().text()
        if not text.strip():
            self.told.setText(say("day.page_nothing_to_paste"))
            return
        try:
            rows = read_rows(text, KINDS[what])
        except SkepwayError as error:
            self.told.setText(str(error))
            return
        draft = copy.deepcopy(self.draft) if self.draft is not None else self._empty()
        draft[what] = [dict(row) for row in rows.tables]
        borrowed = say("day.page_borrowed") if self.draft is None else ""
        self._change(draft)
        self.told.setText(f"{say('day.page_replaced', count=len(rows.tables))} {borrowed}".strip())

    def _empty(self) -> dict[str, Any]:
        """The demo's day without its people: something to change."""
        from planner.store.dayfile import empty_day

        return empty_day()

    def begin_day(self) -> None:
        """A day with nobody yet, to be written row by row."""
        self._change({**self._empty(), "buyers": [], "boxes": []})
        self.told.setText(say("day.page_borrowed"))

    def take_back(self) -> None:
        """The draft before the last change, and its plan where it had one."""
        if self._before:
            draft, planned, planned_draft = self._before.pop()
            self.draft = draft or None
            if self.draft is None or self.draft is not self._planned_draft:
                self.planned, self._planned_draft = planned, planned_draft
            self._keep_copy()
            self.told.setText("")
            self._show_draft()
            self.show_answers()

    def start(self) -> None:
        """Plan the day as it stands."""
        if self.draft is None:
            return
        self._number += 1
        self.planned, self._planned_draft = None, self.draft
        self.told.setText("")
        draft = copy.deepcopy(self.draft)
        self.day.put(self._number, AskedDay(draft, self.folder, self.session.catalogue))

    def repair_day(self) -> None:
        """Mend the day after what happened, and move as few people as possible."""
        if self.planned is not None and self.draft is not None:
            self._number += 1
            asked = AskedDay(copy.deepcopy(self.draft), self.folder, self.session.catalogue)
            kind = str(self.upset.currentData())
            upset = Upset(self.planned, kind, self.failed.currentText(), self.much.value(), asked)
            self.repairs.put(self._number, upset)

    def _change(self, draft: dict[str, Any]) -> None:
        self._before.append((self.draft or {}, self.planned, self._planned_draft))
        self.draft = draft
        self.told.setText("")
        self._show_draft()
        self._keep_copy()

    def _keep_copy(self) -> None:
        """The draft as it stands now is not lost, whatever happens; where no copy can be kept, that is said."""
        if self.draft is None:
            self.kept.drop()
        elif (trouble := self.kept.keep(self.draft, self.folder)) is not None:
            self.told.setText(str(trouble))

    # -- showing -----------------------------------------------------------------------------------

    def _show_draft(self) -> None:
        draft = self.draft or {}
        self.buyers.show_rows(draft.get("buyers", []))
        self.boxes.show_rows(draft.get("boxes", []))
        self._show_yard()
        self._settle()

    def _show_yard(self) -> None:
        draft = self.draft or {}
        self._faults = faults_of(draft, self.session.catalogue) if draft else []
        self.yard.show_draft(draft, self._faults)

    def _name_yard(self, faults: int) -> None:
        """The tab says how much is wrong behind it."""
        title = say("day.page_yard_faulty", count=faults) if faults else say("day.page_yard")
        self.parts.setTabText(self.parts.indexOf(self.yard), title)

    def _settle(self) -> None:
        draft = self.draft
        self.panel.set_filled(draft is not None)
        for first in (self.begin, self.paste_buyers, self.paste_boxes):  # later they stand below their tables
            first.setVisible(draft is None)
        for later in (self.save, self.undo, self.print):
            later.setVisible(draft is not None)
        self.undo.setEnabled(bool(self._before))
        self.go.setEnabled(draft is not None and not self.day.working)
        self.save.setEnabled(draft is not None)
        whole = self.planned is not None and self.planned.plan.finished
        can = whole and draft is self._planned_draft and not self.day.working and not self.repairs.working
        for part in (self.repair, self.upset, self.failed, self.much):
            part.setEnabled(can)
        self.print.setEnabled(can and not self.papers.working)
        trouble = self.day.trouble or self.repairs.trouble or self.papers.trouble
        if trouble is not None and draft is self._planned_draft:
            self.told.setText(trouble_words(trouble))
        self._dim_old()
        self.shown.setHidden(
            self.planned is None and self.board.isHidden()
        )  # the tables have its room till then
        if draft is not None and self.planned is None:
            counts = len(draft.get("buyers", [])), len(draft.get("boxes", []))
            title = str(draft.get("title", ""))
            self.lead.setText(say("day.page_loaded", title=title, buyers=counts[0], boxes=counts[1]))

    def _dim_old(self) -> None:
        """What is shown is that of the day before, from its first change until it is planned again."""
        changed = self.planned is not None and self.draft is not self._planned_draft
        waiting = self.planned is None and not self.board.isHidden()
        words = say("day.page_waiting") if self.day.working else say("day.page_old")
        self.shown.set_stale(changed or waiting, words)
        self.lead.setEnabled(not changed)
        if self.planned is not None:
            self.lead.setText(say("day.page_old_head", head=self._head) if changed else self._head)

    def show_planned(self, planned: object) -> None:
        """Show a plan; one that was repaired goes into the draft, to be saved, and says who is to be told what."""
        if not isinstance(planned, Planned):
            return
        if planned.said and self.planned is not None and planned.judge is not self.planned.judge:
            self._change(repaired_draft(self.draft or {}, self.planned.plan, planned.plan))
            self._planned_draft = self.draft
        self.planned = planned
        self.show_answers()
        self._settle()

    def show_answers(self) -> None:
        from planner.app.day.pictures import board_chart
        from planner.app.day.words import day_words

        self.board.setVisible(self.planned is not None)
        if self.planned is None:
            self.words.show_parts(())
            return
        plan, said = self.planned.plan, self.planned.said
        head, sections = day_words(plan)
        self._head = say("day.page_repaired", first=said[0], head=head) if said else head
        self._dim_old()
        self.board.show_chart(board_chart(plan))
        self.board.setAccessibleDescription(head)
        rows = len(plan.appointments) + len(plan.put_off)
        self.board.setMinimumSize(QSize(BOARD_PX, HEAD_PX + ROW_PX * rows))
        self.words.show_parts(((say("day.section_repair"), said), *sections) if said else sections)
        self._fill_upset()

    def _fill_upset(self) -> None:
        """Which boxes or buyers it may have happened to, and how much of it there may be."""
        kind, plan = str(self.upset.currentData()), None if self.planned is None else self.planned.plan
        chosen = self.failed.currentText()
        self.failed.clear()
        if plan is not None and kind == "failed":
            self.failed.addItems([box.name for box in plan.day.boxes_that_may_go])
        if plan is not None and kind == "late":
            self.failed.addItems([plan.day.buyers[one.buyer].name for one in plan.appointments])
        self.failed.setCurrentText(chosen)
        self.failed.setVisible(kind in ("failed", "late"))
        self.much.setVisible(kind in ("late", "torn"))
        self.much.setSuffix(say("day.upset_minutes") if kind == "late" else "")
        if kind == "late":
            self.much.setRange(5, 720)
            self.much.setValue(60)
        elif kind == "torn":
            stock = 1 if plan is None else plan.day.stock.roof_screens
            self.much.setRange(1, max(stock, 1))
            self.much.setValue(1)


def _row(*parts: QWidget) -> QWidget:
    """Beside each other, as wide as they ask to be."""
    row = QWidget()
    line = QHBoxLayout(row)
    line.setContentsMargins(0, 0, 0, 0)
    for part in parts:
        line.addWidget(part)
    line.addStretch(1)
    return row


def is_shown(draft: dict[str, Any]) -> bool:
    """Whether a draft is a day, half-made or whole: it has a yard, buyers or boxes, and its tables can be shown."""
    if not {"yard", "buyers", "boxes"} & draft.keys():
        return False
    tables = [draft.get(key, []) for key in ("buyers", "boxes")]
    return all(isinstance(rows, list) and all(isinstance(row, dict) for row in rows) for rows in tables)


def trouble_words(error: SkepwayError) -> str:
    """The first few faults and how many more there are, rows and columns named as the tables beside them do."""
    if not isinstance(error, InputError):
        return str(error)

    def row(found: re.Match[str]) -> str:
        words = say("day.page_row", table=say(f"day.page_{found[1]}"), number=int(found[2]) + 1)
        return f"{words}, {head_of(KINDS[found[1]], found[3])}" if found[3] else words

    said = [re.sub(r"\b(buyers|boxes)\[(\d+)\](?:\.(\w+))?", row, str(fault)) for fault in error.faults]
    more = len(said) - SHOWN_FAULTS
    return "\n".join([*said[:SHOWN_FAULTS], *([say("day.page_more_faults", count=more)] if more > 0 else [])])


def repaired_draft(draft: dict[str, Any], before: DayPlan, after: DayPlan) -> dict[str, Any]:
    """The draft as the repair leaves it: what failed or tore, and the hour everybody is told now."""
    whole = copy.deepcopy(draft)
    failed = {box.name for box in after.day.boxes if box.check == "failed"}
    for row in whole.get("boxes", []):
        if row.get("id") in failed:
            row["check"] = "failed"
    if after.day.stock != before.day.stock:
        whole["stock"] = {**whole.get("stock", {}), "roof_screens": after.day.stock.roof_screens}
    zone = ZoneInfo(after.day.yard.zone)
    for number, row in enumerate(whole.get("buyers", [])):
        one = after.of(number) or before.of(number)
        if one is not None:
            row["told"] = datetime.fromtimestamp(one.slot_s, zone).strftime("%H:%M")
        if "box" in row and not after.day.buyers[number].boxes_named:
            del row["box"]  # the box promised is the one that failed
    return whole
