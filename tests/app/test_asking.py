"""A trip from a few words: which figures are filled in, which evening is meant, which of several namesakes."""

from __future__ import annotations

from typing import Any

import pytest

from planner.app.asking.place_names import _span, find_sites
from planner.app.asking.quick import OwnFigures, Quick, QuickLoad, quick_draft
from planner.errors import InputError
from planner.model.records import Site
from planner.services.geocoding.saved import save_place
from tests.model.scenarios import HOUR_S, ORIGIN, at

HOME = Site("Home", 45.0, 8.0, "Europe/Rome", 200.0)
AWAY = Site("Away", 46.0, 8.0, "Europe/Zurich")
NOON = at(2027, 3, 29, 10)  # 12:00 in Rome


def draft(now_s: float = NOON, **more: Any) -> dict[str, Any]:
    return quick_draft(Quick(HOME, AWAY, **more), now_s)


def test_a_quick_trip_has_usual_figures_for_the_rest() -> None:
    found = draft()
    assert found["title"] == "Home to Away"
    assert found["origin"] == {
        "name": "Home",
        "lat": 45.0,
        "lon": 8.0,
        "zone": "Europe/Rome",
        "elevation_m": 200.0,
    }
    assert found["destination"] == {"name": "Away", "lat": 46.0, "lon": 8.0, "zone": "Europe/Zurich"}
    assert found["stops"] == []
    assert found["vehicle"] == {"kind": "car"}
    assert found["closing"] == {"rule": "after_sunset", "delay_minutes": 15}
    assert found["weather"] == {"source": "open_meteo"}
    (load,) = found["load"]
    assert load == {
        "label": "Boxes",
        "count": 4,
        "box_type": "langstroth_nuc5_pine",
        "frames_of_bees": 5.0,
        "open_brood_frames": 1.0,
        "sealed_brood_frames": 2.0,
        "stores_frames": 1.5,
        "floor": "mesh",
        "floor_blocked_share": 0.2,
        "roof": "solid",
        "entrance": "foam",
    }


def test_a_quick_load_is_written_as_asked() -> None:
    asked = QuickLoad(7, "langstroth10_single_pine", 8.0, 2.0, 3.0, 2.5, 0.1)
    (load,) = draft(load=asked)["load"]
    for name in QuickLoad.__dataclass_fields__:
        assert load[name] == getattr(asked, name), name


def test_stops_on_the_way_last_a_quarter_of_an_hour() -> None:
    (stop,) = draft(via=[AWAY])["stops"]
    assert (stop["name"], stop["purpose"], stop["dwell_minutes"]) == ("Away", "rest", 15)


@pytest.mark.parametrize(
    ("now_h", "leave", "until"),
    [
        (0.0, "2027-03-29T18:00", "2027-03-30T10:00"),
        (6.0, "2027-03-29T18:00", "2027-03-30T10:00"),
        (6.0 + 1 / 60, "2027-03-30T18:00", "2027-03-31T10:00"),
        (13.0, "2027-03-30T18:00", "2027-03-31T10:00"),
    ],
)
def test_it_leaves_on_the_next_evening_at_six_and_until_ten_the_morning_after(
    now_h: float, leave: str, until: str
) -> None:
    """Hours after noon in Rome; at six sharp it is still this evening."""
    window = draft(NOON + now_h * HOUR_S)["window"]
    assert window == {"from": leave, "to": until, "step_minutes": 30}


def test_hours_asked_for_are_kept() -> None:
    window = draft(leave="2027-05-01T05:30")["window"]
    assert (window["from"], window["to"]) == ("2027-05-01T05:30", "2027-05-01T21:30")
    assert draft(leave="2027-05-01T05:30", until="2027-05-01T06:00")["window"]["to"] == "2027-05-01T06:00"


def test_hours_that_are_none_are_left_for_the_check_to_name() -> None:
    found = draft(leave="tomorrow", own=OwnFigures(5.0, 15.0))
    assert (found["window"]["from"], found["window"]["to"]) == ("tomorrow", "tomorrow")
    assert found["weather"] == {"source": "own", "own": []}


def test_own_figures_hold_from_the_eve_to_the_day_after() -> None:
    found = draft(own=OwnFigures(5.0, 15.0))["weather"]
    assert found["source"] == "own"
    assert [day["date"] for day in found["own"]] == ["2027-03-28", "2027-03-29", "2027-03-30", "2027-03-31"]
    first = found["own"][0]
    assert first == {
        "place": "Home",
        "date": "2027-03-28",
        "dawn_low_c": 5.0,
        "afternoon_high_c": 15.0,
        "dew_point_c": 4.0,
        "sky": "partly_cloudy",
        "wind_ms": 2.0,
    }
    wet = draft(own=OwnFigures(5.0, 15.0, 0.0, "overcast", 6.0))["weather"]["own"][0]
    assert (wet["dew_point_c"], wet["sky"], wet["wind_ms"]) == (0.0, "overcast", 6.0)


def test_a_window_of_months_gets_two_weeks_of_figures() -> None:
    """The eve, the first day and fourteen more, the day after: a slip in the year makes no file of thousands."""
    days = draft(own=OwnFigures(5.0, 15.0), leave="2027-03-29T18:00", until="2028-03-29T18:00")["weather"][
        "own"
    ]
    assert len(days) == 1 + 15 + 1
    assert (days[0]["date"], days[-1]["date"]) == ("2027-03-28", "2027-04-13")


# -- place names -----------------------------------------------------------------------------------


def test_kilometres_are_counted_from_each_place_to_the_next() -> None:
    there = Site("There", 46.0, 8.0, "Europe/Rome")
    assert _span((ORIGIN, there)) == pytest.approx(111.2, abs=0.1)
    assert _span((ORIGIN, there, ORIGIN)) == pytest.approx(222.4, abs=0.2)
    assert _span((ORIGIN,)) == 0.0


def test_a_stop_is_the_namesake_nearest_the_way() -> None:
    """Hereford is in England, Texas and elsewhere: between two towns of England the English one is meant."""
    sites, _ = find_sites({"--from": "Ludlow", "--to": "Gloucester", "--via": "Hereford"})
    assert sites["--via"].zone == "Europe/London"
    american, _ = find_sites({"--from": "Amarillo", "--to": "Lubbock", "--via": "Hereford"})
    assert american["--via"].zone == "America/Chicago"


def test_a_stop_lies_between_the_ends_not_near_one() -> None:
    """From London, England to London, Ontario the two are told apart by the region named."""
    sites, _ = find_sites({"--from": "51.5, -0.1", "--to": "42.98, -81.25"})
    assert [site.zone for site in sites.values()] == ["Europe/London", "America/Toronto"]


def test_remarks_name_the_others_and_only_where_there_are_any() -> None:
    _, remarks = find_sites({"--from": "Ludlow", "--to": "51.86, -2.24"})
    assert len(remarks) == 1
    assert "'Ludlow'" in remarks[0]
    assert remarks[0].count("Massachusetts") == 1
    save_place(Site("Bees", 51.9, -2.2, "Europe/London"))
    assert find_sites({"--from": "bees ", "--to": "51.86, -2.24"})[1] == ()


def test_written_coordinates_are_named_as_written() -> None:
    sites, _ = find_sites({"--from": " 48.2, 16.4 ", "--to": "47.07, 15.44"})
    assert sites["--from"] == Site("48.2, 16.4", 48.2, 16.4, "Europe/Vienna")


def test_only_unknown_places_are_faults() -> None:
    with pytest.raises(InputError) as caught:
        find_sites({"--from": "Ludlow", "--to": "Qqqqxz", "--via": "Zzzzqv"})
    assert [(fault.field, fault.value) for fault in caught.value.faults] == [
        ("--to", "Qqqqxz"),
        ("--via", "Zzzzqv"),
    ]
