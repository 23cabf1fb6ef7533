"""The bundled base map: whole, small, closed, and land where there is land."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from planner.bundled import resource_path
from planner.errors import StorageError
from planner.store.basemap import BaseMap, Line, read_basemap


@pytest.fixture(scope="module")
def basemap() -> BaseMap:
    return read_basemap()


def holds(ring: Line, lat: float, lon: float) -> bool:
    """Whether a ray to the east from the point crosses the ring an odd number of times."""
    lats, lons = ring
    south, north = lats[:-1], lats[1:]
    straddles = (south > lat) != (north > lat)
    share = (lat - south[straddles]) / (north[straddles] - south[straddles])
    crossing = lons[:-1][straddles] + share * (lons[1:][straddles] - lons[:-1][straddles])
    return bool(np.count_nonzero(crossing > lon) % 2)


def on_land(basemap: BaseMap, lat: float, lon: float) -> bool:
    return sum(holds(ring, lat, lon) for ring in basemap.land) % 2 == 1


def test_the_file_stays_small() -> None:
    assert resource_path("basemap.npz").stat().st_size < 1_000_000


def test_the_world_is_all_there(basemap: BaseMap) -> None:
    """Natural Earth 1:50 million: some 1,400 islands and continents, several hundred stretches of border."""
    assert 1200 < len(basemap.land) < 1700
    assert 300 < len(basemap.borders) < 1200
    assert 50_000 < sum(len(lat) for lat, _ in basemap.land) < 100_000


def test_every_ring_of_land_is_closed_and_on_the_globe(basemap: BaseMap) -> None:
    for lat, lon in basemap.land:
        assert len(lat) == len(lon) >= 4
        assert lat[0] == lat[-1]
        assert lon[0] == lon[-1]
        assert np.all(np.abs(lat) <= 90.0)
        assert np.all(np.abs(lon) <= 180.0)


def test_no_line_jumps_across_the_map(basemap: BaseMap) -> None:
    """Lines cut at the antimeridian draw no stripe through the map; Antarctica's edge along the pole may."""
    for lat, lon in (*basemap.land, *basemap.borders):
        north_of_the_ice = lat[:-1] > -85.0
        assert np.all(np.abs(np.diff(lon))[north_of_the_ice] < 30.0)


@pytest.mark.parametrize(
    ("place", "lat", "lon"),
    [
        ("Madrid", 40.42, -3.70),
        ("Fresno", 36.74, -119.79),
        ("Dubbo", -32.25, 148.60),
        ("Nairobi", -1.29, 36.82),
        ("Suva's island", -17.8, 178.0),
        ("Chukotka, east of 180", 67.0, -175.0),
        ("Chukotka, west of 180", 67.0, 175.0),
        ("the South Pole", -89.99, 100.0),
    ],
)
def test_towns_lie_on_land(basemap: BaseMap, place: str, lat: float, lon: float) -> None:
    assert on_land(basemap, lat, lon), place


@pytest.mark.parametrize(
    ("sea", "lat", "lon"),
    [("Biscay", 45.0, -5.0), ("North Sea", 56.0, 3.0), ("Pacific", 0.0, 179.9), ("Caspian", 42.0, 50.5)],
)
def test_seas_do_not(basemap: BaseMap, sea: str, lat: float, lon: float) -> None:
    assert not on_land(basemap, lat, lon), sea


@pytest.mark.parametrize(
    ("crossing", "lat", "lon"),
    [("Irun to Hendaye", 43.35, -1.79), ("Blaine", 49.0, -122.75), ("Nogales", 31.33, -110.94)],
)
def test_borders_run_where_countries_meet(basemap: BaseMap, crossing: str, lat: float, lon: float) -> None:
    """Within a tenth of a degree; the scale rounds corners."""
    lats, lons = (np.concatenate(parts) for parts in zip(*map(dense, basemap.borders), strict=True))
    assert np.min(np.hypot(lats - lat, (lons - lon) * np.cos(np.radians(lat)))) < 0.1, crossing


def dense(line: Line) -> Line:
    """Points every hundredth of a step, so that long straight borders can be met between their corners."""
    at = np.linspace(0, len(line[0]) - 1, 100 * len(line[0]))
    index = np.arange(len(line[0]))
    return np.interp(at, index, line[0]).astype(np.float32), np.interp(at, index, line[1]).astype(np.float32)


WHOLE = resource_path("basemap.npz").read_bytes()


@pytest.mark.parametrize(
    "content",
    [
        pytest.param(b"", id="empty"),
        pytest.param(b"no map at all", id="text"),
        pytest.param(WHOLE[: len(WHOLE) // 2], id="cut short"),
        pytest.param(WHOLE[:5000] + b"\0" * 100 + WHOLE[5100:], id="holed"),
    ],
)
def test_a_damaged_file_is_explained(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "map.npz").write_bytes(content)
    with pytest.raises(StorageError, match="Install Skepway again"):
        read_basemap(tmp_path / "map.npz")


def test_a_missing_file_is_explained(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="cannot be read"):
        read_basemap(tmp_path / "none.npz")
