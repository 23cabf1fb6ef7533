"""What changed since the last answer to the same trip: which departures gained or lost headroom, and why."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from planner.ages import age_s
from planner.app.common.wording import clock_text, duration_text, lower_first
from planner.model.records import Floats, Road, Trip, Weather
from planner.model.timeline import schedule
from planner.model.weather import along_road
from planner.units import METRIC, UnitSystem
from planner.words import Voice

WORTH_SAYING_K = 0.3
"""Changes of headroom below this are not worth a sentence; the model cannot tell them apart."""

WORTH_SAYING_OF_100 = 3.0
"""Nor are changes of the share of harm below this, which fewer samples alone may bring."""

SAMPLE_S = 900.0
MOST_LINES = 6
SAME_S = 30.0
CAUSES = (
    ("air_c", 0.7, "warmer", "cooler"),
    ("wind_ms", 0.7, "more wind", "less wind"),
    ("ghi_w_m2", 40.0, "more sun", "less sun"),
    ("dew_c", 1.5, "more humid", "drier"),
)
"""Weather means over the time on the road, what counts as a change of each, and its words."""


@dataclass(frozen=True)
class Kept:
    """What is kept of one candidate; figures None where unknown, or where an older file does not have them."""

    leave_s: float
    place: str
    setup: str
    headroom_k: float | None
    harm_of_100: float | None = None

    def same(self, other: Kept) -> bool:
        """Whether it is the same candidate."""
        near = abs(self.leave_s - other.leave_s) < SAME_S
        return near and (self.place, self.setup) == (other.place, other.setup)


@dataclass(frozen=True)
class Snapshot:
    """What is kept of an answer: its candidates, best first, and the mean weather of each departure by name."""

    made_s: float
    rows: tuple[Kept, ...]
    departures_s: Floats
    weather: Mapping[str, Floats]
    source: str

    @property
    def best(self) -> Kept | None:
        return self.rows[0] if self.rows else None

    def find(self, one: Kept) -> Kept | None:
        """The same candidate here."""
        return next((row for row in self.rows if row.same(one)), None)

    def as_document(self) -> dict[str, Any]:
        """Plain values for the journal."""
        return {
            "made_s": self.made_s,
            "rows": [
                [row.leave_s, row.place, row.setup, row.headroom_k, row.harm_of_100] for row in self.rows
            ],
            "departures_s": self.departures_s.tolist(),
            "weather": {name: _plain(values) for name, values in self.weather.items()},
            "source": self.source,
        }


def from_document(document: Mapping[str, Any]) -> Snapshot:
    """The snapshot in a journal entry; older ones hold arrays by departure, place and set-up, with no share of harm."""
    rows = _rows_of_old(document) if "rows" not in document else [Kept(*row) for row in document["rows"]]
    return Snapshot(
        made_s=float(document["made_s"]),
        rows=tuple(rows),
        departures_s=_floats(document["departures_s"]),
        weather={name: _floats(values) for name, values in document["weather"].items()},
        source=str(document["source"]),
    )


def _rows_of_old(document: Mapping[str, Any]) -> list[Kept]:
    departures, places, setups = document["departures_s"], document["places"], document["setups"]
    spare = _floats(document.get("headroom_k", document.get("margin_k")))
    best = tuple(document["best"])
    order = sorted(np.ndindex(spare.shape), key=lambda at: at != best)
    return [
        Kept(float(departures[d]), places[k], setups[u], _number(float(spare[d, k, u]))) for d, k, u in order
    ]


def changes(
    old: Snapshot,
    new: Snapshot,
    zone: str,
    titles: Mapping[str, str],
    units: UnitSystem = METRIC,
) -> Iterator[str]:
    """Sentences on what changed, the old best first, then the largest changes.

    Parameters
    ----------
    zone : of the origin
    titles : of the loading places, by id
    """
    words = _Words(zone, titles, units)
    ago_s = age_s(old.made_s, new.made_s)
    if math.isnan(ago_s):
        yield words.say("last_undated", source=old.source)
    else:
        yield words.say("last", ago=duration_text(ago_s), source=old.source)
    pairs = [(was, row) for row in new.rows if (was := old.find(row)) is not None]
    if not pairs or old.best is None or new.best is None:
        yield words.say("nothing_alike")
        return
    yield words.best(old.best, new.best)
    told = 0
    for was, row in _by_change(pairs):
        line = words.line(was, row, list(_causes(old, was, new, row)))
        if line and told < MOST_LINES:
            told += 1
            yield line
    if not told:
        yield words.say("unchanged", step=units.step_text(WORTH_SAYING_K))


def _by_change(pairs: Sequence[tuple[Kept, Kept]]) -> list[tuple[Kept, Kept]]:
    """For each departure the best candidate both answers hold, the largest change first."""
    first: dict[float, tuple[Kept, Kept]] = {}
    for was, row in pairs:
        first.setdefault(row.leave_s, (was, row))
    return sorted(first.values(), key=lambda pair: (-abs(_gain(*pair)), -abs(_worse(*pair))))


def _gain(was: Kept, now: Kept) -> float:
    """Headroom gained since, K; 0 where either is unknown."""
    return 0.0 if was.headroom_k is None or now.headroom_k is None else now.headroom_k - was.headroom_k


def _worse(was: Kept, now: Kept) -> float:
    """How much more harm, of 100; 0 where either is unknown."""
    return 0.0 if was.harm_of_100 is None or now.harm_of_100 is None else now.harm_of_100 - was.harm_of_100


def _causes(old: Snapshot, was: Kept, new: Snapshot, now: Kept) -> Iterator[str]:
    rows = [int(np.argmin(np.abs(s.departures_s - one.leave_s))) for s, one in ((old, was), (new, now))]
    for name, enough, more, less in CAUSES:
        change = float(new.weather[name][rows[1]] - old.weather[name][rows[0]])
        if abs(change) >= enough:
            yield more if change > 0 else less


class _Words:
    def __init__(self, zone: str, titles: Mapping[str, str], units: UnitSystem) -> None:
        self._zone, self._titles, self._units = zone, titles, units
        self._voice = Voice(units=units)

    def say(self, key: str, **gaps: object) -> str:
        return self._voice.say(f"recheck.{key}", **gaps)

    def best(self, old: Kept, new: Kept) -> str:
        before, after = (clock_text(one.leave_s, self._zone) for one in (old, new))
        place = lower_first(self._titles.get(new.place, new.place))
        if old.same(new):
            return self.say("best_same", when=after, place=place)
        return self.say("best_other", when=after, place=place, before=before)

    def line(self, was: Kept, now: Kept, causes: Sequence[str]) -> str:
        gain, worse = _gain(was, now), _worse(was, now)
        if abs(gain) < WORTH_SAYING_K and abs(worse) < WORTH_SAYING_OF_100:
            return ""
        when = clock_text(now.leave_s, self._zone)
        gaps = {
            "when": when,
            "step": self._units.step_text(abs(gain)),
            "why": self.say("why", causes=", ".join(causes)) if causes else "",
            "harm": self._harm(was, now) if abs(worse) >= WORTH_SAYING_OF_100 else "",
        }
        return self.say("gained" if gain >= 0.0 else "lost", **gaps)

    def _harm(self, was: Kept, now: Kept) -> str:
        figures = [self._voice.number(round(one.harm_of_100 or 0.0)) for one in (now, was)]
        return self.say("harm", now=figures[0], was=figures[1])


def weather_means(
    trip: Trip, road: Road, weather: Weather, departures_s: Floats, closed_s: Floats
) -> dict[str, Floats]:
    """Mean weather from closing to arrival where the vehicle is, for every departure."""
    arrive, leave = schedule(trip, road, departures_s)
    out: dict[str, list[float]] = {name: [] for name, *_ in CAUSES}
    for d, start in enumerate(closed_s):
        time_s = np.arange(float(start), float(arrive[d, -1]) + SAMPLE_S, SAMPLE_S)
        seen = along_road(weather, road, time_s, arrive[d], leave[d])
        for name in out:
            out[name].append(float(np.mean(seen[name])))
    return {name: np.array(values) for name, values in out.items()}


def _plain(values: Floats) -> Any:
    """Nested lists with None for NaN, so that the journal is plain JSON."""
    listed = values.astype(object)
    listed[np.isnan(values)] = None
    return listed.tolist()


def _floats(values: Any) -> Floats:
    return np.array(values, dtype=np.float64)


def _number(value: float) -> float | None:
    return value if np.isfinite(value) else None
