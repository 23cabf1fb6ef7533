"""The weather to both sides of the road: asked for in one request, read at a minute, painted in steps."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QImage, QPainter

from planner.app.plan.results import Choice
from planner.services.forecast.beside import MOST_PLACES, Beside, away_from_km, mesh, weather_beside
from planner.services.http import Client
from planner.ui.map.corridor import Corridor, lay, level_edges
from planner.ui.map.map_view import MapView
from planner.ui.map.mercator import Sight
from planner.ui.map.met import met, spread
from tests.services.standin import StandIn
from tests.ui import synthetic

HOUR_S = 3600.0


@pytest.fixture(scope="module")
def road():
    return synthetic.road()


@pytest.fixture
def sloping(road) -> Beside:
    """Air that is as warm as the place lies north, the same on both sides and at all hours."""
    lat_deg, lon_deg, wanted, half_km = mesh(road)
    time_s = synthetic.curves(synthetic.plan(), Choice(3, 0, 0)).time_s
    hours = np.arange(np.floor(time_s[0] / HOUR_S) - 1, np.ceil(time_s[-1] / HOUR_S) + 2) * HOUR_S
    air = np.where(wanted, 10.0 * lat_deg[:, None], np.nan)
    table = np.repeat(air[None], hours.size, axis=0)
    return Beside(hours, lat_deg, lon_deg, table, table / 100.0, table * 0.0, table * 0.0, half_km)


def test_the_mesh_holds_the_whole_road_in_as_many_places_as_one_request_takes(road) -> None:
    lat_deg, lon_deg, wanted, half_km = mesh(road)
    assert wanted.sum() <= MOST_PLACES
    away = away_from_km(road, lat_deg[:, None], lon_deg[None, :])
    assert (away[wanted] < 1.4 * half_km).all()
    for lat, lon in zip(road.lat_deg, road.lon_deg, strict=True):
        row, column = np.searchsorted(lat_deg, lat), np.searchsorted(lon_deg, lon)
        assert wanted[row - 1 : row + 1, column - 1 : column + 1].any()


def test_one_request_asks_for_all_places_and_none_for_a_past_week(road, tmp_path) -> None:
    now_s = float(np.floor(synthetic.plan().departures_s[0] / 86_400) * 86_400)
    with StandIn() as server:
        client = Client.open(tmp_path, contact="")
        found = weather_beside(client, server.settings(), road, now_s, now_s + 7200.0, now_s=now_s)
        assert server.asked("/v1/forecast") == 1
        assert found is not None
        known = np.isfinite(found.air_c).all(axis=0)
        assert (known == mesh(road)[2]).all()
        asked = np.flatnonzero(known.any(axis=1))
        north, south = (np.nanmean(found.air_c[:, row]) for row in asked[[-1, 0]])
        assert north < south, "the stand-in is cooler to the north"
        week_s = 7 * 86_400.0
        assert (
            weather_beside(client, server.settings(), road, now_s - week_s, now_s - week_s, now_s=now_s)
            is None
        )
        assert server.asked("/v1/forecast") == 1
        client.close()


def test_a_slope_is_read_between_the_places(road, sloping: Beside) -> None:
    corridor = Corridor()
    laid = lay(sloping, road)
    corridor.show(laid)
    values = corridor.values("outside", float(sloping.time_s[2]) + 600.0)
    rows = np.degrees(
        np.arctan(
            np.sinh((np.linspace(laid.box.bottom(), laid.box.top(), values.shape[0]) - 0.5) * 2 * np.pi)
        )
    )
    inside = laid.shown == 1.0
    off = np.abs(values - 10.0 * rows[:, None])[inside]
    step = 10.0 * float(np.diff(sloping.lat_deg)[0])
    assert np.median(off) < 0.02 * step
    assert off.max() < step, "at most one mesh away at the outermost places"


def test_it_is_painted_in_steps_and_only_beside_the_road(road, sloping: Beside, qapp) -> None:
    corridor = Corridor()
    laid = lay(sloping, road)
    corridor.show(laid)
    span = corridor.span("outside", float(sloping.time_s[0]), float(sloping.time_s[-1]))
    image = QImage(300, 300, QImage.Format.Format_ARGB32_Premultiplied)
    image.fill(0)
    paint = QPainter(image)
    sight = Sight(laid.box, QRectF(0, 0, 300, 300), 300, 300)
    corridor.paint(paint, sight, "outside", span, float(sloping.time_s[3]))
    corridor.paint(paint, sight, "core", span, float(sloping.time_s[3]))
    paint.end()
    assert image.pixelColor(1, 1).alpha() == 0 or laid.shown[0, 0] > 0
    xs, ys = sight.pixels(road.lat_deg, road.lon_deg)
    on_road = {image.pixelColor(int(x), int(y)).rgba() for x, y in zip(xs, ys, strict=True)}
    assert all(colour >> 24 for colour in on_road)
    assert 3 <= len(level_edges(*span)) <= 9


def test_one_scale_holds_for_the_road_and_what_lies_beside_it(road, sloping: Beside, qtbot) -> None:
    view = MapView()
    qtbot.addWidget(view)
    plan = synthetic.plan()
    view.show_road(road, plan.trip.waypoints)
    curves = synthetic.curves(plan, Choice(3, 0, 0))
    view.show_curves(curves, 0, synthetic.ZONE)
    alone = view.span
    view.show_beside(lay(sloping, road))
    assert view.span[1] >= np.nanmax(sloping.air_c) > alone[1]
    view.set_beside(False)
    assert view.span == alone


def test_the_weather_beside_a_road_goes_with_that_road(road, sloping: Beside, qtbot) -> None:
    """The corridor of the trip before lay across the map of the new one until its own was fetched."""
    view = MapView()
    qtbot.addWidget(view)
    plan = synthetic.plan()
    view.show_road(road, plan.trip.waypoints)
    view.show_beside(lay(sloping, road))
    view.show_reserve(SimpleNamespace())
    view.show_road(replace(road), plan.trip.waypoints[::-1])
    assert view.corridor.laid is not None, "the same way, called at in another order"
    view.show_road(replace(road, lat_deg=road.lat_deg + 0.5), plan.trip.waypoints)
    assert view.corridor.laid is None
    assert view.reserve is None


def test_rain_begins_at_none_and_the_least_time_to_stand_is_the_deepest() -> None:
    curves = synthetic.curves(synthetic.plan(), Choice(3, 0, 0))
    unknown = float("nan"), float("nan")
    assert np.isnan(met("rain", curves, 0)).all()
    assert np.isnan(met("stand", curves, 0)).all()
    assert spread("rain", np.array([np.nan, 0.4]), unknown) == (0.0, 2.0)
    assert spread("stand", np.array([600.0, 9000.0]), unknown) == (9000.0, 0.0)
    dry = replace(synthetic.plan().weather, rain_mm=0.0 * synthetic.plan().weather.air_c + 1.5)
    assert np.nanmax(met("rain", curves, 0, dry)) == pytest.approx(1.5)


def test_rain_is_known_from_the_hour_before_the_first_of_the_table() -> None:
    """A figure tells the hour that ends with it: before that hour nothing is known, in it everything."""
    plan = synthetic.plan()
    curves = synthetic.curves(plan, Choice(3, 0, 0))
    first = float(curves.time_s[0]) + 1.5 * HOUR_S
    late = replace(plan.weather, time_s=first + HOUR_S * np.arange(plan.weather.time_s.size))
    known = np.isfinite(met("rain", curves, 0, late))
    np.testing.assert_array_equal(known, curves.time_s >= first - HOUR_S)
    assert known.any()
    assert not known.all()


def test_no_longer_is_stood_than_was_looked_at() -> None:
    """Where no variant comes to harm within the horizon, the horizon is what is known."""
    curves = synthetic.curves(synthetic.plan(), Choice(3, 0, 0))
    left = np.full(curves.time_s.shape, 1800.0)
    left[: left.size // 2] = np.inf
    found = SimpleNamespace(shortest_s=lambda *_: left, horizon_s=21_600.0, time_s=curves.time_s)
    shown = met("stand", curves, 0, reserve=found)
    assert shown[0] == 21_600.0
    assert shown[-1] == 1800.0
