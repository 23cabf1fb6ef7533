"""Picture of a fit: the log, the model before and after."""

from __future__ import annotations

import numpy as np

from planner.app.common.svg import ACCENT, BLUE, INK, Plot, clock_ticks, svg, text
from planner.app.fit.fit import Fit
from planner.units import METRIC, UnitSystem


def fit_svg(found: Fit, zone: str, units: UnitSystem = METRIC, width: int = 960) -> str:
    """Ten-minute means of the log as dots, the model with the catalogue's values dashed, with those found full."""
    seen = np.concatenate((found.logged_c, found.before_c, found.after_c))
    low, high = float(np.floor(seen.min() - 0.5)), float(np.ceil(seen.max() + 0.5))
    span = float(found.time_s[0]), float(found.time_s[-1])
    plot = Plot(64, 44, width - 190, 280, span, (low, high))
    step = 1.0 if high - low <= 10.0 else 5.0
    temps = list(np.arange(low, high + 0.1, step))
    body = [
        text(64, 22, "Log, model before and after", size=13, bold=True),
        plot.frame(),
        *plot.y_ticks(temps, [f"{units.temp(t):.0f}" for t in temps], units.temp_unit),
        *plot.x_ticks(*clock_ticks(*span, zone)),
        *(
            f"<circle cx='{plot.across(float(t)):.1f}' cy='{plot.up(float(c)):.1f}' r='2' fill='{INK}'/>"
            for t, c in zip(found.time_s, found.logged_c, strict=True)
        ),
        plot.curve(found.time_s, found.before_c, BLUE, 1.8, "6 3"),
        plot.curve(found.time_s, found.after_c, ACCENT, 2.4),
    ]
    right = plot.left + plot.width + 8
    for i, (name, colour) in enumerate((("log", INK), ("model before", BLUE), ("model after", ACCENT))):
        body.append(text(right, plot.top + 16 + 16 * i, name, size=11, colour=colour))
    return svg(width, 356, body, "Fit")
