"""Typical years that are carried: read whole, named with distance and height, never taken from too far away."""

from __future__ import annotations

import gzip
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from planner.app.asking.typical import typical_table
from planner.errors import InputError
from planner.store.climates import PVGIS, Climate, climates, near_km, nearest, to_fetch
from planner.store.documents import MAX_TABLE_BYTES
from planner.store.typicalyear import NOMINAL_YEAR, read_year
from planner.store.weatherfile import parse_weather


@pytest.mark.parametrize("climate", climates(), ids=lambda each: each.path.name)
def test_every_carried_year_is_read_and_lies_where_it_says(climate: Climate) -> None:
    year = read_year(climate.path)
    place = (year.lat_deg[0], year.lon_deg[0], year.elevation_m[0])
    assert place == pytest.approx((climate.lat, climate.lon, climate.elevation_m), abs=0.01)
    assert year.kind == "typical"
    assert np.isfinite(year.air_c).all()
    assert np.isfinite(year.ghi_w_m2).all()
    whole = year.air_c[96:-96, 0]
    assert whole.size == 8760
    july, january = whole[4344:5088].mean(), whole[:744].mean()
    assert july > january + 4.0, NOMINAL_YEAR
    noon = year.ghi_w_m2[96:-96, 0].reshape(365, 24).mean(axis=0).argmax()
    assert abs(noon - (12 - climate.lon / 15)) <= 1.5, "the sun stands highest at local noon"


def test_the_nearest_serves_up_to_where_it_is_said_to() -> None:
    chicago = next(each for each in climates() if each.path.name.startswith("chicago"))
    degrees = near_km() / 111.195
    inside, outside = (
        nearest(chicago.lat + 0.99 * degrees, chicago.lon),
        nearest(chicago.lat + 1.01 * degrees, chicago.lon),
    )
    assert (inside.climate, outside.climate) == (chicago, chicago)
    assert (inside.serves, outside.serves) == (True, False)
    said = inside.in_words()
    assert chicago.title in said
    assert "149 km" in said
    assert "201 m" in said
    assert "NREL" in said


def test_elsewhere_the_file_to_fetch_is_named() -> None:
    said = to_fetch(-36.1, 146.9)
    assert PVGIS in said
    assert "-36.100, 146.900" in said


def test_a_packed_year_that_unfolds_without_end_is_refused(tmp_path: Path) -> None:
    bomb = tmp_path / "y.csv.gz"
    bomb.write_bytes(gzip.compress(b"0" * (MAX_TABLE_BYTES + 1)))
    with pytest.raises(InputError, match="unpacked it is longer"):
        read_year(bomb)
    bomb.write_bytes(gzip.compress(b"time")[:-6])
    with pytest.raises(InputError, match="cannot be read as a typical-year"):
        read_year(bomb)


def test_the_command_takes_the_carried_year_near_the_start(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Named with its distance; where none is near, the file to fetch."""
    from planner.bundled import resource_path
    from planner.cli import season
    from planner.cli.main import main
    from planner.store.catalogue import load_catalogue
    from planner.store.tripfile import load_trip

    trip = resource_path("demo", "swarm-run.toml")
    assert main(["season", str(trip)]) == 2
    assert PVGIS in capsys.readouterr().err
    found = load_trip(trip, load_catalogue())
    here = replace(found.trip.origin, lat_deg=28.2, lon_deg=-82.5)
    assert season._carried(replace(found, trip=replace(found.trip, origin=here))).name == "tampa.csv.gz"
    assert "Tampa, Florida, 26 km from the start" in capsys.readouterr().err


def test_a_trip_with_a_typical_year_says_how_far_off_it_was_taken() -> None:
    """Hours of a place far off are not the road's; a plan that rests on them names the distance."""
    tampa = next(each for each in climates() if each.path.name.startswith("tampa"))
    window = {"from": "2027-06-11T13:00", "to": "2027-06-11T20:00"}
    start = {"lat": 28.2, "lon": -82.5, "zone": "America/New_York"}
    for origin in (start, {}):
        table = typical_table(tampa.path, {"origin": origin, "window": window})["table"]
        source = parse_weather(table, "t").source
        assert "Tampa" in source
        assert ("26 km from the start" in source) is bool(origin)
