"""What helps: every change with what it gains and costs, the smallest set that is enough, and the water plan."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QPushButton, QScrollArea, QWidget

from planner.ui.look import paint as p
from planner.ui.look import strings as s
from planner.ui.look import theme
from planner.ui.look.panel import ShortText, label
from planner.ui.pages.book import Page
from planner.ui.trip.document import MISSING
from planner.ui.work.background_query import SEED, BackgroundQuery, Going, Subject
from planner.ui.work.runner import Watch
from planner.units import METRIC, UnitSystem

Possible: TypeAlias = "Callable[[tuple[Change, ...]], bool]"
LEAST_SCALE_K = 0.5
"""Gains are drawn on a scale that reaches at least so far."""
BESIDE_LETTERS = 46
"""What is to be read beside the list needs so many letters."""
LEAST_HIGH_PX = 220
"""So much of the list is in sight, however low the window: the page scrolls."""
TITLE_LETTERS = 16
"""Room for a change in its list, in average letters, however narrow the page."""

if TYPE_CHECKING:
    from planner.app.advice.apply import DraftEdits
    from planner.app.advice.changes import Change
    from planner.app.advice.helps import Gain, Helps
    from planner.app.advice.water import WaterPlan
    from planner.app.answer.records import Answer, Candidate
    from planner.app.chance.race import Share
    from planner.ui.work.session import Session


def as_loaded(subject: Subject, answer: Answer | None, one: Candidate | None) -> Subject:
    """What is looked at; of the answer's own best the load as the user has it, of which it is asked what helps."""
    from planner.app.answer.settled import asked_of_help, closings_elsewhere, settled_plan

    if answer is None or one is None or (loaded := asked_of_help(answer, one)).key == one.key:
        return subject
    plan = settled_plan(answer, loaded, subject.catalogue)
    return replace(subject, plan=plan, elsewhere=closings_elsewhere(answer, loaded))


def ask_helps(wanted: Callable[[], Subject], watch: Watch) -> Helps:
    """``wanted`` makes the subject here, for it may have to be planned first."""
    from planner.app.advice.helps import SAMPLES, helps
    from planner.app.answer.field import Field

    subject = wanted()
    field = subject.samples if isinstance(subject.samples, Field) else None
    if field is not None and field.most < SAMPLES:  # too few to tell what a change does
        field = None
    return helps(
        subject.plan,
        subject.choice,
        subject.catalogue,
        np.random.default_rng(SEED),
        drawn=field,
        places=field.trip.loading_places if field else (),
        tolerance=subject.tolerance,
        elsewhere=subject.elsewhere,
        on_progress=watch.on_progress,
        should_stop=watch.should_stop,
    )


def ask_water(subject: Subject, _: Watch) -> WaterPlan:
    from planner.app.advice.water import water_plan
    from planner.app.answer.field import Field

    field = subject.samples if isinstance(subject.samples, Field) else None
    generator = np.random.default_rng(SEED)
    return water_plan(subject.plan, subject.choice, subject.catalogue, generator, drawn=field)


class HelpsPage(Page):
    """Changes on the left, the smallest set and the water plan on the right."""

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.helps = BackgroundQuery(session.runner, "helps", ask_helps)
        self.water = BackgroundQuery(session.runner, "water", ask_water)
        self.list = GainList()
        self.lead = ShortText("", 2, bold=True)
        self.set_words, self.water_words = p.Sentences(s.say(s.HELPS_SET)), p.Sentences(s.say(s.HELPS_WATER))
        self.apply_set, self.apply_water = (
            QPushButton(s.say(s.HELPS_APPLY_SET)),
            QPushButton(s.say(s.HELPS_APPLY_WATER)),
        )
        for button, act in ((self.apply_set, self._apply_set), (self.apply_water, self._apply_water)):
            button.clicked.connect(lambda _=False, act=act: act())
        self.list_panel = self.hang(
            s.HELPS_LIST, s.HELPS_LIST_GUIDE, p.under(self.lead, self.list), self.helps
        )
        self.set_panel = self.hang(
            s.HELPS_SET, s.HELPS_SET_GUIDE, _with_button(self.set_words, self.apply_set), self.helps
        )
        self.water_panel = self.hang(
            s.HELPS_WATER, s.HELPS_WATER_GUIDE, _with_button(self.water_words, self.apply_water), self.water
        )
        self.list_panel.head.addWidget(Going(self.helps))
        self.water_panel.head.addWidget(Going(self.water))
        self.beside = p.split(Qt.Orientation.Vertical, (self.set_panel, 42), (self.water_panel, 58))
        self.sides = p.split(Qt.Orientation.Horizontal, (self.list_panel, 66), (self.beside, 34))
        p.fill(self, self.sides)
        for query in (self.helps, self.water):
            query.answered.connect(lambda _: self.show_answers())
        self.list.wanted.connect(lambda change: self.apply((change,), change.title))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._stack()

    def _stack(self) -> None:
        """In a narrow page the list has the whole width, and what stands beside it otherwise stands below."""
        beside = self.fontMetrics().averageCharWidth() * BESIDE_LETTERS
        narrow = self.width() < self.list.minimumSizeHint().width() + beside
        across, down = Qt.Orientation.Horizontal, Qt.Orientation.Vertical
        self.sides.setOrientation(down if narrow else across)
        self.beside.setOrientation(across if narrow else down)

    def ask(self) -> None:
        if self.subject is None:
            return
        key = (id(self.subject.plan.outcomes), self.subject.choice)
        self.helps.put(key, partial(as_loaded, self.subject, self.session.answer, self.session.candidate))
        self.water.put(key, self.subject)

    def show_answers(self) -> None:
        if self.helps.answer is not None:
            self._show_helps(self.helps.answer)
        if self.water.answer is not None:
            self._show_water(self.water.answer)

    def _show_helps(self, found: Helps) -> None:
        from planner.app.advice.helps import in_words

        said = in_words(found, self.units, best=self._answers_best())
        self.lead.setText(" ".join(filter(None, (said.start, said.headline))))
        self.list.show_gains(found, self.units, self._possible)
        self._stack()
        self.set_words.show_parts((("", (said.smallest,)), (s.say(s.HELPS_WORSE), said.worse)))
        chosen = found.smallest.changes if found.smallest else ()
        self.apply_set.setVisible(bool(chosen))
        self.apply_set.setEnabled(self._possible(chosen))

    def _answers_best(self) -> Candidate | None:
        """The answer's own, where it is what the views show: another one speaks of the start it was chosen by."""
        answer, shown = self.session.answer, self.session.candidate
        best = answer.best if answer is not None else None
        return best if best is not None and shown is not None and shown.key == best.key else None

    def _show_water(self, found: WaterPlan) -> None:
        from planner.app.advice.water import in_words

        said = in_words(found, self.units)
        self.water_words.show_parts(
            (
                ("", (said.headline,)),
                (s.say(s.HELPS_WATER_BOXES), said.groups),
                (s.say(s.HELPS_MIND), said.advice),
            )
        )
        self.apply_water.setVisible(found.misting is not None)

    # -- applying --------------------------------------------------------------------------------

    def apply(self, changes: tuple[Change, ...], words: str, found: WaterPlan | None = None) -> None:
        """Write changes into the draft as one step of undo, then look at the changed candidate.

        ``found`` is what they come from, where that is not what helps.
        """
        draft_edits = self._wish(changes, found)
        if draft_edits is None or self.helps.stale:
            return
        document = self.session.document
        self.wished.emit(draft_edits)
        if not draft_edits.edits:
            return
        document.stack.beginMacro(words)
        for edit in draft_edits.edits:
            document.edit(edit.spot, MISSING if edit.value is None else edit.value, words)
        document.stack.endMacro()

    def _wish(self, changes: tuple[Change, ...], found: WaterPlan | None = None) -> DraftEdits | None:
        from planner.app.advice.apply import draft_edits

        answer, helps = self.session.answer, self.helps.answer
        if found is not None:
            plan, choice = found.plan, found.choice
            elsewhere = self.subject.elsewhere if self.subject is not None else {}
        else:
            plan, choice, elsewhere = helps.plan, helps.choice, helps.elsewhere
        return draft_edits(
            plan,
            choice,
            changes,
            self.session.catalogue,
            answer.trip if answer is not None else None,
            put_in=[one.name for one in answer.breaks] if answer is not None else (),
            elsewhere=elsewhere,
        )

    def _possible(self, changes: tuple[Change, ...]) -> bool:
        return self._wish(changes) is not None

    def _apply_set(self) -> None:
        if self.helps.answer is not None and self.helps.answer.smallest:
            changes = self.helps.answer.smallest.changes
            self.apply(changes, s.say(s.HELPS_SET))

    def _apply_water(self) -> None:
        from planner.app.advice.apply import misting_change

        if self.water.answer is not None and self.water.answer.misting and not self.water.stale:
            found = self.water.answer
            self.apply((misting_change(found.misting),), s.say(s.HELPS_WATER), found)


class GainList(QScrollArea):
    """One row for each change that tells: what it is, what it gains, how much work, and a button that does it."""

    wanted = Signal(object)
    HEADS = (s.HELPS_CHANGE, s.HELPS_GAIN, s.HELPS_NO_HARM, s.HELPS_EFFORT, "")

    def __init__(self) -> None:
        super().__init__()
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setAccessibleName(s.say(s.HELPS_LIST))
        self.buttons: list[QPushButton] = []
        self._shown: object = None

    def show_gains(self, found: Helps, units: UnitSystem, possible: Possible) -> None:
        """Show the changes of ``found``, best first; ``possible`` says which the window can make itself."""
        key = (id(found), units.name)
        if key == self._shown:
            return
        self._shown, self._held = key, found
        gains = [g for g in found.gains if g.telling] + [
            g for g in found.gains if not g.telling and g.headroom_k < 0.0
        ]
        page = p.named("page")
        grid = QGridLayout(page)
        grid.setContentsMargins(0, 0, 8, 0)
        grid.setHorizontalSpacing(12)
        grid.setVerticalSpacing(3)
        for column, share in enumerate((5, 2, 2)):
            grid.setColumnStretch(column, share)
        for column, text in enumerate(self.HEADS):
            grid.addWidget(label(s.say(text) if text else "", "field"), 0, column)
        widest = max((gain.headroom_k for gain in gains), default=0.0)
        self.buttons = []
        if not any(gain.telling for gain in gains):
            grid.addWidget(label(s.say(s.HELPS_NOTHING), "soft"), len(gains) + 1, 0, 1, len(self.HEADS))
        for row, gain in enumerate(gains, start=1):
            self._row(grid, row, gain, found, widest, units, possible)
        grid.setRowStretch(len(gains) + 2, 1)
        grid.setColumnMinimumWidth(0, self.fontMetrics().averageCharWidth() * TITLE_LETTERS)
        self.setWidget(page)
        self.updateGeometry()

    def minimumSizeHint(self) -> QSize:
        """Wide enough for a whole row, its button too: the list never scrolls sideways."""
        page = self.widget()
        wide = page.minimumSizeHint().width() if page is not None else 0
        return QSize(wide + self.verticalScrollBar().sizeHint().width(), LEAST_HIGH_PX)

    def _row(
        self,
        grid: QGridLayout,
        row: int,
        gain: Gain,
        found: Helps,
        widest: float,
        units: UnitSystem,
        possible: Possible,
    ) -> None:
        change = gain.change
        title = change.title[:1].upper() + change.title[1:]
        grid.addWidget(ShortText(title, 3), row, 0, Qt.AlignmentFlag.AlignVCenter)
        grid.addWidget(GainBar(gain, widest, units), row, 1)
        grid.addWidget(NoHarmBar(found.base.no_harm, gain), row, 2)
        grid.addWidget(Effort(change.effort), row, 3, Qt.AlignmentFlag.AlignVCenter)
        if not gain.telling:  # shown so that nobody tries it, not to be done
            return
        button = QPushButton(s.say(s.HELPS_APPLY))
        button.setAccessibleName(s.say(s.HELPS_APPLY_NAME, change=title))
        button.setEnabled(possible((change,)))
        button.setToolTip("" if button.isEnabled() else s.say(s.HELPS_BY_HAND))
        button.clicked.connect(lambda _=False, change=change: self.wanted.emit(change))
        self.buttons.append(button)
        grid.addWidget(button, row, 4)


class GainBar(QWidget):
    """The gain in margin as a bar from a middle line: to the right it helps, to the left it harms."""

    def __init__(self, gain: Gain, widest_k: float, units: UnitSystem = METRIC) -> None:
        super().__init__()
        self.gain, self.widest_k, self.units = gain, max(widest_k, LEAST_SCALE_K), units
        self.setMinimumWidth(112)
        self.setMinimumHeight(30)
        size = units.step_cell(abs(gain.headroom_k))
        sign = "" if size == units.step_cell(0.0) else "+" if gain.headroom_k > 0 else "−"
        self.text = sign + size
        self.setAccessibleName(s.say(s.HELPS_GAIN))
        self.setAccessibleDescription(self.text)

    def paintEvent(self, event: QPaintEvent) -> None:
        paint = QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        look, gain = theme.current(), self.gain
        figure = p.wide("−88.8 °C", -0.9) + 6
        zero, reach = self.width() * 0.28, (self.width() * 0.72 - figure) / self.widest_k
        harmful = gain.headroom_k < 0.0
        length = min(abs(gain.headroom_k) * reach, zero - 4 if harmful else self.width())
        box = QRectF(zero - length if harmful else zero, self.height() / 2 - 5, length, 10)
        p.bar(paint, box, theme.colour(look.harm, 0.7) if harmful else theme.colour(look.accent, 0.85))
        paint.setPen(QPen(theme.colour(look.ink_faint), 1))
        paint.drawLine(QPointF(zero, 3), QPointF(zero, self.height() - 3))
        left = zero + 5 if harmful else box.right() + 5
        p.write(paint, QRectF(left, 0, figure + 4, self.height()), self.text, look.ink_soft, step=-0.9)


class NoHarmBar(QWidget):
    """In how many of a hundred samples no harm comes: before, after, and the step between."""

    def __init__(self, before: Share, gain: Gain) -> None:
        super().__init__()
        self.before, self.gain = before, gain
        self.after = gain.trial.no_harm if gain.told else before  # chance alone is no step
        old, new = before.of_hundred, self.after.of_hundred
        self.text = s.say(s.HELPS_FROM_TO, before=old, after=new) if old != new else str(new)
        self.setMinimumSize(132, 30)
        self.setAccessibleName(s.say(s.HELPS_NO_HARM))
        self.setAccessibleDescription(self.text)

    def paintEvent(self, event: QPaintEvent) -> None:
        paint = QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        look, after = theme.current(), self.after.value
        figure = p.wide("88 → 100", bold=True) + 8
        lane = QRectF(2, self.height() / 2 - 4, max(self.width() - figure - 8, 30), 8)
        p.bar(paint, lane, theme.colour(look.ink, 0.07))
        old, new = (lane.left() + share * lane.width() for share in (self.before.value, after))
        tint = theme.colour(look.harm, 0.7) if new < old else theme.colour(look.accent, 0.85)
        p.bar(paint, QRectF(min(old, new), lane.top(), abs(new - old), lane.height()), tint)
        paint.setPen(QPen(theme.colour(look.ink_soft), 1.4))
        paint.drawLine(QPointF(old, lane.top() - 3), QPointF(old, lane.bottom() + 3))
        bold = self.gain.certain
        box = QRectF(self.width() - figure, 0, figure, self.height())
        p.write(paint, box, self.text, look.ink if bold else look.ink_soft, bold=bold, align=p.RIGHT)


class Effort(QWidget):
    """How much work a change is: so many of five dots."""

    MOST = 5

    def __init__(self, effort: int) -> None:
        super().__init__()
        self.effort = effort
        self.setFixedSize(self.sizeHint())
        self.setAccessibleName(s.say(s.HELPS_EFFORT_OF, effort=effort, most=self.MOST))
        self.setToolTip(self.accessibleName())

    def sizeHint(self) -> QSize:
        return QSize(46, 20)

    def paintEvent(self, event: QPaintEvent) -> None:
        paint = QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        look = theme.current()
        for dot in range(self.MOST):
            paint.setPen(QPen(theme.colour(look.ink_faint), 1))
            full = dot < self.effort
            paint.setBrush(theme.colour(look.ink_soft) if full else Qt.BrushStyle.NoBrush)
            paint.drawEllipse(QPointF(5 + dot * 9, self.height() / 2), 2.6, 2.6)


def _with_button(words: QWidget, button: QPushButton) -> QWidget:
    foot = QWidget()
    row = QHBoxLayout(foot)
    row.setContentsMargins(0, 0, 0, 0)
    row.addWidget(button)
    row.addStretch(1)
    return p.under(words, foot, grows=0)
