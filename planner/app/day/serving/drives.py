"""The drive of a buyer as a trip: from the yard with so many boxes in one loading place, shut at some moment."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from planner.app.asking.place_names import find_sites
from planner.app.plan.room import boxes_that_fit
from planner.errors import Fault, InputError
from planner.model.catalogue import Catalogue
from planner.model.closing import last_closing
from planner.model.geo import great_circle_km
from planner.model.records import (
    Bools,
    Closing,
    DepartureWindow,
    Floats,
    Group,
    Road,
    Site,
    Stop,
    Trip,
)
from planner.services.roads.estimate import TIME_ERROR_SHARE, mean_speed_kmh, winding
from planner.store.dayrecords import CLOSINGS, Buyer, Day
from planner.store.dayrules import day_rules
from planner.store.rules import answer_rules
from planner.words import say

TOP_KMH = 110.0
VERTICES = 9
DRIVES_A_STEP = 12
"""A step of the table is at most a twelfth of the drive, or the least step."""


def drive_times(day: Day) -> Floats:
    """Seconds every buyer drives, (buyer,): as said, or as far as his place lies, with the doubt on top.

    Raises InputError for places nobody knows.
    """
    out = []
    faults: list[Fault] = []
    for number, buyer in enumerate(day.buyers):
        if not math.isnan(buyer.drive_s):
            out.append(buyer.drive_s)
            continue
        try:
            out.append(_to_place_s(day.yard, buyer, number))
        except InputError as error:
            faults += error.faults
            out.append(math.nan)
    if faults:
        raise InputError(faults)
    return np.array(out)


def fits(catalogue: Catalogue, buyer: Buyer, boxes: Sequence[Group]) -> list[bool]:
    """Whether as many boxes as a buyer wants find room where he lets them ride, for each of some make-ups."""
    place = catalogue.loading_places[buyer.rides]
    return [boxes_that_fit(catalogue.box_types[box.box_type], place) >= buyer.boxes for box in boxes]


def require_both(day: Day) -> None:
    """Raises InputError for a day on which nobody collects or no box may go: there is nothing to plan."""
    if not day.buyers:
        raise InputError([Fault("buyers", "", say("day.nobody"), say("day.nobody_remedy"))])
    if not day.boxes_that_may_go:
        raise InputError([Fault("boxes", "", say("day.no_box_may_go"), say("day.no_box_may_go_remedy"))])


def require_room(day: Day, catalogue: Catalogue) -> None:
    """Raises InputError for everybody whose boxes find no room in his vehicle."""
    groups = {box.group.box_type: box.group for box in day.boxes_that_may_go}
    faults = []
    for number, buyer in enumerate(day.buyers):
        if groups and not any(fits(catalogue, buyer, list(groups.values()))):
            place = catalogue.loading_places[buyer.rides]
            most = max(boxes_that_fit(catalogue.box_types[name], place) for name in groups)
            gaps = {"name": buyer.name, "boxes": buyer.boxes, "place": place.title, "count": int(most)}
            problem = say("day.no_room", **gaps)
            faults.append(
                Fault(f"buyers[{number}].boxes", str(buyer.boxes), problem, say("day.no_room_remedy"))
            )
    if faults:
        raise InputError(faults)


def _to_place_s(yard: Site, buyer: Buyer, number: int) -> float:
    field = f"buyers[{number}].place"
    at = f"{yard.lat_deg:.5f}, {yard.lon_deg:.5f}"
    site = find_sites({"yard": at, field: buyer.place})[0][field]
    straight_km = float(great_circle_km(yard.lat_deg, yard.lon_deg, site.lat_deg, site.lon_deg))
    km = straight_km * winding(straight_km)
    drive_s = km / mean_speed_kmh(km, TOP_KMH) * 3600.0 * (1.0 + TIME_ERROR_SHARE)
    if not 60.0 <= drive_s <= 86_400.0:
        problem = say("day.place_drive", minutes=round(drive_s / 60.0))
        raise InputError([Fault(field, buyer.place, problem, say("day.place_drive_remedy"))])
    return drive_s


def planned_drive_s(buyer: Buyer, drive_s: float) -> float:
    """The drive that is planned for: longer than said for somebody who has never done it."""
    return drive_s * (day_rules().first_timer_factor if buyer.first_timer else 1.0)


def rounded_up_s(drive_s: float) -> float:
    """The next step of the table; steps grow with the drive."""
    step_s = day_rules().drive_step_s
    at = step_s
    while at < drive_s - 1e-6:
        at += max(step_s, step_s * (at // (DRIVES_A_STEP * step_s)))
    return at


def road_of(yard: Site, drive_s: float, with_stop: bool) -> Road:
    """A road of nobody knows which direction: under the yard's sky, as long as such a drive usually is."""
    km = 10.0
    for _ in range(30):  # speed grows with length: settle both
        km = mean_speed_kmh(km, TOP_KMH) * drive_s / 3600.0
    share = np.linspace(0.0, 1.0, VERTICES)
    here = np.ones(VERTICES)
    return Road(
        lat_deg=here * yard.lat_deg,
        lon_deg=here * yard.lon_deg,
        elevation_m=here * (math.nan if yard.elevation_m is None else yard.elevation_m),
        km=share * km,
        drive_s=share * drive_s,
        waypoint_vertex=(0, VERTICES // 2, VERTICES - 1) if with_stop else (0, VERTICES - 1),
        source="minutes of driving",
        estimated=True,
    )


def trip_of(day: Day, groups: Sequence[Group], places: Sequence[str], with_stop: bool) -> Trip:
    """The trip home; a stop in between where somebody stops for lunch, in the sun with the engine off."""
    stop = Stop(day.yard, "rest", day_rules().first_timer_stop_s)
    first, last = day.slots.begin_s[0], day.slots.begin_s[-1]
    return Trip(
        title=day.title,
        origin=day.yard,
        destination=day.yard,
        groups=tuple(replace(group, unload_waypoint=-1) for group in groups),
        window=DepartureWindow(first, last),
        loading_places=tuple(places),
        stops=(stop,) if with_stop else (),
        waiting_shade=True,
        loading_s=day.slots.loading_s,
        open_after_s=day.slots.opening_s,
        invented=day.invented,
        tolerance=day.tolerance,
    )


def closings(day: Day, slot_s: Floats) -> tuple[Floats, Bools]:
    """When boxes would be shut, (closing, slot) in the order of CLOSINGS, and whether that is a way of its own."""
    rules = answer_rules()
    rule: Mapping[str, Closing] = {
        "evening_before": Closing("after_sunset", rules.evening_s),
        "before_first_flight": Closing("before_sunrise", rules.dawn_s),
        "at_handover": Closing("at_loading"),
    }
    closed = np.stack([last_closing(rule[name], day.yard, slot_s) for name in CLOSINGS])
    allowed = np.array([name in day.closings for name in CLOSINGS])[:, None]
    own = np.stack(
        [
            (closed[0] < slot_s) & (slot_s - closed[0] <= day_rules().most_waiting_s),
            (closed[1] < slot_s) & (slot_s - closed[1] <= day_rules().most_waiting_s),
            np.ones(slot_s.size, dtype=bool),
        ]
    )
    return closed, own & allowed
