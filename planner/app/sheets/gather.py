"""From an answer to the facts of its sheets: instants along the road, air, screens, mist, countries.

What the sheets say of a group is what its boxes are after the set-up that the candidate gives them.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from planner.app.answer.records import CANNOT_TELL, Answer, Candidate
from planner.app.common.parts import parts_of
from planner.app.plan.breaks import PutIn, is_put_in
from planner.app.sheets.facts import Air, Decision, GroupFacts, Halt, Proof, Standing, TripFacts
from planner.app.sheets.records import LongText
from planner.app.standing.reserve import Reserve
from planner.model import sun
from planner.model.catalogue import Catalogue
from planner.model.geo import great_circle_km
from planner.model.preparations import ALL
from planner.model.records import BoxType, Floats, Group, LoadingPlace, Road, Trip, Weather
from planner.model.timeline import Timeline, build_timeline, follow
from planner.model.ways import gate_opens_s
from planner.model.weather import OutsideWeather, outside_weather
from planner.services.geocoding.gazetteer import gazetteer
from planner.words import Title

GRID_S = 60.0
DAY_S = 86_400.0
COUNTRY_EVERY_KM = 25.0
RAIN_MM = 0.2
"""An hour with so much counts as wet."""
SPARE, SPARE_HOUR_ML = 1.5, 50.0
"""Water carried beyond the plan: half as much again, and one hour of standing for every box (common practice, D)."""
WINDY_PER_SPEED = 1.0
"""Air changes an hour for each m/s from which a space counts as aired by open windows: shut ones have 0.6 at most."""


@dataclass(frozen=True)
class GroupWay:
    """What the candidate does with one group: ids of place and set-up, when and by which rule it is shut."""

    place: str
    setup: str
    closed_s: float
    closing: str = "after_sunset"


@dataclass(frozen=True)
class Way:
    """One candidate of an answer with its decision; instants None where there is none.

    ``coldest_core_c``: the coldest core that 5 in 100 variants stay below, where neither heat nor cold harms any;
    ``breaks``: the legal breaks that were put in.
    """

    decision: Decision
    missing: tuple[str, ...] = ()
    leave_from_s: float | None = None
    leave_s: float | None = None
    leave_to_s: float | None = None
    groups: tuple[GroupWay, ...] = ()
    harm_of_100: float | None = None
    chilled: bool = False
    coldest_core_c: float | None = None
    stand_min: float | None = None
    stands: tuple[Standing, ...] = ()
    breaks: tuple[PutIn, ...] = ()


@dataclass(frozen=True)
class Printing:
    """When and for whom sheets are printed: ``keeper`` and ``phone`` of whoever sells or owns the boxes."""

    now_s: float
    keeper: str = ""
    phone: str = ""
    replaces: str = ""


def gather(
    trip: Trip, road: Road | None, weather: Weather | None, catalogue: Catalogue, way: Way, printing: Printing
) -> TripFacts:
    """The facts of the sheets of one candidate; without road, weather or candidate those that remain."""
    basis = _basis(trip, weather, way, printing)
    if road is None or weather is None or way.leave_s is None or not way.groups:
        lacks = tuple(name for name, held in (("road", road), ("weather", weather)) if held is None)
        return replace(
            basis,
            groups=_bare_groups(trip, catalogue),
            countries=countries_at(trip, None),
            missing=basis.missing or lacks,
        )
    return _with_way(basis, _Drive(trip, road, weather, catalogue, way, way.leave_s))


def _basis(trip: Trip, weather: Weather | None, way: Way, printing: Printing) -> TripFacts:
    """What is known of every trip."""
    return TripFacts(
        title=trip.title,
        origin=trip.origin.name,
        destination=trip.destination.name,
        zone=trip.origin.zone,
        zone_there=trip.destination.zone,
        decision=way.decision,
        missing=way.missing,
        proof=proof_from(weather, printing),
        boxes=sum(group.count for group in trip.groups),
        groups=(),
        near_m=1000.0 * _straight_km(trip),
        invented=trip.invented,
        phone=printing.phone,
        keeper=printing.keeper,
        trip_key=trip_key_of(trip),
        settle_s=trip.open_after_s,
    )


def proof_from(weather: Weather | None, printing: Printing) -> Proof:
    """What a sheet rests on: when it was printed, whose weather, since when if a forecast, and how far it goes."""
    if weather is None:
        return Proof(printing.now_s, None, "missing", "", printing.now_s, printing.replaces)
    forecast = weather.kind in ("forecast", "ensemble") and np.isfinite(weather.issued_s)
    issued = float(weather.issued_s) if forecast else None
    ends_s = float(weather.time_s[-1])
    return Proof(printing.now_s, issued, weather.kind, weather.source, ends_s, printing.replaces)


def trip_key_of(trip: Trip) -> str:
    """A name of the trip that lasts while title, ends and day stay: entries of a calendar move instead of doubling."""
    day = datetime.fromtimestamp(trip.window.first_s, ZoneInfo(trip.origin.zone)).date()
    said = "\0".join((trip.title, trip.origin.name, trip.destination.name, day.isoformat()))
    return hashlib.sha256(said.encode("utf-8", "surrogatepass")).hexdigest()[:16]


def _straight_km(trip: Trip) -> float:
    here, there = trip.origin, trip.destination
    return float(great_circle_km(here.lat_deg, here.lon_deg, there.lat_deg, there.lon_deg))


def _bare_groups(trip: Trip, catalogue: Catalogue) -> tuple[GroupFacts, ...]:
    """The load as declared, of a trip without a candidate."""
    return tuple(
        group_facts(
            group, catalogue.box_types[group.box_type], Title("places", "", ""), names=_names(trip, at)
        )
        for at, group in enumerate(trip.groups)
    )


# -- with a candidate ----------------------------------------------------------------------------


class _Drive:
    """One candidate on the clock: its timeline, where the vehicle is, what surrounds it."""

    def __init__(
        self, trip: Trip, road: Road, weather: Weather, catalogue: Catalogue, way: Way, leave_s: float
    ) -> None:
        self.trip, self.road, self.weather, self.catalogue, self.way = trip, road, weather, catalogue, way
        closed = np.array([[group.closed_s for group in way.groups]])
        self.timeline = build_timeline(trip, road, np.array([leave_s]), closed)
        self.groups = tuple(
            after_setup(group, one.setup, catalogue)
            for group, one in zip(trip.groups, way.groups, strict=True)
        )
        self.places = tuple(catalogue.loading_places[one.place] for one in way.groups)
        self.time_s, self.outside = _outside(trip, road, weather, self.timeline)

    @property
    def arrive_s(self) -> float:
        return float(self.timeline.arrive_s[0, -1])

    @property
    def open_s(self) -> float:
        return float(self.timeline.opened_s[0].max())

    def air_at(self, at_s: float) -> float:
        """Outside air where the vehicle is, C."""
        return float(np.interp(at_s, self.time_s, self.outside.air_c[:, 0]))


def _outside(trip: Trip, road: Road, weather: Weather, timeline: Timeline) -> tuple[Floats, OutsideWeather]:
    """The weather around the vehicle from loading to opening, by the minute."""
    alone = replace(trip, groups=(replace(trip.groups[0], load_waypoint=0, unload_waypoint=-1, stages=()),))
    aboard = replace(
        timeline,
        closed_s=timeline.start_s[:, None],
        boarded_s=timeline.arrive_s[:, :1],
        unloaded_s=timeline.arrive_s[:, -1:],
        opened_s=timeline.end_s[:, None],
        stage_s=None,
    )
    time_s = np.arange(float(timeline.arrive_s[0, 0]), float(timeline.end_s[0]) + GRID_S, GRID_S)
    vehicle = follow(alone, road, aboard, time_s[:, None])
    return time_s, outside_weather(weather, vehicle, np.array(0.0))


def after_setup(group: Group, setup: str, catalogue: Catalogue) -> Group:
    """A group as its set-up leaves it; one that no set-up of ours is called stays as declared."""
    for one in ALL:
        if one.name == setup:
            return one.change(group, catalogue.box_types[group.box_type])
    return group


def _with_way(basis: TripFacts, drive: _Drive) -> TripFacts:
    trip, way, catalogue = drive.trip, drive.way, drive.catalogue
    worst = drive.places[0]
    limit_c = float(catalogue.parameters.rows["no_mist_below_c"].value)
    mist_s, mist_ml = _mist(drive, limit_c)
    riding = (drive.time_s >= float(drive.timeline.departure_s[0])) & (drive.time_s <= drive.arrive_s)
    air_c = drive.outside.air_c[riding, 0]
    vehicle = catalogue.vehicles[worst.vehicle]
    gate_s = gate_after(trip, drive.arrive_s)
    open_s = drive.open_s if gate_s is None else max(drive.open_s, gate_s + trip.open_after_s)
    too_cold = bool(air_c.size) and float(np.nanmax(air_c)) < limit_c
    return replace(
        basis,
        groups=tuple(
            group_facts(
                group,
                catalogue.box_types[group.box_type],
                Title("places", way.groups[at].place, drive.places[at].title),
                way.groups[at].closing,
                float(drive.timeline.closed_s[0, at]),
                where=drive.places[at],
                declared=trip.groups[at],
                names=_names(trip, at),
            )
            for at, group in enumerate(drive.groups)
        ),
        leave_from_s=way.leave_from_s,
        leave_s=way.leave_s,
        leave_to_s=way.leave_to_s,
        arrive_s=drive.arrive_s,
        open_s=open_s,
        gate_s=gate_s,
        settle_s=open_s - (drive.arrive_s if gate_s is None else max(drive.arrive_s, gate_s)),
        stand_min=way.stand_min,
        stands=way.stands,
        halts=_halts(drive),
        mist_s=mist_s,
        mist_ml=mist_ml,
        carry_ml=_carried(drive, mist_s, mist_ml),
        no_mist_below_c=limit_c,
        too_cold_to_mist=too_cold,
        harm_of_100=way.harm_of_100,
        vehicle=Title("vehicles", worst.vehicle, vehicle.title),
        place=Title("places", way.groups[0].place, worst.title),
        air=air_of(worst),
        set_point_c=_set_point_c(worst),
        cold=way.chilled or (too_cold and _brood_chills(way, catalogue)),
        warmest_c=float(np.nanmax(air_c)) if air_c.size else None,
        coldest_c=float(np.nanmin(air_c)) if air_c.size else None,
        km=drive.road.length_km,
        driving_s=drive.road.driving_s * trip.drive_time_factor,
        road_estimated=drive.road.estimated,
        opens_dark=_dark(trip, open_s),
        opens_wet=_wet(drive.weather, open_s),
        countries=countries_at(trip, drive.road),
        cautions=_cautions(drive.places),
    )


def _names(trip: Trip, at: int) -> tuple[str, ...]:
    return tuple(one.name for one in trip.boxes if one.group == at)


def group_facts(
    group: Group,
    box: BoxType,
    place: Title,
    closing: str = "",
    closed_s: float = float("nan"),
    *,
    where: LoadingPlace | None = None,
    declared: Group | None = None,
    names: tuple[str, ...] = (),
) -> GroupFacts:
    """A group as its set-up leaves it, in the ``place`` it rides in; ``declared`` what it was before."""
    screened = group.roof != "solid"
    scraped = declared is not None and declared.floor_blocked_share > group.floor_blocked_share
    stand = group.stand or (where.stand if where else "battens")
    return GroupFacts(
        label=group.label,
        count=group.count,
        names=names,
        place=place,
        closed_s=closed_s,
        closing=closing,
        screen="none" if box.roof_screen_m2 <= 0.0 else "on" if screened else "off",
        battens=stand == "battens",
        scrape=scraped and box.floor_mesh_m2 > 0.0,
        entrance=group.entrance,
        mist_ml=group.misting.ml if group.misting else 0.0,
        air=None if where is None else air_of(where),
        set_point_c=_set_point_c(where),
        **parts_of(box, group),
    )


def _cautions(places: Sequence[LoadingPlace]) -> tuple[Title, ...]:
    """What to be careful of wherever boxes ride, each said once."""
    texts = dict.fromkeys(text for place in places for text in place.cautions)
    return tuple(Title("cautions", "", LongText(text)) for text in texts)


def _set_point_c(place: LoadingPlace | None) -> float | None:
    return float(place.set_point_c) if place is not None and np.isfinite(place.set_point_c) else None


def air_of(place: LoadingPlace) -> Air:
    """How boxes get air in a loading place, read off its figures."""
    if place.volume_m3 <= 0.0:
        return "open"
    if np.isfinite(place.set_point_c):
        return "cooled"
    if place.fan_m3_h > 0.0:
        return "fan"
    return "windows" if place.ach_moving_per_speed >= WINDY_PER_SPEED else "shut"


def _brood_chills(way: Way, catalogue: Catalogue) -> bool:
    """Whether nothing harms, but cold comes nearest to it: the brood nest gets colder than brood bears for long."""
    limit_c = float(catalogue.parameters.rows["brood_chill_c"].value)
    return way.coldest_core_c is not None and way.coldest_core_c < limit_c


def _halts(drive: _Drive) -> tuple[Halt, ...]:
    km = drive.road.km[list(drive.road.waypoint_vertex)]
    arrive_s, leave_s = drive.timeline.arrive_s[0], drive.timeline.leave_s[0]
    return tuple(
        Halt(
            float(arrive_s[at]),
            float(leave_s[at] - arrive_s[at]),
            "" if is_put_in(stop, drive.way.breaks) else stop.site.name,
            stop.purpose,
            float(km[at]),
            stop.shade,
            stop.engine_on,
            stop.doors_open,
        )
        for at, stop in enumerate(drive.trip.stops, 1)
    )


def _mist(drive: _Drive, limit_c: float) -> tuple[tuple[float, ...], float]:
    """When boxes are misted on the way and how much each gets, of the group misted most; none in cold air."""
    best: tuple[tuple[float, ...], float] = ((), 0.0)
    for at, group in enumerate(drive.groups):
        if group.misting is None:
            continue
        begin = float(drive.timeline.boarded_s[0, at]) + group.misting.first_s
        times = np.arange(begin, float(drive.timeline.unloaded_s[0, at]), group.misting.every_s)
        warm = tuple(float(at_s) for at_s in times if drive.air_at(float(at_s)) >= limit_c)
        if len(warm) * group.misting.ml > len(best[0]) * best[1]:
            best = (warm, group.misting.ml)
    return best


def _carried(drive: _Drive, mist_s: Sequence[float], ml: float) -> float:
    misted = sum(group.count for group in drive.groups if group.misting)
    if not mist_s:
        return 0.0
    return SPARE * misted * ml * len(mist_s) + SPARE_HOUR_ML * sum(group.count for group in drive.groups)


def gate_after(trip: Trip, at_s: float) -> float | None:
    """When the gate of the destination opens for whoever comes while it is shut; None where it is open, or none is."""
    opens_s = float(gate_opens_s(trip, np.array([at_s]))[0])
    return opens_s if opens_s > at_s else None


def _dark(trip: Trip, at_s: float) -> bool:
    site = trip.destination
    height = sun.sun_position(np.array([at_s]), site.lat_deg, site.lon_deg).elevation_deg
    return bool(height[0] < sun.CIVIL_TWILIGHT_DEG)


def _wet(weather: Weather, at_s: float) -> bool:
    """Whether rain is forecast for the hour in which the boxes are opened."""
    hour = int(np.clip(np.searchsorted(weather.time_s, at_s), 0, weather.time_s.size - 1))
    return bool(np.nan_to_num(weather.rain_mm[hour, -1]) >= RAIN_MM)


def countries_at(trip: Trip, road: Road | None) -> tuple[str, ...]:
    """The countries the road goes through, in its order, by the towns nearest to it; ISO codes."""
    points = [(site.lat_deg, site.lon_deg) for site in trip.waypoints]
    if road is not None:
        along = np.arange(0.0, road.length_km + COUNTRY_EVERY_KM, COUNTRY_EVERY_KM)
        lat, lon = (np.interp(along, road.km, values) for values in (road.lat_deg, road.lon_deg))
        points = list(zip(map(float, lat), map(float, lon), strict=True))
    known = gazetteer()
    found = (known.nearest(lat, lon)[0].country_code for lat, lon in points)
    return tuple(dict.fromkeys(found))


# -- from what the program answers ----------------------------------------------------------------

FEWEST = 1
"""The last of what a reserve in samples tells of: minutes that 95 in 100 have. The careful figure is printed."""


def way_of(found: Answer, standing: Reserve | None) -> Way:
    """The one answer as a way: its decision, its best candidate, and how long that may stand."""
    one = found.best
    if one is None or found.decision == CANNOT_TELL:
        return Way("cannot_tell", found.missing or (() if one is None else ("chance",)))
    stands = () if standing is None else stands_of(standing, one.leave_s, one.arrive_s)
    return Way(
        found.decision,
        found.missing,
        leave_from_s=one.leave_from_s,
        leave_s=one.leave_s,
        leave_to_s=one.leave_to_s,
        groups=tuple(
            GroupWay(group.place, group.setup, group.closing.at_s, group.closing.rule)
            for group in one.by_group
        ),
        harm_of_100=None if one.harm_of_100 is None else one.harm_of_100.value,
        chilled=chilled(one),
        coldest_core_c=coldest_core_c(one),
        stand_min=min((stand.shut_min for stand in stands), default=None),
        stands=stands,
        breaks=found.breaks,
    )


HEATS = ("brood", "queen", "workers", "comb")


def _harm(one: Candidate, fates: Sequence[str]) -> float:
    spans = (group.harm_of_100.get(fate) for group in one.groups for fate in fates)
    return max((span.value for span in spans if span is not None), default=0.0)


def chilled(one: Candidate) -> bool:
    """Whether cold harms more often than all that heat does."""
    return _harm(one, ("chill",)) > _harm(one, HEATS)


def coldest_core_c(one: Candidate) -> float | None:
    """The core that 5 in 100 variants stay below, of the coldest group; None where anything harms, or not known."""
    if _harm(one, ("chill", *HEATS)) > 0.0:
        return None
    return min((group.low_c.p5 for group in one.groups if group.low_c is not None), default=None)


def stands_of(found: Reserve, leave_s: float, arrive_s: float) -> tuple[Standing, ...]:
    """The standing times of the drive, in minutes, of the group that gives out first; 5 in 100 samples have less."""
    names = {variant.name: at for at, variant in enumerate(found.variants)}
    table = {name: found.shortest_s(at, FEWEST) / 60.0 for name, at in names.items()}
    return tuple(
        Standing(
            float(found.time_s[m]),
            float(found.km[m]),
            float(table["shut"][m]),
            **{
                f"{name}_min": float(table[name][m])
                for name in ("doors", "shade", "misted", "engine")
                if name in table and not np.isnan(table[name][m])
            },
        )
        for m in range(found.time_s.size)
        if leave_s <= found.time_s[m] <= arrive_s and not np.isnan(table["shut"][m])
    )
