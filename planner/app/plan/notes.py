"""Remarks that go with a plan: on its data, on room for the boxes, on the air the driver breathes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from planner.app.common.wording import lower_first
from planner.app.plan.results import TYPICAL, Choice, Outcomes
from planner.app.plan.room import Room, held_of, share_out
from planner.model.catalogue import Catalogue
from planner.model.records import Floats, Road, Trip, Weather
from planner.store.roadfile import STATED_LEGS
from planner.words import say

SENTENCES = {
    "too_small": "Too small for this load and ranked last: {places}.",
    "split": "No single loading place holds the load; split by count it fits: {places}.",
    "overloaded": (
        "All loading places of this trip together hold {fit:.0f} of the {ride} boxes aboard at once: take fewer boxes, "
        "drive twice, or bring another vehicle."
    ),
    "estimated_road": "The road is an estimate: its driving time may be off by {share:.0%}.",
    "shut_long": (
        "By the rule for closing, boxes are shut up to {hours:.0f} h before they are lifted, for {count} of {all} "
        "departures: shut them later, before sunrise or when they are lifted, and they stay shut for fewer hours."
    ),
    "no_weather": "No weather for part of the trip: {share:.0%} of the answers are unknown.",
    "driver_co2_caution": (
        "Carbon dioxide from the boxes and the people in the {place} reaches {share:.1%}, above the {limit:.1%} "
        "usual as a limit over eight hours: drive with fresh air on, and do not rest in it with everything shut."
    ),
    "driver_co2_alert": (
        "Carbon dioxide from the boxes and the people in the {place} reaches {share:.1%}, above the {limit:.1%} "
        "that people may breathe for a quarter of an hour: keep a window open on the road, and never sit or sleep "
        "in it with everything shut."
    ),
}
"""Every remark, a whole sentence with named gaps."""


def notes_of(
    trip: Trip,
    weather: Weather,
    road: Road,
    outcomes: Outcomes,
    ranking: Sequence[Choice],
    room: Sequence[Room],
    catalogue: Catalogue,
) -> tuple[str, ...]:
    """The remarks on a plan, those that came with the weather first."""
    return (
        *weather.notes,
        *_bad_air(trip, outcomes, ranking, catalogue),
        *crowded(trip, room, share_out(trip, catalogue), held_of(trip, catalogue), catalogue),
        *estimated_road(road),
        *_unknown_weather(outcomes),
    )


TIME_WORTH_SAYING = 0.005
"""An error of the driving time below this reads as none."""

MOST_ZONES = 3
"""So many time zones are named."""

LONG_SHUT_S = 18 * 3600.0
"""A box shut so long before it is lifted has spent a whole day inside (common practice, no source)."""


def shut_long(closed_s: Floats, lifted_s: Floats) -> Iterator[str]:
    """Departures for which a group is shut a day ahead; arguments (departure, group), POSIX seconds."""
    early_s = (lifted_s - closed_s).max(axis=1)
    long = early_s >= LONG_SHUT_S
    if long.any():
        hours = float(early_s.max()) / 3600.0
        yield SENTENCES["shut_long"].format(hours=hours, count=int(long.sum()), all=long.size)


def crowded(
    trip: Trip, room: Sequence[Room], split: Mapping[str, int], held: Room, catalogue: Catalogue
) -> Iterator[str]:
    """Which places are too small; how the load is split where no single one holds it, or that all together do not."""
    if not held.enough:
        yield SENTENCES["overloaded"].format(fit=held.fit, ride=held.ride)
    elif room and not any(one.enough for one in room):
        shares = (
            f"{count} in {lower_first(catalogue.loading_places[name].title)}" for name, count in split.items()
        )
        yield SENTENCES["split"].format(places="; ".join(shares))
    named = [
        f"{catalogue.loading_places[name].title} ({one.text})"
        for name, one in zip(trip.loading_places, room, strict=True)
        if not one.enough
    ]
    if named:
        yield SENTENCES["too_small"].format(places=", ".join(named))


def _bad_air(
    trip: Trip, outcomes: Outcomes, ranking: Sequence[Choice], catalogue: Catalogue
) -> Iterator[str]:
    """What the driver breathes in the best candidate of each loading place that shares its air with people."""
    p = catalogue.parameters.typical()
    for place, name in enumerate(trip.loading_places):
        names = [group.loading_place or name for group in trip.groups]
        manned = [catalogue.loading_places[used].people > 0.0 for used in names]
        best = next(choice for choice in ranking if choice.loading_place == place)
        seen = outcomes.peak_around_co2_share[best.departure, place, best.setup, TYPICAL]
        shares = np.where(manned, np.nan_to_num(seen), 0.0)
        share = float(shares.max())
        limits = {
            "driver_co2_alert": p.driver_co2_alert_share,
            "driver_co2_caution": p.driver_co2_caution_share,
        }
        passed = next((key for key, limit in limits.items() if share > limit), None)
        if passed:
            worst = names[int(shares.argmax())]
            title = lower_first(catalogue.loading_places[worst].title)
            yield SENTENCES[passed].format(place=title, share=share, limit=float(limits[passed]))


def estimated_road(road: Road) -> Iterator[str]:
    """That a road is an estimate, and how far off its driving time may be."""
    if road.estimated and road.time_error_share < TIME_WORTH_SAYING:  # nobody says how far off it may be
        yield say("answer.typed_legs" if road.source == STATED_LEGS else "answer.estimated_road")
    elif road.estimated:
        yield SENTENCES["estimated_road"].format(share=road.time_error_share)


def unknown_law(zones: Sequence[str]) -> Iterator[str]:
    """That no law on breaks from driving is known where part of the way lies."""
    if zones:
        yield say("answer.unknown_law", zones=", ".join(zones[:MOST_ZONES]))


def _unknown_weather(outcomes: Outcomes) -> Iterator[str]:
    unknown = float(np.mean(np.isnan(outcomes.peak_core_c)))
    if unknown > 0.0:
        yield SENTENCES["no_weather"].format(share=unknown)
