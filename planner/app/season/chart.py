"""Season chart: the chance that a lane goes without harm, by week of the year and hour of departure.

Every hour of every day of the weather is a departure, judged in samples as the one answer judges it. Weeks are pieces
of work for an executor, each kept in a folder
as soon as it is done, so that the same call goes on where another was broken off.
"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor
from dataclasses import dataclass, field, fields, replace
from datetime import UTC, date, datetime, timedelta
from functools import cached_property
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from planner import __version__
from planner.app.answer.ask import opened, slots_of, tolerance_of
from planner.app.answer.decide import standing_of
from planner.app.answer.records import Tolerance
from planner.app.answer.tally import span_of
from planner.app.common.executors import map_with
from planner.app.common.progress import Progress, Stop
from planner.errors import Fault, InputError
from planner.model.catalogue import Catalogue
from planner.model.preparations import ALL, AS_DECLARED, SetUp
from planner.model.records import Bools, DepartureWindow, Floats, Ints, Road, Trip, Weather
from planner.store.chunks import ChunkStore, fingerprint

HOUR_S = 3600.0
WEEKS, HOURS = 53, 24
DAYS_A_CHUNK = 7
SAMPLES = 16
"""Variants of every day: with the days of a week and the hours beside them enough for a chart."""

PIECES = 2
"""Edition of what is kept of a week."""

BEFORE_S, AFTER_S = 48 * HOUR_S, 48 * HOUR_S
"""Weather sent with a piece of work around its departures: closing the evening before, the longest drive after."""


@dataclass(frozen=True)
class Lane:
    """A road driven again and again: one load, one place, one way to prepare the boxes."""

    trip: Trip
    road: Road
    place: str
    setup: SetUp = AS_DECLARED


@dataclass(frozen=True)
class Season:
    """Shares of days by week of the year and hour of departure on the local clock, ``(week, hour)``.

    ``days`` departures known; ``safe_share`` variants of these days without harm, ``boxes_share`` boxes harmed in them,
    ``robust_share`` days on which no variant of SAMPLES is harmed, NaN where no day is known; ``peak_c`` mean of the
    middle peaks of the hottest box. Week 0 begins on 1 January. ``reused`` pieces were found finished. ``tolerance`` is
    what hours are held against.
    """

    lane: Lane
    source: str
    first_day: date
    last_day: date
    days: Ints
    safe_share: Floats
    boxes_share: Floats
    robust_share: Floats
    peak_c: Floats
    reused: int
    tolerance: Tolerance = field(default_factory=Tolerance)

    @cached_property
    def within(self) -> Bools:
        """Weeks and hours within what is accepted, (week, hour): by both intervals, as an answer decides."""
        known = self.days > 0
        found = np.zeros(known.shape, dtype=bool)
        for week, hour in np.argwhere(known).tolist():
            count = int(self.days[week, hour]) * SAMPLES
            harmed, boxes = 1.0 - self.safe_share[week, hour], self.boxes_share[week, hour]
            spans = span_of(harmed * count, count), span_of(boxes * count, count)
            found[week, hour] = standing_of(*spans, self.tolerance, 100) == "within"
        return found

    def safe_hours(self) -> list[tuple[int, list[int]]]:
        """For each week with any day known, the hours within what is accepted."""
        known = np.flatnonzero((self.days > 0).any(axis=1))
        return [(int(w), np.flatnonzero(self.within[w]).tolist()) for w in known]

    @property
    def variants(self) -> int:
        """Variants behind most of the hours known: those of all days of a week."""
        return int(np.median(self.days[self.days > 0])) * SAMPLES if (self.days > 0).any() else 0


@dataclass(frozen=True)
class Piece:
    """A week of departures with all it takes to plan it, fit to be sent to another process."""

    key: str
    trip: Trip
    road: Road
    weather: Weather
    catalogue: Catalogue
    setup: str


def season(
    lane: Lane,
    weather: Weather,
    catalogue: Catalogue,
    *,
    tolerance: Tolerance | None = None,
    folder: Path | None = None,
    executor: Executor | None = None,
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
) -> Season:
    """Work out a season chart.

    Parameters
    ----------
    weather : one or more years, or a typical year, hourly
    tolerance : what is accepted; by default the trip's own, else the program's
    folder : keeps every finished week; a later call with the same inputs begins with what it finds there
    executor : where the weeks are worked out; by default here and now

    Raises
    ------
    InputError : weather shorter than a day, or a folder begun with other inputs
    Cancelled : when ``should_stop`` says so; finished weeks are kept
    """
    first, last = _days(weather, lane.trip.origin.zone)
    store = ChunkStore(folder, _fingerprint(lane, weather, catalogue), lane.trip.title) if folder else None
    weeks = list(_weeks(first, last))
    found = {key: store.load(key) for key, _, _ in weeks} if store else {}
    done = {key: piece for key, piece in found.items() if piece is not None}
    reused = len(done)
    common = lane, weather, _portable(catalogue)
    jobs = [week for week in weeks if week[0] not in done]
    if on_progress:
        on_progress(len(done) / len(weeks))
    for (key, _, _), result in map_with(_week, common, jobs, executor, should_stop):
        if store:
            store.save(key, result)
        done[key] = result
        if on_progress:
            on_progress(len(done) / len(weeks))
    chart = _chart(lane, weather, first, last, [done[key] for key, _, _ in weeks], reused)
    return replace(chart, tolerance=tolerance or tolerance_of(lane.trip))


def season_folder(root: Path, lane: Lane, weather: Weather, catalogue: Catalogue) -> Path:
    """A folder of its own for these very inputs, where an interrupted chart is found again."""
    return root / _fingerprint(lane, weather, catalogue)[:16]


Common = tuple[Lane, Weather, Catalogue]
Week = tuple[str, date, int]


def _week(common: Common, week: Week) -> dict[str, np.ndarray]:
    """One week worked out where the road, the weather and the catalogue are at hand."""
    lane, weather, catalogue = common
    return worked_out(_piece(week[0], lane, weather, catalogue, *week[1:]))


def worked_out(piece: Piece) -> dict[str, np.ndarray]:
    """The departures of one week judged in samples, ``(departure,)``: harmed, boxes harmed (NaN unknown), middle peak.

    As in the one answer: the same samples for all, each group shut as best chosen.
    """
    setup = next(setup for setup in ALL if setup.name == piece.setup)
    boxes = piece.catalogue.box_types
    groups = tuple(setup.change(group, boxes[group.box_type]) for group in piece.trip.groups)
    asked = opened(
        replace(piece.trip, groups=groups),
        piece.road,
        piece.weather,
        piece.catalogue,
        counts=(SAMPLES,),
        setups=(AS_DECLARED,),
    )
    race = asked.race
    race.enter(slots_of(race.field))
    leaves, total = race.field.departures_s, float(race.field.counts.sum())
    harm, boxes_harmed, peak = np.full((3, leaves.size), np.nan)
    for one in race.candidates():
        if one.harm_of_100 is not None and one.boxes_harmed_expected is not None:
            harm[one.key.departure] = one.harm_of_100.value / 100.0
            boxes_harmed[one.key.departure] = one.boxes_harmed_expected.value / total
            peak[one.key.departure] = one.typical["peak_p50"]
    return {"departure_s": leaves, "harm_share": harm, "boxes_share": boxes_harmed, "peak_c": peak}


def _days(weather: Weather, zone: str) -> tuple[date, date]:
    """First and last whole local day of the weather; of a typical year the days of its nominal year."""
    local = ZoneInfo(zone)
    start, end = (datetime.fromtimestamp(float(weather.time_s[i]), UTC).astimezone(local) for i in (0, -1))
    first, last = start.date() + timedelta(days=1), end.date() - timedelta(days=1)
    if weather.kind == "typical":
        year = (start + (end - start) / 2).year
        first, last = max(first, date(year, 1, 1)), min(last, date(year, 12, 31))
    if last < first:
        remedy = "Give at least three days; a year or more makes a chart"
        raise InputError([Fault("weather", weather.source[:60], "this weather is too short", remedy)])
    return first, last


def _weeks(first: date, last: date) -> Iterator[tuple[str, date, int]]:
    """Key, first day and number of days of every piece of work."""
    day = first
    while day <= last:
        days = min(DAYS_A_CHUNK, (last - day).days + 1)
        yield f"{day:%Y-%m-%d}", day, days
        day += timedelta(days=days)


def _piece(key: str, lane: Lane, weather: Weather, catalogue: Catalogue, day: date, days: int) -> Piece:
    zone = ZoneInfo(lane.trip.origin.zone)
    first_s, end_s = (
        datetime(each.year, each.month, each.day, tzinfo=zone).timestamp()
        for each in (day, day + timedelta(days=days))
    )
    window = DepartureWindow(first_s, end_s - HOUR_S, HOUR_S)
    trip = replace(lane.trip, window=window, loading_places=(lane.place,), arrival=type(lane.trip.arrival)())
    span = first_s - BEFORE_S, end_s + AFTER_S + lane.road.driving_s * lane.trip.drive_time_factor
    return Piece(key, trip, lane.road, _cut(weather, *span), catalogue, lane.setup.name)


def _cut(weather: Weather, first_s: float, last_s: float) -> Weather:
    """The hours of the weather around a span."""
    rows = (weather.time_s >= first_s - HOUR_S) & (weather.time_s <= last_s + HOUR_S)
    hours = weather.time_s.size
    cut = {
        f.name: values[rows]
        for f in fields(Weather)
        if isinstance(values := getattr(weather, f.name), np.ndarray) and values.shape[:1] == (hours,)
    }
    points = {name: getattr(weather, name) for name in ("km", "lat_deg", "lon_deg", "elevation_m")}
    return replace(weather, **{**cut, **points})


def _portable(catalogue: Catalogue) -> Catalogue:
    """The catalogue as plain tables that can be sent to another process."""
    return Catalogue(
        dict(catalogue.frame_kinds),
        dict(catalogue.box_types),
        dict(catalogue.vehicles),
        dict(catalogue.loading_places),
        catalogue.parameters,
    )


def _fingerprint(lane: Lane, weather: Weather, catalogue: Catalogue) -> str:
    """What the pieces depend on: all inputs but the window and the wishes, and the version of the model."""
    trip = replace(
        lane.trip, window=DepartureWindow(0.0, 0.0), arrival=type(lane.trip.arrival)(), loading_places=()
    )
    rows = catalogue.frame_kinds, catalogue.box_types, catalogue.loading_places, catalogue.parameters
    return fingerprint(
        __version__, PIECES, SAMPLES, trip, lane.road, lane.place, lane.setup.name, weather, *rows
    )


def _chart(
    lane: Lane, weather: Weather, first: date, last: date, pieces: list[dict[str, np.ndarray]], reused: int
) -> Season:
    departure_s, harm, boxes, peak = (
        np.concatenate([piece[name] for piece in pieces])
        for name in ("departure_s", "harm_share", "boxes_share", "peak_c")
    )
    cell = _cells(departure_s, lane.trip.origin.zone)
    known = ~np.isnan(harm)
    days = _count(cell, known)
    with np.errstate(invalid="ignore", divide="ignore"):
        safe = _count(cell, np.where(known, 1.0 - np.nan_to_num(harm), 0.0)) / days
        harmed = _count(cell, np.where(known, np.nan_to_num(boxes), 0.0)) / days
        robust = _count(cell, known & (harm == 0.0)) / days
        mean = _count(cell, np.where(known, np.nan_to_num(peak), 0.0)) / days
    return Season(
        lane, weather.source, first, last, days.astype(np.int64), safe, harmed, robust, mean, reused
    )


def _cells(departure_s: Floats, zone: str) -> Ints:
    """Flat index (week, hour) of each departure on the local clock."""
    local = ZoneInfo(zone)
    clocks = [datetime.fromtimestamp(float(at), local) for at in departure_s]
    return np.array([((at.timetuple().tm_yday - 1) // 7) * HOURS + at.hour for at in clocks], dtype=np.int64)


def _count(cell: Ints, weight: np.ndarray) -> Floats:
    counted = np.bincount(cell, weight.astype(np.float64), WEEKS * HOURS)
    return np.asarray(counted, dtype=np.float64).reshape(WEEKS, HOURS)
