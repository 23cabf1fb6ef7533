"""The tipping point on the screen: heat made and the most that can be lost, or why there is no balance to show."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import Qt
from PySide6.QtGui import QPainter, QPaintEvent

from planner.app.plan.results import TYPICAL
from planner.app.standing.pictures import tipping_chart
from planner.ui.look import paint as p
from planner.ui.look import strings as s
from planner.ui.look import theme
from planner.ui.look.chart_view import ChartView
from planner.units import UnitSystem

if TYPE_CHECKING:
    from planner.app.plan.results import Plan
    from planner.app.standing.tipping import TippingAt


class TippingView(ChartView):
    """Where the lines cross the box can stay; between the crossings lies its headroom."""

    def __init__(self) -> None:
        super().__init__()
        self.empty = False
        self.setMinimumSize(260, 130)
        self.setAccessibleName(s.say(s.STAND_TIPPING))

    def show_tipping(self, plan: Plan, at: TippingAt, group: int, units: UnitSystem) -> None:
        """Show the balance of one group's box."""
        self.empty = not np.isfinite(at.made_w[:, TYPICAL, group]).any()
        self.show_chart(None if self.empty else tipping_chart(plan, at, group, units))

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        if self.empty:
            paint = QPainter(self)
            paint.setPen(theme.colour(theme.current().ink_soft))
            paint.drawText(self.rect(), int(p.MIDDLE | Qt.TextFlag.TextWordWrap), s.say(s.STAND_NO_BALANCE))
            paint.end()
