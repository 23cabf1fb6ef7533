"""The lane file: a parcel's way as TOML, checked in full; every fault names the field and a remedy."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import timedelta
from functools import cache
from pathlib import Path

from planner.errors import Fault
from planner.model.catalogue import Catalogue
from planner.model.records import Tolerated
from planner.reading import reading_file
from planner.store.clocks import day_of, day_seconds
from planner.store.documents import Document, read_toml, write_text
from planner.store.lanerecords import WEEKDAYS, CarrierWord, LaneStage, ParcelLane, Service
from planner.store.lanerules import lane_rules
from planner.store.roadfile import file_beside
from planner.store.schema import did_you_mean, schema_faults, shown
from planner.store.tomltext import toml_text
from planner.store.tripparts import Calls, FaultList, group_of, waypoints_of, weather_of
from planner.words import say

VERSION = 1
SCHEMA = "lane.schema.json"
USUAL_SETUPS = ("as_declared", "roof_screen")
MOST_S = 30 * 86_400.0
NEAR_ONE = 1e-6


def load_lane(path: Path, catalogue: Catalogue) -> ParcelLane:
    """A lane file with the weather beside it. Raises InputError with every fault, StorageError."""
    return resolve_lane(read_lane(path), catalogue, path.parent)


def read_lane(path: Path) -> Document:
    """The draft in a lane file. Raises InputError or StorageError."""
    return read_toml(path, "a lane file")


def write_lane(draft: Document, path: Path) -> None:
    """Replace a lane file in one step. Raises StorageError; the old file is then untouched."""
    write_text(path, toml_text(draft, path))


def resolve_lane(draft: Document, catalogue: Catalogue, base_folder: Path | None = None) -> ParcelLane:
    """The lane a draft states. Raises InputError with every fault."""
    with reading_file("lane", "a lane file"):
        found = FaultList(schema_faults(draft, SCHEMA))
        broken = {fault.field.split(".")[0].split("[")[0] for fault in found}
        stages: tuple[LaneStage, ...] = ()
        if "" in broken:
            found.raise_any()
        if "stages" not in broken:
            with found.caught():
                stages = _stages(draft["stages"], catalogue)
        if "country" not in broken:
            found += list(_country_faults(draft))
        found.raise_any()
        return _lane(draft, stages, catalogue, base_folder)


def _lane(
    draft: Document, stages: tuple[LaneStage, ...], catalogue: Catalogue, base_folder: Path | None
) -> ParcelLane:
    calls: Calls = waypoints_of(draft)
    found, service, carrier, tolerance = (
        FaultList(),
        draft["service"],
        draft.get("carrier", {}),
        draft.get("tolerance", {}),
    )
    asked_on = None
    with found.caught():
        week = day_of(draft["week"], "week")
    with found.caught():
        asked_on = day_of(carrier["asked_on"], "carrier.asked_on") if "asked_on" in carrier else None
    with found.caught():
        group = group_of({**draft["box"], "label": draft["title"][:80], "count": 1}, "box", calls, catalogue)
    if carrier.get("accepts_live_bees") and "asked_on" not in carrier:
        found.append(Fault("carrier.asked_on", "", say("parcel.no_date"), say("parcel.no_date_remedy")))
    weather = year = None
    with found.caught():
        weather = weather_of(draft["weather"], calls, base_folder) if "weather" in draft else None
    with found.caught():
        if "year" in draft and base_folder is not None:
            year = file_beside(draft["year"], base_folder, "year")
    if "weather" not in draft and "year" not in draft:
        found.append(Fault("weather", "", say("parcel.no_weather"), say("parcel.no_weather_remedy")))
    found.raise_any()
    days = service.get("weekdays", list(WEEKDAYS[:5]))
    return ParcelLane(
        title=draft["title"],
        origin=calls.origin,
        destination=calls.destination,
        country=draft["country"],
        region=draft.get("region", ""),
        monday=week - timedelta(days=week.weekday()),
        service=Service(
            transit_days=int(service["transit_days"]),
            saturday=service.get("saturday", False),
            weekdays=tuple(sorted(WEEKDAYS.index(day) for day in days)),
            post_s=day_seconds(service["post"]),
            late_of_100=service.get("late_of_100"),
            delivery_days=service.get("delivery_days"),
        ),
        carrier=CarrierWord(carrier.get("accepts_live_bees", False), asked_on),
        stages=stages,
        group=group,
        boxes=int(draft.get("boxes", 1)),
        setups=tuple(draft.get("setups", USUAL_SETUPS)),
        weather=weather,
        year=year,
        tolerance=Tolerated(
            *(float(tolerance.get(key, math.nan)) for key in ("harm_of_100", "boxes_of_100"))
        ),
        invented=draft.get("invented", False),
    )


def _stages(tables: list[Document], catalogue: Catalogue) -> tuple[LaneStage, ...]:
    """The way; 0 h and more than 30 days in all are slips, and the trunk comes once."""
    found, stages = FaultList(), []
    for at, table in enumerate(tables):
        low, usual, high = (float(minutes) * 60.0 for minutes in table["minutes"])
        if not low <= usual <= high:
            problem, remedy = say("parcel.order"), say("parcel.order_remedy")
            found.append(Fault(f"stages[{at}].minutes", shown(table["minutes"]), problem, remedy))
        places = tuple(table.get("places", dict(lane_rules().places[table["kind"]])).items())
        found += list(_place_faults(places, f"stages[{at}].places", catalogue))
        stages.append(LaneStage(table["kind"], (low, usual, high), places))
    trunks = sum(stage.kind == "trunk" for stage in stages)
    if trunks != 1:
        found.append(Fault("stages", "", say("parcel.trunks", count=trunks), say("parcel.trunks_remedy")))
    whole_s = sum(stage.lasts_s[1] for stage in stages)
    most_s = sum(stage.lasts_s[2] for stage in stages)
    if whole_s <= 0.0 or any(s.kind == "trunk" and s.lasts_s[1] <= 0.0 for s in stages):
        found.append(Fault("stages", "", say("parcel.no_time"), say("parcel.no_time_remedy")))
    elif most_s >= MOST_S:
        found.append(Fault("stages", "", say("parcel.too_long"), say("parcel.too_long_remedy")))
    found.raise_any()
    return tuple(stages)


def _place_faults(places: tuple[tuple[str, float], ...], field: str, catalogue: Catalogue) -> Iterator[Fault]:
    for name, _ in places:
        if name not in catalogue.loading_places:
            yield Fault(
                f"{field}.{name}", name, say("parcel.no_place"), did_you_mean(name, catalogue.loading_places)
            )
    total = math.fsum(weight for _, weight in places)
    if abs(total - 1.0) > NEAR_ONE:
        yield Fault(field, f"{total:g}", say("parcel.weights"), say("parcel.weights_remedy"))


def _country_faults(draft: Document) -> Iterator[Fault]:
    """Countries and regions whose holidays are not known."""
    known = countries()
    country = draft["country"]
    if country not in known:
        yield Fault("country", country, say("parcel.no_country"), did_you_mean(country, known))
    elif "region" in draft and draft["region"] not in known[country]:
        regions = known[country]
        remedy = did_you_mean(draft["region"], regions) if regions else say("parcel.no_regions_remedy")
        yield Fault("region", draft["region"], say("parcel.no_region"), remedy)


@cache
def countries() -> dict[str, list[str]]:
    """Countries with known holidays and their regions."""
    import holidays  # late: it is heavy, and only lanes need it

    known = holidays.list_supported_countries()
    return {code: list(regions) for code, regions in known.items() if len(code) == 2}
