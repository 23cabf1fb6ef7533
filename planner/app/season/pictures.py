"""Picture of a season chart: weeks across, hours down, coloured by the share of safe days."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from planner.app.common.scale import SAFE_SHARE, SHADES
from planner.app.common.svg import FAINT, INK, PAPER, line, svg, text
from planner.app.season.chart import HOURS, WEEKS, Season
from planner.app.season.words import MOSTLY

LEFT, TOP, CELL_W, CELL_H = 64, 44, 16, 14
UNKNOWN_FILL = "#c9ced4"


def season_svg(found: Season) -> str:
    """Dark is safe on few days; a dot marks cells safe on 95 of 100 days, a ring those safe for agitated bees too."""
    width, height = LEFT + WEEKS * CELL_W + 24, TOP + HOURS * CELL_H + 78
    body = [
        text(LEFT, 22, "Share of days without harm by week and hour of departure", size=13, bold=True),
        *(_cell(found, week, hour) for week in range(WEEKS) for hour in range(HOURS)),
        *_months(),
        *_hours(),
        *_scale(TOP + HOURS * CELL_H + 48),
    ]
    return svg(width, height, body, "Season chart")


def _cell(found: Season, week: int, hour: int) -> str:
    x, y = LEFT + week * CELL_W, TOP + hour * CELL_H
    share = float(found.safe_share[week, hour])
    fill = SAFE_SHARE.colour(share) or UNKNOWN_FILL
    rect = f"<rect x='{x}' y='{y}' width='{CELL_W - 1}' height='{CELL_H - 1}' fill='{fill}'/>"
    if share < MOSTLY or np.isnan(share):
        return rect
    robust = found.robust_share[week, hour] >= MOSTLY
    inside = "none" if robust else INK
    spot = f"<circle cx='{x + CELL_W / 2 - 0.5}' cy='{y + CELL_H / 2 - 0.5}' r='{3.2 if robust else 1.6}'"
    return f"{rect}{spot} fill='{inside}' stroke='{INK}' stroke-width='0.9'/>"


def _months() -> Iterator[str]:
    names = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
    for month, name in enumerate(names):
        x = LEFT + month * 365.0 / 12.0 / 7.0 * CELL_W
        yield line(x, TOP + HOURS * CELL_H, x, TOP + HOURS * CELL_H + 5, FAINT)
        yield text(x + 3, TOP + HOURS * CELL_H + 16, name, size=10, colour=FAINT)


def _hours() -> Iterator[str]:
    for hour in range(0, HOURS, 3):
        yield text(LEFT - 8, TOP + hour * CELL_H + 11, f"{hour:02d}:00", anchor="end", size=10, colour=FAINT)


def _scale(y: float) -> Iterator[str]:
    for i, shade in enumerate(reversed(SHADES)):
        yield f"<rect x='{LEFT + i * 3}' y='{y}' width='3.2' height='9' fill='{shade}'/>"
    end = LEFT + len(SHADES) * 3
    for x, words in ((LEFT, "0"), (end, "100 %")):
        yield text(x, y + 21, words, anchor="middle", size=10, colour=FAINT)
    yield f"<circle cx='{end + 44}' cy='{y + 5}' r='1.6' fill='{INK}'/>"
    yield text(end + 52, y + 9, "95 of 100 days", size=11, colour=FAINT)
    yield f"<circle cx='{end + 164}' cy='{y + 5}' r='3.2' fill='{PAPER}' stroke='{INK}' stroke-width='0.9'/>"
    yield text(end + 174, y + 9, "with agitated bees too", size=11, colour=FAINT)
