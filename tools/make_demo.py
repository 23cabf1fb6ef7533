"""Write the three demo trips: invented people, yards, roads and weather, the same bytes on every run.

    python tools/make_demo.py [FOLDER]

The roads wind by smooth curves between invented yards; the weather is a diurnal cycle between stated lows
and highs under the program's own clear sky, cooler with height. Nothing here is measured or forecast.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from planner.model.air import pressure_at_pa
from planner.model.geo import bearing_deg, cumulative_km, great_circle_km, intermediate
from planner.model.records import Floats, Weather
from planner.model.sun import (
    clear_sky,
    cloudy_global,
    extraterrestrial_w_m2,
    split_global,
    sun_events,
    sun_position,
)
from planner.store.weatherfile import write_weather

VERTEX_KM = 3.0
LAPSE_K_M = 0.0065
KM_PER_DEGREE = 111.195
SUBSTEPS = 12
HOUR_S = 3600.0
DAY_S = 86_400.0


@dataclass(frozen=True)
class Place:
    """A yard, garden or lay-by of our own invention; ``more`` are further lines of its table."""

    name: str
    lat_deg: float
    lon_deg: float
    elevation_m: float
    more: str = ""


@dataclass(frozen=True)
class Sky:
    """The weather of one local day: low at sunrise, high three hours after noon, both at ``reference_m``."""

    low_c: float
    high_c: float
    dew_c: float
    cloud_share: float
    wind_ms: float
    wind_from_deg: float


@dataclass(frozen=True)
class Demo:
    """One demo trip; ``skies`` begin on ``first_day``."""

    name: str
    title: str
    story: str
    zone: str
    places: tuple[Place, ...]
    bends_km: float
    open_road_kmh: float
    seed: int
    first_day: str
    skies: tuple[Sky, ...]
    weather_spacing_km: float
    rest: str

    @property
    def reference_m(self) -> float:
        return self.places[0].elevation_m


# -- road ----------------------------------------------------------------------------------------


def road_points(demo: Demo) -> list[list[float]]:
    """Rows of lat, lon, minutes, km, elevation through all the places."""
    random = np.random.default_rng(demo.seed)
    legs = [_leg(start, end, demo.bends_km, random) for start, end in pairwise(demo.places)]
    lat, lon, height, near_km = (
        np.concatenate([leg[row] if at == 0 else leg[row][1:] for at, leg in enumerate(legs)])
        for row in range(4)
    )
    km = cumulative_km(lat, lon)
    speed = _speeds(km, near_km, demo.open_road_kmh, random)
    minutes = np.concatenate([[0.0], np.cumsum(np.diff(km) / speed * 60.0)])
    table = np.column_stack([np.round(lat, 5), np.round(lon, 5), minutes, km, height])
    return [[row[0], row[1], round(row[2], 2), round(row[3], 2), round(row[4])] for row in table.tolist()]


def _leg(start: Place, end: Place, bends_km: float, random: np.random.Generator) -> list[Floats]:
    """Latitude, longitude, height and distance to the nearer end of vertices between two places."""
    straight = float(great_circle_km(start.lat_deg, start.lon_deg, end.lat_deg, end.lon_deg))
    share = np.linspace(0.0, 1.0, max(4, int(straight * 1.15 / VERTEX_KM)) + 1)
    lat, lon = intermediate(start.lat_deg, start.lon_deg, end.lat_deg, end.lon_deg, share)
    side = np.radians(float(bearing_deg(start.lat_deg, start.lon_deg, end.lat_deg, end.lon_deg)) + 90.0)
    bend = _waves(share, min(bends_km, 0.12 * straight), max(2, int(straight / 12.0)), random)
    rolling = _waves(share, min(90.0, 1.5 * straight), max(3, int(straight / 15.0)), random)
    height = start.elevation_m + share * (end.elevation_m - start.elevation_m) + np.abs(rolling)
    return [
        lat + bend * np.cos(side) / KM_PER_DEGREE,
        lon + bend * np.sin(side) / (KM_PER_DEGREE * np.cos(np.radians(lat))),
        height,
        straight * np.minimum(share, 1.0 - share),
    ]


def _waves(share: Floats, size: float, count: int, random: np.random.Generator) -> Floats:
    """A smooth wandering line, zero at both ends; its waves shrink as they shorten."""
    number = np.arange(1, count + 1)
    height = random.normal(size=count) / number**0.8
    return size * np.sum(height * np.sin(np.pi * number * share[:, None]), axis=1)


def _speeds(km: Floats, near_km: Floats, open_road_kmh: float, random: np.random.Generator) -> Floats:
    """Speed of each stretch: slow lanes near a call, the open road between, towns here and there."""
    ease = np.clip(0.5 * (near_km[:-1] + near_km[1:]) / 8.0, 0.0, 1.0)
    lane = 38.0 + ease * (open_road_kmh - 38.0)
    town = np.where(random.random(km.size - 1) < 0.08, 0.62, 1.0)
    return lane * town * random.uniform(0.93, 1.05, km.size - 1)


# -- weather -------------------------------------------------------------------------------------


def weather_of(demo: Demo, points: list[list[float]]) -> Weather:
    """Hourly weather at points along the road over all of the demo's days."""
    table = np.array(points)
    count = max(3, int(np.ceil(table[-1, 3] / demo.weather_spacing_km)) + 1)
    km = np.round(np.linspace(0.0, table[-1, 3], count), 1)
    lat, lon, height = (np.round(np.interp(km, table[:, 3], table[:, row]), 3) for row in (0, 1, 4))
    midnight = datetime.fromisoformat(demo.first_day).replace(tzinfo=ZoneInfo(demo.zone)).timestamp()
    hours = 24 * len(demo.skies)
    time_s = midnight + HOUR_S * np.arange(hours + 1)
    day = np.clip(((time_s - midnight) / DAY_S), 0, len(demo.skies) - 1)
    air = _air_c(demo, midnight, time_s, lat, lon) - LAPSE_K_M * (height - demo.reference_m)
    dew = np.minimum(_daily(demo, day, "dew_c")[:, None] - 0.002 * (height - demo.reference_m), air - 0.4)
    cloud = np.broadcast_to(_daily(demo, day, "cloud_share")[:, None], air.shape)
    ghi, dni, dhi = _sunshine(time_s, lat, lon, height, cloud)
    wind = _daily(demo, day, "wind_ms")[:, None] * _breeze(time_s, lon) * (1.0 + 0.08 * np.cos(km / 40.0))
    toward = np.radians(
        np.round(_daily(demo, day, "wind_from_deg")[:, None] + 180.0 + 10.0 * np.sin(km / 60.0))
    )
    return Weather(
        time_s=time_s,
        km=km,
        lat_deg=lat,
        lon_deg=lon,
        elevation_m=np.round(height),
        air_c=np.round(air, 1),
        dew_c=np.round(dew, 1),
        wind_east_ms=np.round(wind, 1) * np.sin(toward),
        wind_north_ms=np.round(wind, 1) * np.cos(toward),
        gust_ms=np.round(1.6 * wind, 1),
        ghi_w_m2=np.round(ghi),
        dni_w_m2=np.round(dni),
        dhi_w_m2=np.round(dhi),
        cloud_share=np.round(cloud, 2),
        pressure_pa=np.round(np.broadcast_to(pressure_at_pa(height), air.shape), -1),
        rain_mm=np.zeros(air.shape),
        source="Invented for the demo; no forecast and no measurement",
        attribution="Skepway, our own invention",
        kind="invented",
        notes=("invented weather: daily lows and highs by hand, clear sky by formula",),
    )


def _daily(demo: Demo, day: Floats, name: str) -> Floats:
    """A figure of the day's sky, passing smoothly from noon to noon."""
    values = [getattr(sky, name) for sky in demo.skies]
    return np.interp(day, np.arange(len(values)) + 0.5, values)


def _air_c(demo: Demo, midnight: float, time_s: Floats, lat: Floats, lon: Floats) -> Floats:
    """(hour, point) at the reference height: half cosines from the low at sunrise to the high after noon."""
    nodes_s, nodes_c = [], []
    for at, sky in enumerate(demo.skies):
        rise, dusk = sun_events(lat, lon, midnight + at * DAY_S)
        nodes_s += [rise, 0.5 * (rise + dusk) + 3.0 * HOUR_S]
        nodes_c += [sky.low_c, sky.high_c]
    last_low = demo.skies[-1].low_c
    at_s = np.array([nodes_s[1] - DAY_S, *nodes_s, nodes_s[-2] + DAY_S])
    at_c = np.array([demo.skies[0].high_c, *nodes_c, last_low])
    return np.column_stack([_half_cosines(time_s, at_s[:, point], at_c) for point in range(lat.size)])


def _half_cosines(time_s: Floats, nodes_s: Floats, nodes_c: Floats) -> Floats:
    at = np.clip(np.searchsorted(nodes_s, time_s, side="right") - 1, 0, nodes_s.size - 2)
    share = (time_s - nodes_s[at]) / (nodes_s[at + 1] - nodes_s[at])
    return nodes_c[at] + (nodes_c[at + 1] - nodes_c[at]) * 0.5 * (1.0 - np.cos(np.pi * share))


def _sunshine(
    time_s: Floats, lat: Floats, lon: Floats, height: Floats, cloud: Floats
) -> tuple[Floats, Floats, Floats]:
    """Global, beam and diffuse radiation, each the mean of the hour before the stamp."""
    steps = time_s[:, None] - HOUR_S + (np.arange(SUBSTEPS) + 0.5) * HOUR_S / SUBSTEPS
    instant = steps[:, :, None]
    zenith = sun_position(instant, lat, lon).zenith_deg
    clear, _, _ = clear_sky(instant, zenith, height)
    ghi = cloudy_global(clear, cloud[:, None, :])
    dni, dhi = split_global(ghi, zenith, extraterrestrial_w_m2(instant))
    return ghi.mean(axis=1), dni.mean(axis=1), dhi.mean(axis=1)


def _breeze(time_s: Floats, lon: Floats) -> Floats:
    """Wind as a share of the day's figure: slack before dawn, freshest in the afternoon."""
    solar_hour = np.mod(time_s[:, None] / HOUR_S + lon / 15.0, 24.0)
    return 0.7 + 0.35 * np.cos(2.0 * np.pi * (solar_hour - 15.0) / 24.0)


# -- trip files ----------------------------------------------------------------------------------


def trip_text(demo: Demo, points: list[list[float]]) -> str:
    """The trip file with its comments."""
    origin, *stops, destination = demo.places
    rows = "\n".join(
        "  [" + ", ".join(f"{value:g}" if at > 1 else f"{value:.5f}" for at, value in enumerate(row)) + "],"
        for row in points
    )
    parts = [
        "\n".join(f"# {line}" for line in demo.story.strip().splitlines()),
        f'version = 1\ntitle = "{demo.title}"\ninvented = true',
        _place_text("[origin]", origin),
        *(_place_text("[[stops]]", stop) for stop in stops),
        _place_text("[destination]", destination),
        demo.rest.strip(),
        f'[weather]\nsource = "file"\nfile = "{demo.name}-weather.csv"',
        f'[road]\nsource = "Invented for the demo"\n# lat, lon, minutes, km, height in m\npoints = [\n{rows}\n]',
    ]
    return "\n\n".join(parts) + "\n"


def _place_text(head: str, place: Place) -> str:
    lines = [
        head,
        f'name = "{place.name}"',
        f"lat = {place.lat_deg:.5f}",
        f"lon = {place.lon_deg:.5f}",
        f"elevation_m = {place.elevation_m:g}",
    ]
    return "\n".join([*lines, *place.more.strip().splitlines()])


# -- the three trips -----------------------------------------------------------------------------

NIGHT_POLLINATION = Demo(
    name="night-pollination",
    title="Sagebench to Tarrow Bench: 72 doubles to apple blossom (invented)",
    story="""
An overnight pollination move by flatbed. People, firms, yards, road and weather are invented.
Ines Corvalle of the Sagebench Pollination Company takes 72 doubles north to the orchards of Tarrow Bench
in a warm spell. The strong ones stand in the outer rows; where may the twelve weak ones ride?
Can she leave by daylight, or must she wait for the night?
""",
    zone="America/Los_Angeles",
    places=(
        Place("Sagebench yard", 45.71, -119.42, 190.0, 'zone = "America/Los_Angeles"'),
        Place(
            "Dry Fork fuel stop",
            46.74,
            -119.60,
            310.0,
            'purpose = "fuel"\ndwell_minutes = 20',
        ),
        Place("Coulee Gate lay-by", 47.42, -119.38, 480.0, 'purpose = "break"\ndwell_minutes = 30'),
        Place("Tarrow Bench orchard 7", 48.14, -119.71, 330.0),
    ),
    bends_km=11.0,
    open_road_kmh=88.0,
    seed=7201,
    first_day="2027-04-27",
    skies=(
        Sky(11.0, 28.5, 5.0, 0.05, 3.0, 200.0),
        Sky(13.5, 30.5, 6.0, 0.10, 3.5, 210.0),
        Sky(14.0, 29.5, 8.0, 0.30, 4.5, 230.0),
    ),
    weather_spacing_km=75.0,
    rest="""
[closing]
rule = "after_sunset"
delay_minutes = 20

# the search runs through a whole day, so that the board shows what daylight would cost
[window]
from = "2027-04-28T14:00"
to = "2027-04-29T06:00"
step_minutes = 30

[arrival]
before_light = true
gate_open = "01:00"
gate_shut = "11:00"

[handling]
waiting_shade = false
loading_minutes = 90
opening_minutes = 60

[vehicle]
kind = "flatbed"
# the rows open to the weak colonies, which no group below pins to a place
places = ["flatbed_inner", "flatbed_inner_top", "flatbed_front_inner", "flatbed_rear_inner", "flatbed_rear_outer"]
net = true
drive_time_factor = 1.05

[[load]]
label = "Strong, sunny outer row"
count = 20
box_type = "langstroth10_double_pine"
frames_of_bees = 15
open_brood_frames = 3
sealed_brood_frames = 5
stores_frames = 5
thin_syrup_share = 0.1
floor_blocked_share = 0.3
entrance = "mesh"
comb = "old"
place = "flatbed_outer_sunny_windward"

[[load]]
label = "Strong, shaded outer row"
count = 20
box_type = "langstroth10_double_pine"
frames_of_bees = 15
open_brood_frames = 3
sealed_brood_frames = 5
stores_frames = 5
thin_syrup_share = 0.1
floor_blocked_share = 0.3
entrance = "mesh"
comb = "old"
place = "flatbed_outer_shade_lee"

[[load]]
label = "Middling, inner row"
count = 16
box_type = "langstroth10_double_pine"
frames_of_bees = 11
open_brood_frames = 3
sealed_brood_frames = 4
stores_frames = 5
floor_blocked_share = 0.4
entrance = "mesh"
comb = "old"
place = "flatbed_inner"

[[load]]
label = "Middling, front row"
count = 4
box_type = "langstroth10_double_pine"
frames_of_bees = 11
open_brood_frames = 3
sealed_brood_frames = 4
stores_frames = 5
floor_blocked_share = 0.4
entrance = "mesh"
comb = "old"
place = "flatbed_front_inner"

[[load]]
label = "Weak, place open"
count = 12
box_type = "langstroth10_double_pine"
frames_of_bees = 6
open_brood_frames = 1.5
sealed_brood_frames = 2.5
stores_frames = 4
floor_blocked_share = 0.2
entrance = "mesh"
comb = "old"
""",
)

NUC_PICKUP = Demo(
    name="nuc-pickup",
    title="Four nucs from Wendle Hill to Marram End (invented)",
    story="""
A buyer fetches four five-frame nucs. People, firms, yards, road and weather are invented.
Honor Maskell drives three and a half hours home from Wendle Hill Bees in a warm week of May.
In the morning or in the evening? In the cab, under the canopy, or on an open trailer?
Two of the nucs wintered in plywood boxes: strong, and the floor mesh partly gummed up.
""",
    zone="Europe/London",
    places=(
        Place("Wendle Hill Bees", 52.17, -2.46, 140.0, 'zone = "Europe/London"'),
        Place("Cold Ash Services", 52.38, -0.96, 125.0, 'purpose = "rest"\ndwell_minutes = 20'),
        Place("Marram End", 52.73, 0.92, 45.0),
    ),
    bends_km=8.0,
    open_road_kmh=92.0,
    seed=4104,
    first_day="2027-05-14",
    skies=(
        Sky(9.5, 23.5, 10.0, 0.20, 2.5, 190.0),
        Sky(11.5, 26.5, 12.5, 0.15, 2.5, 170.0),
        Sky(13.0, 27.0, 14.0, 0.35, 3.5, 200.0),
    ),
    weather_spacing_km=70.0,
    rest="""
# shut at the end of flight; a morning buyer gets boxes that were shut the evening before
[closing]
rule = "after_sunset"
delay_minutes = 15

[window]
from = "2027-05-15T05:00"
to = "2027-05-15T23:00"
step_minutes = 30

[arrival]
latest = "2027-05-16T02:30"

[handling]
waiting_shade = true
loading_minutes = 20
opening_minutes = 30

[vehicle]
kind = "pickup"
places = [
  "cabin_seat_cooled",
  "cabin_windows_open",
  "cabin_shut_dark",
  "pickup_canopy_shut_dark",
  "pickup_canopy_open_dark",
  "pickup_bed",
  "open_trailer",
]

[[load]]
label = "Wintered nucs, plywood"
count = 2
box_type = "national_nuc5_ply"
frames_of_bees = 6
open_brood_frames = 1.5
sealed_brood_frames = 2
stores_frames = 1.5
thin_syrup_share = 0.1
floor = "mesh"
floor_blocked_share = 0.5
roof = "solid"
entrance = "foam"
wet_foam_ml = 10
comb = "old"

[[load]]
label = "Spring nucs, polystyrene"
count = 2
box_type = "national_nuc5_eps"
frames_of_bees = 5
open_brood_frames = 1.5
sealed_brood_frames = 1.5
stores_frames = 1.5
thin_syrup_share = 0.3
floor = "mesh"
floor_blocked_share = 0.1
roof = "solid"
entrance = "foam"
comb = "new"
""",
)


def _collect(minutes: int) -> str:
    return f'purpose = "load"\ndwell_minutes = {minutes}\ndoors_open = true'


SWARM_RUN = Demo(
    name="swarm-run",
    title="Ketterby swarm run: six boxes in one evening (invented)",
    story="""
A club's van fetches six swarm boxes in one evening. People, addresses, road and weather are invented.
Tobias Rennard of the Ketterby Bee Club drives round six gardens; each box is shut as it is fetched, so the
first rides longest. Which van, when, and is the first box still well when the sixth comes in?
""",
    zone="Europe/London",
    places=(
        Place("Ketterby club shed", 53.98, -1.02, 18.0, 'zone = "Europe/London"'),
        Place("Maltings Row", 54.03, -0.93, 25.0, _collect(15)),
        Place("Thrussell school", 54.09, -0.86, 34.0, _collect(20)),
        Place("Owlery Cottage", 54.15, -0.98, 60.0, _collect(15)),
        Place("Hob Mill", 54.12, -1.12, 42.0, _collect(15)),
        Place("Skerne Lodge", 54.05, -1.21, 28.0, _collect(25)),
        Place("Parsonage Lane", 53.97, -1.17, 20.0, _collect(15)),
        Place("Long Acre quarantine apiary", 53.91, -1.06, 14.0),
    ),
    bends_km=2.0,
    open_road_kmh=66.0,
    seed=6066,
    first_day="2027-05-29",
    skies=(
        Sky(12.0, 25.5, 13.0, 0.20, 2.0, 160.0),
        Sky(14.0, 27.5, 16.0, 0.25, 2.0, 150.0),
        Sky(15.0, 25.0, 16.0, 0.60, 3.5, 220.0),
    ),
    weather_spacing_km=30.0,
    rest="""
[closing]
rule = "at_loading"

[window]
from = "2027-05-30T12:00"
to = "2027-05-30T22:00"
step_minutes = 30

[arrival]
latest = "2027-05-31T02:00"

[handling]
waiting_shade = true
loading_minutes = 10
opening_minutes = 20

[vehicle]
kind = "van"
places = ["van_shut_white", "van_insulated_white", "van_bulkhead_open_white", "van_roof_fan_white"]

[[load]]
label = "Box 1, prime swarm"
count = 1
box_type = "swarm_box_ply"
bees_kg = 2.6
roof = "screen"
entrance = "shut"
loaded_at = "Maltings Row"
closing = { rule = "at_loading" }

[[load]]
label = "Box 2, school swarm"
count = 1
box_type = "swarm_box_ply"
bees_kg = 1.8
roof = "solid"
entrance = "shut"
loaded_at = "Thrussell school"
closing = { rule = "at_loading" }

[[load]]
label = "Box 3, cast in card"
count = 1
box_type = "swarm_box_card"
bees_kg = 0.9
floor = "solid"
entrance = "shut"
loaded_at = "Owlery Cottage"
closing = { rule = "at_loading" }

[[load]]
label = "Box 4, skep in cloth"
count = 1
box_type = "skep_straw"
bees_kg = 1.3
entrance = "shut"
loaded_at = "Hob Mill"
closing = { rule = "at_loading" }

[[load]]
label = "Box 5, on comb in a nuc"
count = 1
box_type = "national_nuc5_ply"
frames_of_bees = 6
sealed_brood_frames = 1
stores_frames = 1.5
thin_syrup_share = 0.4
entrance = "foam"
comb = "new"
loaded_at = "Skerne Lodge"
closing = { rule = "at_loading" }

[[load]]
label = "Box 6, prime swarm"
count = 1
box_type = "swarm_box_ply"
bees_kg = 2.4
roof = "solid"
entrance = "shut"
loaded_at = "Parsonage Lane"
closing = { rule = "at_loading" }
""",
)

DEMOS = (NIGHT_POLLINATION, NUC_PICKUP, SWARM_RUN)


def main(folder: Path) -> None:
    """Write trip and weather of every demo."""
    folder.mkdir(parents=True, exist_ok=True)
    for demo in DEMOS:
        points = road_points(demo)
        (folder / f"{demo.name}.toml").write_text(trip_text(demo, points), "utf-8", newline="\n")
        write_weather(weather_of(demo, points), folder / f"{demo.name}-weather.csv")
        ends = datetime.fromisoformat(demo.first_day).replace(tzinfo=UTC) + timedelta(days=len(demo.skies))
        print(f"{demo.name}: {points[-1][3]:.0f} km, {points[-1][2] / 60:.1f} h, weather to {ends:%d %b %Y}")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parents[1] / "resources" / "demo")
