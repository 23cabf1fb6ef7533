"""The departure board on the screen: cells chosen and compared by hand, told in words."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QEvent, QSize, Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QMouseEvent

from planner.app.common.chart import Chart, Rule
from planner.app.plan.pictures import LETTERS, board_chart, ring
from planner.app.plan.results import Choice, Plan
from planner.model.records import Floats
from planner.ui.look import clock
from planner.ui.look import strings as s
from planner.ui.look.chart_view import ChartView
from planner.units import METRIC, UnitSystem

COMPARED = 1 + len(LETTERS)
FAR = 9999
STEPS = {
    Qt.Key.Key_Left: (-1, 0),
    Qt.Key.Key_Right: (1, 0),
    Qt.Key.Key_Up: (0, -1),
    Qt.Key.Key_Down: (0, 1),
    Qt.Key.Key_Home: (-FAR, 0),
    Qt.Key.Key_End: (FAR, 0),
}


class Board(ChartView):
    """Shows one set-up of a plan; announces the cell chosen and the cells compared."""

    chosen = Signal(object)
    compared = Signal(object)

    def __init__(self, units: UnitSystem = METRIC) -> None:
        super().__init__()
        self.units = units
        self.plan: Plan | None = None
        self.choice: Choice | None = None
        self.others: tuple[Choice, ...] = ()
        self.by_verdict = False
        self.sun_deg: Floats = np.empty(0)
        self._hover: tuple[int, int] | None = None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setMinimumSize(320, 150)
        self.setAccessibleName(s.say(s.BOARD_TITLE))

    def sizeHint(self) -> QSize:
        return QSize(560, 300)

    # -- what is shown -------------------------------------------------------------------------

    def show_plan(self, plan: Plan, sun_deg: Floats, choice: Choice | None) -> None:
        """Show ``plan``; ``sun_deg`` is the sun's height at the origin at each departure."""
        self.plan, self.sun_deg = plan, sun_deg
        self.choice, self.others = choice, ()
        self._tell()

    def choose(self, choice: Choice | None, others: tuple[Choice, ...] = ()) -> None:
        """Mark the candidate looked at and those beside it."""
        self.choice, self.others = choice, others
        self._tell()

    def set_setup(self, setup: int) -> None:
        """Show another set-up of the boxes."""
        if self.choice:
            self._take(Choice(self.choice.departure, self.choice.loading_place, setup))

    def set_by_verdict(self, by_verdict: bool) -> None:
        """Colour the cells by their worst verdict, or by the peak."""
        self.by_verdict = by_verdict
        self._tell()

    def set_units(self, units: UnitSystem) -> None:
        self.units = units
        self._tell()

    def spoken(self, choice: Choice) -> str:
        """The cell in words, for the line under the board and for screen readers."""
        return "\n".join(self.spoken_parts(choice))

    def spoken_parts(self, choice: Choice) -> tuple[str, str]:
        """Which cell, and what it holds, as two sentences."""
        plan = self.plan
        if plan is None:
            return "", ""
        where = s.say(
            s.BOARD_CELL,
            when=clock.day_hour(float(plan.departures_s[choice.departure]), plan.trip.origin.zone),
            place=plan.loading_place_titles[choice.loading_place],
            setup=plan.setup_titles[choice.setup],
        )
        calm, typical, agitated = plan.peak_c(choice)
        if not np.isfinite(typical):
            return where, s.say(s.BOARD_CELL_UNKNOWN)
        what = s.say(
            s.BOARD_CELL_PEAK,
            peak=self.units.temp_text(typical),
            calm=self.units.temp_text(calm, unit=False),
            agitated=self.units.temp_text(agitated, unit=False),
            level=s.say(s.LEVELS[plan.worst_level(choice)]),
        )
        return where, what

    def _tell(self) -> None:
        if self.plan is not None:
            shown = self.choice or Choice(0, -1, 0)
            self.show_chart(
                board_chart(self.plan, shown, self.sun_deg, self.units, by_verdict=self.by_verdict)
            )
        if self.plan and self.choice:
            self.setAccessibleDescription(self.spoken(self.choice))

    def painted(self) -> Chart | None:
        """The board with what the hand is at: the cell under the mouse, those compared, the one chosen."""
        if self.chart is None:
            return None
        marks = [ring(Choice(*self._hover, self._setup), "ink_soft", 1.0)] if self._hover else []
        marks += [
            ring(other, f"series{number}", 2.0, LETTERS[number - 1])
            for number, other in enumerate(self.others, start=1)
            if other.setup == self._setup
        ]
        if self.choice is None:
            return self.chart.with_marks(*marks)
        column = Rule(self.choice.departure + 0.5, "x", "accent", 0.6)
        chosen = ring(self.choice, "accent", 3.4 if self.hasFocus() else 2.4)
        return self.chart.with_marks(column, *marks, chosen)

    # -- hands -----------------------------------------------------------------------------------

    def mousePressEvent(self, event: QMouseEvent) -> None:
        cell = self._cell_at(event)
        if cell is None or event.button() != Qt.MouseButton.LeftButton:
            return
        picked = Choice(*cell, self._setup)
        if event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
            self._compare(picked)
        else:
            self._take(picked)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        cell = self._cell_at(event)
        if cell != self._hover:
            self._hover = cell
            words = (self.spoken(Choice(*cell, self._setup)), s.say(s.BOARD_HINT)) if cell else ()
            self.setToolTip("\n".join(words))
            self.update()

    def leaveEvent(self, event: QEvent) -> None:
        self._hover = None
        self.update()

    def focusInEvent(self, event: QFocusEvent) -> None:
        self.update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        self.update()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        step = STEPS.get(Qt.Key(event.key()))
        if self.plan and self.choice and step:
            departure = min(max(self.choice.departure + step[0], 0), len(self.plan.departures_s) - 1)
            place = min(max(self.choice.loading_place + step[1], 0), len(self.plan.loading_places) - 1)
            self._take(Choice(departure, place, self.choice.setup))
        elif self.choice and event.key() == Qt.Key.Key_Space:
            self._compare(self.choice)
        else:
            super().keyPressEvent(event)

    def _cell_at(self, event: QMouseEvent) -> tuple[int, int] | None:
        """Departure and loading place under the mouse."""
        frame = self.frame()
        at = frame and frame.at(event.position().x(), event.position().y())
        if not at or self.plan is None:
            return None
        across, down = len(self.plan.departures_s), len(self.plan.loading_places)
        return min(int(at[0]), across - 1), min(int(at[1]), down - 1)

    @property
    def _setup(self) -> int:
        return self.choice.setup if self.choice else 0

    def _take(self, choice: Choice) -> None:
        if choice != self.choice:
            self.choice = choice
            self._tell()
            self.chosen.emit(choice)

    def _compare(self, choice: Choice) -> None:
        kept = tuple(other for other in self.others if other != choice)
        if len(kept) == len(self.others):
            kept = (*self.others, choice)[-(COMPARED - 1) :]
        self.others = kept
        self.update()
        self.compared.emit(kept)
