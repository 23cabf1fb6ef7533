"""What a plan is given: whose road, whose weather, for which hours; gaps of an ensemble; days entered by hand."""

from __future__ import annotations

from datetime import date
from typing import Any

import msgspec
import numpy as np
import pytest

from planner.app.plan import inputs
from planner.app.plan.inputs import (
    SKY_CLOUD_SHARE,
    Ready,
    Sources,
    ensemble_members,
    ready,
    road_vehicle,
    time_span,
)
from planner.errors import InputError
from planner.model.records import Closing, Road, Weather
from planner.services.http import Client
from planner.services.settings import Settings
from planner.store.tripfile import TripFile
from planner.store.tripparts import OwnDay, WeatherRequest
from tests.model.scenarios import DESTINATION, HOUR_S, NUC, ORIGIN, SPRING, halt, replace, road, steady, trip

LEAVE_S = SPRING + 34.0 * HOUR_S  # Tuesday 30 March, 12:00 in Rome


def file_of(
    way: Road | None = None, request: WeatherRequest | None = None, remarks: tuple[str, ...] = (), **more: Any
) -> TripFile:
    """A trip file as it was read."""
    asked = request or WeatherRequest("embedded", steady(15.0))
    return TripFile(trip(NUC, "open_trailer", leave_s=LEAVE_S, **more), way, asked, remarks)


@pytest.fixture
def sources() -> Sources:
    """Sources that are passed on and never asked."""
    return Sources(client=object.__new__(Client), settings=Settings())


@pytest.fixture
def outside(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """What the outside was asked for; three roads of 1, 2 and 3 hours and a steady 20 C come back."""
    asked: dict[str, Any] = {}

    def find_roads(client: Client, settings: Settings, asking: Any) -> tuple[Road, ...]:
        asked["road"] = asking
        return road(1.0), road(2.0), road(3.0)

    def find_weather(
        client: Client, settings: Settings, way: Road, first_s: float, last_s: float, *, now_s: float
    ) -> Weather:
        asked["weather"] = (settings.forecast.service, way.driving_s, first_s, last_s, now_s)
        return steady(20.0)

    monkeypatch.setattr(inputs, "find_roads", find_roads)
    monkeypatch.setattr(inputs, "find_weather", find_weather)
    return asked


# -- the road ------------------------------------------------------------------------------------


def test_what_the_file_holds_is_taken_and_nothing_asked() -> None:
    way = road(1.0)
    found = file_of(way, remarks=("a remark",))
    given = ready(found)
    assert given == Ready(found.trip, way, found.weather.weather, ("a remark",), (way,))  # type: ignore[arg-type]


def test_a_missing_road_without_sources_is_a_fault() -> None:
    with pytest.raises(InputError) as caught:
        ready(file_of())
    assert [fault.field for fault in caught.value.faults] == ["road"]


@pytest.mark.parametrize(("index", "hours"), [(0, [1, 2, 3]), (1, [2, 1, 3]), (2, [3, 1, 2]), (7, [3, 1, 2])])
def test_the_road_chosen_comes_first_and_the_others_stay(
    sources: Sources, outside: dict[str, Any], index: int, hours: list[int]
) -> None:
    """A number beyond those offered takes the last."""
    given = ready(file_of(), sources, road_index=index)
    assert [way.driving_s / HOUR_S for way in given.roads] == hours
    assert given.road is given.roads[0]


def test_a_road_is_asked_for_this_vehicle_at_the_local_hour(
    sources: Sources, outside: dict[str, Any]
) -> None:
    ready(file_of(road_vehicle="towing"), sources)
    asked = outside["road"]
    assert asked.sites == (ORIGIN, DESTINATION)
    assert (asked.vehicle.name, asked.depart_local, asked.alternatives) == ("towing", "2027-03-30T12:00", 2)


def test_other_roads_are_offered_only_without_stops(sources: Sources, outside: dict[str, Any]) -> None:
    """With a stop the services offer none."""
    ready(file_of(stops=[halt(30)]), sources)
    assert outside["road"].alternatives == 0


@pytest.mark.parametrize(
    ("vehicle", "road_name"),
    [
        ("towing", "towing"),
        ("truck", "truck"),
        ("van", "van"),
        ("pickup", "pickup"),
        ("car", "car"),
    ],
)
def test_a_road_service_sees_the_vehicle_as(vehicle: str, road_name: str) -> None:
    assert road_vehicle(trip(NUC, "open_trailer", road_vehicle=vehicle)).name == road_name


# -- the weather ---------------------------------------------------------------------------------


def test_missing_weather_without_sources_is_a_fault() -> None:
    with pytest.raises(InputError) as caught:
        ready(file_of(road(1.0), WeatherRequest("open_meteo")))
    assert [(fault.field, fault.value) for fault in caught.value.faults] == [("weather.source", "open_meteo")]


@pytest.mark.parametrize(
    ("source", "service"),
    [("open_meteo", "open-meteo"), ("met_norway", "met-norway"), ("nws", "nws")],
)
def test_the_service_is_the_one_the_trip_names(
    sources: Sources, outside: dict[str, Any], source: str, service: str
) -> None:
    """The user's usual service is the Norwegian one; the trip names another."""
    usual = msgspec.structs.replace(sources.settings.forecast, service="met-norway")
    mine = Sources(sources.client, msgspec.structs.replace(sources.settings, forecast=usual))
    given = ready(file_of(road(1.0), WeatherRequest(source)), mine, now_s=5.0)
    asked = outside["weather"]
    assert (asked[0], asked[4]) == (service, 5.0)
    assert given.weather.air_c[0, 0] == 20.0
    assert usual.service == "met-norway"


def test_weather_is_asked_from_the_first_closing_to_the_last_opening(
    sources: Sources, outside: dict[str, Any]
) -> None:
    """Noon and two o'clock, an hour and a half of driving; lifted half an hour before, opened as long after."""
    ready(file_of(road(1.5), WeatherRequest("nws"), last_s=LEAVE_S + 2.0 * HOUR_S), sources)
    assert outside["weather"][1:4] == (1.5 * HOUR_S, LEAVE_S - 0.5 * HOUR_S, LEAVE_S + 4.0 * HOUR_S)


def test_the_span_begins_with_the_evening_before() -> None:
    """Shut at 20:00 by the clock on the eve of a departure at noon; the later departure ends it."""
    asked = trip(
        (NUC, replace(NUC, closing=Closing("clock", clock_s=20.0 * HOUR_S))),
        "open_trailer",
        leave_s=LEAVE_S,
        last_s=LEAVE_S + HOUR_S,
        step_s=1800.0,
    )
    assert time_span(asked, road(1.0)) == (LEAVE_S - 16.0 * HOUR_S, LEAVE_S + 2.5 * HOUR_S)


# -- days entered by hand --------------------------------------------------------------------------


def test_own_days_lie_at_the_kilometre_of_the_nearest_waypoint() -> None:
    """Three days at the origin and three near the halt half way; not one word of them is lost."""
    lay_by = replace(halt(30).site, lat_deg=46.3, lon_deg=8.1)
    days = [date(2027, 3, day) for day in (29, 30, 31)]
    figures = (
        OwnDay(ORIGIN, days[0], 4.0, 14.0, 3.0, float("nan"), "clear", 3.0),
        OwnDay(lay_by, days[0], 2.0, 10.0, float("nan"), 0.6, "overcast", 1.0),
    )
    request = WeatherRequest("own", days=tuple(replace(each, day=day) for day in days for each in figures))
    way = road(3.0, waypoints=3)
    given = ready(file_of(way, request, stops=[halt(30)]))
    sky = given.weather
    assert sky.kind == "own"
    assert sky.km.tolist() == [0.0, way.km[way.waypoint_vertex[1]]]
    within = slice(12, 36)
    assert sky.air_c[within, 0].max() == pytest.approx(14.0, abs=0.3)
    assert sky.air_c[within, 0].min() == pytest.approx(4.0, abs=0.3)
    assert sky.air_c[within, 1].max() == pytest.approx(10.0, abs=0.3)
    assert sky.dew_c[within, 0] == pytest.approx(np.full(24, 3.0))
    assert np.hypot(sky.wind_east_ms, sky.wind_north_ms)[within] == pytest.approx(
        np.tile([3.0, 1.0], (24, 1))
    )
    assert sky.cloud_share[within] == pytest.approx(np.tile([0.05, 1.0], (24, 1)))
    assert SKY_CLOUD_SHARE["partly_cloudy"] == 0.5


def test_a_day_nearest_the_destination_lies_there() -> None:
    """West or east of it counts like north or south."""
    for lat, lon in ((47.4, 8.0), (47.5, 8.9), (47.5, 7.1), (48.0, 8.0)):
        near = replace(DESTINATION, lat_deg=lat, lon_deg=lon)
        days = tuple(
            OwnDay(near, date(2027, 3, day), 4.0, 14.0, 3.0, float("nan"), "clear", 3.0)
            for day in (29, 30, 31)
        )
        given = ready(file_of(road(3.0), WeatherRequest("own", days=days)))
        assert given.weather.km.tolist() == [240.0]


# -- ensembles -------------------------------------------------------------------------------------


def test_only_a_forecast_has_an_ensemble(sources: Sources) -> None:
    found = file_of(road(1.0))
    with pytest.raises(InputError, match="not a forecast"):
        ensemble_members(ready(found), sources)


def test_gaps_of_members_are_filled_from_the_usual_forecast(
    sources: Sources, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The usual forecast at 0 and 100 km every hour, the member at 25 km two hours on: a quarter of the way.

    Dew points of 0 at the near end and 8 at the far one, rising by one an hour: 4 after two hours; what the member
    brings stays its own, and what no ensemble offers beyond the usual hours stays unknown.
    """
    usual = steady(15.0)
    two = {
        f: np.repeat(getattr(usual, f), 2, axis=1)
        for f in usual.__dataclass_fields__
        if getattr(getattr(usual, f), "ndim", 0) == 2
    }
    hours = np.arange(73.0)
    two["dew_c"] = np.stack((hours, hours + 8.0), axis=1)
    usual = replace(
        usual,
        **two,
        km=np.array([0.0, 100.0]),
        lat_deg=np.array([45.0, 46.0]),
        lon_deg=np.array([8.0, 8.0]),
        elevation_m=np.zeros(2),
        kind="forecast",
    )
    member = steady(18.0, start_s=SPRING + 2.0 * HOUR_S)
    wind = np.where(np.arange(73)[:, None] == 0, np.nan, 7.0)
    member = replace(
        member,
        km=np.array([25.0]),
        dew_c=np.full((73, 1), np.nan),
        wind_east_ms=wind,
        air_c=np.full((73, 1), 18.0),
    )
    monkeypatch.setattr(inputs.open_meteo, "ensemble", lambda *asked: (member,))
    given = Ready(trip(NUC, "open_trailer", leave_s=LEAVE_S), road(1.0), usual)
    (filled,) = ensemble_members(given, sources)
    assert filled.dew_c[:71, 0] == pytest.approx(np.arange(71.0) + 4.0)
    assert np.isnan(filled.dew_c[71:]).all()
    assert filled.wind_east_ms[:2, 0].tolist() == [2.0, 7.0]
    assert np.array_equal(filled.air_c, member.air_c)
    assert filled.km.tolist() == [25.0]


def test_members_are_asked_for_whole_days_at_few_points(
    sources: Sources, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Noon in Rome on 30 March, an hour's drive: the day from midnight UTC."""
    asked: list[Any] = []

    def ensemble(*what: Any) -> tuple[Weather, ...]:
        asked.extend(what)
        return (steady(15.0),)

    monkeypatch.setattr(inputs.open_meteo, "ensemble", ensemble)
    usual = replace(steady(15.0), kind="forecast")
    long = road(20.0, vertices=400)
    ensemble_members(Ready(trip(NUC, "open_trailer", leave_s=LEAVE_S), long, usual), sources)
    points, span = asked[2:]
    assert len(points) <= 12
    assert len(points) > 6
    assert span.first_s == SPRING + 24.0 * HOUR_S
    assert span.first_s <= LEAVE_S


@pytest.mark.parametrize("source", ["acme", "file"])
def test_a_source_nobody_knows_is_told_and_no_other_service_is_asked_in_its_place(source: str) -> None:
    sources = Sources(Client.open(None, offline=True), Settings())
    with pytest.raises(InputError, match=rf"weather\.source = {source}: no forecast service has this name"):
        ready(file_of(road(1.0), WeatherRequest(source)), sources)
    sources.close()
