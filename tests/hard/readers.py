# ruff: noqa: E501
"""Every reader of outside bytes, with whole files for the damage to begin with."""

from __future__ import annotations

import io
import json
import re
import zipfile
from collections.abc import Callable
from functools import cache
from hashlib import sha256
from itertools import count
from pathlib import Path
from typing import Any

import numpy as np

from planner.app.inspect import pinned
from planner.app.inspect.photos import looked_at
from planner.app.inspect.pinned import unpinned
from planner.app.lessons.season import lessons, ridden
from planner.app.lessons.timeline import chart_of, line_of, timeline
from planner.app.lessons.words import in_words as lessons_in_words
from planner.bundled import resource_path
from planner.cli.inspect import found_in
from planner.model.box_names import free_names
from planner.model.catalogue import Catalogue
from planner.model.records import Road, Site
from planner.paper import folder as paper_folder
from planner.services.geocoding.saved import saved_places
from planner.services.roads.tracks import read_track, road_along
from planner.services.settings import load_settings
from planner.store.catalogue import load_catalogue
from planner.store.chunks import ChunkStore
from planner.store.dayfile import read_day, resolve_day
from planner.store.lanefile import load_lane
from planner.store.lanerules import lane_places
from planner.store.logbook import bundle, verify
from planner.store.logbook.book import Logbook
from planner.store.logbook.chain import COLUMNS, FIRST, hash_of
from planner.store.logbook.identity import trip_key, with_id
from planner.store.logbook.records import Entry, KnownTrip, Picture
from planner.store.logbook.retention import retention
from planner.store.loggerfile import LoggerHints, read_log
from planner.store.people import read_people
from planner.store.profiles import read_profile
from planner.store.roadfile import road_of
from planner.store.tomltext import toml_text
from planner.store.tripfile import read_draft
from planner.store.typicalyear import read_year
from planner.store.weatherfile import read_weather
from planner.ui.trip.preferences import Preferences
from planner.ui.work import recovery

Attempt = Callable[[bytes], Any]
Seeds = list[bytes] | Callable[[], list[bytes]]
Reader = tuple[Callable[[Path], Attempt], Seeds]

_STAGES = b"""
[[load]]
label = "By post"
count = 2
box_type = "national_nuc5_ply"
frames_of_bees = 4
sealed_brood_frames = 1
stores_frames = 1
stages = [
  { kind = "wait", end = "arrival" },
  { kind = "drive", end = "arrival", place = "van_shut_white" },
  { kind = "doorstep", minutes = [30, 60, 240], places = { ground_sun = 0.25, ground_shade = 0.75 }, holder = "receiver", shade = false, jolts = false, shaking = 0.2, begin = "arrival" },
  { kind = "settle", minutes = 30 },
]
"""


def _all_switched_on() -> bytes:
    """The new trip with every key that it offers as a remark, and a box that goes its own way in stages."""
    text = resource_path("new_trip.toml").read_bytes()
    for named, told in (
        (b'id = "$id"', b""),
        (b"${first_day}", b"2027-05-14"),
        (b"${second_day}", b"2027-05-15"),
        (b'purpose = "rest"', b'purpose = "load"'),
        (b'# clock = "21:30"', b""),
        (b"\n[vehicle]", _STAGES + b"\n[vehicle]"),
    ):
        text = text.replace(named, told)
    return re.sub(rb"(?m)^# ((?:[a-z_0-9]+ = |\[))", rb"\1", text)


TRIPS = [
    *(
        resource_path("demo", f"{name}.toml").read_bytes()
        for name in ("nuc-pickup", "night-pollination", "swarm-run")
    ),
    _all_switched_on(),
]
WEATHER = b"\n".join(resource_path("demo", "nuc-pickup-weather.csv").read_bytes().split(b"\n")[:60])

PVGIS = (
    b"Latitude (decimal degrees): 45.000\nLongitude (decimal degrees): 8.000\nElevation (m): 250.0\n"
    b"Irradiance Time Offset (h): 0.1761\n\n\n\n\n\n\ntime(UTC),T2m,RH,G(h),Gb(n),Gd(h),WS10m,WD10m,SP\n"
    b"20050101:0000,1.0,80.0,0.0,0.0,0.0,1.0,90.0,99000.0\n20050101:0100,1.1,81.0,0.0,0.0,0.0,1.1,91.0,99010.0\n\n"
)
TMY3 = (
    b'723170,"INVENTED",NC,-5.0,36.100,-79.950,273\nDate (MM/DD/YYYY),Time (HH:MM),GHI (W/m^2),DNI (W/m^2),'
    b"DHI (W/m^2),Dry-bulb (C),Dew-point (C),Wspd (m/s),Wdir (degrees),Pressure (mbar),TotCld (tenths)\n"
    b"01/01/1988,01:00,0,0,0,1.0,0.5,2.0,180,990,5\n01/01/1988,02:00,0,0,0,1.1,0.4,2.1,181,991,6\n"
)
LOGS = [
    "\n".join(["Time,Temperature (C)", *(f"2026-05-15 06:{m:02d}:00,{30 + m / 10}" for m in range(0, 60, 2))]).encode(),
    "\n".join(["# UTC+2", "Datum;Uhrzeit;Temp °C", *(f"15.05.2026;06:{m:02d};{30 + m / 10:.1f}".replace(".5", ",5") for m in range(50))]).encode("cp1252"),
    "\n".join(["time,temp_F", *(f"{1778743200 + 60 * m},9{m % 9}.5" for m in range(60))]).encode(),
]  # fmt: skip
TRACKS = [
    b'<?xml version="1.0" encoding="UTF-8"?><gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
    + b"".join(b'<trkpt lat="48.%02d" lon="8.5"><ele>300</ele><time>2026-05-15T06:%02d:00Z</time></trkpt>' % (k, k) for k in range(10, 50))
    + b"</trkseg></trk></gpx>",
    b'<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><LineString><coordinates>'
    b"8.0,48.0,300 8.1,48.1,310 8.2,48.2</coordinates></LineString></Placemark></Document></kml>",
    b'{"type":"FeatureCollection","features":[{"type":"Feature","geometry":{"type":"LineString",'
    b'"coordinates":[[8.0,48.0,300],[8.1,48.1],[8.2,48.2,1e3]]},"properties":{}}]}',
]  # fmt: skip
CATALOGUE = (
    b"[parameters.agitation_reach]\nvalue = 0.8\n"
    + re.search(rb"\[langstroth_nuc5_pine\]\n(?:.+\n)+", resource_path("box_types.toml").read_bytes())[
        0
    ].replace(b"[", b"[box_types.mine_", 1)  # type: ignore[index]
    + (Path(__file__).parents[1] / "fixtures" / "cargo-bike.toml").read_bytes()
)
PROFILE = b'[profile]\nabout = "yard"\nname = "home"\nmade_on = "2026-05-15"\ntrips = ["a"]\n[parameters.agitation_reach]\nvalue = 0.8\n'
SETTINGS = b'contact = "a@example.org"\nforecast = { key = "k", service = "nws" }\n[roads]\nservice = "valhalla"\ngap_s = 2.5\n'
PLACES = b'[[place]]\nname = "home"\nlat = 48.1\nlon = 8.2\nelevation_m = 300.0\n[[place]]\nname = "heath"\nlat = 53\nlon = 10\n'


def _on_disk(read: Callable[[Path], Any], name: str) -> Callable[[Path], Attempt]:
    def bound(folder: Path) -> Attempt:
        path = folder / name

        def attempt(content: bytes) -> Any:
            path.write_bytes(content)
            return read(path)

        return attempt

    return bound


def _piece(folder: Path) -> Attempt:
    store = ChunkStore(folder / "pieces", "f", "t")

    def attempt(content: bytes) -> Any:
        (folder / "pieces" / "a.npz").write_bytes(content)
        return store.load("a")

    return attempt


def _packed() -> bytes:
    stream = io.BytesIO()
    np.savez_compressed(stream, a=np.arange(50.0), b=np.ones((3, 4)))
    return stream.getvalue()


def _road_file(path: Path) -> Any:
    sites = (Site("A", 48.0, 8.0, "UTC"), Site("B", 48.2, 8.2, "UTC"))
    return road_of({"file": path.name}, sites, path.parent)


READERS: dict[str, Reader] = {
    "catalogue": (_on_disk(load_catalogue, "c.toml"), [CATALOGUE]),
    "weather": (_on_disk(read_weather, "w.csv"), [WEATHER]),
    "typical year": (_on_disk(read_year, "y.csv"), [PVGIS, TMY3, WEATHER]),
    "logger": (_on_disk(read_log, "l.csv"), LOGS),
    "logger with hints": (_on_disk(lambda path: read_log(path, LoggerHints("Europe/Berlin", "C", "day_first")), "l.csv"), LOGS),
    "profile": (_on_disk(read_profile, "p.toml"), [PROFILE]),
    "track": (_on_disk(lambda path: road_along(read_track(path.read_bytes(), path.name)), "t.gpx"), TRACKS),
    "road csv": (_on_disk(_road_file, "r.csv"), [b"lat,lon,minutes,km\n48.0,8.0,0,0\n48.1,8.1,10,14\n48.2,8.2,21,28\n"]),
    "road geojson": (
        _on_disk(_road_file, "r.geojson"),
        [b'{"type":"Feature","geometry":{"type":"LineString","coordinates":[[8.0,48.0],[8.2,48.2]]},"properties":{"minutes":[0,30]}}'],
    ),
    "settings": (_on_disk(lambda path: load_settings(path, {}), "s.toml"), [SETTINGS]),
    "places": (_on_disk(saved_places, "places.toml"), [PLACES]),
    "season piece": (_piece, [_packed()]),
}  # fmt: skip


def _paper_memory(path: Path) -> Any:
    from types import SimpleNamespace

    facts: Any = SimpleNamespace(trip_key="t", code="AB12CD")
    return paper_folder._known(path.parent, facts)


# -- what came later: people, parcels, collection days, boxes looked at, photos, the logbook --------


@cache
def _catalogue() -> Catalogue:
    return load_catalogue()


@cache
def _of_lanes() -> Catalogue:
    return load_catalogue(lane_places())


@cache
def _demo(*parts: str) -> bytes:
    return resource_path("demo", *parts).read_bytes()


def _day_with(name: str, seeds: list[bytes]) -> Reader:
    """A collection day of which one file is damaged; ``name`` without its beginning."""

    def bound(folder: Path) -> Attempt:
        for path in resource_path("demo", "day").iterdir():
            (folder / path.name).write_bytes(path.read_bytes())

        def attempt(content: bytes) -> Any:
            (folder / f"collection-day{name}").write_bytes(content)
            return resolve_day(read_day(folder / "collection-day.toml"), _catalogue(), folder)

        return attempt

    return bound, seeds


def _stamped(path: Path) -> Any:
    """An id written into a trip file, and a draft written over what lies there."""
    with_id(path)
    trip_key(path)
    return toml_text({"version": 1, "title": "T", "load": [{"count": 1}]}, path)


def _photos(folder: Path) -> Attempt:
    return lambda content: looked_at(content, "p.jpg", "Europe/Berlin")


@cache
def _pictures() -> tuple[bytes, ...]:
    """Small photos of a box's label and of a mesh, in each kind that is read, with a place and a time in them."""
    import segno
    from PIL import Image

    code = io.BytesIO()
    segno.make_qr(f"skepway:{BOX}", error="m").save(code, kind="png", scale=4)
    label = Image.open(code).convert("RGB")
    y, x = np.mgrid[:150, :200]
    mesh = Image.fromarray(np.uint8(((x % 10 > 2) & (y % 10 > 2) | (x < 25) | (x > 175)) * 200 + 20))
    exif = Image.Exif()
    exif[0x0112] = 6
    exif.get_ifd(0x8769).update({0x9003: "2027:05:15 06:00:00", 0x9011: "+02:00"})
    exif.get_ifd(0x8825).update({1: "N", 2: (48.0, 1.0, 2.0)})
    found = []
    for picture in (label, mesh):
        for kind in ("JPEG", "PNG", "WEBP"):
            stream = io.BytesIO()
            picture.save(stream, kind, exif=exif)
            found.append(stream.getvalue())
    return tuple(found)


def _pinned() -> dict[str, Any]:
    """A plan as it is pinned, on a road of two points and in two hours of weather."""
    weather = read_weather(resource_path("demo", "swarm-run-weather.csv"))
    few = {name: getattr(weather, name)[:2] for name in ("time_s", "air_c", "dew_c")}
    two = np.array([0.0, 1.0])
    road = Road(two + 48.0, two + 8.0, two, two * 130.0, two * 7200.0, (0, 1), "invented")
    return {
        "skepway_pinned": 1, "program": "1", "draft": read_draft(resource_path("demo", "swarm-run.toml")),
        "road": pinned._plain(road), "weather": {**pinned._plain(weather), **{k: v.tolist() for k, v in few.items()}},
        "departure_s": 1.8e9, "loading_place": "open_trailer", "setup": "as declared", "answer": "",
    }  # fmt: skip


@cache
def exported() -> dict[str, bytes]:
    """The parts of a small logbook's bundle by name."""
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        book = Logbook(Path(folder) / "a" / "logbook.sqlite", device="a")
        book.know_trip(KnownTrip("t", "T", "Yard", "2027-05-01", "x", ""))
        who = book.person_key("Ada")
        book.add(Entry("note", 1.8e9, "box", BOX, trip="t", who=who, body={"text": "=Öst"}))
        book.add(
            Entry(
                "reading", 1.8e9, "box", BOX, trip="t", body={"at_s": [1.8e9, 1.8e9 + 60], "temp_c": [30, 31]}
            )
        )
        book.add(Entry("claim", 1.8e9, "box", BOX, trip="t", body={"text": "x"}))
        book.add(
            Entry(
                "looked",
                1.8e9,
                "box",
                BOX,
                trip="t",
                body={"outcome": "fine", "harmed": False, "chance": 0.1},
            )
        )
        book.add(Entry("photo", 1.8e9, trip="t"), pictures=[Picture(bytes(range(256)), "jpeg", 3.0, 2, 1)])
        book.pin(_pinned(), made_s=1.0, trip="p", title="T", inputs="x")
        bundle.export(book, Path(folder) / "a.zip")
        with zipfile.ZipFile(Path(folder) / "a.zip") as packed:
            return {name: packed.read(name) for name in packed.namelist()}


def sealed(parts: dict[str, bytes]) -> bytes:
    """A bundle of these parts whose every mark is right: what a program of somebody else's would make."""
    parts = {name: content for name, content in parts.items() if name != bundle.MANIFEST}
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as packed:
        for name, content in parts.items():
            packed.writestr(name, content, zipfile.ZIP_DEFLATED)
        lines = "".join(f"{sha256(content).hexdigest()}  {name}\n" for name, content in parts.items())
        packed.writestr(bundle.MANIFEST, lines)
        packed.comment = bundle.MARK + b"0" * 64
    whole = stream.getvalue()[:-64]
    return whole + sha256(whole).hexdigest().encode()


def chained(lines: bytes) -> bytes:
    """Events whose chain is right again, as far as they still are events."""
    out, before = [], FIRST
    for line in lines.splitlines():
        try:
            row = json.loads(line)
            row["before"] = before
            row["hash"] = before = hash_of(before, [row[name] for name in COLUMNS[:-2]])
            out.append(json.dumps(row, ensure_ascii=False).encode("utf-8", "surrogatepass"))
        except (ValueError, TypeError, KeyError, RecursionError):
            out.append(line)
    return b"\n".join(out) + b"\n"


def _plans_marked(lines: bytes) -> bytes:
    try:
        row = json.loads(lines)
        row["id"] = sha256(row["snapshot"].encode("utf-8", "surrogatepass")).hexdigest()
        return json.dumps(row).encode() + b"\n"
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return lines


def looked_through(book: Logbook) -> Any:
    """What the pages and commands read of a logbook."""
    names = {person.key: person.name for person in book.people()}
    for event in book.events():
        line_of(event, "Europe/Berlin", names)
    verify.faults(book)
    retention(book)
    book.trips()
    for plan in book.plans("p"):
        unpinned(plan.snapshot, _catalogue())
    found = lessons(ridden(book))
    lessons_in_words(found)
    return chart_of(timeline(book, "t", BOX, _catalogue()))


def _bundle_taken(name: str) -> Callable[[Path], Attempt]:
    """One part of a bundle damaged; all its marks right; taken in by an empty logbook and read there."""

    def bound(folder: Path) -> Attempt:
        number = count()

        def attempt(content: bytes) -> Any:
            mend = {"json/event.jsonl": chained, "json/plan.jsonl": _plans_marked}.get(name, bytes)
            file = folder / "b.zip"
            file.write_bytes(sealed({**exported(), name: mend(content)}))
            book = Logbook(folder / f"{next(number)}" / "logbook.sqlite", device="b")
            bundle.take_in(book, file)
            return looked_through(book)

        return attempt

    return bound


def _zip_taken(folder: Path) -> Attempt:
    book = Logbook(folder / "b" / "logbook.sqlite", device="b")

    def attempt(content: bytes) -> Any:
        (folder / "b.zip").write_bytes(content)
        list(bundle.faults(folder / "b.zip"))
        return bundle.take_in(book, folder / "b.zip")

    return attempt


def _book_itself(folder: Path) -> Attempt:
    def attempt(content: bytes) -> Any:
        for left in folder.glob("logbook.sqlite*"):
            left.unlink()
        (folder / "logbook.sqlite").write_bytes(content)
        return looked_through(Logbook(folder / "logbook.sqlite", device="b"))

    return attempt


@cache
def _whole_book() -> bytes:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "a.zip").write_bytes(sealed(exported()))
        book = Logbook(Path(folder) / "b" / "logbook.sqlite", device="b")
        bundle.take_in(book, Path(folder) / "a.zip")
        return book.path.read_bytes()


PEOPLE = (
    "name;phone;language;vehicle;place;boxes\nAda Öst;+49 1;de;van;Yard;B001T B002R\nBo;;en;;;3\n".encode()
)
BOX = next(free_names(set()))
WINDOW = b'{"recent": ["/a.toml"], "units": "us", "theme": "dark", "scale": 1.25, "language": "de", "keep_days": 30}'
LEFT = b'{"draft": {"version": 1, "load": []}, "path": "/a.toml", "base_folder": null, "written_s": 1.8e9}'

LATER: dict[str, Reader] = {
    "people": (_on_disk(read_people, "p.csv"), [PEOPLE]),
    "lane": (_on_disk(lambda path: load_lane(path, _of_lanes()), "l.toml"), [_demo("lane", "parcel-spring.toml")]),
    "day": _day_with(".toml", [_demo("day", "collection-day.toml")]),
    "day's buyers": _day_with("-buyers.csv", [_demo("day", "collection-day-buyers.csv")]),
    "day's boxes": _day_with("-boxes.csv", [_demo("day", "collection-day-boxes.csv")]),
    "boxes looked at": (lambda _: lambda content: found_in(content.decode("utf-8", "surrogateescape").split()), [b"floor=40 straps=ok screen=no strength=4.5% water=- stores=1"]),
    "photo": (_photos, lambda: list(_pictures())),
    "trip to be marked": (_on_disk(_stamped, "t.toml"), TRIPS),
    "trip's draft": (_on_disk(read_draft, "t.toml"), TRIPS),
    "window": (_on_disk(Preferences.load, "window.json"), [WINDOW]),
    "unsaved trip": (_on_disk(recovery._read, "open-1.json"), [LEFT]),
    "memory of the papers": (_on_disk(_paper_memory, paper_folder.MEMORY), [b'{"trip": "t", "code": "AB12CE", "replaces": "AB12CF", "sequence": 3}']),
    "logbook's zip": (_zip_taken, lambda: [sealed(exported())]),
    "logbook itself": (_book_itself, lambda: [_whole_book()]),
    **{f"logbook's {name}": (_bundle_taken(name), lambda name=name: [exported()[name]])
       for name in (bundle.ABOUT, *(f"json/{table}.jsonl" for table in bundle.TABLES))},
}  # fmt: skip
READERS |= LATER

COSTLY = {"catalogue", "trip to be marked", "photo", "day", "day's buyers", "day's boxes", "lane"} | {
    name for name in READERS if name.startswith("logbook")
}
"""Readers that take a good deal longer than a thousandth of a second: laid over all our tables, checked whole, written to
disk, looked at pixel by pixel. Fewer of their files are tried."""


FORGIVING = {"window"}
"""Readers of what is only comfort: where it is damaged, the ordinary stands in for it."""


def reader(kind: str) -> tuple[Callable[[Path], Attempt], list[bytes]]:
    """A reader bound to a folder, and whole files for it."""
    bind, seeds = READERS[kind]
    return bind, seeds() if callable(seeds) else seeds
