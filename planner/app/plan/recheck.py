"""What changed since the last plan of the same trip: which windows gained or lost headroom, and why."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from planner.app.common.wording import clock_text, duration_text
from planner.app.plan.results import LEVELS, TYPICAL, Choice, Plan
from planner.model.records import Floats
from planner.model.timeline import schedule
from planner.model.weather import along_road
from planner.units import METRIC, UnitSystem

WORTH_SAYING_K = 0.3
"""Changes of headroom below this are not worth a sentence; the model cannot tell them apart."""

SAMPLE_S = 900.0
MOST_LINES = 6
CAUSES = (
    ("air_c", 0.7, "warmer", "cooler"),
    ("wind_ms", 0.7, "more wind", "less wind"),
    ("ghi_w_m2", 40.0, "more sun", "less sun"),
    ("dew_c", 1.5, "more humid", "drier"),
)
"""Weather means over the time on the road, what counts as a change of each, and its words."""


@dataclass(frozen=True)
class Snapshot:
    """What is kept of a plan: for every departure, place and set-up its headroom, level and weather.

    ``departures_s`` and each of ``weather`` are (departure,); ``headroom_k``, ``level`` are
    (departure, place, setup) with typical bees.
    """

    made_s: float
    departures_s: Floats
    places: tuple[str, ...]
    setups: tuple[str, ...]
    best: Choice
    headroom_k: Floats
    level: Floats
    weather: Mapping[str, Floats]
    source: str

    def as_document(self) -> dict[str, Any]:
        """Plain values for the journal."""
        return {
            "made_s": self.made_s,
            "departures_s": self.departures_s.tolist(),
            "places": list(self.places),
            "setups": list(self.setups),
            "best": [self.best.departure, self.best.loading_place, self.best.setup],
            "headroom_k": _plain(self.headroom_k),
            "level": self.level.tolist(),
            "weather": {name: _plain(values) for name, values in self.weather.items()},
            "source": self.source,
        }


def snapshot(plan: Plan, now_s: float) -> Snapshot:
    """What to keep of a plan."""
    return Snapshot(
        made_s=now_s,
        departures_s=plan.departures_s,
        places=plan.loading_places,
        setups=plan.setups,
        best=plan.ranking[0],
        headroom_k=np.minimum(plan.hotter_k, plan.colder_k),
        level=plan.outcomes.verdict[..., TYPICAL, :, :].max(axis=(-2, -1)).astype(np.float64),
        weather=_weather_means(plan),
        source=plan.weather.source,
    )


def from_document(document: Mapping[str, Any]) -> Snapshot:
    """The snapshot in a journal entry; older ones call the headroom a margin."""
    return Snapshot(
        made_s=float(document["made_s"]),
        departures_s=_floats(document["departures_s"]),
        places=tuple(document["places"]),
        setups=tuple(document["setups"]),
        best=Choice(*document["best"]),
        headroom_k=_floats(document.get("headroom_k", document.get("margin_k"))),
        level=_floats(document["level"]),
        weather={name: _floats(values) for name, values in document["weather"].items()},
        source=str(document["source"]),
    )


def changes(plan: Plan, old: Snapshot, new: Snapshot, units: UnitSystem = METRIC) -> Iterator[str]:
    """Sentences on what changed, the old best first, then the largest changes."""
    yield f"Last planned {duration_text(new.made_s - old.made_s)} ago with {old.source}."
    common = [c for c in plan.ranking if _find(old, plan, c) is not None]
    if not common:
        yield "None of the options was in the last plan: the window, places or set-ups are others."
        return
    if (verdict := _best_change(plan, old, new)) is not None:
        yield verdict
    told = 0
    for departure in _by_change(common, old, new, plan):
        if told == MOST_LINES:
            break
        line = _line(departure, old, new, plan, units)
        if line:
            told += 1
            yield line
    if not told:
        yield f"No window changed by more than {units.step_text(WORTH_SAYING_K)} of headroom."


def _find(old: Snapshot, plan: Plan, choice: Choice) -> Choice | None:
    """The same candidate in the old plan."""
    place, setup = plan.loading_places[choice.loading_place], plan.setups[choice.setup]
    at = np.flatnonzero(np.abs(old.departures_s - plan.departures_s[choice.departure]) < 30.0)
    if not at.size or place not in old.places or setup not in old.setups:
        return None
    return Choice(int(at[0]), old.places.index(place), old.setups.index(setup))


def _best_change(plan: Plan, old: Snapshot, new: Snapshot) -> str | None:
    before = f"{clock_text(float(old.departures_s[old.best.departure]), plan.trip.origin.zone)}"
    after = f"{clock_text(float(new.departures_s[new.best.departure]), plan.trip.origin.zone)}"
    same = (
        before == after
        and old.places[old.best.loading_place] == new.places[new.best.loading_place]
        and old.setups[old.best.setup] == new.setups[new.best.setup]
    )
    if same:
        return f"The best option is still {after}, {plan.loading_place_titles[new.best.loading_place]}."
    return f"The best option is now {after}, {plan.loading_place_titles[new.best.loading_place]}; it was {before}."


def _by_change(common: list[Choice], old: Snapshot, new: Snapshot, plan: Plan) -> list[Choice]:
    """For each departure the best candidate both plans hold, the largest change first."""
    first: dict[int, Choice] = {}
    for choice in common:
        first.setdefault(choice.departure, choice)
    return sorted(first.values(), key=lambda c: -abs(_gain(c, old, new, plan)))


def _gain(choice: Choice, old: Snapshot, new: Snapshot, plan: Plan) -> float:
    """Headroom gained since, K; 0 where either is unknown."""
    was = _find(old, plan, choice)
    assert was is not None
    now = new.headroom_k[choice.departure, choice.loading_place, choice.setup]
    gain = float(now - old.headroom_k[was.departure, was.loading_place, was.setup])
    return gain if np.isfinite(gain) else 0.0


def _line(choice: Choice, old: Snapshot, new: Snapshot, plan: Plan, units: UnitSystem) -> str:
    was = _find(old, plan, choice)
    assert was is not None
    gain = _gain(choice, old, new, plan)
    levels = [int(s.level[c.departure, c.loading_place, c.setup]) for s, c in ((old, was), (new, choice))]
    if abs(gain) < WORTH_SAYING_K and levels[0] == levels[1]:
        return ""
    when = clock_text(float(new.departures_s[choice.departure]), plan.trip.origin.zone)
    verb = "gained" if gain > 0 else "lost"
    why = ", ".join(_causes(old, was.departure, new, choice.departure))
    turned = f", now {LEVELS[levels[1]]}, was {LEVELS[levels[0]]}" if levels[0] != levels[1] else ""
    return f"The {when} window {verb} {units.step_text(abs(gain))} of headroom{': ' + why if why else ''}{turned}."


def _causes(old: Snapshot, before: int, new: Snapshot, after: int) -> Iterator[str]:
    for name, enough, more, less in CAUSES:
        change = float(new.weather[name][after] - old.weather[name][before])
        if abs(change) >= enough:
            yield more if change > 0 else less


def _weather_means(plan: Plan) -> dict[str, Floats]:
    """Mean weather from closing to arrival where the vehicle is, for every departure."""
    arrive, leave = schedule(plan.trip, plan.road, plan.departures_s)
    out: dict[str, list[float]] = {name: [] for name, *_ in CAUSES}
    for d, start in enumerate(plan.closed_s):
        time_s = np.arange(float(start), float(arrive[d, -1]) + SAMPLE_S, SAMPLE_S)
        seen = along_road(plan.weather, plan.road, time_s, arrive[d], leave[d])
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
