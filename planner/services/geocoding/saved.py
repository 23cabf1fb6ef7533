"""The user's own places by name ("home yard"), in one small TOML file of the configuration folder."""

from __future__ import annotations

from pathlib import Path

import msgspec
import tomlkit

from planner.errors import Fault, InputError, StorageError, reason_of
from planner.files import closed, holding, made_private, write_text
from planner.folders import config_dir
from planner.model.records import Site
from planner.reading import read_bounded, reading_file, toml
from planner.words import say
from planner.zones import zone_at

MOST_PLACES = 5000


class _Row(msgspec.Struct, forbid_unknown_fields=True, omit_defaults=True):
    name: str
    lat: float
    lon: float
    elevation_m: float | None = None


class _File(msgspec.Struct, forbid_unknown_fields=True):
    place: list[_Row] = []


def places_file() -> Path:
    """Where the saved places lie."""
    return config_dir() / "places.toml"


def saved_places(path: Path | None = None) -> tuple[Site, ...]:
    """Every saved place in alphabetical order; none where the file does not exist.

    Raises InputError for a file that is not as written here, StorageError where it cannot be read.
    """
    path = places_file() if path is None else path
    with reading_file(str(path), "the saved places"):
        return _read(path)


def _read(path: Path) -> tuple[Site, ...]:
    closed(path)
    try:
        rows = msgspec.convert(toml(read_bounded(path).decode("utf-8-sig")), _File).place
    except FileNotFoundError:
        return ()
    except OSError as fault:
        raise StorageError(
            say("services.saved_places_cannot", path=str(path), strerror=reason_of(fault))
        ) from fault
    except (ValueError, RecursionError) as fault:
        remedy = "Correct the file, or delete it to begin anew"
        raise InputError(
            [Fault("places", "", say("services.written_skepway", fault=str(fault)), remedy)], str(path)
        ) from fault
    if len(rows) > MOST_PLACES:
        problem = say("services.too_many_places", count=len(rows), most_places=str(MOST_PLACES))
        raise InputError([Fault("places", "", problem, "Take out those you no longer need")], str(path))
    for row in rows:
        _check(row.name, row.lat, row.lon)
    sites = [Site(row.name, row.lat, row.lon, zone_at(row.lat, row.lon), row.elevation_m) for row in rows]
    return tuple(sorted(sites, key=lambda site: site.name.casefold()))


def saved_place(name: str, path: Path | None = None) -> Site | None:
    """The saved place of this name, whatever its case; None where there is none."""
    wanted = name.strip().casefold()
    return next((site for site in saved_places(path) if site.name.casefold() == wanted), None)


def save_place(site: Site, path: Path | None = None) -> None:
    """Keep a place under its name; a place of the same name is replaced, those another window saves stay."""
    _check(site.name, site.lat_deg, site.lon_deg)
    path = places_file() if path is None else path
    with holding(made_private(path.parent)):
        others = [kept for kept in saved_places(path) if kept.name.casefold() != site.name.casefold()]
        _write([*others, site], path)


def forget_place(name: str, path: Path | None = None) -> bool:
    """Drop the place of this name; False where there is none."""
    path = places_file() if path is None else path
    with holding(made_private(path.parent)):
        sites = saved_places(path)
        left = [site for site in sites if site.name.casefold() != name.casefold()]
        if len(left) == len(sites):
            return False
        _write(left, path)
    return True


def _check(name: str, lat_deg: float, lon_deg: float) -> None:
    if not name.strip():
        raise InputError([Fault("name", name, "a saved place needs a name", "Give it one")], "saved places")
    if not (abs(lat_deg) <= 90.0 and abs(lon_deg) <= 180.0):
        problem = "this place is not on the earth"
        raise InputError(
            [Fault(name, f"{lat_deg}, {lon_deg}", problem, "Correct its position")], "saved places"
        )


def _write(sites: list[Site], path: Path) -> None:
    rows = tomlkit.aot()
    for site in sites:
        row = tomlkit.table()
        row.update({"name": site.name, "lat": site.lat_deg, "lon": site.lon_deg})
        if site.elevation_m is not None:
            row["elevation_m"] = site.elevation_m
        rows.append(row)
    document = tomlkit.document()
    document["place"] = rows
    write_text(path, tomlkit.dumps(document), private=True)
