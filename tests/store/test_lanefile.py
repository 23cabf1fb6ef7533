"""The lane file: what it means, and every bad input in words that name the field and a remedy."""

from __future__ import annotations

from typing import Any

import pytest

from planner.bundled import resource_path
from planner.errors import InputError
from planner.store.catalogue import load_catalogue
from planner.store.lanefile import load_lane, read_lane, resolve_lane
from planner.store.lanerules import lane_places, lane_rules

DEMO = resource_path("demo", "lane", "parcel-spring.toml")


def catalogue() -> Any:
    return load_catalogue(lane_places())


def test_the_demo_lanes_are_read() -> None:
    for name in ("parcel-spring.toml", "parcel-summer.toml"):
        lane = load_lane(resource_path("demo", "lane", name), catalogue())
        assert lane.monday.weekday() == 0
        assert [stage.kind for stage in lane.stages].count("trunk") == 1
        assert lane.carrier.accepts
        assert lane.carrier.asked_on is not None


def test_where_a_stage_names_no_place_the_rules_do() -> None:
    lane = load_lane(DEMO, catalogue())
    depot = next(stage for stage in lane.stages if stage.kind == "depot")
    assert depot.places == lane_rules().places["depot"]


BAD: dict[str, tuple[Any, str, str]] = {
    "no stages": (lambda d: d.update(stages=[]), "stages", "at least 1"),
    "stages forgotten": (lambda d: d.pop("stages"), "stages", "missing"),
    "of 0 h": (lambda d: [s.update(minutes=[0, 0, 0]) for s in d["stages"]], "stages", "takes no time"),
    "of 30 days": (
        lambda d: d["stages"][2].update(minutes=[60, 120, 43200]),
        "stages",
        "30 days or more",
    ),
    "an unknown country": (lambda d: d.update(country="QQ"), "country", "not known"),
    "a region of another country": (lambda d: d.update(region="TX"), "region", "no such region"),
    "two trunks": (
        lambda d: d["stages"].append({"kind": "trunk", "minutes": [1, 2, 3]}),
        "stages",
        "2 trunks",
    ),
    "minutes out of order": (
        lambda d: d["stages"][0].update(minutes=[60, 30, 90]),
        "stages[0].minutes",
        "order",
    ),
    "an unknown place": (
        lambda d: d["stages"][2].update(places={"cellar": 1.0}),
        "stages[2].places.cellar",
        "no such place",
    ),
    "weights beyond 1": (
        lambda d: d["stages"][2].update(places={"lane_hall": 0.7, "ground_sun": 0.7}),
        "stages[2].places",
        "add up to 1",
    ),
    "a word without a date": (lambda d: d["carrier"].pop("asked_on"), "carrier.asked_on", "no date"),
    "no weather": (lambda d: d.pop("weather"), "weather", "no weather"),
    "transit of 0 days": (lambda d: d["service"].update(transit_days=0), "service.transit_days", "below 1"),
    "posting on Sunday": (
        lambda d: d["service"].update(weekdays=["sun"]),
        "service.weekdays[0]",
        "not known",
    ),
    "a day no calendar has": (lambda d: d.update(week="2027-13-01"), "week", "no such day"),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_input_names_field_and_remedy(name: str) -> None:
    change, field, problem = BAD[name]
    draft = read_lane(DEMO)
    change(draft)
    with pytest.raises(InputError) as caught:
        resolve_lane(draft, catalogue())
    found = [(fault.field, fault.problem, fault.remedy) for fault in caught.value.faults]
    assert any(
        f == field and problem in p and (r.endswith("...") or r[-1:] not in ".!") for f, p, r in found
    ), found
