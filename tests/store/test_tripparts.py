"""The tables of a trip file: what each may say at most, what it means left out, what no schema can say."""

from __future__ import annotations

import math
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from planner.errors import Fault, InputError
from planner.model.catalogue import Catalogue
from planner.model.records import Arrival, Closing, Trip
from planner.store.tripfile import TripFile, faults, resolve, upgrade

Draft = dict[str, Any]
LONG_AGO_S = 0.0
FIRST_S = datetime(2027, 5, 12, 17, tzinfo=UTC).timestamp()
LAST_S = datetime(2027, 5, 13, 5, tzinfo=UTC).timestamp()
"""The window of the draft: 18:00 to 06:00 in London's summer."""


@pytest.fixture
def bare(draft: Draft) -> Draft:
    """The draft with nothing that may be left out."""
    for key in ("stops", "road", "closing", "arrival", "handling"):
        del draft[key]
    draft["load"] = [{"label": "Nucs", "count": 4, "box_type": "national_nuc5_ply", "frames_of_bees": 5}]
    draft["vehicle"] = {"kind": "van"}
    del draft["window"]["step_minutes"]
    return draft


def read(draft: Draft, catalogue: Catalogue) -> TripFile:
    return resolve(draft, catalogue, now_s=LONG_AGO_S)


def trip_of(draft: Draft, catalogue: Catalogue) -> Trip:
    return read(draft, catalogue).trip


def said(draft: Draft, catalogue: Catalogue) -> list[tuple[str, str]]:
    """Field and problem of every fault."""
    return [(fault.field, fault.problem) for fault in faults(draft, catalogue)]


# -- what is left out -----------------------------------------------------------------------------


def test_what_a_trip_leaves_out_has_its_usual_value(bare: Draft, catalogue: Catalogue) -> None:
    trip = trip_of(bare, catalogue)
    assert (trip.stops, trip.closing, trip.road_vehicle) == ((), Closing("after_sunset", 0.0, 0.0), "van")
    assert (trip.waiting_shade, trip.loading_s, trip.open_after_s) == (True, 1800.0, 1800.0)
    assert (trip.drive_time_factor, trip.net, trip.invented) == (1.0, False, False)
    assert (trip.window.first_s, trip.window.last_s, trip.window.step_s) == (FIRST_S, LAST_S, 1800.0)
    assert trip.arrival.before_light is False
    assert [math.isnan(at) for at in (trip.arrival.latest_s, trip.arrival.gate_open_s, trip.arrival.gate_shut_s)] == [
        True, True, True,
    ]  # fmt: skip


def test_what_a_group_leaves_out_has_its_usual_value(bare: Draft, catalogue: Catalogue) -> None:
    (group,) = trip_of(bare, catalogue).groups
    assert (group.open_brood_frames, group.sealed_brood_frames, group.stores_frames) == (0.0, 0.0, 0.0)
    assert (group.floor, group.roof, group.entrance, group.comb) == ("mesh", "solid", "foam", "new")
    assert (group.floor_blocked_share, group.roof_blocked_share, group.thin_syrup_share) == (0.0, 0.0, 0.0)
    assert (group.side_vents_open, group.wet_foam_ml, group.misting) == (True, 0.0, None)
    assert (group.syrup_can_kg, group.wet_bees_ml) == (0.0, 0.0)
    assert (group.load_waypoint, group.unload_waypoint, group.closing, group.loading_place) == (
        0,
        1,
        None,
        None,
    )
    assert group.frames_of_bees == 5.0
    assert math.isnan(group.bees_kg)


def test_what_a_group_says_is_kept(bare: Draft, catalogue: Catalogue) -> None:
    figures: Draft = {
        "open_brood_frames": 1,
        "sealed_brood_frames": 2,
        "stores_frames": 1,
        "thin_syrup_share": 1,
        "syrup_can_kg": 0.9,
        "wet_bees_ml": 60,
        "floor_blocked_share": 0.2,
        "roof_blocked_share": 0.1,
        "wet_foam_ml": 30,
        "floor": "solid",
        "entrance": "mesh",
        "comb": "old",
        "side_vents_open": False,
    }
    bare["load"][0].update(figures)
    (group,) = trip_of(bare, catalogue).groups
    assert {name: getattr(group, name) for name in figures} == figures
    assert isinstance(group.open_brood_frames, float)
    assert group.side_vents_open is False


def test_what_a_stop_leaves_out_is_no(draft: Draft, catalogue: Catalogue) -> None:
    first, second = trip_of(draft, catalogue).stops
    assert (first.purpose, first.dwell_s, second.dwell_s) == ("load", 900.0, 600.0)
    assert (first.shade, first.engine_on, first.doors_open) == (False, False, False)
    for mark in ("shade", "engine_on", "doors_open"):
        draft["stops"][0][mark] = True
        assert getattr(trip_of(draft, catalogue).stops[0], mark) is True
    assert first.site.elevation_m is None


def test_what_own_weather_leaves_out_has_its_usual_value(bare: Draft, catalogue: Catalogue) -> None:
    bare["weather"]["own"] = [
        {"place": 1, "date": "2027-05-12", "dawn_low_c": 9, "afternoon_high_c": 21, "humidity_percent": 60}
    ]
    (day,) = read(bare, catalogue).weather.days
    assert (day.site.name, day.day, day.sky, day.wind_ms) == ("Heath", date(2027, 5, 12), "clear", 2.0)
    assert day.humidity_share == pytest.approx(0.6)
    assert math.isnan(day.dew_point_c)


# -- load ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changed", "fault"),
    [
        ({"frames_of_bees": 10}, None),
        ({"frames_of_bees": 10.1}, ("frames_of_bees", "{title} takes 5 frames")),
        ({"stores_frames": 5}, None),
        ({"stores_frames": 5.1}, ("stores_frames", "brood and stores fill 5.1 frames, the box takes 5")),
        ({"open_brood_frames": 2, "sealed_brood_frames": 2, "stores_frames": 1}, None),
        (
            {"open_brood_frames": 2, "sealed_brood_frames": 2, "stores_frames": 2},
            ("stores_frames", "brood and stores fill 6 frames, the box takes 5"),
        ),
        ({"bees_kg": 1}, ("frames_of_bees", "frames_of_bees and bees_kg are both given")),
        ({"frames_of_bees": ...}, ("frames_of_bees", "no bees are given")),
        ({"frames_of_bees": ..., "bees_kg": 1}, None),
    ],
)
def test_a_box_holds_what_hangs_in_it_and_twice_the_bees(
    bare: Draft, catalogue: Catalogue, changed: Draft, fault: tuple[str, str] | None
) -> None:
    """Frames of bees beyond two to each frame are a slip of the pen."""
    group = {**bare["load"][0], **changed}
    bare["load"] = [{key: value for key, value in group.items() if value is not ...}]
    title = catalogue.box_types["national_nuc5_ply"].title
    expected = [(f"load[0].{fault[0]}", fault[1].format(title=title))] if fault else []
    assert said(bare, catalogue) == expected


@pytest.mark.parametrize(
    ("loaded", "unloaded", "fault"),
    [
        (0, 3, None),
        (0, 1, None),
        (1, 3, None),
        (1, 1, ("unloaded_at", "unloaded at call 1, loaded at call 1")),
        (3, 3, ("unloaded_at", "unloaded at call 3, loaded at call 3")),
        (0, 4, ("unloaded_at", "the trip has calls 0 to 3")),
        (2, 3, ("loaded_at", "Pumps is a fuel stop")),
        (0, 2, ("unloaded_at", "Pumps is a fuel stop")),
        ("Garden", "Heath", None),
        ("Heath", "Yard", ("unloaded_at", "unloaded at call 0, loaded at call 3")),
        ("Yrad", 3, ("loaded_at", "no such place in this trip")),
    ],
)
def test_a_group_is_unloaded_after_it_is_loaded_where_loads_are_handled(
    draft: Draft, catalogue: Catalogue, loaded: int | str, unloaded: int | str, fault: tuple[str, str] | None
) -> None:
    draft["load"] = [{**draft["load"][0], "loaded_at": loaded, "unloaded_at": unloaded}]
    assert said(draft, catalogue) == ([(f"load[0].{fault[0]}", fault[1])] if fault else [])


def test_a_stop_for_unloading_takes_loads_too(draft: Draft, catalogue: Catalogue) -> None:
    draft["stops"][1]["purpose"] = "unload"
    draft["load"][0]["unloaded_at"] = "Pumps"
    assert trip_of(draft, catalogue).groups[0].unload_waypoint == 2


@pytest.mark.parametrize(
    ("names", "numbers"),
    [(("Garden", "Yard"), "0, 2"), (("Yard", "Pumps"), "0, 1"), (("Yard", "Yard"), "0, 1, 2")],
)
def test_a_name_of_a_yard_and_a_stop_asks_for_the_number(
    draft: Draft, catalogue: Catalogue, names: tuple[str, str], numbers: str
) -> None:
    for stop, name in zip(draft["stops"], names, strict=True):
        stop["name"] = name
    draft["load"] = [{**draft["load"][0], "loaded_at": "Yard"}]
    (fault,) = faults(draft, catalogue)
    assert (fault.problem, fault.remedy) == ("several calls have this name", f"Give its number: {numbers}")


def test_labels_are_told_apart(draft: Draft, catalogue: Catalogue) -> None:
    draft["load"].append({**draft["load"][0], "label": "Swarm"})
    assert said(draft, catalogue) == [("load[2].label", "load[1] has this label already")]


# -- closing, window, arrival -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("table", "expected"),
    [
        ({"rule": "after_sunset", "delay_minutes": 20}, Closing("after_sunset", 1200.0, 0.0)),
        ({"rule": "before_sunrise", "delay_minutes": -5}, Closing("before_sunrise", -300.0, 0.0)),
        ({"rule": "clock", "clock": "21:30"}, Closing("clock", 0.0, 77_400.0, fixed=True)),
        ({"rule": "at_loading"}, Closing("at_loading", 0.0, 0.0)),
        ({"rule": "at_loading", "delay_minutes": 0}, Closing("at_loading", 0.0, 0.0)),
        ({"rule": "clock"}, ("closing.clock", "the time of day is missing")),
        (
            {"rule": "clock", "clock": "21:30", "delay_minutes": 5},
            ("closing.delay_minutes", "the rule clock takes no delay_minutes"),
        ),
        (
            {"rule": "at_loading", "delay_minutes": 5},
            ("closing.delay_minutes", "the rule at_loading takes no delay_minutes"),
        ),
        (
            {"rule": "before_sunrise", "clock": "21:30"},
            ("closing.clock", "the rule before_sunrise takes no clock"),
        ),
    ],
)
def test_each_rule_of_closing_takes_its_own_figures(
    draft: Draft, catalogue: Catalogue, table: Draft, expected: Closing | tuple[str, str]
) -> None:
    draft["closing"] = table
    if isinstance(expected, Closing):
        assert trip_of(draft, catalogue).closing == expected
    else:
        assert said(draft, catalogue) == [expected]


@pytest.mark.parametrize(
    ("last", "step", "fault"),
    [
        ("2027-05-12T18:00", 30, None),
        ("2027-05-12T17:59", 30, ("to", "the window ends before it begins")),
        ("2027-06-12T18:00", 30, None),
        ("2027-06-12T18:01", 30, ("to", "the window is longer than 31 days")),
        ("2027-05-14T03:36", 1, None),
        ("2027-05-14T03:37", 1, ("step_minutes", "more than 2017 departures")),
    ],
)
def test_a_window_has_at_most_a_month_and_2017_departures(
    bare: Draft, catalogue: Catalogue, last: str, step: float, fault: tuple[str, str] | None
) -> None:
    """2,016 minutes after 18:00 it is 03:36 two days later; so many are 14 days at ten minutes."""
    bare["window"].update(to=last, step_minutes=step)
    assert said(bare, catalogue) == ([(f"window.{fault[0]}", fault[1])] if fault else [])


def test_both_ends_of_a_window_are_checked_at_once(bare: Draft, catalogue: Catalogue) -> None:
    bare["window"] = {"from": "soon", "to": "later"}
    assert [field for field, _ in said(bare, catalogue)] == ["window.from", "window.to"]


@pytest.mark.parametrize(("latest", "fine"), [("2027-05-12T18:00", True), ("2027-05-12T17:59", False)])
def test_no_arrival_is_wished_before_the_first_departure(
    bare: Draft, catalogue: Catalogue, latest: str, fine: bool
) -> None:
    bare["arrival"] = {"latest": latest}
    assert said(bare, catalogue) == (
        [] if fine else [("arrival.latest", "this is before the first departure")]
    )


def test_wishes_for_the_arrival_are_local_there(bare: Draft, catalogue: Catalogue) -> None:
    bare["destination"]["zone"] = "Europe/Madrid"
    bare["arrival"] = {
        "before_light": True,
        "latest": "2027-05-13T09:00",
        "gate_open": "05:30",
        "gate_shut": "20:00:30",
    }
    seven_utc = datetime(2027, 5, 13, 7, tzinfo=UTC).timestamp()
    assert trip_of(bare, catalogue).arrival == Arrival(True, seven_utc, 19_800.0, 72_030.0)


# -- vehicle and places -------------------------------------------------------------------------------------


def test_listed_places_are_compared_and_no_others(bare: Draft, catalogue: Catalogue) -> None:
    bare["vehicle"] = {"kind": "van", "places": ["open_trailer", "pickup_bed"], "net": True}
    trip = trip_of(bare, catalogue)
    assert (trip.loading_places, trip.net) == (("open_trailer", "pickup_bed"), True)
    bare["vehicle"] = {"places": ["open_trailer"], "drive_time_factor": 2}
    trip = trip_of(bare, catalogue)
    assert (trip.loading_places, trip.road_vehicle, trip.drive_time_factor) == (
        ("open_trailer",),
        "towing",
        2.0,
    )
    bare["vehicle"] = {"net": True}
    assert said(bare, catalogue) == [("vehicle", "no loading place is allowed")]


# -- weather ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changed", "fault"),
    [
        ({"afternoon_high_c": 9, "dew_point_c": 9}, None),
        ({"afternoon_high_c": 8.9}, ("afternoon_high_c", "the afternoon is colder than dawn")),
        ({"dew_point_c": 21}, None),
        ({"dew_point_c": 21.1}, ("dew_point_c", "the dew point is above the highest temperature")),
        ({"humidity_percent": 60}, ("dew_point_c", "give dew_point_c or humidity_percent, one of them")),
        ({"dew_point_c": ...}, ("dew_point_c", "give dew_point_c or humidity_percent, one of them")),
        ({"date": "2027-02-29"}, ("date", "no such day")),
        ({"place": 4}, ("place", "the trip has calls 0 to 3")),
        ({"place": "Heath"}, None),
    ],
)
def test_a_day_of_own_weather_holds_together(
    draft: Draft, catalogue: Catalogue, changed: Draft, fault: tuple[str, str] | None
) -> None:
    day = {**draft["weather"]["own"][0], **changed}
    draft["weather"]["own"] = [{key: value for key, value in day.items() if value is not ...}]
    assert said(draft, catalogue) == ([(f"weather.own[0].{fault[0]}", fault[1])] if fault else [])


def test_at_one_place_the_weather_is_that_of_its_first_call(draft: Draft, catalogue: Catalogue) -> None:
    draft["destination"] = {**draft["origin"], "name": "Yard"}
    draft["load"] = draft["load"][1:]
    draft["load"][0].update(unloaded_at=3)
    draft.pop("road")
    assert read(draft, catalogue).weather.days[0].site.name == "Yard"


@pytest.mark.parametrize(
    ("table", "field"),
    [({"source": "file"}, "file"), ({"source": "embedded"}, "table"), ({"source": "own"}, "own")],
)
def test_each_source_of_weather_needs_its_own_entry(
    draft: Draft, catalogue: Catalogue, table: Draft, field: str
) -> None:
    draft["weather"] = table
    assert said(draft, catalogue) == [(f"weather.{field}", f'source = "{table["source"]}" needs it')]


@pytest.mark.parametrize("source", ["open_meteo", "met_norway", "nws"])
def test_a_service_is_asked_later(draft: Draft, catalogue: Catalogue, source: str) -> None:
    draft["weather"] = {"source": source}
    request = read(draft, catalogue).weather
    assert (request.source, request.weather, request.days) == (source, None, ())


def hours(first: str, count: int) -> str:
    """A weather table of so many hours."""
    begin = datetime.fromisoformat(first).replace(tzinfo=UTC)
    rows = [
        f"{datetime.fromtimestamp(begin.timestamp() + 3600 * i, UTC):%Y-%m-%dT%H:%MZ},0,52,0,12,8,0"
        for i in range(count)
    ]
    return "\n".join(["time_utc,km,lat_deg,lon_deg,air_c,dew_c,wind_ms", *rows])


@pytest.mark.parametrize(
    ("first", "count", "covered"),
    [
        ("2027-05-12T17:00", 13, True),
        ("2027-05-12T18:00", 12, False),
        ("2027-05-12T17:00", 12, False),
        ("2027-05-12T00:00", 48, True),
    ],
)
def test_weather_that_does_not_reach_over_the_window_is_remarked(
    draft: Draft, catalogue: Catalogue, first: str, count: int, covered: bool
) -> None:
    draft["weather"] = {"source": "embedded", "table": hours(first, count)}
    remarks = read(draft, catalogue).remarks
    if covered:
        assert remarks == ()
    else:
        (remark,) = remarks
        assert remark.startswith(f"The weather covers {first.replace('T', ' ')} to 2027-05-1"), remark


def test_own_weather_of_another_year_is_remarked(draft: Draft, catalogue: Catalogue) -> None:
    """Found in use: figures for 2026 in a trip of 2027 were answered with "say yourself how warm it will be"."""
    day = {"place": 0, "date": "2026-05-12", "dawn_low_c": 8, "afternoon_high_c": 20, "dew_point_c": 7}
    draft["weather"] = {"source": "own", "own": [day]}
    (remark,) = read(draft, catalogue).remarks
    assert "2026-05-12" in remark
    for right in ("2027-05-12", "2027-05-13"):
        draft["weather"] = {"source": "own", "own": [day | {"date": right}]}
        assert read(draft, catalogue).remarks == ()


@pytest.mark.parametrize("said", [{}, {"assumed": False}, {"assumed": True}])
def test_a_file_says_whether_its_own_weather_was_put_in_by_the_program(
    draft: Draft, catalogue: Catalogue, said: dict[str, bool]
) -> None:
    day = {"place": 0, "date": "2027-05-12", "dawn_low_c": 8, "afternoon_high_c": 20, "dew_point_c": 7}
    draft["weather"] = {"source": "own", "own": [day], **said}
    assert read(draft, catalogue).weather.assumed is said.get("assumed", False)


def test_a_weather_file_is_read_from_beside_the_trip(
    draft: Draft, catalogue: Catalogue, tmp_path: Path
) -> None:
    (tmp_path / "w.csv").write_text(hours("2027-05-12T17:00", 13))
    draft["weather"] = {"source": "file", "file": "w.csv"}
    found = resolve(draft, catalogue, tmp_path, now_s=LONG_AGO_S).weather.weather
    assert found is not None
    assert found.time_s.size == 13
    assert read(draft, catalogue).weather.weather is None
    draft["weather"]["file"] = "none.csv"
    assert [fault.field for fault in faults(draft, catalogue, tmp_path)] == ["weather.file"]


# -- the whole file -------------------------------------------------------------------------------------------

PART = "Part of the window lies in the past."
PAST = "The window lies in the past: this looks back, it does not plan ahead."


@pytest.mark.parametrize(
    ("now_s", "invented", "remarks"),
    [
        (FIRST_S, False, ()),
        (FIRST_S + 1, False, (PART,)),
        (LAST_S, False, (PART,)),
        (LAST_S + 1, False, (PAST,)),
        (FIRST_S + 1, True, ()),
        (LAST_S + 1, True, ()),
    ],
)
def test_a_window_in_the_past_is_remarked_unless_all_is_invented(
    draft: Draft, catalogue: Catalogue, now_s: float, invented: bool, remarks: tuple[str, ...]
) -> None:
    draft["invented"] = invented
    found = resolve(draft, catalogue, now_s=now_s)
    assert found.remarks == remarks
    assert found.trip.invented is invented


def test_a_road_that_is_not_stated_is_remarked(bare: Draft, catalogue: Catalogue) -> None:
    found = read(bare, catalogue)
    assert found.road is None
    assert found.remarks == (
        "The file states no road: it has to be searched, or guessed along the great circle.",
    )


def test_parts_are_read_as_far_as_those_they_lean_on(draft: Draft, catalogue: Catalogue) -> None:
    """With a broken origin nothing is said of names that cannot be looked up; the vehicle is still checked."""
    draft["origin"] = {"name": "Yard", "lat": 52.0}
    draft["load"][0]["unloaded_at"] = "Nowhere"
    draft["vehicle"]["kind"] = "vann"
    assert [field for field, _ in said(draft, catalogue)] == ["origin.lon", "vehicle.kind"]


def test_faults_in_a_file_of_its_own_name_that_file(
    draft: Draft, catalogue: Catalogue, tmp_path: Path
) -> None:
    (tmp_path / "w.csv").write_text(hours("2027-05-12T17:00", 3).replace(",12,", ",hot,", 1))
    draft["weather"] = {"source": "file", "file": "w.csv"}
    assert [fault.field for fault in faults(draft, catalogue, tmp_path)] == ["w.csv: line 2, air_c"]


def test_the_present_version_and_what_is_no_version_pass(draft: Draft) -> None:
    for version in (1, 0, True, "1", None):
        assert upgrade({**draft, "version": version})["version"] == version
    with pytest.raises(InputError) as caught:
        upgrade({**draft, "version": 2})
    assert caught.value.faults == (
        Fault(
            "version",
            "2",
            "this file was written for version 2, this program knows up to 1",
            "Install a newer Skepway",
        ),
    )
