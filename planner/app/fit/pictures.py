"""A fit as a chart: the log, the model before and after."""

from __future__ import annotations

import numpy as np

from planner.app.common.chart import Axis, Chart, Dots, Line, hour_ticks, temp_ticks
from planner.app.common.svg import chart_svg
from planner.app.fit.fit import Fit
from planner.units import METRIC, UnitSystem


def fit_svg(found: Fit, zone: str, units: UnitSystem = METRIC) -> str:
    """The chart on paper."""
    return chart_svg(fit_chart(found, zone, units), 960.0, 360.0)


def fit_chart(found: Fit, zone: str, units: UnitSystem = METRIC) -> Chart:
    """Ten-minute means of the log as dots, the model with the catalogue's values dashed, with those found full."""
    seen = np.concatenate((found.logged_c, found.before_c, found.after_c))
    low, high = float(np.floor(seen.min() - 0.5)), float(np.ceil(seen.max() + 0.5))
    first_s, last_s = float(found.time_s[0]), float(found.time_s[-1])
    return Chart(
        title="Log, model before and after",
        x=Axis(first_s, last_s, (hour_ticks(first_s, last_s, zone),)),
        y=Axis(low, high, (temp_ticks(low, high, units),), units.temp_unit, grid=True),
        marks=(
            Dots(found.time_s, found.logged_c, "ink", name="logged"),
            Line(found.time_s, found.before_c, "outside", 1.8, "6 3", name="before"),
            Line(found.time_s, found.after_c, "core", 2.4, name="after"),
        ),
    )
