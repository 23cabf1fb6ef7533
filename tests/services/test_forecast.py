"""Forecasts from the three services, past and typical weather, against a real server that speaks their formats."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from planner.errors import ServiceError
from planner.model.air import station_pressure_pa
from planner.model.records import Road, Weather
from planner.services.forecast import met_norway, nws, open_meteo
from planner.services.forecast.beside import weather_beside
from planner.services.forecast.find import find_weather
from planner.services.forecast.open_meteo import call_weight
from planner.services.forecast.points import choose_points
from planner.services.forecast.registry import OPEN_METEO
from planner.services.forecast.span import Span, whole_days
from planner.services.http import Client
from tests.services import standin
from tests.services.speaks_weather import weather_at
from tests.services.standin import HOUR_S, StandIn

RoadMaker = Callable[..., Road]
DAY_S = 86_400.0


def tomorrow(world: StandIn, days: int = 1) -> Span:
    return Span(world.today_s + DAY_S, world.today_s + (1 + days) * DAY_S - HOUR_S)


def ask(client: Client, world: StandIn, road: Road) -> Weather:
    return open_meteo.forecast(client, world.settings(), choose_points(road), tomorrow(world))


def test_a_thousand_km_take_one_forecast_request(
    client: Client, world: StandIn, straight_road: RoadMaker
) -> None:
    road = straight_road(1000.0)
    first_s = world.today_s + 1.5 * DAY_S
    weather = find_weather(client, world.settings(), road, first_s, first_s + 15 * HOUR_S, now_s=time.time())
    assert len(world.seen) == 1
    assert weather.km[0] == 0.0
    assert weather.km[-1] == pytest.approx(road.length_km)
    assert weather.time_s[0] <= first_s
    assert weather.time_s[-1] >= first_s + 16 * HOUR_S
    assert np.all(np.diff(weather.time_s) == HOUR_S)
    assert np.isfinite(weather.air_c).all()
    assert weather.notes == ()


def test_every_quantity_arrives_in_the_units_of_the_record(
    client: Client, world: StandIn, straight_road: RoadMaker
) -> None:
    weather = ask(client, world, straight_road(30.0))
    hour, point = 15, -1
    truth = weather_at(weather.time_s[hour], float(weather.lat_deg[point]), float(weather.lon_deg[point]))
    assert weather.air_c[hour, point] == pytest.approx(truth["air_c"], abs=0.06)
    assert weather.dew_c[hour, point] == truth["dew_c"]
    assert weather.pressure_pa[hour, point] == truth["pressure_pa"]
    assert weather.cloud_share[hour, point] == truth["cloud_share"]
    assert weather.ghi_w_m2[hour, point] == pytest.approx(truth["ghi_w_m2"], abs=5.0)
    assert weather.gust_ms[hour, point] == truth["gust_ms"]
    assert weather.rain_mm[hour, point] == truth["rain_mm"]
    assert (weather.kind, weather.elevation_m[point]) == ("forecast", 98.0)


def test_wind_is_told_where_it_blows_to(client: Client, world: StandIn, straight_road: RoadMaker) -> None:
    """A west wind (from 270 degrees) moves the air east."""
    weather = ask(client, world, straight_road(30.0))
    assert weather.wind_east_ms == pytest.approx(3.0)
    assert weather.wind_north_ms == pytest.approx(0.0, abs=1e-9)


def test_one_place_comes_as_an_object_and_is_read_alike(
    client: Client, world: StandIn, straight_road: RoadMaker
) -> None:
    points = choose_points(straight_road(0.2, step_km=0.1))
    assert len(points) == 1
    assert open_meteo.forecast(client, world.settings(), points, tomorrow(world)).air_c.shape == (24, 1)


def test_source_attribution_and_age_come_with_every_answer(
    client: Client, world: StandIn, straight_road: RoadMaker
) -> None:
    weather = ask(client, world, straight_road(30.0))
    assert "Open-Meteo.com" in weather.attribution
    assert "CC BY 4.0" in weather.attribution
    assert weather.issued_s == pytest.approx(time.time(), abs=5.0)


def test_the_last_forecast_serves_offline_and_says_so(
    client: Client, world: StandIn, straight_road: RoadMaker
) -> None:
    fresh = ask(client, world, straight_road(300.0))
    world.stop()
    kept = ask(client.with_(offline=True), world, straight_road(300.0))
    assert np.array_equal(kept.air_c, fresh.air_c)
    assert "offline" in kept.notes[0]


def test_a_key_is_sent_as_a_header_to_the_paid_twin(
    client: Client, world: StandIn, straight_road: RoadMaker
) -> None:
    points = choose_points(straight_road(30.0))
    settings = world.settings(forecast={"key": "secret-4711"})
    open_meteo.forecast(client, settings, points, tomorrow(world))
    seen = world.last("/v1/forecast")
    assert seen.headers["X-Api-Key"] == "secret-4711"
    assert "secret-4711" not in str(seen.query)
    assert open_meteo._base("https://api.open-meteo.com", "k") == "https://customer-api.open-meteo.com"
    assert open_meteo._base("https://own.example/", "k") == "https://own.example"


def _each(document: Any, change: Callable[[dict[str, Any]], None]) -> None:
    for location in document if isinstance(document, list) else [document]:
        change(location)


def _set(column: str, rows: slice, value: Any) -> Callable[[Any], None]:
    def change(document: Any) -> None:
        def one(location: dict[str, Any]) -> None:
            count = len(range(*rows.indices(len(location["hourly"][column]))))
            location["hourly"][column][rows] = [value] * count

        _each(document, one)

    return change


def _drop_hours(document: Any) -> None:
    _each(document, lambda loc: [column.__delitem__(slice(5, 8)) for column in loc["hourly"].values()])


def _reverse(document: Any) -> None:
    _each(document, lambda loc: [column.reverse() for column in loc["hourly"].values()])


def _repeat(document: Any) -> None:
    _each(document, lambda loc: [column.insert(3, column[3]) for column in loc["hourly"].values()])


def _repeat_with_other_values(document: Any) -> None:
    _repeat(document)
    _each(document, lambda loc: loc["hourly"]["temperature_2m"].__setitem__(3, -5.0))


@pytest.mark.parametrize(
    ("change", "unknown_hours", "note"),
    [
        (_set("temperature_2m", slice(4, 6), None), {4, 5}, "2 h of air temperature missing"),
        (_set("temperature_2m", slice(4, 5), 400.0), {4}, "impossible values of air temperature"),
        (_drop_hours, {5, 6, 7}, "3 h of air temperature missing"),
        (_reverse, set(), "out of order, put right"),
        (_repeat, set(), "hours given twice"),
        (_repeat_with_other_values, {3}, "different values left out"),
    ],
)
def test_small_faults_are_mended_or_left_unknown_and_told(
    client: Client,
    world: StandIn,
    straight_road: RoadMaker,
    change: Callable[[Any], None],
    unknown_hours: set[int],
    note: str,
) -> None:
    road = straight_road(100.0)
    sound = ask(client, world, road)
    world.fail("/v1/forecast", standin.mangled(change))
    weather = ask(client.with_(refresh=True), world, road)
    unknown = set(np.flatnonzero(np.isnan(weather.air_c).any(axis=1)))
    assert unknown == unknown_hours
    assert any(note in told for told in weather.notes)
    known = [hour for hour in range(24) if hour not in unknown_hours]
    assert np.array_equal(weather.air_c[known], sound.air_c[known])


def test_bare_nan_in_an_answer_is_a_gap(client: Client, world: StandIn, straight_road: RoadMaker) -> None:
    world.fail("/v1/forecast", standin.mangled(_set("cloud_cover", slice(2, 3), float("nan"))))
    weather = ask(client, world, straight_road(100.0))
    assert np.isnan(weather.cloud_share[2]).all()
    assert any("1 h of cloud missing" in note for note in weather.notes)


def _fahrenheit(document: Any) -> None:
    def one(location: dict[str, Any]) -> None:
        for name in ("temperature_2m", "dew_point_2m"):
            location["hourly_units"][name] = "°F"
            location["hourly"][name] = [1.8 * value + 32.0 for value in location["hourly"][name]]
        location["hourly_units"]["wind_speed_10m"] = "km/h"
        location["hourly"]["wind_speed_10m"] = [3.6 * value for value in location["hourly"]["wind_speed_10m"]]

    _each(document, one)


def test_other_known_units_are_converted(client: Client, world: StandIn, straight_road: RoadMaker) -> None:
    road = straight_road(100.0)
    sound = ask(client, world, road)
    world.fail("/v1/forecast", standin.mangled(_fahrenheit))
    weather = ask(client.with_(refresh=True), world, road)
    assert weather.air_c == pytest.approx(sound.air_c)
    assert weather.wind_east_ms == pytest.approx(sound.wind_east_ms)


def _unit(name: str, unit: str) -> Callable[[Any], None]:
    return lambda document: _each(document, lambda loc: loc["hourly_units"].__setitem__(name, unit))


def _elsewhere(document: Any) -> None:
    _each(document, lambda loc: loc.update(latitude=-33.0))


def _half_hours(document: Any) -> None:
    _each(document, lambda loc: loc["hourly"].update(time=[t + 1800 for t in loc["hourly"]["time"]]))


def _text_times(document: Any) -> None:
    _each(document, lambda loc: loc["hourly"].update(time=["2026-06-01T00:00"] * 24))


def _short_column(document: Any) -> None:
    _each(document, lambda loc: loc["hourly"]["temperature_2m"].pop())


def _no_hours(document: Any) -> None:
    _each(document, lambda loc: [column.clear() for column in loc["hourly"].values()])


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (_unit("temperature_2m", "°R"), "temperature in '°R'"),
        (_unit("wind_speed_10m", "°C"), "speed in '°C'"),
        (lambda document: _each(document, lambda loc: loc["hourly_units"].clear()), "no unit"),
        (_elsewhere, "about a place .* km away"),
        (_half_hours, "not whole hours"),
        (_text_times, "another form"),
        (_short_column, "23 values of air_c for 24 hours"),
        (_no_hours, "no air temperature for the days asked"),
        (lambda document: document[:-1], "places where"),
        (lambda _: {"error": "no"}, "another form"),
        (lambda _: [7], "another form"),
    ],
)
def test_an_answer_that_cannot_be_right_is_refused(
    client: Client,
    world: StandIn,
    straight_road: RoadMaker,
    change: Callable[[Any], Any],
    words: str,
) -> None:
    world.always("/v1/forecast", standin.mangled(change))
    with pytest.raises(ServiceError, match=f"Open-Meteo forecast: .*{words}"):
        ask(client, world, straight_road(100.0))
    assert len(world.seen) == 1


def test_a_stream_that_fails_late_is_tried_again(
    client: Client, world: StandIn, straight_road: RoadMaker
) -> None:
    """The real server answers 200 and breaks off inside the JSON with a remark."""
    broken = b'[{"latitude":52.0,"longi Unexpected error while streaming data: timeout'
    world.fail("/v1/forecast", standin.status(200, broken))
    assert np.isfinite(ask(client, world, straight_road(100.0)).air_c).all()
    assert world.asked("/v1/forecast") == 2


def test_the_services_own_reason_reaches_the_user(
    client: Client, world: StandIn, straight_road: RoadMaker
) -> None:
    reason = "Parameter 'start_hour' is out of allowed range from 2026-08-24 to 2026-12-10"
    world.fail("/v1/forecast", standin.status(400, {"error": True, "reason": reason}))
    with pytest.raises(ServiceError, match="out of allowed range"):
        ask(client, world, straight_road(100.0))


def test_every_ensemble_member_is_a_weather_of_its_own(
    client: Client, world: StandIn, straight_road: RoadMaker
) -> None:
    points = choose_points(straight_road(200.0), most=6)
    members = open_meteo.ensemble(client, world.settings(), points, tomorrow(world))
    assert len(members) == 5
    assert [member.kind for member in members] == ["ensemble"] * 5
    assert members[4].air_c - members[0].air_c == pytest.approx(2.0)
    assert np.isfinite(members[3].dew_c).all()
    assert len(world.seen) == 1


def test_what_a_request_counts_for_follows_the_published_rule() -> None:
    """40 points x 10 variables x up to 14 days count for 40 calls; 40 x 4 variables x 31 members for 496
    (the service's rate limiter, as of August 2026)."""
    assert call_weight(40, 14, 10) == 40.0
    assert call_weight(40, 7, 4, 31) == pytest.approx(496.0)
    assert call_weight(1, 365.25 * 20, 1) == pytest.approx(52.2, abs=0.1)


def test_long_past_dates_come_from_the_archive(
    client: Client, world: StandIn, straight_road: RoadMaker
) -> None:
    start = world.today_s - 400 * DAY_S
    weather = find_weather(
        client, world.settings(), straight_road(90.0), start + 3600, start + 9 * HOUR_S, now_s=time.time()
    )
    assert (weather.kind, weather.source) == ("archive", "Open-Meteo archive")
    assert world.asked("/v1/archive") == 1


@pytest.mark.parametrize(
    ("days_ago", "asked"), [(10, "/v1/forecast"), (open_meteo.PAST_DAYS + 2, "/v1/archive")]
)
def test_recent_days_are_asked_of_the_forecast_which_knows_them_better(
    days_ago: int, asked: str, client: Client, world: StandIn, straight_road: RoadMaker
) -> None:
    start = world.today_s - days_ago * DAY_S
    find_weather(
        client, world.settings(), straight_road(9.0), start, start + 9 * HOUR_S, now_s=world.today_s + 1.0
    )
    assert [seen.path for seen in world.seen] == [asked]


def test_beside_a_road_no_hour_beyond_the_horizon_is_asked_for(
    client: Client, world: StandIn, straight_road: RoadMaker
) -> None:
    horizon_s = world.today_s + OPEN_METEO.horizon_days * DAY_S
    weather_beside(
        client,
        world.settings(),
        straight_road(9.0),
        horizon_s - DAY_S,
        horizon_s + DAY_S,
        now_s=world.today_s,
    )
    last = world.last("/v1/forecast").query["end_hour"]
    assert datetime.fromisoformat(f"{last}+00:00").timestamp() == horizon_s - HOUR_S


def test_beyond_the_horizon_typical_weather_of_past_years_stands_in(
    client: Client, world: StandIn, straight_road: RoadMaker
) -> None:
    start = world.today_s + 60 * DAY_S
    weather = find_weather(
        client, world.settings(), straight_road(90.0), start + 3600, start + 9 * HOUR_S, now_s=time.time()
    )
    assert weather.kind == "typical"
    assert len(world.seen) == 1
    assert "the middle of the years" in weather.source
    assert any("not a forecast" in note for note in weather.notes)
    assert weather.time_s[0] == start
    years = [int(word) for word in weather.source.split() if word.isdigit()]
    assert years[1] - years[0] == 9
    hour = 14
    level = weather_at(float(weather.time_s[hour]), float(weather.lat_deg[0]), float(weather.lon_deg[0]))[
        "air_c"
    ]
    middle_year = (years[0] + years[1]) / 2.0
    assert weather.air_c[hour, 0] == pytest.approx(level + 0.5 * (middle_year - 2020), abs=0.06)
    assert weather.wind_east_ms == pytest.approx(3.0)


def test_a_trip_across_the_horizon_joins_forecast_and_typical(
    client: Client, world: StandIn, straight_road: RoadMaker
) -> None:
    horizon = world.today_s + OPEN_METEO.horizon_days * DAY_S
    weather = find_weather(
        client,
        world.settings(),
        straight_road(1000.0),
        horizon - 10 * HOUR_S,
        horizon + 10 * HOUR_S,
        now_s=time.time(),
    )
    assert weather.kind == "typical"
    assert len(world.seen) <= 3
    assert np.all(np.diff(weather.time_s) == HOUR_S)
    assert np.isfinite(weather.air_c).all()
    assert any("beyond the forecast from" in note for note in weather.notes)
    before = weather.time_s < horizon
    truth = weather_at(float(weather.time_s[0]), float(weather.lat_deg[0]), float(weather.lon_deg[0]))
    assert weather.air_c[before][0, 0] == pytest.approx(truth["air_c"], abs=0.06)


def test_whole_days_hold_the_trip_and_an_hour_more() -> None:
    span = whole_days(1_780_300_000.0, 1_780_350_000.0)
    assert span.first_s % DAY_S == 0.0
    assert span.first_s <= 1_780_300_000.0
    assert span.last_s >= 1_780_350_000.0
    assert (span.last_s + HOUR_S) % DAY_S == 0.0


# -- the second and third source -----------------------------------------------------------------


def norway(client: Client, world: StandIn, road: Road, span: Span) -> Weather:
    settings = world.settings(forecast={"service": "met-norway"})
    return met_norway.forecast(client, settings, choose_points(road, most=3), span)


def test_met_norway_gives_what_the_record_needs(
    client: Client, world: StandIn, straight_road: RoadMaker
) -> None:
    weather = norway(client, world, straight_road(60.0), tomorrow(world))
    hour = 13
    truth = weather_at(float(weather.time_s[hour]), float(weather.lat_deg[0]), float(weather.lon_deg[0]))
    assert weather.air_c[hour, 0] == pytest.approx(truth["air_c"], abs=0.06)
    assert weather.dew_c[hour, 0] == truth["dew_c"]
    expected = station_pressure_pa(101_300.0, 0.0, weather.air_c[hour, 0])
    assert weather.pressure_pa[hour, 0] == pytest.approx(float(expected))
    assert weather.rain_mm[hour, 0] == 0.5
    assert "MET Norway" in weather.attribution
    assert "Yr" not in weather.attribution
    assert weather.issued_s == world.today_s - 1800
    assert any("radiation estimated" in note for note in weather.notes)
    noon, night = weather.ghi_w_m2[12, 0], weather.ghi_w_m2[1, 0]
    assert noon > 50.0
    assert night == 0.0


def test_met_norway_is_not_asked_again_before_expiry_and_then_conditionally(
    client: Client, world: StandIn, straight_road: RoadMaker
) -> None:
    road = straight_road(0.2, step_km=0.1)
    norway(client, world, road, tomorrow(world))
    norway(client, world, road, tomorrow(world))
    assert len(world.seen) == 1
    again = norway(client.with_(refresh=True), world, road, tomorrow(world))
    assert world.not_modified == 1
    assert np.isfinite(again.air_c).all()


def test_six_hourly_rows_are_filled_in_and_keep_the_afternoons_high(
    client: Client, world: StandIn, straight_road: RoadMaker
) -> None:
    span = tomorrow(world, 5)
    road = straight_road(0.2, step_km=0.1)
    weather = norway(client, world, road, span)
    assert np.isfinite(weather.air_c).all()
    assert any("six-hourly" in note for note in weather.notes)
    last_day = weather.air_c[-24:, 0]
    truth = [weather_at(float(t), 48.0, 8.0)["air_c"] for t in weather.time_s[-24:]]
    assert last_day.max() == pytest.approx(max(truth), abs=0.3)


def test_services_that_want_a_contact_are_not_asked_without_one(
    client: Client, world: StandIn, straight_road: RoadMaker
) -> None:
    from planner.services.settings import Settings

    for module in (met_norway, nws):
        with pytest.raises(ServiceError, match="contact"):
            module.forecast(client, Settings(), choose_points(straight_road(9.0)), tomorrow(world))
    assert world.seen == []


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda d: d["properties"].update(timeseries=[]), "no hours"),
        (lambda d: d["properties"]["meta"]["units"].update(air_temperature="kelvins"), "kelvins"),
        (lambda d: d["geometry"].update(coordinates=[100.0, 10.0, 0.0]), "km away"),
        (
            lambda d: [
                row["data"]["instant"]["details"].pop("wind_speed") for row in d["properties"]["timeseries"]
            ],
            "lacks wind_speed",
        ),
    ],
)
def test_a_wrong_answer_of_met_norway_is_refused(
    client: Client, world: StandIn, straight_road: RoadMaker, change: Callable[[Any], None], words: str
) -> None:
    def keep(document: Any) -> None:
        change(document)

    world.always("/weatherapi", standin.mangled(keep))
    with pytest.raises(ServiceError, match=f"MET Norway.*{words}"):
        norway(client, world, straight_road(0.2, step_km=0.1), tomorrow(world))


def test_the_us_grid_is_unrolled_to_hours(client: Client, world: StandIn, straight_road: RoadMaker) -> None:
    road = straight_road(60.0, lat_deg=40.0, lon_deg=-90.0)
    settings = world.settings(forecast={"service": "nws"})
    weather = nws.forecast(client, settings, choose_points(road, most=3), tomorrow(world))
    truth = weather_at(float(weather.time_s[7]), float(weather.lat_deg[1]), float(weather.lon_deg[1]))
    assert weather.air_c[7, 1] == pytest.approx(truth["air_c"], abs=0.06)
    assert weather.wind_east_ms[7, 1] == pytest.approx(3.0)
    assert weather.rain_mm[7, 1] == pytest.approx(0.5)
    assert weather.elevation_m[1] == 250.0
    assert np.isfinite(weather.ghi_w_m2).all()


def test_outside_the_united_states_the_us_grid_says_so(
    client: Client, world: StandIn, straight_road: RoadMaker
) -> None:
    settings = world.settings(forecast={"service": "nws"})
    with pytest.raises(ServiceError, match="Unable to provide data for requested point"):
        nws.forecast(client, settings, choose_points(straight_road(60.0)), tomorrow(world))


@pytest.mark.network
def test_the_live_forecast_still_speaks_this_format(tmp_path: Any, straight_road: RoadMaker) -> None:
    from planner.services.settings import Settings

    live = Client.open(tmp_path)
    now = time.time()
    weather = find_weather(live, Settings(), straight_road(200.0), now, now + 12 * HOUR_S, now_s=now)
    live.close()
    assert np.isfinite(weather.air_c).all()
    assert np.isfinite(weather.ghi_w_m2).all()


def test_without_a_network_the_file_is_named_that_can_be_fetched_beforehand(
    tmp_path: Path, world: StandIn, straight_road: RoadMaker
) -> None:
    offline, now_s = Client.open(tmp_path, offline=True), time.time()
    with pytest.raises(ServiceError, match=r"no earlier answer is kept.*PVGIS.*TMY3"):
        find_weather(offline, world.settings(), straight_road(1.0), now_s, now_s + HOUR_S, now_s=now_s)
