"""Papers: the sheets of the answer as they will be printed; written to a folder, copied as text, put into an e-mail."""

from __future__ import annotations

import copy
import time
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QDesktopServices, QGuiApplication, QPixmap, QResizeEvent
from PySide6.QtWidgets import (
    QFileDialog,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QWidget,
)

from planner.app.answer.records import DO_NOT_GO, Answer
from planner.errors import SkepwayError
from planner.store.logbook.identity import identified
from planner.store.people import Person, people_of
from planner.store.tripfile import trip_id
from planner.ui.look import paint as p
from planner.ui.look import strings as s
from planner.ui.look.icons import Choices, chooser
from planner.ui.look.panel import label
from planner.ui.pages.book import Page
from planner.ui.work.background_query import BackgroundQuery, Going
from planner.ui.work.runner import Watch
from planner.words import languages, say

if TYPE_CHECKING:
    from planner.app.plan.results import Plan
    from planner.app.sheets.facts import TripFacts
    from planner.app.sheets.records import Sheet
    from planner.app.standing.reserve import Drawn
    from planner.model.catalogue import Catalogue
    from planner.paper.folder import Written
    from planner.paper.pdf import Paper
    from planner.store.documents import Document
    from planner.ui.work.session import Session
    from planner.units import UnitSystem

KINDS = ("driver", "receiver", "yard", "receipt")
BUYER = "buyer "
"""In front of the number of whoever collects boxes and drives."""
PAPERS: tuple[Paper, ...] = ("a4", "letter")
PREVIEW_PPI = 150.0
MOST_NAME = 30
"""Letters of a name in the list of sheets."""


@dataclass(frozen=True, eq=False)
class Asked:
    """An answer whose sheets are wanted."""

    answer: Answer
    samples: Drawn | None
    catalogue: Catalogue
    draft: Document
    trip: str = ""


@dataclass(frozen=True, eq=False)
class Told:
    """What the sheets say, and the plan it was read from; None where they tell no times."""

    facts: TripFacts
    plan: Plan | None = None
    asked: Asked | None = None


@dataclass(frozen=True, eq=False)
class Wish:
    """One sheet to be looked at, or all of them written to ``folder`` and kept under the key ``trip``."""

    facts: TripFacts
    kind: str
    language: str
    paper: Paper
    units: UnitSystem
    folder: Path | None = None
    people: tuple[Person, ...] = ()
    told: Told | None = None
    trip: str = ""


@dataclass(frozen=True, eq=False)
class Filed:
    """What was written, and why the logbook does not know of it; "" where it does or there is nothing to know."""

    written: Written
    unkept: str = ""


@dataclass(frozen=True, eq=False)
class Preview:
    """A sheet and its picture."""

    sheet: Sheet
    png: bytes


def ask_facts(asked: Asked, watch: Watch) -> Told:
    """What the sheets say; how long one may stand is worked out only where anybody will."""
    from planner.app.answer.settled import ONLY, settled_plan
    from planner.app.sheets.gather import Printing, gather, way_of
    from planner.app.sheets.issued import with_findings
    from planner.app.standing.reserve import sampled_reserve
    from planner.store.logbook.book import Logbook

    found = asked.answer
    assert found.trip is not None
    standing = plan = None
    if found.best is not None and not found.missing and found.decision != DO_NOT_GO:
        plan = settled_plan(found, found.best, asked.catalogue)
        standing = sampled_reserve(
            plan,
            ONLY,
            asked.catalogue,
            asked.samples,
            on_progress=watch.on_progress,
            should_stop=watch.should_stop,
        )
    way = way_of(found, standing)
    facts = gather(found.trip, found.road, found.weather, asked.catalogue, way, Printing(time.time()))
    if asked.trip:
        with suppress(SkepwayError):  # a logbook that cannot be read says so on its own page
            facts = with_findings(facts, Logbook(), asked.trip)
    return Told(facts, plan, asked)


def sheet_of(wish: Wish) -> Sheet:
    """The sheet that is wished for."""
    from planner.app.sheets.drive import buyer_sheet, driver_sheet
    from planner.app.sheets.stay import receipt_sheet, receiver_sheet, yard_sheet

    if wish.kind.startswith(BUYER):
        person = wish.people[int(wish.kind.removeprefix(BUYER))]
        return buyer_sheet(wish.facts, person, person.language or wish.language)
    if wish.kind == "receiver":
        return receiver_sheet(wish.facts, wish.language)
    if wish.kind == "yard":
        return yard_sheet(wish.facts, wish.people, wish.language)
    if wish.kind == "receipt":
        return receipt_sheet(wish.facts, None, wish.language)
    return driver_sheet(wish.facts, wish.language)


def ask_preview(wish: Wish, _: Watch) -> Preview:
    from planner.paper.pdf import sheet_png

    sheet = sheet_of(wish)
    return Preview(sheet, sheet_png(sheet, wish.paper, wish.units, ppi=PREVIEW_PPI))


def ask_folder(wish: Wish, watch: Watch) -> Filed:
    """Everything written, and the plan it tells of kept in the logbook, as the command line does."""
    from planner.paper.folder import Wanted, write_sheets

    assert wish.folder is not None
    wanted = Wanted(wish.language, wish.paper, wish.units)
    made = write_sheets(
        wish.folder,
        wish.facts,
        wish.people,
        wanted,
        on_progress=watch.on_progress,
        should_stop=watch.should_stop,
    )
    try:
        _keep(wish, made.replaces)
    except SkepwayError as error:  # sheets are printed whether or not the logbook can be written
        return Filed(made, str(error))
    return Filed(made)


def _keep(wish: Wish, replaces: str) -> None:
    """Keep the plan the sheets were printed from, where they tell of one. Raises StorageError."""
    from planner.app.answer.settled import ONLY
    from planner.app.sheets.issued import issued
    from planner.store.logbook.book import Logbook

    told = wish.told
    if told is None or told.plan is None or told.asked is None or wish.facts.void or not wish.trip:
        return
    issued(
        replace(wish.facts, proof=replace(wish.facts.proof, replaces=replaces)),
        told.plan,
        ONLY,
        logbook=Logbook(),
        trip=wish.trip,
        draft=told.asked.draft,
        catalogue=told.asked.catalogue,
    )


class Picture(QLabel):
    """The picture of a sheet, as wide as there is room for."""

    def __init__(self) -> None:
        super().__init__()
        self.setAlignment(Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignTop)
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self._whole = QPixmap()

    def show_png(self, png: bytes) -> None:
        self._whole = QPixmap()
        self._whole.loadFromData(png)
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        if not self._whole.isNull():
            width = min(self.width(), self._whole.width())
            self.setPixmap(self._whole.scaledToWidth(width, Qt.TransformationMode.SmoothTransformation))


class PapersPage(Page):
    """What is printed is chosen above, and shown below as it will be."""

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.setAccessibleName(say("papers.name"))
        self.setAccessibleDescription(say("papers.hint"))
        self.facts = BackgroundQuery(session.runner, "papers facts", ask_facts)
        self.preview = BackgroundQuery(session.runner, "papers preview", ask_preview)
        self.writing = BackgroundQuery(session.runner, "papers folder", ask_folder)
        self.kind = _choices("papers.kind", [(say(f"papers.kind_{name}"), name) for name in KINDS])
        tongues = [(say(f"papers.language_{name}"), name) for name in languages()]
        self.language = _choices("papers.language", tongues)
        self.language.setCurrentIndex(max(self.language.findData(session.language), 0))
        self.paper = _choices("papers.paper", [(say(f"papers.paper_{name}"), name) for name in PAPERS])
        self.people: tuple[Person, ...] = ()
        self.keeper, self.phone = _field("papers.keeper"), _field("papers.phone")
        self.write = QPushButton(say("papers.write"))
        self.copy = QPushButton(say("papers.copy"))
        self.mail = QPushButton(say("papers.mail"))
        self.note = label("")
        self.picture = Picture()
        self.view = QScrollArea()
        self.view.setWidget(self.picture)
        self.view.setWidgetResizable(True)
        self.view.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.panel = self.hang(
            say("papers.name"), say("papers.guide"), p.under(self._form(), self.note, self.view, grows=2)
        )
        self.panel.head.addWidget(Going(self.facts))
        p.fill(self, self.panel)
        for choice in (self.kind, self.language, self.paper):
            choice.currentIndexChanged.connect(self._ask_preview)
        for field in (self.keeper, self.phone):
            field.editingFinished.connect(self._ask_preview)
        self.facts.answered.connect(lambda _: self._ask_preview())
        self.facts.changed.connect(self.show_answers)
        self.preview.changed.connect(self.show_answers)
        self.writing.answered.connect(self._written)
        self.writing.changed.connect(self.show_answers)
        self.write.clicked.connect(self._choose_folder)
        self.copy.clicked.connect(self._copy)
        self.mail.clicked.connect(self._mail)
        self.show_answers()

    def queries(self) -> tuple[BackgroundQuery, ...]:
        return self.facts, self.preview, self.writing

    def ask(self) -> None:
        answer: object = getattr(self.session, "answer", None)
        if isinstance(answer, Answer) and answer.trip is not None:
            asked = self.session.asked
            samples = asked.race.field if asked is not None else None
            self._list_people()
            draft = self.session.document.draft
            held = copy.deepcopy(draft)  # what is typed later is not what was printed
            self.facts.put(
                (id(answer),), Asked(answer, samples, self.session.catalogue, held, trip_id(draft))
            )

    def _list_people(self) -> None:
        """Everybody the trip names gets a sheet; a list with a fault in it gives none and says so elsewhere."""
        try:
            people = people_of(self.session.document.draft.get("people", []))
        except SkepwayError:
            people = ()
        if people == self.people:
            return
        self.people = people
        while self.kind.count() > len(KINDS):
            self.kind.removeItem(self.kind.count() - 1)
        for number, one in enumerate(people):
            self.kind.addItem(say("papers.kind_buyer", name=one.name[:MOST_NAME]), f"{BUYER}{number}")

    def wish(self) -> Wish | None:
        """What is chosen; None while there is nothing to print."""
        told: Told | None = self.facts.answer
        if told is None:
            return None
        named = replace(told.facts, keeper=self.keeper.text().strip(), phone=self.phone.text().strip())
        return Wish(
            named,
            self.kind.currentData(),
            self.language.currentData(),
            self.paper.currentData(),
            self.units,
            people=self.people,
            told=told,
        )

    def show_answers(self) -> None:
        """Show the newest preview, or why there is none."""
        found: Preview | None = self.preview.answer
        trouble = next((str(query.trouble) for query in self.queries() if query.trouble), "")
        if trouble:
            self.note.setText(trouble)
        if found is not None:
            self.picture.show_png(found.png)
            self.picture.setAccessibleName(say("papers.preview", title=self.kind.currentText()))
        for button in (self.write, self.copy, self.mail):
            button.setEnabled(found is not None)
        waiting = self.facts.working or self.preview.working
        self.panel.set_guidance(
            trouble or (s.say(s.ANSWER_WORKING) if waiting else self.panel.plain_guidance)
        )
        self.panel.set_filled(found is not None)

    # -- the hand --------------------------------------------------------------------------------

    def _ask_preview(self) -> None:
        wish = self.wish()
        if wish is not None:
            key = (wish.facts, wish.kind, wish.language, wish.paper, wish.units, wish.people)
            self.note.setText("")
            self.preview.put(key, wish)

    def _choose_folder(self) -> None:
        path = self.session.document.path
        beside = "" if path is None else str(path.parent)
        folder = QFileDialog.getExistingDirectory(self, say("papers.folder"), beside)
        if folder:
            self.write_to(Path(folder))

    def write_to(self, folder: Path) -> None:
        """Write every sheet into a folder."""
        wish = self.wish()
        if wish is not None:
            trip = self._trip_key() if wish.told and wish.told.plan else ""
            self.writing.put(object(), replace(wish, folder=folder, trip=trip))

    def _trip_key(self) -> str:
        """What the logbook knows the trip by: its id, its unchanged file as long as that has none, else a new id."""
        document = self.session.document
        if document.path is not None and not document.dirty:
            return trip_id(document.draft) or str(document.path.resolve())
        identified(document.draft)
        return trip_id(document.draft)

    def _written(self, filed: Filed) -> None:
        made = filed.written
        told = [say("papers.wrote", count=len(made.paths), folder=str(made.paths[0].parent))]
        told += made.remarks
        if filed.unkept:
            told.append(say("cli.sheets_no_logbook", reason=filed.unkept))
        self.note.setText(" ".join(told))

    def _copy(self) -> None:
        from planner.paper.plain import sheet_text

        if self.preview.answer is not None:
            QGuiApplication.clipboard().setText(sheet_text(self.preview.answer.sheet, self.units))
            self.note.setText(say("papers.copied"))

    def _mail(self) -> None:
        from planner.paper.plain import mail_address

        if self.preview.answer is not None:
            QDesktopServices.openUrl(QUrl(mail_address(self.preview.answer.sheet, self.units)))

    def _form(self) -> QWidget:
        form = QWidget()
        grid = QGridLayout(form)
        grid.setContentsMargins(0, 0, 0, 0)
        fields: list[tuple[str, QWidget]] = [
            ("papers.kind", self.kind),
            ("papers.language", self.language),
            ("papers.paper", self.paper),
            ("papers.keeper", self.keeper),
            ("papers.phone", self.phone),
        ]
        for column, (key, field) in enumerate(fields):
            name = QLabel(say(key))
            name.setBuddy(field)
            grid.addWidget(name, 0, column)
            grid.addWidget(field, 1, column)
        buttons = QWidget()
        row = QHBoxLayout(buttons)
        row.setContentsMargins(0, 0, 0, 0)
        for button in (self.write, self.copy, self.mail):
            row.addWidget(button)
        row.addStretch(1)
        grid.addWidget(buttons, 2, 0, 1, len(fields))
        return form


def _choices(key: str, rows: list[tuple[str, str]]) -> Choices:
    box = chooser()
    box.setAccessibleName(say(key))
    for text, data in rows:
        box.addItem(text, data)
    return box


def _field(key: str) -> QLineEdit:
    field = QLineEdit()
    field.setAccessibleName(say(key))
    return field
