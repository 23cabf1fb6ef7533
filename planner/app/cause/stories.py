"""Stories of what may have happened, each a change of the numbers, all worked out in the same samples."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from planner.app.chance.race import scenario_of, space_of
from planner.app.chance.samples import Sample, Scenario, evaluate_samples
from planner.app.common.progress import Progress, Stop
from planner.app.inspect.judge import SEED, apart
from planner.app.inspect.pinned import Kept
from planner.app.plan.plan import departures_of, shut_at_night
from planner.bundled import resource_path
from planner.errors import Cancelled
from planner.model.cases import case_grid
from planner.model.catalogue import Catalogue
from planner.model.closing import closing_times
from planner.model.limits import HARM, VERDICTS
from planner.model.preparations import ALL, with_group_as
from planner.model.records import Closing, Floats, Group
from planner.model.timeline import build_timeline

SAMPLES, MOST_SAMPLES = 400, 4000
AS_RECORDED = ("recorded", "dropped", "sick")
"""Stories in which the numbers of the box are those that were written down."""

STATES = (
    "peak_core_c",
    "peak_stores_c",
    "low_core_c",
    "brood_dose",
    "brood_cold_dose",
    "sperm_loss_share",
    "dead_share",
    "peak_co2_share",
    "peak_humidity_share",
)
"""What is taken from the model of each sample of a story."""


@dataclass(frozen=True)
class Story:
    """A story: ``prior`` share before anything was found, ``amount`` how far it changes the numbers."""

    name: str
    prior: float
    amount: float = 0.0


@dataclass(frozen=True)
class Told:
    """A story worked out: states of the box by name, each (sample,), and what the story says of the box itself.

    ``group`` the box as the story has it; ``planned`` as it was written down.
    """

    story: Story
    states: Mapping[str, Floats]
    group: Group
    planned: Group


@cache
def stories() -> tuple[Story, ...]:
    """Every story we know."""
    table = tomllib.loads(resource_path("stories.toml").read_text("utf-8"))
    return tuple(Story(name, **row) for name, row in table.items())


def told(
    kept: Kept,
    number: int,
    group: Group,
    catalogue: Catalogue,
    *,
    samples: int = SAMPLES,
    chosen: Sequence[Story] | None = None,
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
) -> list[Told]:
    """Every story that can have happened to a box, worked out in the same samples.

    Parameters
    ----------
    kept : the plan the box rode by
    number : the box's group in the trip
    group : the box as it was found before the start, its set-up done
    """
    possible = [s for s in (stories() if chosen is None else chosen) if _can(s, kept, group, catalogue)]
    bench = _Bench(kept, number, group, catalogue, samples)
    runs: dict[str, list[Story]] = {}
    for story in possible:
        way = story.name if story.name in _WAYS else ""
        if story.name not in AS_RECORDED:
            runs.setdefault(way, []).append(story)
    states: dict[str, Mapping[str, Floats]] = {}
    for done, (way, together) in enumerate(({"": [], **runs}).items(), 1):
        if should_stop and should_stop():
            raise Cancelled
        states |= bench.run(way, together)
        if on_progress:
            on_progress(done / (len(runs) + 1))
    return [
        Told(s, states["recorded" if s.name in AS_RECORDED else s.name], _told_group(s, group), group)
        for s in possible
    ]


def _can(story: Story, kept: Kept, group: Group, catalogue: Catalogue) -> bool:
    if story.name == "cooling_off":
        return _uncooled(kept.loading_place, catalogue) != kept.loading_place
    return story.name in AS_RECORDED or story.name in _WAYS or _told_group(story, group) != group


def _told_group(story: Story, group: Group) -> Group:
    change = _BOXES.get(story.name)
    return change(group, story.amount) if change else group


# -- what each story changes -----------------------------------------------------------------------


def _gummed(group: Group, share: float) -> Group:
    return replace(group, floor_blocked_share=share) if group.floor == "mesh" else group


def _screenless(group: Group, _: float) -> Group:
    return replace(group, roof="solid", roof_blocked_share=0.0) if group.roof != "solid" else group


def _screen_covered(group: Group, share: float) -> Group:
    return replace(group, roof_blocked_share=share) if group.roof != "solid" else group


def _on_cloth(group: Group, _: float) -> Group:
    shut = replace(group, stand="flat", floor_blocked_share=max(group.floor_blocked_share, 0.9))
    return shut if group.floor == "mesh" else group


def _stronger(group: Group, times: float) -> Group:
    return replace(group, frames_of_bees=group.frames_of_bees * times, bees_kg=group.bees_kg * times)


def _starved(group: Group, _: float) -> Group:
    return replace(group, stores_frames=0.0, syrup_can_kg=0.0)


_BOXES: Mapping[str, Callable[[Group, float], Group]] = {
    "floor": _gummed,
    "screen_missing": _screenless,
    "screen_covered": _screen_covered,
    "cloth": _on_cloth,
    "stronger": _stronger,
    "starved": _starved,
}


def _parked(kept: Kept, minutes: float) -> Kept:
    """Stood in the sun with nothing running: at the first stop, or loaded before the start where there is none."""
    trip = kept.trip
    if not trip.stops:
        return replace(
            kept, trip=replace(trip, loading_s=trip.loading_s + 60.0 * minutes, waiting_shade=False)
        )
    stop = trip.stops[0]
    longer = replace(
        stop, dwell_s=stop.dwell_s + 60.0 * minutes, shade=False, engine_on=False, doors_open=False
    )
    return replace(kept, trip=replace(trip, stops=(longer, *trip.stops[1:])))


def _colder(kept: Kept, kelvin: float) -> Kept:
    weather = kept.weather
    return replace(kept, weather=replace(weather, air_c=weather.air_c - kelvin, dew_c=weather.dew_c - kelvin))


def _wet(kept: Kept, kelvin: float) -> Kept:
    cold = _colder(kept, kelvin)
    return replace(cold, weather=replace(cold.weather, rain_mm=np.maximum(cold.weather.rain_mm, 5.0)))


def _same(kept: Kept, _: float) -> Kept:
    return kept


_WAYS: Mapping[str, Callable[[Kept, float], Kept]] = {
    "parked": _parked,
    "chilled": _colder,
    "wetted": _wet,
    "shut_longer": _same,
    "cooling_off": _same,
}
"""Stories that change more than the box; shutting and cooling are changed where their times and places are known."""


def _uncooled(name: str, catalogue: Catalogue) -> str:
    """The same part of the vehicle with nothing cooling it; the same place where nothing cooled it."""
    place = catalogue.loading_places[name]
    if not np.isfinite(place.set_point_c):
        return name
    for other in catalogue.loading_places_of(place.vehicle):
        row = catalogue.loading_places[other]
        alike = row.space == place.space and row.colour in ("", place.colour)
        if alike and not np.isfinite(row.set_point_c):
            return other
    return name


# -- working out -----------------------------------------------------------------------------------


class _Bench:
    """One box of a trip, worked out in one set of samples however its story changes it."""

    def __init__(self, kept: Kept, number: int, group: Group, catalogue: Catalogue, samples: int) -> None:
        self._kept, self._number, self._group, self._catalogue = kept, number, group, catalogue
        self._setup = next(setup for setup in ALL if setup.name == kept.setup)
        uncooled = _uncooled(kept.loading_place, catalogue)
        places = tuple(dict.fromkeys((*kept.trip.loading_places, kept.loading_place, uncooled)))
        scenario, timeline, _ = scenario_of(
            kept.trip, kept.road, (kept.weather,), departures_of(kept.trip), places, catalogue, [self._setup]
        )
        self._names, self._error = scenario.place_names, scenario.forecast_error
        space = space_of(scenario, timeline)
        self._sample: Sample = space.sample(samples, np.random.default_rng(SEED))

    def run(self, way: str, together: Sequence[Story]) -> dict[str, Mapping[str, Floats]]:
        """The stories of one way, and the box as recorded where the way is the recorded one."""
        kept, place = self._kept, self._kept.loading_place
        if way:
            kept = _WAYS[way](kept, together[0].amount)
        if way == "cooling_off":
            place = _uncooled(place, self._catalogue)
        trip, row = apart(kept.trip, self._number)
        departure = np.array([kept.departure_s])
        if way == "shut_longer":
            shut_s = float(closing_times(trip, kept.road, departure)[0, row]) - 3600.0 * together[0].amount
            earlier = replace(trip.groups[row], closing=Closing("actual", at_s=shut_s))
            trip = replace(trip, groups=(*trip.groups[:row], earlier, *trip.groups[row + 1 :]))
        names = [story.name for story in together] if way else ["recorded", *(s.name for s in together)]
        boxes = [_told_group(story, self._group) for story in together]
        label = trip.groups[row].label
        setups = [
            with_group_as(self._setup, box, label, "told")
            for box in (boxes if way else [self._group, *boxes])
        ]
        timeline = build_timeline(trip, kept.road, departure, closing_times(trip, kept.road, departure))
        table = self._catalogue.parameters
        grid = case_grid(trip, kept.road, kept.weather, self._catalogue, [place], setups, table=table)
        leaks = [self._catalogue.box_types[group.box_type].leak_l_s for _ in setups for group in trip.groups]
        scenario = Scenario(grid, (kept.weather,), np.array(leaks), self._names, self._error)
        night = shut_at_night(trip, timeline.closed_s)
        candidates = np.array([(0, 0, at) for at in range(len(setups))], dtype=np.int64)
        done = evaluate_samples(scenario, timeline, night, candidates, self._sample)
        states = {name: getattr(done.judged, name).reshape(done.shape)[..., row] for name in STATES}
        comb = done.judged.verdict.reshape((*done.shape, len(VERDICTS)))[:, :, row, VERDICTS.index("comb")]
        states["comb_harmed"] = (comb >= HARM).astype(np.float64)
        return {name: {key: value[at] for key, value in states.items()} for at, name in enumerate(names)}
