"""MET Norway's rows and the US grid's stretches in small documents of our own, with the numbers they must give."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import numpy as np
import pytest

from planner.errors import ServiceError
from planner.model.air import dew_point_from_humidity_c, pressure_at_pa, station_pressure_pa
from planner.model.records import Weather
from planner.services.forecast import met_norway, nws, open_meteo
from planner.services.forecast.points import Points
from planner.services.forecast.span import Span
from planner.services.http import Client
from tests.services import standin
from tests.services.standin import StandIn

H = 3600.0
T0 = 1_780_272_000.0
"""1 June 2026, 00:00 UTC."""


def point(lat: float = 48.12346, lon: float = 8.0, height: float = np.nan) -> Points:
    return Points(np.zeros(1), np.array([lat]), np.array([lon]), np.array([height]))


def span(last_h: int) -> Span:
    return Span(T0, T0 + last_h * H)


def stamp(hours: float) -> str:
    return datetime.fromtimestamp(T0 + hours * H, UTC).isoformat()


# -- MET Norway ----------------------------------------------------------------------------------

UNITS = {
    "air_temperature": "celsius",
    "dew_point_temperature": "celsius",
    "relative_humidity": "%",
    "wind_speed": "m/s",
    "wind_from_direction": "degrees",
    "cloud_area_fraction": "%",
    "air_pressure_at_sea_level": "hPa",
}


def row(
    hours: float, air: float, *, one: Any = None, six: Any = None, **other: float | None
) -> dict[str, Any]:
    instant = {
        "air_temperature": air,
        "dew_point_temperature": 5.0,
        "wind_speed": 2.0,
        "wind_from_direction": 0.0,
        "cloud_area_fraction": 50.0,
        **other,
    }
    data: dict[str, Any] = {"instant": {"details": {k: v for k, v in instant.items() if v is not None}}}
    for name, details in (("next_1_hours", one), ("next_6_hours", six)):
        if details is not None:
            data[name] = {"details": details}
    return {"time": stamp(hours), "data": data}


def norway(
    client: Client, world: StandIn, rows: list[dict[str, Any]], last_h: int, height: list[float] | None = None
) -> Weather:
    document = {
        "geometry": {"coordinates": [8.0, 48.12346, *(height or [])]},
        "properties": {"meta": {"updated_at": stamp(-2), "units": UNITS}, "timeseries": rows},
    }
    world.always("/weatherapi", standin.status(200, document))
    return met_norway.forecast(client, world.settings(), point(), span(last_h))


def test_between_six_hourly_rows_the_curve_goes_through_the_extreme_in_their_middle(
    client: Client, world: StandIn
) -> None:
    """10 C at 0 h and 16 C at 6 h, 22 C in between: knots at 0, 3 and 6 h, straight lines between them."""
    rows = [row(0, 10.0, six={"air_temperature_max": 22.0, "air_temperature_min": 10.0}), row(6, 16.0)]
    found = norway(client, world, rows, 6)
    assert found.air_c[:, 0] == pytest.approx([10, 14, 18, 22, 20, 18, 16])


def test_a_low_between_two_rows_is_kept_and_extremes_within_their_ends_are_not(
    client: Client, world: StandIn
) -> None:
    """0 C below both ends counts, 12 C between 10 and 16 C is only a point of the way."""
    rows = [row(0, 10.0, six={"air_temperature_max": 12.0, "air_temperature_min": 1.0}), row(6, 16.0)]
    assert norway(client, world, rows, 6).air_c[:, 0] == pytest.approx([10, 7, 4, 1, 6, 11, 16])


def test_hourly_rows_stand_as_they_are_and_longer_gaps_than_six_hours_stay_unknown(
    client: Client, world: StandIn
) -> None:
    six = {"air_temperature_max": 30.0, "air_temperature_min": -30.0}
    rows = [row(0, 10.0, six=six), row(1, 11.0), row(7, 17.0), row(14, 24.0)]
    air = norway(client, world, rows, 14).air_c[:, 0]
    assert air[:8] == pytest.approx(range(10, 18))
    assert np.isnan(air[8:14]).all()
    assert air[14] == 24.0


def test_the_first_row_is_known_although_a_long_gap_follows_it(client: Client, world: StandIn) -> None:
    air = norway(client, world, [row(0, 10.0), row(7, 17.0)], 7).air_c[:, 0]
    assert (air[0], air[7]) == (10.0, 17.0)
    assert np.isnan(air[1:7]).all()


def test_rain_is_told_at_the_end_of_its_hour_and_six_hours_of_it_are_spread(
    client: Client, world: StandIn
) -> None:
    """1.5 mm in the hour after 0 h belong to 1 h; 3 mm in the six hours after 1 h make 0.5 mm an hour."""
    rows = [
        row(0, 10.0, one={"precipitation_amount": 1.5}, six={"precipitation_amount": 6.0}),
        row(1, 10.0, six={"precipitation_amount": 3.0}),
        row(7, 10.0),
    ]
    rain = norway(client, world, rows, 7).rain_mm[:, 0]
    assert np.array_equal(rain, [np.nan, 1.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5], equal_nan=True)


def test_a_north_wind_blows_south_and_turns_with_its_parts(client: Client, world: StandIn) -> None:
    found = norway(client, world, [row(0, 9.0), row(2, 9.0, wind_from_direction=90.0)], 2)
    assert found.wind_north_ms[:, 0] == pytest.approx([-2.0, -1.0, 0.0])
    assert found.wind_east_ms[:, 0] == pytest.approx([0.0, -1.0, -2.0], abs=1e-9)


def test_humidity_stands_in_for_a_dew_point_and_the_pressure_is_the_places(
    client: Client, world: StandIn
) -> None:
    told = {"dew_point_temperature": None, "relative_humidity": 40.0, "air_pressure_at_sea_level": 1010.0}
    found = norway(client, world, [row(h, 20.0, **told) for h in (0, 1)], 1, height=[500.0])
    assert found.dew_c[:, 0] == pytest.approx(float(dew_point_from_humidity_c(20.0, 0.4)))
    assert found.pressure_pa[:, 0] == pytest.approx(float(station_pressure_pa(101_000.0, 500.0, 20.0)))
    assert found.elevation_m.tolist() == [500.0]


def test_from_where_on_it_is_six_hourly_is_said_only_where_it_concerns_the_trip(
    client: Client, world: StandIn
) -> None:
    """Hourly rows at 0 and 1 h reach to 2 h."""
    hourly = [row(h, 10.0, one={"precipitation_amount": 0.0}) for h in (0, 1)]
    long = norway(client, world, [*hourly, row(7, 10.0)], 7)
    assert "from 01 Jun 02:00 UTC on only six-hourly, filled in between" in long.notes
    short = norway(client, world, [*hourly, row(7, 10.0)], 2)
    assert not any("six-hourly" in note for note in short.notes)
    assert short.time_s.tolist() == [T0, T0 + H, T0 + 2 * H]


def test_norway_is_asked_with_four_decimals_and_whole_metres(client: Client, world: StandIn) -> None:
    """Its terms refuse more than four decimals."""
    place = point(height=412.6)
    met_norway.forecast(client, world.settings(), place, Span(world.today_s, world.today_s + 5 * H))
    assert world.last("/weatherapi").query == {"lat": "48.1235", "lon": "8.0000", "altitude": "413"}
    assert 1.0 / met_norway.GAP_S <= 20.0, "the terms allow 20 requests a second"


def test_the_oldest_of_several_answers_dates_the_weather(client: Client, world: StandIn) -> None:
    def earlier(document: Any) -> None:
        document["properties"]["meta"]["updated_at"] = datetime.fromtimestamp(
            world.today_s - 9 * H, UTC
        ).isoformat()

    world.fail("/weatherapi", standin.mangled(lambda document: None), standin.mangled(earlier))
    two = Points(np.array([0.0, 30.0]), np.array([48.0, 48.27]), np.full(2, 8.0), np.full(2, np.nan))
    found = met_norway.forecast(client, world.settings(), two, Span(world.today_s, world.today_s + 5 * H))
    assert found.issued_s == world.today_s - 9 * H


@pytest.mark.parametrize("service", [met_norway, nws], ids=["MET Norway", "US National Weather Service"])
def test_hours_that_are_none_are_told_with_the_services_name(
    client: Client, world: StandIn, service: Any
) -> None:
    """All of the forecast lies before the trip, or its stamps off the hour."""
    off = Span(T0 + 1800.0, T0 + 5 * H) if service is nws else Span(T0 + 99 * H, T0 + 100 * H)
    if service is met_norway:
        with pytest.raises(ServiceError, match="MET Norway: no air temperature for the days asked"):
            norway_at(client, world, off)
    else:
        world.always("/gridpoints", standin.status(200, grid()))
        with pytest.raises(ServiceError, match=r"US National Weather Service: .* not whole hours"):
            nws.forecast(client, world.settings(), point(40.0, -90.0), off)


def norway_at(client: Client, world: StandIn, when: Span) -> Weather:
    document = {
        "geometry": {"coordinates": [8.0, 48.12346]},
        "properties": {"meta": {"updated_at": stamp(-2), "units": UNITS}, "timeseries": [row(0, 9.0)]},
    }
    world.always("/weatherapi", standin.status(200, document))
    return met_norway.forecast(client, world.settings(), point(), when)


# -- the US grid ---------------------------------------------------------------------------------


def layer(unit: str, *values: tuple[float, str, float | None]) -> dict[str, Any]:
    told = [{"validTime": f"{stamp(hours)}/{length}", "value": value} for hours, length, value in values]
    return {"uom": f"wmoUnit:{unit}", "values": told}


def grid(**layers: Any) -> dict[str, Any]:
    usual = {
        "updateTime": stamp(-1),
        "elevation": {"value": 300.0},
        "temperature": layer("degC", (0, "P3D", 20.0)),
        "dewpoint": layer("degC", (0, "P3D", 10.0)),
        "skyCover": layer("percent", (0, "P3D", 50.0)),
        "windSpeed": layer("km_h-1", (0, "P3D", 18.0)),
        "windDirection": layer("degree_(angle)", (0, "P3D", 180.0)),
    }
    return {"properties": {**usual, **layers}}


def us_grid(client: Client, world: StandIn, document: Any, last_h: int = 7) -> Weather:
    world.always("/gridpoints", standin.status(200, document))
    return nws.forecast(client, world.settings(), point(40.0, -90.0), span(last_h))


def test_a_layer_holds_for_its_stretch_and_no_longer(client: Client, world: StandIn) -> None:
    """20 C from 0 h for one day, 3 h of 25 C from 2 h on, then a stretch without value; the grid begins at -1 h."""
    told = layer("degC", (-1, "PT3H", 20.0), (2, "PT3H", 25.0), (5, "PT1H", None), (6, "P1DT1H", 21.0))
    found = us_grid(client, world, grid(temperature=told), 9)
    expected = [20, 20, 25, 25, 25, np.nan, 21, 21, 21, 21]
    assert np.array_equal(found.air_c[:, 0], expected, equal_nan=True)
    assert found.wind_north_ms[:, 0] == pytest.approx(5.0)
    assert found.pressure_pa[:, 0] == pytest.approx(float(pressure_at_pa(300.0)))
    assert (found.issued_s, found.elevation_m.tolist()) == (T0 - H, [300.0])


@pytest.mark.parametrize("first_h", [-2, -5])
def test_a_stretch_that_ends_before_the_trip_says_nothing_about_it(
    client: Client, world: StandIn, first_h: int
) -> None:
    told = layer("degC", (0, "P1D", 20.0), (first_h, "PT2H", 30.0))
    assert us_grid(client, world, grid(temperature=told)).air_c[:, 0].tolist() == [20.0] * 8


@pytest.mark.parametrize(
    ("length", "hours"), [("PT1H", 1), ("PT13H", 13), ("P1D", 24), ("P2DT3H", 51), ("PT", 1)]
)
def test_stretches_are_counted_in_whole_hours(
    client: Client, world: StandIn, length: str, hours: int
) -> None:
    found = us_grid(client, world, grid(windGust=layer("km_h-1", (0, length, 36.0))), 60)
    assert int(np.isfinite(found.gust_ms[:, 0]).sum()) == hours
    assert found.gust_ms[0, 0] == 10.0


def test_rain_is_spread_over_its_stretch_and_told_at_the_end_of_each_hour(
    client: Client, world: StandIn
) -> None:
    """6 mm in the six hours from 0 h: 1 mm in each row from 1 h to 6 h."""
    found = us_grid(client, world, grid(quantitativePrecipitation=layer("mm", (0, "PT6H", 6.0))))
    assert np.array_equal(found.rain_mm[:, 0], [np.nan, *[1.0] * 6, np.nan], equal_nan=True)


def test_humidity_fills_the_hours_without_a_dew_point(client: Client, world: StandIn) -> None:
    told = grid(dewpoint=layer("degC", (0, "PT2H", 9.0)), relativeHumidity=layer("percent", (0, "P1D", 40.0)))
    expected = float(dew_point_from_humidity_c(20.0, 0.4))
    assert us_grid(client, world, told).dew_c[1:3, 0] == pytest.approx([9.0, expected])


def test_a_cell_without_a_height_lies_at_the_sea(client: Client, world: StandIn) -> None:
    found = us_grid(client, world, grid(elevation={}))
    assert found.pressure_pa[0, 0] == pytest.approx(float(pressure_at_pa(0.0)))


@pytest.mark.parametrize("valid", ["noon/PT1H", f"{stamp(0)}/PT30M", f"{stamp(0)}/P1W"])
def test_a_stretch_that_is_not_understood_refuses_the_answer(
    client: Client, world: StandIn, valid: str
) -> None:
    told = {"uom": "wmoUnit:degC", "values": [{"validTime": valid, "value": 1.0}]}
    with pytest.raises(ServiceError, match="is not understood"):
        us_grid(client, world, grid(temperature=told))


def test_the_us_grid_is_asked_with_four_decimals_and_the_cell_is_kept(client: Client, world: StandIn) -> None:
    document = grid()
    us_grid(client, world, document)
    us_grid(client.with_(refresh=False), world, document)
    assert world.asked("/points/40.0000,-90.0000") == 1
    assert nws.GAP_S == 0.1


# -- Open-Meteo ----------------------------------------------------------------------------------


def test_open_meteo_is_asked_in_si_units_for_every_field(client: Client, world: StandIn) -> None:
    found = open_meteo.forecast(client, world.settings(), point(), span(23))
    asked = world.last("/v1/forecast").query
    assert (asked["latitude"], asked["longitude"]) == ("48.1235", "8.0000")
    assert (asked["start_hour"], asked["end_hour"]) == ("2026-06-01T00:00", "2026-06-01T23:00")
    assert (asked["wind_speed_unit"], asked["timeformat"], asked["timezone"]) == ("ms", "unixtime", "GMT")
    assert len(asked["hourly"].split(",")) == 11
    sun = found.ghi_w_m2[:, 0]
    assert sun.max() > 700.0
    assert found.dni_w_m2[:, 0] == pytest.approx(0.8 * sun)
    assert found.dhi_w_m2[:, 0] == pytest.approx(0.3 * sun)
    assert set(found.wind_east_ms[:, 0]) == {3.0}


def test_a_north_wind_of_open_meteo_moves_the_air_south(client: Client, world: StandIn) -> None:
    def north(place: Any) -> None:
        place["hourly"]["wind_direction_10m"] = [0.0] * 24

    world.always("/v1/forecast", standin.mangled(north))
    found = open_meteo.forecast(client, world.settings(), point(), span(23))
    assert found.wind_north_ms == pytest.approx(-3.0)
    assert found.wind_east_ms == pytest.approx(0.0, abs=1e-9)


def test_ensemble_members_take_their_dew_point_from_their_humidity(client: Client, world: StandIn) -> None:
    """The stand-in's members tell 50 % and are half a degree warmer each."""
    members = open_meteo.ensemble(client, world.settings(), point(), span(23))
    for number, member in enumerate(members):
        assert member.dew_c == pytest.approx(dew_point_from_humidity_c(member.air_c, 0.5))
        assert member.source.endswith(f"(ecmwf_ifs025_ensemble), member {number}")


def test_members_beyond_ninety_nine_are_members_too(client: Client, world: StandIn) -> None:
    def more(place: Any) -> None:
        for columns in (place["hourly"], place["hourly_units"]):
            for key in [key for key in columns if key.endswith("_member04")]:
                columns[key.replace("04", "104")] = columns.pop(key)

    world.always("/v1/ensemble", standin.mangled(more))
    members = open_meteo.ensemble(client, world.settings(), point(), span(23))
    assert members[-1].source.endswith("member 104")
    assert members[-1].air_c - members[0].air_c == pytest.approx(2.0)


def test_as_many_heights_as_places_must_come(client: Client, world: StandIn) -> None:
    lat, lon = np.array([48.0, 48.1]), np.array([8.0, 8.0])
    assert open_meteo.elevations_m(client, world.settings(), lat, lon).size == 2
    world.always("/v1/elevation", standin.status(200, {"elevation": [100.0, None, 3.0]}))
    with pytest.raises(ServiceError, match="3 heights came for 2 places"):
        open_meteo.elevations_m(client, world.settings(), lat, lon + 0.5)


@pytest.mark.parametrize(
    ("points", "days", "variables", "members", "calls"),
    [(3, 1, 11, 1, 3.3), (3, 1, 5, 1, 3.0), (1, 28, 10, 1, 2.0), (1, 14, 10, 3, 3.0)],
)
def test_requests_count_by_points_variables_members_and_fortnights(
    points: int, days: float, variables: int, members: int, calls: float
) -> None:
    """Each point at least one call; ten variables over a fortnight are one (the service's pricing page)."""
    assert open_meteo.call_weight(points, days, variables, members) == pytest.approx(calls)
