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

More = dict[str, float | str]


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
    """One demo trip; ``skies`` begin on ``first_day``; ``rest`` and ``load`` are tables of the trip file."""

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
    load: tuple[str, ...]

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
        *demo.load,
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


def _load(label: str, count: int, box_type: str, **more: float | str) -> str:
    """One group of boxes; ``more`` are further lines of its table, in the order they shall stand."""
    values = {"label": label, "count": count, "box_type": box_type, **more}
    lines = [f"{key} = {_value(value)}" for key, value in values.items()]
    return "\n".join(["[[load]]", *lines])


def _value(value: float | str) -> str:
    """A number or a quoted text; an inline table stays as it is."""
    if isinstance(value, str):
        return value if value.startswith("{") else f'"{value}"'
    return f"{value:g}"


def _double(
    label: str, count: int, bees: float, brood: tuple[float, float], stores: float, **more: float | str
) -> str:
    """A group of pine doubles; ``bees``, ``brood`` (open, sealed) and ``stores`` in frames."""
    return _load(
        label,
        count,
        "langstroth10_double_pine",
        frames_of_bees=bees,
        open_brood_frames=brood[0],
        sealed_brood_frames=brood[1],
        stores_frames=stores,
        **more,
    )


# -- the three trips -----------------------------------------------------------------------------

STRONG: More = {"thin_syrup_share": 0.1, "floor_blocked_share": 0.3, "entrance": "mesh", "comb": "old"}
MIDDLING: More = {"floor_blocked_share": 0.4, "entrance": "mesh", "comb": "old"}

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
""",
    load=(
        _double(
            "Strong, sunny outer row",
            20,
            15,
            (3, 5),
            5,
            **STRONG,
            place="flatbed_outer_sunny_windward",
        ),
        _double("Strong, shaded outer row", 20, 15, (3, 5), 5, **STRONG, place="flatbed_outer_shade_lee"),
        _double("Middling, inner row", 16, 11, (3, 4), 5, **MIDDLING, place="flatbed_inner"),
        _double("Middling, front row", 4, 11, (3, 4), 5, **MIDDLING, place="flatbed_front_inner"),
        _double("Weak", 12, 6, (1.5, 2.5), 4, floor_blocked_share=0.2, entrance="mesh", comb="old"),
    ),
)


NUC_PICKUP = Demo(
    name="nuc-pickup",
    title="Four nucs from Tres Talas up to the hills (invented)",
    story="""
A buyer fetches four nucs by car and trailer. People, firms, yards, road and weather are invented.
Noemí Barrenechea drives from the plain to the hills on a warm Saturday of the Argentine spring, wind from the north.
One nuc has come through the winter strong, three are young splits; all have clean floors.
Does she set off early or after dark, and do the bees ride beside her, in the boot or on the trailer?
""",
    zone="America/Argentina/Cordoba",
    places=(
        Place("Tres Talas nuc yard", -34.21, -62.63, 112.0, 'zone = "America/Argentina/Cordoba"'),
        Place("Parador La Calandria", -33.22, -63.71, 205.0, 'purpose = "rest"\ndwell_minutes = 25'),
        Place("Quebrada del Zorzal", -32.31, -64.72, 790.0),
    ),
    bends_km=7.0,
    open_road_kmh=84.0,
    seed=3113,
    first_day="2027-11-12",
    skies=(
        Sky(12.0, 26.0, 9.0, 0.10, 3.0, 350.0),
        Sky(13.0, 29.5, 10.0, 0.15, 4.0, 355.0),
        Sky(14.0, 28.0, 12.0, 0.35, 4.0, 10.0),
    ),
    weather_spacing_km=75.0,
    rest="""
# shut when the last flyers are home; who comes in the morning gets boxes that were shut the evening before
[closing]
rule = "after_sunset"
delay_minutes = 20

[window]
from = "2027-11-13T06:30"
to = "2027-11-13T23:00"
step_minutes = 30

[arrival]
latest = "2027-11-14T02:00"

[handling]
waiting_shade = true
loading_minutes = 20
opening_minutes = 30

[vehicle]
kind = "car"
places = [
  "cabin_seat_cooled",
  "cabin_windows_open",
  "cabin_window_open",
  "cabin_shut_white",
  "boot_white",
  "open_trailer",
]
drive_time_factor = 1.05
""",
    load=(
        _load(
            "Overwintered, six frames",
            1,
            "langstroth_nuc6_pine",
            frames_of_bees=6,
            open_brood_frames=2,
            sealed_brood_frames=2.5,
            stores_frames=1.5,
            floor="mesh",
            floor_blocked_share=0.05,
            roof="solid",
            entrance="mesh",
            comb="old",
        ),
        _load(
            "Spring splits, five frames",
            3,
            "langstroth_nuc5_pine",
            frames_of_bees=3.5,
            open_brood_frames=1,
            sealed_brood_frames=1.5,
            stores_frames=1.5,
            thin_syrup_share=0.3,
            floor="mesh",
            floor_blocked_share=0.05,
            roof="solid",
            entrance="mesh",
            comb="new",
        ),
    ),
)


def _collect(minutes: int) -> str:
    return f'purpose = "load"\ndwell_minutes = {minutes}\ndoors_open = true'


def _collected(label: str, box_type: str, call: str, **more: float | str) -> str:
    """One box that is shut as it is fetched."""
    return _load(label, 1, box_type, **more, loaded_at=call, closing='{ rule = "at_loading" }')


SWARM_RUN = Demo(
    name="swarm-run",
    title="Heath round from Quendelhorst: skep, swarms and packages (invented)",
    story="""
A breeder collects bees on a northern heath in June. People, addresses, road and weather are invented.
Wiebke Harmsloh fills two packages in her yard, then fetches a skep, three swarms and a nuc at five addresses.
Each is shut as it is lifted: the packages ride all the way, the last swarm less than half an hour.
In the estate car or on the trailer behind it, and how early in the afternoon may she begin?
""",
    zone="Europe/Berlin",
    places=(
        Place("Quendelhorst breeding yard", 52.96, 9.86, 62.0, 'zone = "Europe/Berlin"'),
        Place("Hollermoor skep shed", 53.07, 9.98, 78.0, _collect(15)),
        Place("Lerchenbrook vicarage", 53.16, 10.17, 84.0, _collect(20)),
        Place("Uhlenkate", 53.11, 10.41, 55.0, _collect(15)),
        Place("Sievershof orchard", 52.97, 10.46, 60.0, _collect(25)),
        Place("Torfkuhle station", 52.87, 10.27, 66.0, _collect(15)),
        Place("Ginsterkuppe stand", 52.84, 10.02, 88.0),
    ),
    bends_km=2.5,
    open_road_kmh=72.0,
    seed=1106,
    first_day="2027-06-10",
    skies=(
        Sky(11.0, 23.0, 10.0, 0.20, 2.5, 120.0),
        Sky(12.0, 25.0, 11.0, 0.20, 2.5, 130.0),
        Sky(13.5, 24.0, 12.0, 0.55, 4.0, 240.0),
    ),
    weather_spacing_km=35.0,
    rest="""
[closing]
rule = "at_loading"

[window]
from = "2027-06-11T13:00"
to = "2027-06-11T20:00"
step_minutes = 30

[arrival]
latest = "2027-06-11T23:45"

[handling]
waiting_shade = true
loading_minutes = 15
opening_minutes = 30

[vehicle]
kind = "estate"
places = ["estate_shut_dark", "estate_window_open", "estate_windows_open", "estate_cooled", "open_trailer"]
""",
    load=(
        _load("Packages from the yard", 2, "package_cage", bees_kg=1.2, entrance="shut"),
        _collected("Skep in cloth", "skep_straw", "Hollermoor skep shed", bees_kg=0.9, entrance="shut"),
        _collected(
            "Prime swarm",
            "swarm_box_ply",
            "Lerchenbrook vicarage",
            bees_kg=1.8,
            roof="screen",
            entrance="shut",
        ),
        _collected(
            "Cast in card", "swarm_box_card", "Uhlenkate", bees_kg=0.7, floor="solid", entrance="shut"
        ),
        _collected(
            "Nuc with a young queen",
            "langstroth_nuc6_eps",
            "Sievershof orchard",
            frames_of_bees=4,
            open_brood_frames=1,
            sealed_brood_frames=1.5,
            stores_frames=2,
            entrance="mesh",
            comb="new",
        ),
        _collected(
            "Late prime swarm",
            "swarm_box_ply",
            "Torfkuhle station",
            bees_kg=1.5,
            roof="solid",
            entrance="shut",
        ),
    ),
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
