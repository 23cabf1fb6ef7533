"""What is wrong or still missing, and the ways out: faults beside their fields, failed services, offers as buttons."""

from __future__ import annotations

import copy
import re
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import Any

from PySide6.QtCore import QObject, QTimer, Signal
from PySide6.QtWidgets import QFileDialog

from planner.errors import Fault, SkepwayError
from planner.ui.look import strings as s
from planner.ui.look.toast import Offer, Toast
from planner.ui.steps.load_step import LoadStep
from planner.ui.steps.route_step import RouteStep
from planner.ui.steps.steps import Steps
from planner.ui.steps.when_step import WhenStep
from planner.ui.summaries import step_of
from planner.ui.trip.document import Document
from planner.ui.trip.edits import is_blank
from planner.ui.trip.fields import Field, fault_text, place_faults
from planner.ui.work.session import Session
from planner.words import distance

LAID_OUT_MS = 60
"""After so long what a step has just got stands in its place."""
STOP = re.compile(r"stops\[(\d+)\]")
OWN_FIGURES = ("own", "file", "embedded")
"""Weather that no service is asked for."""


def things(faults: Sequence[Fault]) -> int:
    """How many a hand has to mend: an unknown place lacks latitude and longitude, and is one."""
    return len({fault.field.removesuffix(".lat").removesuffix(".lon") for fault in faults})


class Troubles(QObject):
    """Keeps the faults of the draft and tells what a person can do about them."""

    changed = Signal()
    """The faults are others than before."""
    unanswered = Signal()
    """A service failed: what is missing stands in the notice."""

    def __init__(
        self,
        parent: QObject,
        session: Session,
        notice: Toast,
        steps: Steps,
        panes: tuple[RouteStep, LoadStep, WhenStep],
        show_settings: Callable[[], None],
    ) -> None:
        super().__init__(parent)
        self.session, self.notice, self.steps = session, notice, steps
        self.document: Document = session.document
        self.route, self.load, self.when = panes
        self._show_settings = show_settings
        self.faults: tuple[Fault, ...] = ()
        session.faults_found.connect(self.show)
        session.trouble.connect(self.tell)

    # -- the draft's own faults --------------------------------------------------------------------

    def unsaid(self) -> list[str]:
        """What a trip cannot do without and nobody has told yet: no fault, only the next thing to say."""
        return [part for part in s.UNSAID if not self.document.get((part,))]

    def show(self, faults: tuple[Fault, ...]) -> None:
        """Each fault beside its field; those that belong to none go to a line over the page."""
        unsaid = self.unsaid()
        stops = self.document.get(("stops",)) or []
        blank = {f"stops[{number}]" for number, stop in enumerate(stops) if is_blank(stop)}
        still = (*unsaid, *blank)
        self.faults = tuple(fault for fault in faults if fault.field.split(".")[0] not in still)
        fields = [*self.route.fields, *self.load.fields, *self.when.fields]
        homeless = place_faults(fields, self.route.show_stop_faults(self.faults))
        self.notice.clear("fault")
        self.changed.emit()
        if not self.faults:
            return
        count = things(self.faults)
        text = s.say(s.ANSWER_FAULTS_ONE) if count == 1 else s.say(s.ANSWER_FAULTS, count=count)
        if homeless:
            told = homeless[0]
            text = s.say(s.FAULT_NAMED, field=told.field, problem=told.problem, remedy=told.remedy)
        self.notice.tell("fault", text, [(s.say(s.NOTICE_SHOW), self.show_first)])

    def first_words(self) -> str:
        """What is wrong first of all: a name nobody knows is told as that, not as missing degrees."""
        fault = self.faults[0]
        spot, _, axis = fault.field.rpartition(".")
        stop = STOP.fullmatch(spot)
        place = (
            self.document.get(("stops", int(stop[1])) if stop else (spot,))
            if axis in ("lat", "lon")
            else None
        )
        if isinstance(place, dict) and place.get("name") and axis not in place:
            return s.say(s.PLACE_UNKNOWN, name=place["name"])
        return fault_text(fault)

    def show_first(self) -> None:
        """Open the step at fault, bring the editor into view and give it the keyboard."""
        if not self.faults:
            return
        fault = self.faults[0]
        number = step_of(fault.field)
        self.steps.turn(number)
        if number == 0 and self.route.model.marks.faults:
            self.route.show_fault()
            return
        page = (self.route, self.load, self.when)[number]
        if page is self.load and fault.field.startswith("load["):
            self.load.choose(int(fault.field[5 : fault.field.index("]")]))
        field: Field | None = next((one for one in page.fields if one.fault.text()), None)
        if field is not None:
            page.reveal(field)
            field.editor.setFocus()
        else:
            self.steps.heads[number].setFocus()

    # -- services that fail ------------------------------------------------------------------------

    def tell(self, error: SkepwayError) -> None:
        """What went wrong, and the ways out as buttons."""
        self.notice.tell("trouble", str(error), self._ways_out())
        self.unanswered.emit()

    def _ways_out(self) -> Sequence[Offer]:
        offers: list[Offer] = [
            (s.say(s.NOTICE_TRY), lambda: self.session.again(refresh=True)),
            (s.say(s.OFFER_SETTINGS), self._show_settings),
        ]
        if self.document.get(("weather", "source")) in OWN_FIGURES:
            return offers
        return [(s.say(s.OFFER_OWN), self.take_own_weather), self._typical_year(), *offers]

    def _typical_year(self) -> Offer:
        """The typical year carried for near the start; where there is none, that of a file."""
        near = self.session.data_source.carried_year(self.document.get(("origin",)) or {})
        if near is None:
            return s.say(s.OFFER_TYPICAL), self.browse_typical
        label = s.say(s.OFFER_TYPICAL_NEAR, place=near.climate.title, away=distance(near.km))
        return label, partial(self.take_typical, near.climate.path)

    def browse_typical(self) -> None:
        """Ask for the file of a typical year."""
        name, _ = QFileDialog.getOpenFileName(
            self.notice,
            s.say(s.OFFER_TYPICAL),
            str(self.document.base_folder or Path.home()),
            s.say(s.FILTER_LOG),
        )
        if name:
            self.take_typical(Path(name))

    def take_typical(self, path: Path) -> None:
        """Go on with the weather a typical year has on the dates of the trip."""
        draft, source = copy.deepcopy(self.document.draft), self.session.data_source

        def take(weather: dict[str, Any]) -> None:
            self.notice.clear("trouble")
            self.document.edit_many({("weather",): weather}, s.say(s.OFFER_TYPICAL))
            self.steps.turn(2)

        self.session.runner.start("typical", lambda _: source.typical(path, draft), take, self.tell)

    def take_own_weather(self) -> None:
        """Go on with figures put in, which are called assumed until the user has said better."""
        self.notice.clear("trouble")
        self.when.weather.write("own")
        self.steps.turn(2)
        QTimer.singleShot(LAID_OUT_MS, self.when, self._reveal_figures)

    def _reveal_figures(self) -> None:
        """The last row of the figures put in, and with it those above."""
        rows = list(self.when.own.rows.values())
        self.when.reveal(rows[-1][0][0] if rows else self.when.own)
