"""From a trip and an answer to what its sheets say: instants along the road, air, screens, mist, countries, chill."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from planner.app.answer.records import Band, Candidate, ClosingChoice, GroupChoice, GroupFate, Key, Span
from planner.app.plan.results import Choice
from planner.app.sheets.facts import TripFacts
from planner.app.sheets.gather import (
    GroupWay,
    Printing,
    Way,
    air_of,
    chilled,
    coldest_core_c,
    gate_after,
    gather,
    stands_of,
)
from planner.app.standing.reserve import DOORS, OFF_BOARD, SHUT, Reserve
from planner.bundled import resource_path
from planner.model.catalogue import Catalogue
from planner.model.records import Arrival, Misting
from planner.store.tripfile import TripFile, load_trip

NOW_S = 1_800_000_000.0
PRINTING = Printing(NOW_S, "Ada", "+54 1")


@pytest.fixture(scope="module")
def pickup(catalogue: Catalogue) -> TripFile:
    return load_trip(resource_path("demo", "nuc-pickup.toml"), catalogue)


def way(
    file: TripFile, place: str = "cabin_seat_cooled", setup: str = "as_declared", decision: str = "go"
) -> Way:
    leave_s = file.trip.window.first_s + 3600.0
    groups = tuple(GroupWay(place, setup, leave_s - 7200.0) for _ in file.trip.groups)
    return Way(decision, (), leave_s, leave_s, leave_s + 1800.0, groups, stand_min=42.0)  # type: ignore[arg-type]


def found(file: TripFile, catalogue: Catalogue, one: Way) -> TripFacts:
    return gather(file.trip, file.road, file.weather.weather, catalogue, one, PRINTING)


def test_instants_are_those_of_the_drive(pickup: TripFile, catalogue: Catalogue) -> None:
    facts = found(pickup, catalogue, way(pickup))
    assert pickup.road is not None
    assert facts.leave_s is not None
    assert facts.arrive_s is not None
    rest_s = sum(stop.dwell_s for stop in pickup.trip.stops)
    driven_s = pickup.road.driving_s * pickup.trip.drive_time_factor
    assert facts.arrive_s == pytest.approx(facts.leave_s + driven_s + rest_s, abs=90.0)
    assert facts.open_s == pytest.approx(facts.arrive_s + pickup.trip.open_after_s, abs=60.0)
    assert facts.settle_s == pytest.approx(pickup.trip.open_after_s, abs=60.0)
    (halt,) = facts.halts
    assert (halt.place, halt.purpose, halt.lasts_s) == ("Parador La Calandria", "rest", 1500.0)
    assert facts.leave_s < halt.at_s < facts.arrive_s
    assert facts.countries == ("AR",)
    assert facts.may_stand_min == 40


@pytest.mark.parametrize(
    ("opens", "shuts", "clock", "waits_h"),
    [
        (6.0, 18.0, 23.0, 7.0),
        (6.0, 18.0, 3.5, 2.5),
        (6.0, 18.0, 12.0, None),
        (6.0, 18.0, 6.0, None),
        (22.0, 4.0, 23.0, None),
        (22.0, 4.0, 3.0, None),
        (22.0, 4.0, 12.0, 10.0),
        (float("nan"), float("nan"), 12.0, None),
        (7.5, float("nan"), 1.0, 6.5),
    ],
)
def test_who_comes_before_the_gate_opens_waits_for_it(
    pickup: TripFile, opens: float, shuts: float, clock: float, waits_h: float | None
) -> None:
    trip = replace(pickup.trip, arrival=Arrival(gate_open_s=3600.0 * opens, gate_shut_s=3600.0 * shuts))
    day = datetime(2027, 11, 13, int(clock), round(60 * (clock % 1)), tzinfo=ZoneInfo(trip.destination.zone))
    at_s = day.timestamp()
    found = gate_after(trip, at_s)
    assert found == (None if waits_h is None else at_s + 3600.0 * waits_h)


def test_the_boxes_of_a_trip_that_comes_too_early_are_opened_behind_the_gate(
    pickup: TripFile, catalogue: Catalogue
) -> None:
    usual = found(pickup, catalogue, way(pickup))
    assert usual.gate_s is None
    assert usual.arrive_s is not None
    shut = replace(
        pickup, trip=replace(pickup.trip, arrival=Arrival(gate_open_s=23 * 3600.0, gate_shut_s=23.5 * 3600.0))
    )
    facts = found(shut, catalogue, way(pickup))
    assert facts.gate_s is not None
    assert facts.gate_s > usual.arrive_s
    assert facts.open_s == pytest.approx(facts.gate_s + pickup.trip.open_after_s, abs=60.0)
    assert facts.settle_s == pytest.approx(pickup.trip.open_after_s, abs=60.0)


def test_air_is_that_of_the_loading_place(pickup: TripFile, catalogue: Catalogue) -> None:
    places = catalogue.loading_places
    expected = {
        "cabin_seat_cooled": "cooled",
        "cabin_windows_open": "windows",
        "cabin_shut_white": "shut",
        "boot_white": "shut",
        "open_trailer": "open",
        "van_roof_fan_white": "fan",
        "estate_window_open": "windows",
    }
    assert {name: air_of(places[name]) for name in expected} == expected
    cooled = found(pickup, catalogue, way(pickup))
    assert (cooled.air, cooled.set_point_c) == ("cooled", 22.0)
    assert found(pickup, catalogue, way(pickup, "open_trailer")).set_point_c is None


def test_screens_are_those_of_the_set_up(pickup: TripFile, catalogue: Catalogue) -> None:
    declared = found(pickup, catalogue, way(pickup))
    screened = found(pickup, catalogue, way(pickup, setup="roof_screen"))
    assert {group.screen for group in declared.groups} == {"off"}
    assert {group.screen for group in screened.groups} == {"on"}
    assert declared.code != screened.code


def test_mist_is_given_on_the_way_and_not_in_the_cold(pickup: TripFile, catalogue: Catalogue) -> None:
    groups = tuple(replace(group, misting=Misting(25.0, 3600.0, 1800.0)) for group in pickup.trip.groups)
    misted = replace(pickup, trip=replace(pickup.trip, groups=groups))
    warm = found(misted, catalogue, way(misted))
    assert warm.mist_ml == 25.0
    assert len(warm.mist_s) > 3
    assert np.diff(warm.mist_s) == pytest.approx(1800.0)
    assert warm.carry_ml > 25.0 * 4 * len(warm.mist_s)
    weather = misted.weather.weather
    assert weather is not None
    cold = replace(weather, air_c=weather.air_c * 0.0 + 2.0)
    facts = gather(misted.trip, misted.road, cold, catalogue, way(misted), PRINTING)
    assert facts.mist_s == ()
    assert facts.too_cold_to_mist
    assert not facts.cold


@pytest.mark.parametrize(
    ("air_c", "core_c", "cold"),
    [(2.0, 24.0, True), (2.0, 33.0, False), (2.0, None, False), (22.0, 24.0, False)],
)
def test_where_nothing_harms_cold_is_the_danger_that_brood_comes_near_to(
    pickup: TripFile, catalogue: Catalogue, air_c: float, core_c: float | None, cold: bool
) -> None:
    """Few bees in frost are not to be told to open the doors."""
    weather = pickup.weather.weather
    assert weather is not None
    weather = replace(weather, air_c=weather.air_c * 0.0 + air_c)
    asked = replace(way(pickup), coldest_core_c=core_c)
    assert gather(pickup.trip, pickup.road, weather, catalogue, asked, PRINTING).cold is cold


def test_cautions_of_every_place_with_boxes_are_told_once(pickup: TripFile, catalogue: Catalogue) -> None:
    group, one = pickup.trip.groups[0], way(pickup).groups[0]
    trip = replace(pickup.trip, groups=(group, replace(group, label="rest")))
    asked = replace(way(pickup), groups=(one, replace(one, place="open_trailer")))
    told = gather(trip, pickup.road, pickup.weather.weather, catalogue, asked, PRINTING).cautions
    both = (catalogue.loading_places[name] for name in ("cabin_seat_cooled", "open_trailer"))
    assert [title.english for title in told] == list(
        dict.fromkeys(text for place in both for text in place.cautions)
    )


def test_without_weather_or_candidate_the_rest_is_told(pickup: TripFile, catalogue: Catalogue) -> None:
    for road, weather in ((None, None), (pickup.road, None)):
        facts = gather(pickup.trip, road, weather, catalogue, Way("cannot_tell", ("weather",)), PRINTING)
        assert facts.void == "cannot_tell"
        assert facts.boxes == 4
        assert facts.countries == ("AR",)
        assert facts.proof.kind == "missing"


def candidate(**harm: float) -> Candidate:
    spans = {name: Span(0.0, value, 100.0) for name, value in harm.items()}
    closing = ClosingChoice("clock", 0.0, fixed=True)
    return Candidate(
        key=Key(0, 0, (0,), (0,)),
        leave_s=0.0,
        leave_from_s=0.0,
        leave_to_s=0.0,
        arrive_s=1.0,
        shut_s=0.0,
        open_s=2.0,
        place="open_trailer",
        setup="as_declared",
        by_group=(GroupChoice("a", "open_trailer", "as_declared", closing),),
        samples=8,
        harm_of_100=None,
        boxes_harmed_expected=None,
        workers_dead_share=None,
        headroom_k=None,
        groups=(GroupFate("a", 1, "open_trailer", spans),),
    )


@pytest.mark.parametrize(
    ("harm", "cold"),
    [
        ({"chill": 7.0, "brood": 2.0}, True),
        ({"chill": 2.0, "brood": 7.0}, False),
        ({"chill": 4.0, "brood": 7.0, "queen": 1.0}, False),
        ({"chill": 0.0}, False),
        ({}, False),
    ],
)
def test_cold_is_the_danger_where_it_harms_more_often(harm: dict[str, float], cold: bool) -> None:
    assert chilled(candidate(**harm)) is cold


@pytest.mark.parametrize(
    ("harm", "lows_c", "coldest_c"),
    [
        ({"chill": 0.0, "brood": 0.0}, (21.0, 24.0), 21.0),
        ({"chill": 1.0}, (21.0,), None),
        ({"brood": 1.0}, (21.0,), None),
        ({}, (), None),
    ],
)
def test_the_coldest_core_counts_where_nothing_harms(
    harm: dict[str, float], lows_c: tuple[float, ...], coldest_c: float | None
) -> None:
    one = candidate(**harm)
    fates = tuple(replace(one.groups[0], low_c=Band(low_c, 33.0, 34.0)) for low_c in lows_c)
    assert coldest_core_c(replace(one, groups=fates or one.groups)) == coldest_c


def test_standing_times_are_those_that_95_in_100_samples_have_on_the_drive() -> None:
    after_s = np.full((3, 2, 2, 1), 6000.0)
    after_s[:, 0, 1, 0] = (1200.0, 2400.0, np.inf)
    after_s[2] = np.nan
    cause = np.zeros(after_s.shape, dtype=np.int64)
    cause[2] = OFF_BOARD
    zeros = np.zeros(3)
    reserve = Reserve(
        Choice(0, 0, 0),
        np.array([0.0, 300.0, 600.0]),
        zeros,
        zeros,
        zeros,
        zeros > 0,
        (SHUT, DOORS),
        ("typical", "agitated"),
        ("a",),
        after_s,
        cause,
        21_600.0,
    )
    first, second = stands_of(reserve, 0.0, 500.0)
    assert (first.shut_min, first.doors_min, first.misted_min) == (20.0, 100.0, None)
    assert second.shut_min == 40.0
    assert len(stands_of(reserve, 200.0, 900.0)) == 1


@pytest.mark.parametrize(("place", "wet"), [(0, False), (-1, True)])
def test_the_rain_that_counts_falls_where_the_boxes_are_opened(
    pickup: TripFile, catalogue: Catalogue, place: int, wet: bool
) -> None:
    sky = pickup.weather.weather
    assert sky is not None
    rain_mm = np.zeros_like(sky.rain_mm)
    rain_mm[:, place] = 2.0
    assert rain_mm.shape[1] > 1
    rainy = replace(sky, rain_mm=rain_mm)
    told = gather(pickup.trip, pickup.road, rainy, catalogue, way(pickup), PRINTING)
    assert told.opens_wet is wet
