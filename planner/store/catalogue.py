"""The catalogues: comb sizes, box types, vehicles, loading places and model parameters, the user's own rows on top."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

from planner.bundled import resource_path
from planner.errors import Fault, InputError
from planner.model.catalogue import Catalogue
from planner.model.parameters import NAMES, ParameterRow, ParameterTable
from planner.model.records import BOARD, BoxType, FrameKind, LoadingPlace, LoadingZone, Vehicle
from planner.reading import reading_file
from planner.store.documents import Document, read_toml
from planner.store.posterior import bundled_posterior
from planner.store.schema import deprecated, did_you_mean, schema_faults, shown
from planner.words import say

SECTIONS = ("frame_kinds", "box_types", "vehicles", "loading_places", "parameters")

_SCHEMA = "catalogue.schema.json"
_WHOLE_NUMBERS = frozenset({"effort"})

Row = TypeVar("Row", FrameKind, BoxType, LoadingZone, Vehicle, LoadingPlace, ParameterRow)


def load_catalogue(*user_files: Path) -> Catalogue:
    """The bundled catalogues with the rows of the user's own files added or laid over them, in order.

    A user's file holds any of the tables ``frame_kinds``, ``box_types``, ``vehicles``, ``loading_places``
    and ``parameters``; a row of a known name changes only the figures it gives. A profile that was fitted under
    another table of parameters is left out, and a remark says so.
    Raises InputError with every fault of every file, StorageError when a file cannot be read.
    """
    document, remarks = bundled_rows(), []
    for path in user_files:
        with reading_file(path.name, "a catalogue file"):
            own = _in_todays_words(read_toml(path, "a catalogue file"))
            if is_stale(own):
                remarks.append(STALE.format(name=path.name))
                continue
            document = _with_rows(document, own, path)
    return replace(_catalogue(document), remarks=tuple(remarks))


STALE = (
    "The profile {name} was fitted under another table of parameters and is not used. Fit its log again: "
    "skepway fit TRIP LOG.csv --profile {name}."
)


def is_stale(document: Document) -> bool:
    """Whether a catalogue file is a profile of another table of parameters, or of one that nobody noted."""
    head = document.get("profile")
    return isinstance(head, dict) and head.get("table") != table_mark()


@cache
def table_mark() -> str:
    """A mark of the bundled parameters, the same as long as no value or range changes."""
    rows = {name: [row["value"], row["low"], row["high"]] for name, row in _bundled("parameters").items()}
    text = json.dumps(rows, sort_keys=True)
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:16]


def _with_rows(document: Document, own: Document, path: Path) -> Document:
    merged = _laid_over(document, own)
    if faults := [*schema_faults(merged, _SCHEMA)] or [*_row_faults(merged)]:
        raise InputError(faults, path.name)
    return merged


def bundled_rows() -> Document:
    """The bundled catalogues as plain rows: section, row name, figure."""
    return {section: _bundled(section) for section in SECTIONS}


@cache
def bundled_vehicles() -> tuple[str, ...]:
    """Ids of the bundled vehicles that drive; for help texts, nothing but their own file is read."""
    return tuple(name for name, row in _rows(Vehicle, _bundled("vehicles")).items() if row.drives)


def _bundled(section: str) -> Document:
    return read_toml(resource_path(f"{section}.toml"), "a catalogue")


OLD_PARAMETERS = {
    "temper_reach": "agitation_reach",
    "bees_chill_c": "mantle_chill_c",
    "bees_cold_c": "coma_core_c",
}
OLD_KEYS = {"temper": "agitation"}
"""Names of parameter rows and of their keys in files written before they were renamed."""


def _in_todays_words(own: Document) -> Document:
    """A user's file with the names of today, whatever edition it was written for."""
    rows = own.get("parameters")
    if not isinstance(rows, dict):
        return own
    renamed = {
        OLD_PARAMETERS.get(name, name): {OLD_KEYS.get(key, key): figure for key, figure in row.items()}
        if isinstance(row, dict)
        else row
        for name, row in rows.items()
    }
    return {**own, "parameters": renamed}


def _laid_over(document: Document, own: Document) -> Document:
    """Tables of ``own`` added to or merged into ``document``; wrong shapes pass, for the schema to name."""
    both = {
        name: _laid_over(document[name], value)
        for name, value in own.items()
        if isinstance(value, dict) and isinstance(document.get(name), dict)
    }
    return {**document, **own, **both}


def _row_faults(document: Document) -> Iterator[Fault]:
    """What no schema can say: references, orders and the complete list of parameters."""
    for name, row in document["box_types"].items():
        yield from _box_faults(f"box_types.{name}", row, document["frame_kinds"])
    for name, row in document["vehicles"].items():
        yield from _vehicle_faults(f"vehicles.{name}", row)
    for name, row in document["loading_places"].items():
        yield from _zone_faults(f"loading_places.{name}", row, document["vehicles"])
        yield from _place_faults(f"loading_places.{name}", row)
    for name, row in document["parameters"].items():
        yield from _parameter_faults(name, row)


def _box_faults(field: str, row: Document, frame_kinds: Document) -> Iterator[Fault]:
    kind = row["frame_kind"]
    if kind not in frame_kinds:
        yield Fault(f"{field}.frame_kind", kind, "no such frame kind", did_you_mean(kind, frame_kinds))
    if row["vent_height_m"] > row["inside_height_m"]:
        problem, remedy = "the vents lie above the box", "Enter at most inside_height_m"
        yield Fault(f"{field}.vent_height_m", shown(row["vent_height_m"]), problem, remedy)
    usual, low, high = row["leak_l_s"]
    if not low <= usual <= high:
        problem, remedy = "the usual leak is outside its range", "Write [usual, low, high]"
        yield Fault(f"{field}.leak_l_s", shown(row["leak_l_s"]), problem, remedy)


def _vehicle_faults(field: str, row: Document) -> Iterator[Fault]:
    for name, zone in row["zones"].items():
        left, top, width, height = zone["rectangle"]
        if min(width, height) <= 0 or left + width > BOARD[0] or top + height > BOARD[1]:
            problem, remedy = "the rectangle does not lie on the board", "Keep it within 200 across, 74 down"
            yield Fault(f"{field}.zones.{name}.rectangle", shown(zone["rectangle"]), problem, remedy)
    for key in ("outline", "glass"):
        for at, line in enumerate(row.get(key, [])):
            if len(line[0]) != 2 or any(len(point) not in (2, 6) for point in line):
                problem, remedy = "a line starts at a point and goes on by points or curves", LINE_REMEDY
                yield Fault(f"{field}.{key}[{at}]", shown(line), problem, remedy)


LINE_REMEDY = "Write [x, y] first, then [x, y] or [x, y, x, y, x, y]"


def _zone_faults(field: str, row: Document, vehicles: Document) -> Iterator[Fault]:
    vehicle, zone = row["vehicle"], row.get("zone", "")
    if vehicle not in vehicles:
        remedy = say("files.describe_vehicles_name", vehicle=str(vehicle), names=", ".join(vehicles))
        yield Fault(f"{field}.vehicle", vehicle, "no such vehicle", remedy)
        return
    zones = vehicles[vehicle]["zones"]
    if zone and zone not in zones:
        problem = say("files.vehicle_has_no", vehicle=str(vehicle))
        yield Fault(f"{field}.zone", zone, problem, say("files.choose_one_of", names=", ".join(zones)))
    elif not zone and len(zones) > 1:
        problem = say("files.vehicle_has_several", vehicle=str(vehicle))
        yield Fault(f"{field}.zone", "", problem, say("files.choose_one_of", names=", ".join(zones)))


def _place_faults(field: str, row: Document) -> Iterator[Fault]:
    for state in ("parked", "moving"):
        least, most = row.get(f"ach_{state}_min", 0.0), row.get(f"ach_{state}_max", 1e4)
        if least > most:
            problem, remedy = "the least is above the most", say("files.lower_or_raise", state=str(state))
            yield Fault(f"{field}.ach_{state}_min", shown(least), problem, remedy)
    if row.get("volume_m3", 0.0) > 0 and min(row.get("ua_parked_w_k", 0), row.get("ua_moving_w_k", 0)) <= 0:
        problem = "an enclosed place must lose heat through its skin"
        yield Fault(f"{field}.ua_parked_w_k", "", problem, "Enter ua_parked_w_k and ua_moving_w_k above 0")
    if row.get("sun_glass_m2", 0.0) > row.get("sun_area_m2", 0.0):
        problem, remedy = "more sun through glass than in all", "Enter at most sun_area_m2"
        yield Fault(f"{field}.sun_glass_m2", shown(row["sun_glass_m2"]), problem, remedy)


def _parameter_faults(name: str, row: Document) -> Iterator[Fault]:
    field = f"parameters.{name}"
    if name not in NAMES:
        yield Fault(field, "", "the model has no such number", did_you_mean(name, NAMES))
    if not row["low"] <= row["value"] <= row["high"]:
        problem, remedy = "the value is outside its range", "Keep low <= value <= high"
        yield Fault(f"{field}.value", shown(row["value"]), problem, remedy)
    if row.get("log", False) and row["low"] <= 0:
        problem, remedy = "a geometric range must lie above 0", "Raise low, or take log out"
        yield Fault(f"{field}.low", shown(row["low"]), problem, remedy)


def _catalogue(document: Document) -> Catalogue:
    return Catalogue(
        frame_kinds=_rows(FrameKind, document["frame_kinds"]),
        box_types=_rows(BoxType, document["box_types"]),
        vehicles=_rows(Vehicle, document["vehicles"]),
        loading_places=_rows(LoadingPlace, _zoned(document)),
        parameters=_judged(ParameterTable(_rows(ParameterRow, document["parameters"]))),
    )


def _judged(table: ParameterTable) -> ParameterTable:
    """The table with what the trade's judgement leaves of its rows; one that a user's file changes stays its own."""
    posterior = bundled_posterior()
    return replace(table, narrowed=posterior.believed_of(table)) if posterior else table


def _zoned(document: Document) -> Document:
    """The loading places with their zone, which need not be said where the vehicle has one only."""
    vehicles = document["vehicles"]
    return {
        name: {"zone": next(iter(vehicles[row["vehicle"]]["zones"])), **row}
        for name, row in document["loading_places"].items()
    }


def _rows(kind: type[Row], rows: Document) -> Mapping[str, Row]:
    return {name: kind(name=name, **_figures(row)) for name, row in rows.items()}


def _figures(row: Document) -> Document:
    """A row without the figures that nothing reads any more."""
    dropped = deprecated(_SCHEMA)
    return {key: _value(key, figure) for key, figure in row.items() if key not in dropped}


def _value(key: str, figure: Any) -> Any:
    """A figure as the records hold it: numbers as floats, lists as tuples, zones as records."""
    if key == "zones":
        return tuple(_rows(LoadingZone, figure).values())
    if isinstance(figure, list):
        return tuple(_value(key, inner) for inner in figure)
    if isinstance(figure, int) and not isinstance(figure, bool) and key not in _WHOLE_NUMBERS:
        return float(figure)
    return figure
