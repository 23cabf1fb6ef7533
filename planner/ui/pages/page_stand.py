"""Standing still: how long the vehicle may stand anywhere, a delay put into the trip, and the tipping point."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QComboBox, QDoubleSpinBox, QGridLayout, QSpinBox, QWidget

from planner.app.common.limits_words import degrees_text, peak_limits
from planner.app.plan.pictures import LEVEL_COLOUR
from planner.app.plan.results import LEVELS, TYPICAL, Limit
from planner.errors import InputError
from planner.ui.look import clock, theme
from planner.ui.look import paint as p
from planner.ui.look import strings as s
from planner.ui.look.chart_view import shade
from planner.ui.look.icons import Choices
from planner.ui.look.panel import ShortText, label
from planner.ui.pages.book import Page
from planner.ui.pages.reserve_view import ReserveView, SpotView
from planner.ui.pages.tipping_view import TippingView
from planner.ui.trip.hands import INNER_PX
from planner.ui.work.background_query import BackgroundQuery, Going, Subject
from planner.ui.work.runner import Watch
from planner.units import METRIC, UnitSystem

if TYPE_CHECKING:
    from planner.app.standing.delays import Delayed
    from planner.app.standing.reserve import Reserve
    from planner.app.standing.tipping import TippingAt
    from planner.ui.work.session import Session

LEAST_BELOW_K, LEAST_ABOVE_K = 1.0, 1.5
"""The scale of peaks reaches so far beyond all that is shown on it."""
REST_MS = 60
"""The tipping point follows the cursor once it has lain still for so long."""


@dataclass(frozen=True, eq=False)
class AtMoment:
    """A candidate at an instant."""

    subject: Subject
    time_s: float


@dataclass(frozen=True, eq=False)
class WithDelay:
    """A candidate with a delay to be tried."""

    subject: Subject
    kind: str
    at_km: float
    lasts_s: float


def ask_tipping(moment: AtMoment, _: Watch) -> TippingAt:
    from planner.app.standing.tipping import tipping_at

    return tipping_at(moment.subject.plan, moment.subject.choice, moment.subject.catalogue, moment.time_s)


def ask_delay(asked: WithDelay, _: Watch) -> Delayed:
    from planner.app.standing.delays import KINDS, Delay, delayed

    subject = asked.subject
    delay = Delay(KINDS[asked.kind], asked.at_km, asked.lasts_s)
    return delayed(subject.plan, subject.choice, subject.catalogue, [delay])[0]


class StandPage(Page):
    """The reserve on top, with the place of the worst spot; below the tipping point and a delay."""

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        runner = session.runner
        self.reserve = session.aside.reserve
        self.tipping = BackgroundQuery(runner, "tipping", ask_tipping)
        self.delay = BackgroundQuery(runner, "delay", ask_delay)
        self.strip, self.spot, self.balance = ReserveView(), SpotView(), TippingView()
        self.lead, self.tips = ShortText("", 3, bold=True), ShortText("", 3)
        self.form = DelayForm(self.units)
        self.effect, self.peaks = p.Sentences(s.say(s.STAND_DELAY)), PeakView()
        self.strip_panel = self.hang(
            s.STAND_RESERVE, s.STAND_RESERVE_GUIDE, p.under(self.lead, self.strip), self.reserve
        )
        self.spot_panel = self.hang(s.STAND_WHERE, s.STAND_WHERE_GUIDE, self.spot, self.reserve)
        self.balance_panel = self.hang(
            s.STAND_TIPPING, s.STAND_TIPPING_GUIDE, p.under(self.balance, self.tips, grows=0), self.tipping
        )
        self.delay_panel = self.hang(
            s.STAND_DELAY, s.STAND_DELAY_GUIDE, p.under(self.form, self.effect, self.peaks, grows=1)
        )
        self.strip_panel.head.addWidget(Going(self.reserve))
        self.delay_panel.head.addWidget(Going(self.delay))
        upper = p.split(Qt.Orientation.Horizontal, (self.strip_panel, 70), (self.spot_panel, 30))
        lower = p.split(Qt.Orientation.Horizontal, (self.balance_panel, 60), (self.delay_panel, 40))
        p.fill(self, p.split(Qt.Orientation.Vertical, (upper, 49), (lower, 51)))
        self._rest = QTimer(self, singleShot=True, interval=REST_MS)
        self._rest.timeout.connect(self._ask_tipping)
        self.reserve.answered.connect(self._reserve_known)
        self.tipping.answered.connect(lambda _: self.show_answers())
        self.delay.changed.connect(self._show_delay)
        self.strip.cursor_moved.connect(self._hand)
        self.form.changed.connect(self._ask_delay)
        self._placed = False

    def queries(self) -> tuple[BackgroundQuery, ...]:
        return (*super().queries(), self.delay)

    # -- asking ----------------------------------------------------------------------------------

    def ask(self) -> None:
        if self.subject is None:
            return
        plan = self.subject.plan
        self.reserve.put(self.session.aside.key(), self.subject)
        self.form.set_road(plan.road.length_km)
        self._rest.start()
        known = self.reserve.answer_to(self.session.aside.key())
        if self._placed:
            self._ask_delay()
        elif known is not None:  # the map had asked before this page was turned to
            self._reserve_known(known)

    def look(self, subject: Subject | None) -> None:
        self.delay_panel.set_filled(subject is not None)
        if subject is None:
            self._placed = False
        super().look(subject)

    def set_cursor(self, time_s: float) -> None:
        super().set_cursor(time_s)
        self.strip.set_cursor(time_s)
        if self.isVisible():
            self._rest.start()

    def _hand(self, time_s: float) -> None:
        self.cursor_moved.emit(time_s)

    def _ask_tipping(self) -> None:
        subject = self.subject
        if subject is None or self._dimmed:
            return
        plan, choice = subject.plan, subject.choice
        first, last = float(plan.closed_s[choice.departure]), float(plan.opened_s[choice.departure])
        time_s = (
            self.cursor_s if first <= self.cursor_s < last else float(plan.departures_s[choice.departure])
        )
        self.tipping.put((id(plan.outcomes), choice, round(time_s)), AtMoment(subject, time_s))

    def _ask_delay(self) -> None:
        subject = self.subject
        if subject is None or self._dimmed:
            return
        kind, at_km, lasts_s = self.form.draft_edits()
        key = (id(subject.plan.outcomes), subject.choice, kind, at_km, lasts_s)
        self.delay.put(key, WithDelay(subject, kind, at_km, lasts_s))

    def _reserve_known(self, found: Reserve) -> None:
        """A delay is first tried where standing is worst, or half-way where it is nowhere short."""
        worst = found.worst()
        if worst is None:
            worst = found.worst(0, -1)
        if not self._placed and self.subject is not None:
            self._placed = True
            halfway = 0.5 * self.subject.plan.road.length_km
            self.form.set_km(halfway if worst is None else float(found.km[worst]))
            self._ask_delay()
        self.show_answers()

    # -- showing ---------------------------------------------------------------------------------

    def show_answers(self) -> None:
        subject, found, at = self.subject, self.reserve.answer, self.tipping.answer
        self.form.set_units(self.units)
        if subject is None:
            return
        from planner.app.standing.pictures import told
        from planner.app.standing.words import reserve_words, tipping_words

        zone = subject.plan.trip.origin.zone
        if found is not None:
            self.strip.show_reserve(found, subject.plan, self.units)
            self.spot.show_reserve(found, subject.plan)
            hours = round(self.strip.top_s() / 3600)
            self.strip_panel.note.setText(
                told(found, "standing.note_by_bees", "standing.note_by_variants", hours=hours)
            )
            self.spot_panel.note.setText(told(found, "standing.where_by_bees", "standing.where_by_variants"))
            self.lead.setText(
                reserve_words(subject.plan, found, subject.catalogue, units=self.units).headline
            )
        if at is not None:
            self.balance.show_tipping(subject.plan, at, at.tightest(), self.units)
            self.tips.setText(tipping_words(subject.plan, at, None, self.units).headline)
            self.balance.setAccessibleDescription(self.tips.text())
            self.balance_panel.note.setText(
                s.say(s.STAND_AT, group=at.groups[at.tightest()], when=clock.day_hour(at.time_s, zone))
            )
        self._show_delay()

    def _show_delay(self) -> None:
        found, trouble = self.delay.answer, self.delay.trouble
        faults = trouble.faults if isinstance(trouble, InputError) else ()
        self.form.tell("\n".join(s.say(s.FAULT, problem=f.problem, remedy=f.remedy) for f in faults))
        if found is None:
            return
        self.effect.setEnabled(not self.delay.stale and not self.delay.working)
        limits = peak_limits(self.subject.plan.limits) if self.subject else ()
        self.peaks.show_delayed(found, self.units, limits, pale=not self.effect.isEnabled())
        text, lines = self.units.temp_text, []
        calm, typical, agitated = found.peak_c
        lines.append(
            s.say(
                s.STAND_PEAK,
                after=text(typical),
                low=text(calm, unit=False),
                high=text(agitated, unit=False),
                before=text(found.peak_before_c[TYPICAL]),
            )
        )
        step = self.units.step_text
        lines.append(
            s.say(s.STAND_HEADROOM, after=step(found.headroom_k), before=step(found.headroom_before_k))
        )
        lines.append(
            s.say(
                s.STAND_LEVEL,
                after=LEVELS[found.level],
                before=LEVELS[found.level_before],
                agitated=LEVELS[found.level_agitated],
            )
        )
        self.effect.show_parts((("", lines),))


class PeakView(QWidget):
    """The hottest box's peak without and with the delay: from calm to agitated bees, the middle marked."""

    def __init__(self) -> None:
        super().__init__()
        self.found: Delayed | None = None
        self.limits: tuple[Limit, ...] = ()
        self.units, self.pale = METRIC, False
        self.setFixedHeight(62)
        self.setAccessibleName(s.say(s.STAND_PEAKS))

    def show_delayed(
        self, found: Delayed, units: UnitSystem, limits: tuple[Limit, ...], *, pale: bool
    ) -> None:
        """Show the peaks against ``limits``; ``pale`` while a newer answer is on its way."""
        self.found, self.units, self.limits, self.pale = found, units, limits, pale
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        if self.found is None or not np.isfinite((*self.found.peak_c, *self.found.peak_before_c)).all():
            return
        paint = QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        paint.setOpacity(0.4 if self.pale else 1.0)
        look = theme.current()
        rows = ((s.STAND_WITHOUT, self.found.peak_before_c, False), (s.STAND_WITH, self.found.peak_c, True))
        names = max(p.wide(s.say(text)) for text, *_ in rows) + 12
        lane = QRectF(names, 0, self.width() - names - 10, self.height() - p.high() - 4)
        every = [temp for _, peaks, _ in rows for temp in peaks]
        ends = [*every, *(limit.at_c for limit in self.limits)]
        low, high = min(ends) - LEAST_BELOW_K, max(ends) + LEAST_ABOVE_K

        def x(temp_c: float) -> float:
            return lane.left() + (temp_c - low) / (high - low) * lane.width()

        for limit in self.limits:
            paint.setPen(QPen(shade(LEVEL_COLOUR[limit.level]), 1))
            paint.drawLine(QPointF(x(limit.at_c), 0), QPointF(x(limit.at_c), lane.bottom()))
            box = QRectF(x(limit.at_c) - 40, lane.bottom() + 2, 80, p.high())
            p.write(paint, box, degrees_text(limit.at_c, self.units), look.ink_soft, align=p.MIDDLE)
        row_px = lane.height() / len(rows)
        for row, (text, peaks, chosen) in enumerate(rows):
            y = (row + 0.5) * row_px
            p.write(paint, QRectF(0, row * row_px, names - 8, row_px), s.say(text), look.ink_soft)
            tint = theme.colour(look.accent, 0.6) if chosen else theme.colour(look.ink_faint, 0.6)
            p.bar(paint, QRectF(x(peaks[0]), y - 4, max(x(peaks[2]) - x(peaks[0]), 2), 8), tint)
            paint.setPen(QPen(theme.colour(look.ink), 1.8))
            paint.drawLine(QPointF(x(peaks[1]), y - 6), QPointF(x(peaks[1]), y + 6))


class DelayForm(QWidget):
    """What holds the vehicle up, where along the road and for how long."""

    changed = Signal()

    def __init__(self, units: UnitSystem) -> None:
        super().__init__()
        from planner.app.standing.delays import KINDS

        self.units = units
        self._length_km = 0.0
        self.kind, self.minutes, self.place = Choices(), QSpinBox(), QDoubleSpinBox()
        for kind in KINDS.values():
            self.kind.addItem(kind.title[:1].upper() + kind.title[1:], kind.name)
        self.kind.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.minutes.setRange(5, 720)
        self.minutes.setSingleStep(5)
        self.minutes.setValue(60)
        self.minutes.setSuffix(s.say(s.SUFFIX_MIN))
        self.place.setDecimals(0)
        self.fault = label("", "fault")
        self.fault.setWordWrap(True)
        self.fault.hide()
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(2)
        cells = (
            (s.STAND_KIND, self.kind, 0, 0, 2),
            (s.STAND_PLACE, self.place, 2, 0, 1),
            (s.STAND_LASTS, self.minutes, 2, 1, 1),
        )
        for text, editor, row, column, span in cells:
            name = label(s.say(text), "field")
            name.setBuddy(editor)
            editor.setAccessibleName(s.say(text))
            grid.addWidget(name, row, column, 1, span)
            grid.addWidget(editor, row + 1, column, 1, span)
        for box in (self.place, self.minutes):
            box.lineEdit().setTextMargins(*INNER_PX)
        grid.addWidget(self.fault, 4, 0, 1, 2)
        for column in (0, 1):
            grid.setColumnStretch(column, 1)
        self._soon = QTimer(self, singleShot=True, interval=250)
        self._soon.timeout.connect(self.changed)
        self.kind.activated.connect(lambda _: self._soon.start())
        self.minutes.valueChanged.connect(lambda _: self._soon.start())
        self.place.valueChanged.connect(self._moved)
        self._km = 0.0
        self.set_units(units)

    def draft_edits(self) -> tuple[str, float, float]:
        """Kind, kilometre and seconds asked for."""
        return self.kind.currentData(), self._km, self.minutes.value() * 60.0

    def set_road(self, length_km: float) -> None:
        self._length_km = length_km
        self.set_units(self.units)

    def set_km(self, at_km: float) -> None:
        """A place on the road; a whole unit inside its ends."""
        self._show(at_km)
        self._moved(self.place.value())

    def set_units(self, units: UnitSystem) -> None:
        self.units = units
        self.place.setSuffix(f" {units.distance_unit}")
        self._show(self._km)

    def _show(self, at_km: float) -> None:
        self.place.blockSignals(True)
        self.place.setRange(1.0, max(self.units.distance(self._length_km) - 1.0, 1.0))
        self.place.setValue(self.units.distance(at_km))
        self.place.blockSignals(False)

    def _moved(self, shown: float) -> None:
        self._km = shown / max(self.units.distance(1.0), 1e-9)
        self._soon.start()

    def tell(self, fault: str) -> None:
        self.fault.setText(fault)
        self.fault.setVisible(bool(fault))
