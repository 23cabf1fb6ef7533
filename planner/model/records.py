"""The records every layer shares: where, what road, what weather, which boxes, which loading places.

Plain frozen data, SI inside (temperatures in C, times in seconds, instants as POSIX seconds UTC).
Services and the store build these; the arithmetic of the model reads them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields, replace
from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

Purpose = Literal["load", "unload", "rest", "fuel", "break"]
Floor = Literal["mesh", "solid"]
Roof = Literal["solid", "screen", "shaded_screen"]
Stand = Literal["battens", "flat"]
Entrance = Literal["shut", "mesh", "foam", "open"]
CombAge = Literal["new", "old"]
ClosingRule = Literal["after_sunset", "before_sunrise", "clock", "at_loading", "actual"]
Grade = Literal["A", "B", "C", "D"]
StageKind = Literal["shut", "wait", "load", "drive", "halt", "change_over", "depot", "doorstep", "settle"]
Holder = Literal["us", "buyer", "carrier", "receiver"]
MomentRule = Literal["lasting", "arrival", "leaving", "clock", "instant"]
Colour = Literal["", "dark", "white"]
RoadKind = Literal["car", "pickup", "van", "towing", "truck", "none"]
Line = tuple[tuple[float, ...], ...]

HANDLING: tuple[Purpose, ...] = ("load", "unload")
"""Stops at which boxes are lifted on or off: doors stand open, bees are jolted."""


# -- what is not said ----------------------------------------------------------------------------


class Stated:
    """A record in which NaN stands for what nobody said: two that say the same and leave out the same are equal.

    By themselves dataclasses compare figure by figure, and no NaN equals another: on Python 3.13 and later not even
    itself, before that only where it is the same object, which it is no longer once it came from another process.
    A dataclass of this kind is made with ``eq=False``, which leaves it these two.
    """

    __slots__ = ()

    def __eq__(self, other: object) -> bool:
        if self is other:
            return True
        if type(self) is not type(other):
            return NotImplemented
        return _said(self) == _said(other)

    def __hash__(self) -> int:
        return hash(_said(self))


@cache
def _compared(kind: type) -> tuple[str, ...]:
    return tuple(each.name for each in fields(kind) if each.compare)


def _said(record: Stated) -> tuple[object, ...]:
    """The fields of a record, None where it says nothing."""
    kind: type = type(record)
    values = (getattr(record, name) for name in _compared(kind))
    return tuple(None if isinstance(value, float) and math.isnan(value) else value for value in values)


# -- where ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Site:
    """A named point on the earth: a yard, a village, a lay-by. ``zone`` is an IANA time zone name."""

    name: str
    lat_deg: float
    lon_deg: float
    zone: str
    elevation_m: float | None = None


@dataclass(frozen=True, slots=True)
class Stop:
    """A halt between origin and destination.

    ``shade``: the vehicle stands in shade; ``engine_on``: air conditioning or fans keep running;
    ``doors_open``: the load space is opened while standing.
    """

    site: Site
    purpose: Purpose
    dwell_s: float
    shade: bool = False
    engine_on: bool = False
    doors_open: bool = False


@dataclass(frozen=True)
class Road:
    """The way driven, as vertices from origin to destination.

    Parameters
    ----------
    lat_deg, lon_deg, elevation_m : (vertex,) degrees, degrees, metres (NaN where unknown)
    km : (vertex,) distance along the road, non-decreasing, starts at 0
    drive_s : (vertex,) driving time from the origin without any stop, non-decreasing, starts at 0
    waypoint_vertex : vertex indices of origin, each stop in order, destination (length stops + 2)
    source : who computed it, for display; ``estimated`` marks a great-circle guess
    time_error_share : one-sided relative error of the driving time, for display and scenarios
    attribution : text that the source's licence asks us to show
    """

    lat_deg: Floats
    lon_deg: Floats
    elevation_m: Floats
    km: Floats
    drive_s: Floats
    waypoint_vertex: tuple[int, ...]
    source: str
    estimated: bool = False
    time_error_share: float = 0.0
    attribution: str = ""

    @property
    def length_km(self) -> float:
        return float(self.km[-1])

    @property
    def driving_s(self) -> float:
        return float(self.drive_s[-1])


# -- weather -------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Weather:
    """Hourly weather at points along a road; missing values are NaN and stay unknown in every answer.

    Parameters
    ----------
    time_s : (hour,) POSIX seconds UTC, increasing, evenly hourly
    km : (point,) position of each weather point along the road, increasing
    lat_deg, lon_deg, elevation_m : (point,) of each weather point
    air_c, dew_c, pressure_pa, cloud_share : (hour, point) instants at the stamp
    wind_east_ms, wind_north_ms : (hour, point) the direction the air moves TO, at 10 m
    gust_ms : (hour, point) highest gust of the preceding hour, NaN where not offered
    ghi_w_m2, dni_w_m2, dhi_w_m2 : (hour, point) means of the hour BEFORE the stamp (services that give
        instants are shifted on reading); ``dni``/``dhi`` may be NaN (then split from ``ghi``)
    rain_mm : (hour, point) sum of the preceding hour
    source, attribution : shown with every answer
    issued_s : when the forecast was made or fetched, POSIX seconds; NaN when it is not a forecast
    kind : "forecast" | "archive" | "typical" | "own" | "assumed" | "invented" | "ensemble"
    notes : plain-word remarks ("radiation estimated from cloud", "3 hours missing at km 40")
    """

    time_s: Floats
    km: Floats
    lat_deg: Floats
    lon_deg: Floats
    elevation_m: Floats
    air_c: Floats
    dew_c: Floats
    wind_east_ms: Floats
    wind_north_ms: Floats
    gust_ms: Floats
    ghi_w_m2: Floats
    dni_w_m2: Floats
    dhi_w_m2: Floats
    cloud_share: Floats
    pressure_pa: Floats
    rain_mm: Floats
    source: str
    attribution: str = ""
    issued_s: float = float("nan")
    kind: str = "forecast"
    notes: tuple[str, ...] = ()

    def at_rows(self, rows: Ints | Bools, time_s: Floats) -> Weather:
        """The weather of these hours, told for the instants ``time_s``, POSIX seconds."""
        columns = {name: getattr(self, name)[rows] for name in (*SCALARS, *WIND)}
        return replace(self, time_s=time_s, **columns)


SCALARS = (
    "air_c",
    "dew_c",
    "gust_ms",
    "ghi_w_m2",
    "dni_w_m2",
    "dhi_w_m2",
    "cloud_share",
    "pressure_pa",
    "rain_mm",
)
"""Quantities of the weather, (hour, point), that may be averaged each for itself; the two of ``WIND`` may not."""
WIND = ("wind_east_ms", "wind_north_ms")


# -- boxes ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class BoxType:
    """A kind of box from the catalogue: geometry and walls. Lengths in m, areas in m2.

    ``inside_*`` of one box; ``frames`` hanging in it (0 for boxes without comb); ``frame_kind`` names the
    row of comb figures; ``walls`` and ``lid`` are build-ups: (thickness_m, conductivity_w_mk) layers.
    ``floor_mesh_m2`` gross mesh area when the floor is mesh; ``roof_screen_m2`` gross area of a full roof
    screen; ``entrance_m2`` open entrance area; ``side_vent_m2`` fixed side vents, at ``vent_height_m`` above
    the floor; ``absorptance`` of the outside for sun; ``sun_transmittance`` for clear walls (else 0);
    ``syrup_can_kg`` of syrup in the full can that hangs in it (0: none fits).
    """

    name: str
    title: str
    inside_length_m: float
    inside_width_m: float
    inside_height_m: float
    frames: float
    frame_kind: str
    walls: tuple[tuple[float, float], ...]
    lid: tuple[tuple[float, float], ...]
    floor_mesh_m2: float
    roof_screen_m2: float
    entrance_m2: float
    side_vent_m2: float
    vent_height_m: float
    absorptance: float
    leak_l_s: tuple[float, float, float]
    sun_transmittance: float = 0.0
    syrup_can_kg: float = 0.0
    grade: Grade = "D"
    source: str = ""


@dataclass(frozen=True, slots=True)
class FrameKind:
    """Figures of one comb size, both sides of one frame together, but ``comb_side_m2`` of one side."""

    name: str
    bees: float
    cells: float
    honey_kg: float
    comb_side_m2: float
    wax_kg: float
    wood_kg: float
    grade: Grade = "C"
    source: str = ""


@dataclass(frozen=True, slots=True)
class Misting:
    """A watering plan for every box of a group: ``ml`` each time, first after ``first_s``, then every ``every_s``."""

    ml: float
    first_s: float
    every_s: float


@dataclass(frozen=True, slots=True, eq=False)
class Moment(Stated):
    """When a stage of a box's way ends, or has to begin.

    ``rule``: so long after the stage began ("lasting"); when the vehicle reaches or leaves the stage's last
    waypoint; when local clocks next show ``clock_s``, seconds of the day; at the instant ``at_s``, POSIX seconds.
    ``after_s`` (low, usual, high) seconds are added to it.
    """

    rule: MomentRule = "lasting"
    after_s: tuple[float, float, float] = (0.0, 0.0, 0.0)
    clock_s: float = float("nan")
    at_s: float = float("nan")


@dataclass(frozen=True, slots=True)
class Stage:
    """One stretch of the way of a box: where it is, who has it, how it is treated, until when.

    ``waypoints`` where it begins and ends, the same twice while the box stands; ``places`` the loading place it
    stands or rides in, or several with their weights where nobody knows which; none: where the group rides on the
    vehicle, or else the ground. ``holder`` is who can act. ``shade``, ``engine_on``, ``doors_open`` None: as the
    trip has it. ``jolts``: its beginning disturbs the bees (lifted, set down, shut); ``shaking`` the share of a
    drive's shaking that is felt even while the vehicle stands. ``begin`` is checked, never waited for: a stage
    begins when the one before ends.
    """

    kind: StageKind
    waypoints: tuple[int, int]
    end: Moment
    places: tuple[tuple[str, float], ...] = ()
    holder: Holder = "us"
    shade: bool | None = None
    engine_on: bool | None = None
    doors_open: bool | None = None
    jolts: bool = True
    shaking: float = 0.0
    begin: Moment | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Group(Stated):
    """Boxes that are alike: same type, same strength, same openings, loaded and unloaded together.

    ``frames_of_bees`` or ``bees_kg`` (swarms, packages; NaN when frames are given) sets the number of bees;
    brood and stores in frames; ``thin_syrup_share`` of the stores is thin enough to evaporate; ``syrup_can_kg`` of
    syrup hang in a can for bees without combs; ``wet_bees_ml`` of rain or spilt syrup on the bees when they are shut;
    ``floor_blocked_share`` and ``roof_blocked_share`` in 0..1; ``stand`` flat or on battens, None as usual where
    they ride; ``load_waypoint`` / ``unload_waypoint`` index the
    road's calls (0 = origin); ``closing`` overrides the trip's rule; ``place`` pins the loading place;
    ``opening`` overrides the trip's minutes from unloading to opening; ``stages`` is the way of its boxes where it
    is another than waiting, riding and settling. ``table`` numbers the table of a trip file that it comes from.
    """

    label: str
    count: int
    box_type: str
    frames_of_bees: float = 0.0
    bees_kg: float = float("nan")
    open_brood_frames: float = 0.0
    sealed_brood_frames: float = 0.0
    stores_frames: float = 0.0
    thin_syrup_share: float = 0.0
    syrup_can_kg: float = 0.0
    wet_bees_ml: float = 0.0
    floor: Floor = "mesh"
    floor_blocked_share: float = 0.0
    stand: Stand | None = None
    roof: Roof = "solid"
    roof_blocked_share: float = 0.0
    entrance: Entrance = "foam"
    side_vents_open: bool = True
    wet_foam_ml: float = 0.0
    misting: Misting | None = None
    comb: CombAge = "new"
    load_waypoint: int = 0
    unload_waypoint: int = -1
    closing: Closing | None = None
    loading_place: str | None = None
    opening: Moment | None = None
    stages: tuple[Stage, ...] = ()
    table: int | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Closing(Stated):
    """When boxes are shut: a rule with its delay (after sunset, before sunrise) or clock time.

    ``at_s`` is the instant, POSIX seconds, at which they were shut (actual). ``fixed``: no other is tried.
    """

    rule: ClosingRule = "after_sunset"
    delay_s: float = 0.0
    clock_s: float = 0.0
    at_s: float = float("nan")
    fixed: bool = False


@dataclass(frozen=True, slots=True)
class Box:
    """One box with its name; ``group`` numbers the group of the trip that is its template."""

    name: str
    group: int


# -- where the box rides -------------------------------------------------------------------------


BOARD = (200.0, 74.0)
"""Width and height of the board a vehicle is drawn on."""


@dataclass(frozen=True, slots=True)
class LoadingZone:
    """A part of a vehicle where boxes stand; ``rectangle`` left, top, width and height on the board of its drawing."""

    name: str
    title: str
    rectangle: tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Vehicle:
    """What boxes ride in or, where ``road_vehicle`` is "none", wait on; a row of the catalogue.

    ``road_vehicle`` is how road services see it; ``zones`` from front to rear. Its drawing lies on the BOARD
    with the road at 66: ``outline`` and ``glass`` are closed lines of points (x, y) or curves (two
    handles and an end), ``wheels`` stand so far from the left.
    """

    name: str
    title: str
    road_vehicle: RoadKind
    zones: tuple[LoadingZone, ...]
    outline: tuple[Line, ...]
    glass: tuple[Line, ...] = ()
    wheels: tuple[float, ...] = ()

    @property
    def drives(self) -> bool:
        return self.road_vehicle != "none"


@dataclass(frozen=True, slots=True, eq=False)
class LoadingPlace(Stated):
    """One place a box may ride, standing or moving; a row of ``resources/loading_places.toml``.

    Enclosed places have ``volume_m3`` > 0 and exchange air at ``ach_*`` (base + per m/s of wind when parked,
    of vehicle speed when moving, clipped to ``*_min``/``*_max``); open places have ``volume_m3`` = 0 and use
    ``offset_*`` and the speed factors. ``set_point_c`` (NaN = none) holds while air conditioning runs, as far as
    ``cooling_w`` goes; colder air is heated to ``heated_c`` (NaN = not) while the engine runs; ``sun_glass_m2`` is
    the part of ``sun_area_m2`` that comes through glass; ``skin_m2`` of cold skin takes up vapour;
    ``neighbour_w_k`` (base, per m/s) is the heat one box of an inner row can pass to the air between boxes, 0 =
    freely open, ``bare_share`` what of the box walls no neighbour touches. Boxes find room in ``length_m`` by
    ``width_m`` by ``height_m`` and are never more than ``capacity_boxes``. ``zone`` is one of the vehicle's,
    ``space`` a part of it (one part has several rows for its states); ``colour`` of the body, "" where it does
    not matter.
    """

    name: str
    title: str
    vehicle: str
    zone: str = ""
    space: str = ""
    colour: Colour = ""
    volume_m3: float = 0.0
    sun_area_m2: float = 0.0
    sun_glass_m2: float = 0.0
    sun_lag_factor: float = 1.0
    ua_parked_w_k: float = 0.0
    ua_moving_w_k: float = 0.0
    ach_parked_base: float = 0.0
    ach_parked_per_wind: float = 0.0
    ach_parked_min: float = 0.0
    ach_parked_max: float = 1.0e4
    ach_moving_base: float = 0.0
    ach_moving_per_speed: float = 0.0
    ach_moving_min: float = 0.0
    ach_moving_max: float = 1.0e4
    ach_doors_open: float = 0.0
    skin_m2: float = 0.0
    fan_m3_h: float = 0.0
    people: float = 0.0
    set_point_c: float = float("nan")
    set_point_offset_k: float = 0.0
    cooling_w: float = 4000.0
    heated_c: float = float("nan")
    ach_fresh_base: float = 0.0
    ach_fresh_per_speed: float = 0.0
    offset_moving_k: float = 0.0
    offset_parked_sun_k: float = 0.0
    neighbour_w_k: tuple[float, float] = (0.0, 0.0)
    speed_factor: float = 0.0
    wind_factor: float = 0.0
    still_air_ms: float = 0.1
    pressure_difference: float = 0.0
    bare_share: float = 1.0
    sun_direct: float = 0.0
    sun_diffuse: float = 0.0
    sun_lid_only: bool = False
    stand: Stand = "battens"
    band_k: float = 4.0
    effort: int = 1
    length_m: float = float("inf")
    width_m: float = float("inf")
    height_m: float = float("inf")
    capacity_boxes: float = float("inf")
    cautions: tuple[str, ...] = ()
    grade: Grade = "D"
    source: str = ""


# -- the trip as the user states it --------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class DepartureWindow:
    """Departures to search: first and last, POSIX seconds UTC, and the step between them in seconds."""

    first_s: float
    last_s: float
    step_s: float = 1800.0


@dataclass(frozen=True, slots=True, eq=False)
class Arrival(Stated):
    """Wishes for the arrival; they rank, they never hide a departure. Gate hours in local seconds of day."""

    before_light: bool = False
    latest_s: float = float("nan")
    gate_open_s: float = float("nan")
    gate_shut_s: float = float("nan")


@dataclass(frozen=True, slots=True, eq=False)
class Tolerated(Stated):
    """Harm that a user accepts: of 100 variants those with a box harmed, of 100 boxes those harmed; NaN unsaid."""

    harm_of_100: float = float("nan")
    boxes_of_100: float = float("nan")


@dataclass(frozen=True)
class Trip:
    """A whole trip as stated by the user, checked and resolved to catalogue names.

    ``boxes`` are those that somebody named; every other box of a group is like them but for its name. ``drivers`` take
    turns at the wheel.
    """

    title: str
    origin: Site
    destination: Site
    groups: tuple[Group, ...]
    window: DepartureWindow
    loading_places: tuple[str, ...]
    stops: tuple[Stop, ...] = ()
    road_vehicle: RoadKind = "car"
    closing: Closing = field(default_factory=Closing)
    arrival: Arrival = field(default_factory=Arrival)
    waiting_shade: bool = True
    loading_s: float = 1800.0
    open_after_s: float = 1800.0
    drive_time_factor: float = 1.0
    drivers: int = 1
    net: bool = False
    invented: bool = False
    boxes: tuple[Box, ...] = ()
    tolerance: Tolerated = field(default_factory=Tolerated)

    @property
    def waypoints(self) -> tuple[Site, ...]:
        """Origin, each stop's site in order, destination."""
        return (self.origin, *(stop.site for stop in self.stops), self.destination)
