"""My box: a logger's readings laid over the model, what they say about a box, and a profile kept of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QFileDialog, QPushButton, QVBoxLayout, QWidget

from planner.errors import InputError
from planner.folders import config_dir, data_dir
from planner.ui.look import clock, theme
from planner.ui.look import paint as p
from planner.ui.look import strings as s
from planner.ui.look.chart_view import ChartView
from planner.ui.look.panel import ShortText, label
from planner.ui.pages.book import Page
from planner.ui.steps.page import Page as Upright
from planner.ui.trip.document import Document
from planner.ui.trip.fields import ChoiceField, MomentField, TextField, place_faults
from planner.ui.work.background_query import BackgroundQuery, Going, Subject
from planner.ui.work.runner import Watch
from planner.units import UnitSystem

if TYPE_CHECKING:
    from planner.app.fit.fit import Fit
    from planner.model.catalogue import Catalogue
    from planner.store.loggerfile import LoggerLog
    from planner.store.profiles import Profile
    from planner.ui.work.session import Session


@dataclass(frozen=True, eq=False)
class Logged:
    """A log and the trip as it was driven, as the form says: texts, frozen."""

    subject: Subject
    form: dict[str, Any]


@dataclass(frozen=True)
class Fitted:
    """What came of it."""

    fit: Fit
    log: LoggerLog
    catalogue: Catalogue
    trip: str
    zone: str


def ask_fit(asked: Logged, watch: Watch) -> Fitted:
    """Read the log and fit; InputError names the fields of the form."""
    from planner.app.fit.fit import Driven, fit
    from planner.model.preparations import ALL
    from planner.store.clocks import instant_s
    from planner.store.loggerfile import LoggerHints, read_log

    form, plan = asked.form, asked.subject.plan
    column = form.get("columns") or ""
    path = Path(form["file"])
    log = read_log(
        path,
        LoggerHints(
            form.get("zone") or None, form.get("unit"), form.get("dates"), (column,) if column else ()
        ),
    )
    zone = plan.trip.origin.zone
    times = {
        name: instant_s(form[name], zone, name) for name in ("left", "closed", "arrived") if form.get(name)
    }
    driven = Driven(
        left_s=times["left"],
        place=form["place"],
        closed_s=times.get("closed", float("nan")),
        arrived_s=times.get("arrived", float("nan")),
        setup=next(setup for setup in ALL if setup.name == form["setup"]),
        group=form.get("load", 0),
        sensor=form.get("sensor", "core"),
    )
    watch.on_progress(0.2)
    found = fit(plan.trip, plan.road, plan.weather, asked.subject.catalogue, log, driven)
    return Fitted(found, log, asked.subject.catalogue, f"{plan.trip.title}, {path.name}", zone)


class FitPage(Page):
    """The form on the left; curves, factors and words on the right."""

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.fit = BackgroundQuery(session.runner, "fit", ask_fit)
        self.document = Document(self)
        self._kept: Path | None = None
        self._filled_for: object = None
        self.curve, self.factors = FitCurve(), FactorView()
        self.lead, self.words = ShortText("", 3, bold=True), p.Sentences(s.say(s.FIT_WORDS))
        self.keep, self.use = QPushButton(s.say(s.FIT_KEEP)), QPushButton(s.say(s.FIT_USE))
        self.told = ShortText("", 2)
        self.keep.clicked.connect(lambda _=False: self.keep_profile())
        self.use.clicked.connect(lambda _=False: self.use_profile())
        self.form_panel = self.hang(s.FIT_FORM, s.FIT_FORM_GUIDE, self._form())
        self.curve_panel = self.hang(
            s.FIT_CURVES, s.FIT_CURVES_GUIDE, p.under(self.lead, self.curve), self.fit
        )
        self.factor_panel = self.hang(s.FIT_FACTORS, s.FIT_FACTORS_GUIDE, self.factors, self.fit)
        self.words_panel = self.hang(s.FIT_WORDS, s.FIT_WORDS_GUIDE, self._with_buttons(), self.fit)
        self.form_panel.head.addWidget(Going(self.fit))
        lower = p.split(Qt.Orientation.Horizontal, (self.factor_panel, 50), (self.words_panel, 50))
        right = p.split(Qt.Orientation.Vertical, (self.curve_panel, 55), (lower, 45))
        p.fill(self, p.split(Qt.Orientation.Horizontal, (self.form_panel, 32), (right, 68)))
        self.fit.answered.connect(lambda _: self._new_answer())
        self.fit.changed.connect(self._show_faults)

    def _form(self) -> QWidget:
        d = self.document
        self.file = TextField(d, ("file",), s.say(s.FIT_FILE), s.say(s.FIT_FILE_HINT))
        self.browse_button = QPushButton(s.say(s.FIT_BROWSE))
        self.browse_button.clicked.connect(lambda _=False: self.browse())
        self.file.line.addWidget(self.browse_button)
        self.file.also("log", "time")
        self.zone = TextField(d, ("zone",), s.say(s.FIT_ZONE), s.say(s.FIT_ZONE_HINT))
        said = s.say(s.FIT_AS_FILE)
        self.unit = ChoiceField(d, ("unit",), s.say(s.FIT_UNIT), {"C": "°C", "F": "°F"}, none=said)
        self.dates = ChoiceField(d, ("dates",), s.say(s.FIT_DATES), s.FIT_DATE_ORDERS, none=said)
        self.columns = TextField(d, ("columns",), s.say(s.FIT_COLUMN), s.say(s.FIT_COLUMN_HINT))
        self.left = MomentField(d, ("left",), s.say(s.FIT_LEFT))
        self.closed = MomentField(d, ("closed",), "", optional=s.say(s.FIT_CLOSED))
        self.arrived = MomentField(d, ("arrived",), "", optional=s.say(s.FIT_ARRIVED))
        self.place = ChoiceField(d, ("place",), s.say(s.FIT_PLACE), {})
        self.setup = ChoiceField(d, ("setup",), s.say(s.FIT_SETUP), {}, default="as_declared")
        self.load = ChoiceField(d, ("load",), s.say(s.FIT_LOAD), {}, default=0)
        self.sensor = ChoiceField(
            d,
            ("sensor",),
            s.say(s.FIT_SENSOR),
            s.FIT_SENSORS,
            default="core",
        )
        self.yard = TextField(d, ("yard",), s.say(s.FIT_YARD), s.say(s.FIT_YARD_HINT))
        self.fields = [
            self.file, self.zone, self.unit, self.dates, self.columns, self.left, self.closed, self.arrived,
            self.place, self.setup, self.load, self.sensor, self.yard,
        ]  # fmt: skip
        d.changed.connect(self._refresh)
        self.run = QPushButton(s.say(s.FIT_RUN))
        self.run.setObjectName("chief")
        self.run.clicked.connect(lambda _=False: self.start())
        area = Upright()
        for field in self.fields:
            area.column.addWidget(field)
        area.column.addStretch(1)
        self.trouble = label("", "fault")
        self.trouble.setWordWrap(True)
        self.trouble.hide()
        return p.under(area, self.trouble, self.run, grows=0)

    def _refresh(self, spot: tuple[str | int, ...]) -> None:
        """Show anew the fields that a change of the form touches."""
        for field in self.fields:
            if field.touches(spot):
                field.refresh()

    def _with_buttons(self) -> QWidget:
        foot = QWidget()
        column = QVBoxLayout(foot)
        column.setContentsMargins(0, 0, 0, 0)
        for button in (self.keep, self.use):
            column.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)
        return p.under(self.words, self.told, foot, grows=0)

    # -- the trip behind it ------------------------------------------------------------------------

    def look(self, subject: Subject | None) -> None:
        self.form_panel.set_filled(subject is not None)
        super().look(subject)

    def ask(self) -> None:
        """Nothing is begun by itself; the form starts from the candidate looked at."""
        if self.subject is None:
            return
        plan, choice = self.subject.plan, self.subject.choice
        self.place.set_words(dict(zip(plan.loading_places, plan.loading_place_titles, strict=True)))
        self.setup.set_words(dict(zip(plan.setups, plan.setup_titles, strict=True)))
        self.load.set_words(
            {i: s.say(s.GROUP_CARD, count=g.count, label=g.label) for i, g in enumerate(plan.trip.groups)}
        )
        document = self.session.document
        if self._filled_for != (document.path, plan.trip.title):
            self._filled_for = (document.path, plan.trip.title)
            left = clock.local(float(plan.departures_s[choice.departure]), plan.trip.origin.zone)
            kept = {
                key: value for key, value in self.document.draft.items() if key in ("file", "zone", "yard")
            }
            text = left.strftime("%Y-%m-%dT%H:%M")
            driven = {
                "left": text,
                "place": plan.loading_places[choice.loading_place],
                "window": {"to": text},
            }
            self.document.open({**kept, **driven}, None)
        else:
            self.document.changed.emit(())

    def browse(self) -> None:
        name, _ = QFileDialog.getOpenFileName(self, s.say(s.FIT_FILE), "", s.say(s.FILTER_LOG))
        if name:
            self.document.edit(("file",), name)

    def start(self) -> None:
        """Read the log and fit."""
        if self.subject is None or self._dimmed or not self.document.get(("file",)):
            self.file.editor.setFocus()
            return
        form = {"load": 0, "sensor": "core", "setup": "as_declared", **self.document.draft}
        self._kept = None
        key = (id(self.subject.plan.outcomes), tuple(sorted((k, str(v)) for k, v in form.items())))
        self.fit.put(key, Logged(self.subject, form))
        if self.fit.trouble:
            self.fit.again()

    # -- showing ---------------------------------------------------------------------------------

    def _show_faults(self) -> None:
        """Each fault beside the field that can answer it."""
        trouble = self.fit.trouble
        faults = trouble.faults if isinstance(trouble, InputError) else ()
        homeless = place_faults(self.fields, faults)
        rest = [
            s.say(s.FAULT_NAMED, field=f.field or s.say(s.FIT_FILE), problem=f.problem, remedy=f.remedy)
            for f in homeless[:3]
        ]
        if trouble is not None and not faults:
            rest = [str(trouble)]
        self.trouble.setText("\n".join(rest))
        self.trouble.setVisible(bool(rest))
        self.run.setEnabled(not self.fit.working)
        if faults and not self.fit.working:
            wrong = next((field for field in self.fields if field.fault.text()), None)
            if wrong is not None:
                wrong.editor.setFocus()

    def settle_panels(self) -> None:
        super().settle_panels()
        if self.fit.trouble is not None:
            for panel in (self.curve_panel, self.factor_panel, self.words_panel):
                panel.set_guidance(s.say(s.FIT_FAULTY))

    def _new_answer(self) -> None:
        self.told.setText("")
        self.use.setVisible(False)
        self.show_answers()

    def show_answers(self) -> None:
        done: Fitted | None = self.fit.answer
        if done is None:
            return
        from planner.app.fit.words import fit_words

        said = fit_words(done.fit, done.log, done.catalogue, self.units)
        self.lead.setText(said.headline)
        (_, untold), read = said.sections[1], said.sections[2]
        self.words.show_parts((("", untold), read))
        self.curve.show_fit(done.fit, done.zone, self.units)
        self.factors.show_fit(done.fit)

    # -- keeping ---------------------------------------------------------------------------------

    def keep_profile(self) -> None:
        """Write what was found as the profile of the box type, or of the yard that is named."""
        from planner.app.fit.words import profile_of
        from planner.store.profiles import profile_path, write_profile

        done: Fitted | None = self.fit.answer
        if done is None:
            return
        yard = str(self.document.get(("yard",)) or "").strip()
        profile: Profile = profile_of(done.fit, done.catalogue, done.trip, date.today(), yard=yard)
        path = profile_path(data_dir() / "profiles", profile.about, profile.name)
        self.session.runner.start(
            "profile", lambda _: write_profile(profile, path), lambda _: self._wrote(path), self._not_kept
        )

    def _wrote(self, path: Path) -> None:
        self._kept = path
        self.told.setText(s.say(s.FIT_KEPT, path=path))
        self.use.setVisible(True)

    def _not_kept(self, error: Exception) -> None:
        self.told.setText(str(error))

    def use_profile(self) -> None:
        """Lay the profile over the catalogue this window plans with."""
        from planner.store.catalogue import load_catalogue

        own, kept = config_dir() / "catalogue.toml", self._kept
        files = [path for path in (own, kept) if path is not None and path.exists()]
        self.session.runner.start("profile", lambda _: load_catalogue(*files), self._use, self._not_kept)

    def _use(self, catalogue: Catalogue) -> None:
        self.session.catalogue = catalogue
        self.told.setText(s.say(s.FIT_USED))
        self.session.again()


class FitCurve(ChartView):
    """Logged points with the model before and after."""

    def __init__(self) -> None:
        super().__init__()
        self.setMinimumSize(240, 110)
        self.setAccessibleName(s.say(s.FIT_CURVES))

    def show_fit(self, found: Fit, zone: str, units: UnitSystem) -> None:
        """Show the curves of ``found`` on the clock of ``zone``."""
        from planner.app.fit.pictures import fit_chart

        self.show_chart(fit_chart(found, zone, units))


class FactorView(QWidget):
    """Each factor with what was known before (pale) and what the log makes of it, on a doubling scale."""

    def __init__(self) -> None:
        super().__init__()
        self.found: Fit | None = None
        self.setMinimumSize(150, 90)
        self.setAccessibleName(s.say(s.FIT_FACTORS))

    def show_fit(self, found: Fit) -> None:
        self.found = found
        self.setAccessibleDescription(
            ", ".join(
                s.say(
                    s.FIT_FACTOR,
                    name=_title(f.name),
                    value=f"{f.value:.2f}",
                    low=f"{f.low:.2f}",
                    high=f"{f.high:.2f}",
                )
                for f in found.factors
            )
        )
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        if self.found is None:
            return
        paint = QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        look, factors = theme.current(), self.found.factors
        low = min(min(f.low, f.prior_low) for f in factors)
        high = max(max(f.high, f.prior_high) for f in factors)
        figure = p.wide("×8.88", bold=True) + 10
        lane = QRectF(6, 0, self.width() - figure - 16, 0)
        row_px = min((self.height() - p.high() - 8) / len(factors), 56.0)

        def x(value: float) -> float:
            return lane.left() + float(np.log(value / low) / max(np.log(high / low), 1e-9)) * lane.width()

        bottom = row_px * len(factors)
        for mark in (0.125, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0):
            if low <= mark <= high:
                paint.setPen(QPen(theme.colour(look.ink_faint if mark == 1.0 else look.line), 1))
                paint.drawLine(QPointF(x(mark), 0), QPointF(x(mark), bottom))
                box = QRectF(x(mark) - 26, bottom + 3, 52, p.high())
                p.write(paint, box, f"×{mark:g}", look.ink_soft, align=p.MIDDLE)
        for row, factor in enumerate(factors):
            y = row * row_px
            name = QRectF(lane.left(), y, self.width() - 8, p.high() + 2)
            paint.fillRect(
                QRectF(name.left(), y, p.wide(_title(factor.name)) + 4, p.high()), theme.colour(look.panel)
            )
            p.write(paint, name, _title(factor.name), look.ink_soft)
            middle = y + p.high() + max((row_px - p.high()) / 2, 5)
            prior = QRectF(x(factor.prior_low), middle - 6, x(factor.prior_high) - x(factor.prior_low), 12)
            p.bar(paint, prior, theme.colour(look.ink, 0.09))
            p.whisker(paint, x(factor.low), x(factor.high), middle, theme.colour(look.accent), 2.0)
            paint.setPen(Qt.PenStyle.NoPen)
            paint.setBrush(theme.colour(look.accent))
            paint.drawEllipse(QPointF(x(factor.value), middle), 4.5, 4.5)
            value = QRectF(self.width() - figure - 4, middle - 12, figure, 24)
            p.write(paint, value, f"×{factor.value:.2f}", look.ink, bold=True, align=p.RIGHT)


def _title(name: str) -> str:
    from planner.app.fit.fit import FACTOR_TITLES

    return FACTOR_TITLES[name]
