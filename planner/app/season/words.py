"""A season chart in words, as a table and as a document."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import numpy as np

from planner.app.common.cautions import ALWAYS
from planner.app.common.wording import Said, duration_text, numbers, runs
from planner.app.season.chart import HOURS, SAMPLES, Season
from planner.model.catalogue import Catalogue
from planner.words import say

DAYS_OFF = 3
"""Weather so many days short of or beyond whole years is said in years."""


def season_words(found: Season, catalogue: Catalogue) -> Said:
    """The chart for people: when the lane is without harm all day, when only at some hours, when never."""
    place = catalogue.loading_places[found.lane.place].title
    return Said(
        _headline(found),
        (
            (
                say("season.table", place=place),
                tuple(_table(found)),
            ),
            (
                say("season.how"),
                (
                    say(
                        "season.departures",
                        count=int(found.days.sum()),
                        weather=weather_text(found),
                        setup=found.lane.setup.title,
                        driving=duration_text(found.lane.road.driving_s * found.lane.trip.drive_time_factor),
                    ),
                    say("season.weather", source=found.source),
                    say("season.decided", variants=found.variants),
                    say("season.same_load", count=SAMPLES),
                ),
            ),
            ("Cautions", ALWAYS),
        ),
    )


def _headline(found: Season) -> str:
    weeks = found.safe_hours()
    accepted = found.tolerance
    always = [week for week, hours in weeks if len(hours) == HOURS]
    never = [week for week, hours in weeks if not hours]
    some = [week for week, hours in weeks if 0 < len(hours) < HOURS]
    parts = [
        say(
            "season.within_in_of",
            harm=f"{accepted.harm_of_100:g}",
            boxes=f"{accepted.boxes_of_100:g}",
            always=len(always),
            weeks=len(weeks),
        )
    ]
    if some:
        parts.append(say("season.at_some_hours_in", some=f"{len(some)}", found=f"{_span(found, some)}"))
    if never:
        parts.append(say("season.at_none_in", never=f"{len(never)}", found=f"{_span(found, never)}"))
    return f"{found.lane.trip.origin.name} to {found.lane.trip.destination.name}: {', '.join(parts)}."


def weather_text(found: Season) -> str:
    """How much weather a chart rests on: ``one year of weather``; what is no whole years is told in days."""
    days = (found.last_day - found.first_day).days + 1
    years = round(days / 365.25)
    if years and abs(days - 365.25 * years) <= DAYS_OFF:
        return say("season.years", count=years)
    return say("season.days", count=days)


def _span(found: Season, weeks: list[int]) -> str:
    """Every run of weeks from its first day to its last, e.g. ``5 Mar to 8 Apr and 14 May to 13 Oct``."""
    flags = np.isin(np.arange(max(weeks) + 1), weeks)
    *most, last = (f"{week_text(found, a)} to {week_text(found, b, 6)}" for a, b in runs(flags))
    return f"{', '.join(most)} and {last}" if most else last


def week_text(found: Season, week: int, day: int = 0) -> str:
    """A day of a week of the year, e.g. ``4 Jun``."""
    at = date(found.first_day.year, 1, 1) + timedelta(days=min(7 * week + day, 364))
    return f"{at.day} {at:%b}"


def _table(found: Season) -> list[str]:
    rows = ["week of  " + " ".join(f"{hour:>2}" for hour in range(HOURS))]
    for week in np.flatnonzero((found.days > 0).any(axis=1)):
        cells = " ".join(f"{_tenths(found.safe_share[week, hour]):>2}" for hour in range(HOURS))
        rows.append(f"{week_text(found, int(week)):>7}  {cells}")
    return rows


def _tenths(share: float) -> str:
    if np.isnan(share):
        return "."
    return "X" if share >= 1.0 else f"{int(share * 10)}"


def season_document(found: Season) -> dict[str, Any]:
    """The chart for machines, tables (week, hour); null where no day is known."""
    return {
        "skepway_season": 1,
        "origin": found.lane.trip.origin.name,
        "destination": found.lane.trip.destination.name,
        "place": found.lane.place,
        "setup": found.lane.setup.name,
        "source": found.source,
        "tolerance": {
            "harm_of_100": found.tolerance.harm_of_100,
            "boxes_of_100": found.tolerance.boxes_of_100,
            "from": found.tolerance.source,
        },
        "first_day": found.first_day.isoformat(),
        "last_day": found.last_day.isoformat(),
        "days": found.days.tolist(),
        "safe_share": numbers(found.safe_share),
        "boxes_harmed_share": numbers(found.boxes_share),
        "within": found.within.tolist(),
        "robust_share": numbers(found.robust_share),
        "mean_peak_core_c": numbers(found.peak_c),
    }
