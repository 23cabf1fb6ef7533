"""What a user could still change about one candidate, one change at a time: boxes, place, hour, stops, load.

To add a change, write what it does to a group, a place, an hour or a trip, and name it in ``possible``.
Never among them: skipping or moving a legal break, leaving a strap off, opening an entrance near people.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from planner.app.common.wording import clock_text, lower_first
from planner.app.plan.results import Choice, Plan
from planner.app.plan.room import room_of
from planner.model.catalogue import Catalogue
from planner.model.closing import closing_times
from planner.model.preparations import (
    ALL,
    BATTENS,
    CLEAN_FLOOR,
    FED,
    MIST_EVERY_S,
    MIST_FIRST_S,
    ROOF_SCREEN,
    SetUp,
    stands_flat,
)
from planner.model.records import BoxType, Closing, Group, LoadingPlace, Misting, Road, Stop, Trip
from planner.model.timeline import build_timeline
from planner.words import say

BoxChange = Callable[[Group, BoxType], Group]
TripChange = Callable[[Trip, Road], tuple[Trip, Road]]

Elsewhere = Mapping[tuple[float, str], tuple[Closing, ...]]
"""How an answer shuts each group, by departure (POSIX seconds) and place."""

NOWHERE: Elsewhere = {}

SHIFTS_H = (-4, -2, -1, 1, 2, 4)
MIST_ML = (20.0, 50.0)
FOAM_ML = 30.0
COVERED = ((0.25, "a quarter"), (0.5, "half"), (0.75, "three quarters"), (0.9, "nearly all"))
SHORT_STOP_S = 600.0
STOP_SHIFT_S = 1800.0
LONG_SHUT_S = 1800.0
FEWEST_FRAMES = 2.0
MOVABLE = ("rest", "fuel")
"""Stops that may be shortened or moved; a break is the law's, loading and unloading the trip's."""


@dataclass(frozen=True)
class Change:
    """One change: what it does, how much work it is, and the ``slot`` only one change of a set may take.

    ``groups`` are the labels of those whose boxes alone it changes; () is all of them.
    """

    name: str
    title: str
    effort: int
    slot: str
    boxes: BoxChange | None = None
    place: str = ""
    shift_s: float = 0.0
    trip: TripChange | None = None
    groups: tuple[str, ...] = ()


def narrowed(change: Change, labels: Sequence[str]) -> Change:
    """A change of the boxes on some groups alone, which their labels name."""
    assert change.boxes is not None
    wanted, alter = frozenset(labels), change.boxes
    names = ", ".join(say("advice.quoted", label=label) for label in labels)
    return replace(
        change,
        title=say("advice.on_some_alone", title=change.title, groups=names),
        boxes=lambda group, box: alter(group, box) if group.label in wanted else group,
        groups=tuple(labels),
    )


def altered(change: Change, plan: Plan, choice: Choice, catalogue: Catalogue) -> tuple[str, ...]:
    """Labels of the groups whose boxes a change alters, the fewest boxes first; () where a label does not name one.

    What one table of the load says holds of all its rows: a label stands for them together.
    """
    if change.boxes is None:
        return ()
    setup, found = setup_of(plan, choice), dict[str, int]()
    tables: dict[str, set[int]] = {}
    for row, group in enumerate(plan.trip.groups):
        box = catalogue.box_types[group.box_type]
        ready = setup.change(group, box)
        tables.setdefault(group.label, set()).add(row if group.table is None else group.table)
        if change.boxes(ready, box) != ready:
            found[group.label] = found.get(group.label, 0) + group.count
    if any(len(same) > 1 for same in tables.values()):
        return ()
    return tuple(sorted(found, key=found.__getitem__))


def possible(
    plan: Plan,
    choice: Choice,
    catalogue: Catalogue,
    roads: Sequence[tuple[str, Road]] = (),
    places: Sequence[str] = (),
) -> tuple[Change, ...]:
    """Every change that alters this candidate.

    Parameters
    ----------
    roads : other ways with the same calls, each with a title
    places : loading places of the trip asked about, where the plan is that of one candidate alone
    """
    setup = setup_of(plan, choice)
    types = [catalogue.box_types[group.box_type] for group in plan.trip.groups]
    groups = [setup.change(group, box) for group, box in zip(plan.trip.groups, types, strict=True)]
    pairs = list(zip(groups, types, strict=True))
    by_boxes = [c for c in _box_changes() if c.boxes and any(c.boxes(g, t) != g for g, t in pairs)]
    return (
        *by_boxes,
        *_stand_changes(plan, choice, catalogue),
        *_place_changes(plan, choice, catalogue, places),
        *_hour_changes(plan, choice),
        *_load_changes(plan.trip),
        *_waiting_changes(plan, choice),
        *_stop_changes(
            plan.trip,
            plan.road,
            catalogue.loading_places[plan.loading_places[choice.loading_place]].volume_m3 > 0.0,
        ),
        *(_other_road(title, road) for title, road in roads),
    )


def setup_of(plan: Plan, choice: Choice) -> SetUp:
    """The set-up of a candidate."""
    return next(setup for setup in ALL if setup.name == plan.setups[choice.setup])


def closings_of(
    trip: Trip, changes: Sequence[Change], elsewhere: Elsewhere, leave_s: float, place: str
) -> tuple[Closing, ...]:
    """How each group of a changed trip is shut: at another hour or place as the answer does it there, where it knows.

    A change of the closing itself has its way.
    """
    own = tuple(group.closing or trip.closing for group in trip.groups)
    moved = any(change.place or change.shift_s for change in changes)
    if not moved or any(change.slot == "closing" for change in changes):
        return own
    return elsewhere.get((leave_s, place), own)


def shut_by(trip: Trip, closings: Sequence[Closing]) -> Trip:
    """The trip with each group shut by a closing of its own."""
    groups = [replace(group, closing=closing) for group, closing in zip(trip.groups, closings, strict=True)]
    return replace(trip, groups=tuple(groups))


# -- boxes ---------------------------------------------------------------------------------------


def box_changes() -> tuple[Change, ...]:
    """Every change of the boxes themselves, whether or not it alters those of a trip."""
    return tuple(_box_changes())


def _box_changes() -> Iterator[Change]:
    yield Change("roof_screen", "put the roof screens on", 2, "roof", boxes=ROOF_SCREEN.change)
    for share, words in COVERED:
        yield Change(
            f"cover_{share:g}",
            say("advice.cover_of_the_roof", words=words),
            1,
            "roof",
            boxes=_covered(share),
        )
    yield Change("clean_floor", "scrape the floor meshes clean", 1, "floor", boxes=CLEAN_FLOOR.change)
    yield Change("open_vents", "open the side vents", 0, "vents", boxes=_vents)
    yield Change("entrance_mesh", "mesh instead of foam in the entrance", 1, "entrance", boxes=_meshed)
    yield Change("syrup_can", say("advice.syrup_can"), 2, "can", boxes=FED.change)
    yield Change("fewer_bees", "one frame of bees fewer in each box", 3, "bees", boxes=_fewer_bees)
    yield Change("stores_out", "take one frame of stores out of each box", 3, "stores", boxes=_stores_out)
    for ml in MIST_ML:
        title = say("advice.mist_ml_on_each", ml=f"{ml:.0f}")
        yield Change(f"mist_{ml:.0f}", title, 2, "mist", boxes=misted(ml, MIST_FIRST_S, MIST_EVERY_S))
    yield Change(
        "wet_foam", say("advice.wet_the_foam_with", foam_ml=f"{FOAM_ML:.0f}"), 1, "foam", boxes=_wet_foam
    )


def misted(ml: float, first_s: float, every_s: float) -> BoxChange:
    """Mist every box by a plan of its own; 0 ml is none."""
    plan = Misting(ml, first_s, every_s) if ml > 0.0 else None
    return lambda group, _: replace(group, misting=plan)


def _covered(share: float) -> BoxChange:
    def change(group: Group, _: BoxType) -> Group:
        open_now = group.roof != "solid" and group.roof_blocked_share < share
        return replace(group, roof_blocked_share=share) if open_now else group

    return change


def _vents(group: Group, box: BoxType) -> Group:
    return replace(group, side_vents_open=True) if box.side_vent_m2 > 0.0 else group


def _meshed(group: Group, box: BoxType) -> Group:
    closed = group.entrance in ("shut", "foam") and box.entrance_m2 > 0.0
    return replace(group, entrance="mesh", wet_foam_ml=0.0) if closed else group


def _fewer_bees(group: Group, _: BoxType) -> Group:
    enough = np.isnan(group.bees_kg) and group.frames_of_bees - 1.0 >= FEWEST_FRAMES
    return replace(group, frames_of_bees=group.frames_of_bees - 1.0) if enough else group


def _stores_out(group: Group, _: BoxType) -> Group:
    full = group.stores_frames >= 1.0
    return replace(group, stores_frames=group.stores_frames - 1.0) if full else group


def _wet_foam(group: Group, _: BoxType) -> Group:
    dry = group.entrance == "foam" and group.wet_foam_ml < FOAM_ML
    return replace(group, wet_foam_ml=FOAM_ML) if dry else group


def _stand_changes(plan: Plan, choice: Choice, catalogue: Catalogue) -> Iterator[Change]:
    """Battens under mesh floors that would stand flat where they ride."""
    here = plan.loading_places[choice.loading_place]
    for group in plan.trip.groups:
        box = catalogue.box_types[group.box_type]
        place = catalogue.loading_places[group.loading_place or here]
        if stands_flat(group.stand, place) and BATTENS.change(group, box) != group:
            yield Change(BATTENS.name, say("advice.battens"), BATTENS.effort, "stand", boxes=BATTENS.change)
            return


# -- place and hour ------------------------------------------------------------------------------


def _place_changes(
    plan: Plan, choice: Choice, catalogue: Catalogue, places: Sequence[str] = ()
) -> Iterator[Change]:
    """The trip's other places, and what opening, cooling or a fan would make of the present enclosed one."""
    if all(group.loading_place for group in plan.trip.groups):
        return
    now = plan.loading_places[choice.loading_place]
    here = catalogue.loading_places[now]
    names = [*plan.loading_places, *places]
    if here.volume_m3 > 0.0:
        names += offered_by_vehicle(here, catalogue)
    for name in dict.fromkeys(names):
        if name != now and room_of(plan.trip, catalogue, name).enough:
            place = catalogue.loading_places[name]
            moved = 1 if place.vehicle == here.vehicle else 2
            yield Change(
                f"place_{name}",
                say("advice.put_the_boxes_elsewhere", title=f"{lower_first(place.title)}"),
                place.effort + moved,
                "place",
                place=name,
            )


def offered_by_vehicle(here: LoadingPlace, catalogue: Catalogue) -> tuple[str, ...]:
    """Loading places of the same vehicle; its body keeps its colour."""
    return tuple(
        name
        for name in catalogue.loading_places_of(here.vehicle)
        if catalogue.loading_places[name].colour in ("", here.colour)
    )


def _hour_changes(plan: Plan, choice: Choice) -> Iterator[Change]:
    leave, zone = float(plan.departures_s[choice.departure]), plan.trip.origin.zone
    for hours in SHIFTS_H:
        when = clock_text(leave + hours * 3600.0, zone)
        which = "earlier" if hours < 0 else "later"
        title = f"leave {abs(hours)} h {which} ({when})"
        yield Change(f"leave_{hours:+d}h", title, 1, "hour", shift_s=hours * 3600.0)


# -- load, waiting, stops, road ------------------------------------------------------------------


def _load_changes(trip: Trip) -> Iterator[Change]:
    if any(group.count > 1 for group in trip.groups):
        yield Change("half_boxes", "half the boxes, in two trips", 5, "count", trip=_halved)
    if trip.net:
        yield Change(
            "net_off", "no net over the load", 1, "net", trip=lambda t, r: (replace(t, net=False), r)
        )


def _halved(trip: Trip, road: Road) -> tuple[Trip, Road]:
    groups = tuple(replace(group, count=(group.count + 1) // 2) for group in trip.groups)
    return replace(trip, groups=groups), road


def _waiting_changes(plan: Plan, choice: Choice) -> Iterator[Change]:
    trip = plan.trip
    if not trip.waiting_shade:
        yield Change("wait_in_shade", "shade while waiting", 1, "waiting", trip=_waits_in_shade)
    departure = plan.departures_s[[choice.departure]]
    timeline = build_timeline(trip, plan.road, departure, closing_times(trip, plan.road, departure))
    if np.max(timeline.boarded_s - timeline.closed_s) > LONG_SHUT_S:
        title = "shut the boxes only when they are lifted (foragers out by day are lost)"
        yield Change("shut_late", title, 2, "closing", trip=_shut_when_lifted)


def _waits_in_shade(trip: Trip, road: Road) -> tuple[Trip, Road]:
    return replace(trip, waiting_shade=True), road


def _shut_when_lifted(trip: Trip, road: Road) -> tuple[Trip, Road]:
    groups = tuple(replace(group, closing=None) for group in trip.groups)
    return replace(trip, groups=groups, closing=Closing("at_loading", fixed=True)), road


def _stop_changes(trip: Trip, road: Road, enclosed: bool) -> Iterator[Change]:
    if any(not stop.shade for stop in trip.stops):
        yield Change(
            "stops_in_shade", "stand in shade at the stops", 1, "stop shade", trip=_at_stops(_in_shade)
        )
    if enclosed and any(not stop.doors_open for stop in trip.stops):
        yield Change("doors_open", "doors open at the stops", 1, "doors", trip=_at_stops(_doors_open))
    for i, stop in enumerate(trip.stops):
        if stop.purpose not in MOVABLE:
            continue
        if stop.dwell_s > SHORT_STOP_S:
            title = say(
                "advice.only_min_at", short_stop_s=f"{SHORT_STOP_S / 60:.0f}", name=f"{stop.site.name}"
            )
            yield Change(f"short_stop_{i + 1}", title, 1, f"dwell {i}", trip=_shortened(i))
        for shift_s, words in ((-STOP_SHIFT_S, "earlier"), (STOP_SHIFT_S, "later")):
            if _vertex_near(road, i + 1, shift_s) is not None:
                title = say("advice.stop_half_an_hour", words=words, name=f"{stop.site.name}")
                yield Change(f"stop_{i + 1}_{words}", title, 1, f"where {i}", trip=_moved(i, shift_s))


def _at_stops(change: Callable[[Stop], Stop]) -> TripChange:
    return lambda trip, road: (replace(trip, stops=tuple(map(change, trip.stops))), road)


def _in_shade(stop: Stop) -> Stop:
    return replace(stop, shade=True)


def _doors_open(stop: Stop) -> Stop:
    return replace(stop, doors_open=True)


def _with_stop(trip: Trip, index: int, stop: Stop) -> Trip:
    return replace(trip, stops=(*trip.stops[:index], stop, *trip.stops[index + 1 :]))


def _shortened(index: int) -> TripChange:
    def change(trip: Trip, road: Road) -> tuple[Trip, Road]:
        stop = trip.stops[index]
        return _with_stop(trip, index, replace(stop, dwell_s=min(stop.dwell_s, SHORT_STOP_S))), road

    return change


def _moved(index: int, shift_s: float) -> TripChange:
    def change(trip: Trip, road: Road) -> tuple[Trip, Road]:
        vertex = _vertex_near(road, index + 1, shift_s)
        if vertex is None:
            return trip, road
        stop = trip.stops[index]
        site = replace(
            stop.site,
            lat_deg=float(road.lat_deg[vertex]),
            lon_deg=float(road.lon_deg[vertex]),
            elevation_m=None,
        )
        waypoints = (*road.waypoint_vertex[: index + 1], vertex, *road.waypoint_vertex[index + 2 :])
        return _with_stop(trip, index, replace(stop, site=site)), replace(road, waypoint_vertex=waypoints)

    return change


def _vertex_near(road: Road, waypoint: int, shift_s: float) -> int | None:
    """The vertex about ``shift_s`` of driving from a call, still between its neighbours; None if there is none."""
    before, here, after = road.waypoint_vertex[waypoint - 1 : waypoint + 2]
    vertex = int(np.argmin(np.abs(road.drive_s - road.drive_s[here] - shift_s)))
    return vertex if before < vertex < after and vertex != here else None


def _other_road(title: str, road: Road) -> Change:
    return Change(
        f"road_{title}",
        say("advice.other_road", title=title),
        1,
        "road",
        trip=lambda trip, _: (trip, road),
    )
