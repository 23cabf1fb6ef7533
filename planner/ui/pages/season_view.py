"""The season chart on the screen: a cell picked by mouse or arrow keys is framed, and told by the page."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QMouseEvent

from planner.app.common.chart import Chart, Ring
from planner.app.season.chart import HOURS, WEEKS
from planner.app.season.pictures import season_chart
from planner.ui.look import strings as s
from planner.ui.look.chart_view import ChartView
from planner.ui.look.paint import Cells

if TYPE_CHECKING:
    from planner.app.season.chart import Season

STEPS = {
    Qt.Key.Key_Left: (-1, 0),
    Qt.Key.Key_Right: (1, 0),
    Qt.Key.Key_Up: (0, -1),
    Qt.Key.Key_Down: (0, 1),
}


class SeasonView(ChartView):
    """Shows a season; announces the cell picked."""

    picked = Signal(int, int)

    def __init__(self) -> None:
        super().__init__()
        self.found: Season | None = None
        self.agitated = False
        self.cell = (21, 5)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setMinimumSize(380, 200)
        self.setAccessibleName(s.say(s.SEASON_TITLE))

    def show_season(self, found: Season) -> None:
        """Show ``found``; a cell of which nothing is known gives way to one in the middle of the known weeks."""
        self.found = found
        known = np.flatnonzero((found.days > 0).any(axis=1))
        if known.size and self.cell[0] not in known:
            self.cell = (int(known[known.size // 2]), self.cell[1])
        self.show_chart(season_chart(found, agitated=self.agitated))

    def set_agitated(self, on: bool) -> None:
        """Show the share of days on which no variant is harmed, not even with agitated bees."""
        self.agitated = on
        if self.found is not None:
            self.show_season(self.found)

    def painted(self) -> Chart | None:
        week, hour = self.cell
        colour = "accent" if self.hasFocus() else "ink"
        return self.chart and self.chart.with_marks(Ring(week, week + 1, hour, hour + 1, colour, 1.8))

    def table(self) -> Cells:
        """In how many of 100 variants, or days, no harm is done in each week and hour of departure."""
        found = self.found
        if found is None:
            return (self.heading(),), ()
        from planner.app.season.words import week_text

        share = found.robust_share if self.agitated else found.safe_share
        heads = (self.heading(), *(f"{hour:02d}:00" for hour in range(HOURS)))
        rows = tuple(
            (
                week_text(found, week),
                *(f"{100 * float(share[week, h]):.0f}" if found.days[week, h] else "" for h in range(HOURS)),
            )
            for week in range(WEEKS)
            if found.days[week].any()
        )
        return heads, rows

    # -- hands -----------------------------------------------------------------------------------

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        frame = self.frame()
        at = frame and frame.at(event.position().x(), event.position().y())
        if at and (int(at[0]), int(at[1])) != self.cell:
            self.pick(int(at[0]), int(at[1]))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        step = STEPS.get(Qt.Key(event.key()))
        if step is None:
            super().keyPressEvent(event)
        else:
            self.pick(self.cell[0] + step[0], self.cell[1] + step[1])

    def focusInEvent(self, event: QFocusEvent) -> None:
        self.update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        self.update()

    def pick(self, week: int, hour: int) -> None:
        """Look at one cell."""
        self.cell = (min(max(week, 0), WEEKS - 1), min(max(hour, 0), HOURS - 1))
        self.update()
        self.picked.emit(*self.cell)
