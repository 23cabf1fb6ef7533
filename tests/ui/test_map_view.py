"""The map: projection, road and night on the pixels, names that do not collide, tiles with manners."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import replace
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from PySide6.QtCore import QBuffer, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QImage, QPainter

from planner.app.plan.results import Choice
from planner.app.plan.sunny import sun_on_load
from planner.model.records import Site
from planner.ui.look import theme
from planner.ui.map import map_marks, road_line
from planner.ui.map.map_view import MapView
from planner.ui.map.mercator import Sight, framing, mercator, unmercator
from planner.ui.map.tiles import MOST_AT_ONCE, Tiles, in_sight, place, zoom_for
from planner.ui.map.told import stand_words
from planner.ui.work.data_source import DataSource
from tests.ui import synthetic
from tests.ui.conftest import PATIENCE_MS

INK = QColor("#3050c0")


@pytest.fixture
def view(qtbot) -> MapView:
    made = MapView()
    qtbot.addWidget(made)
    made.resize(700, 520)
    made.show()
    qtbot.waitExposed(made)
    return made


@pytest.fixture
def on_the_road(view: MapView) -> MapView:
    plan = synthetic.plan()
    view.show_ground(DataSource().ground())
    view.show_road(plan.road, plan.trip.waypoints)
    view.show_curves(synthetic.curves(plan, Choice(18, 0, 0)), 0, synthetic.ZONE)
    view.set_cursor(float(view.curves.time_s[200]))
    return view


@pytest.mark.parametrize(("lat", "lon"), [(0, 0), (51.5, -0.1), (-33.9, 151.2), (64.1, -21.9)])
def test_places_come_back_from_the_map(lat: float, lon: float) -> None:
    x, y = mercator(lat, lon)
    assert unmercator(float(x), float(y)) == pytest.approx((lat, lon), abs=1e-9)


def test_web_mercator_of_a_known_point() -> None:
    """EPSG:3857 by its defining formula: 45 N lies at y = asinh(1) / 2 pi above the equator."""
    x, y = mercator(45.0, 90.0)
    assert float(x) == pytest.approx(0.75)
    assert float(y) == pytest.approx(0.5 + np.arcsinh(1.0) / (2 * np.pi))


def test_the_land_and_the_marks_over_it_use_one_projection() -> None:
    """The land is painted through a transform, the marks point by point: a town must lie on its coast."""
    sight = Sight(QRectF(0.48, 0.62, 0.05, 0.04), QRectF(10, 20, 500, 400), 520, 440)
    east, north = mercator(52.5, -1.25)
    by_land = sight.transform().map(QPointF(float(east), float(north)))
    x, y = sight.pixels(52.5, -1.25)
    assert (float(x), float(y)) == pytest.approx((by_land.x(), by_land.y()), abs=1e-6)


def test_the_road_is_painted_in_the_colours_of_its_quantity(on_the_road: MapView) -> None:
    from planner.ui.look import colours

    picture = on_the_road.grab().toImage()
    shades = colours.shades()
    road = synthetic.road()
    xs, ys = on_the_road.sight().pixels(road.lat_deg[::40], road.lon_deg[::40])
    hits = 0
    for x, y in zip(xs, ys, strict=True):
        around = [picture.pixelColor(int(x) + i, int(y) + j) for i in (-1, 0, 1) for j in (-1, 0, 1)]
        hits += any(
            abs(a.red() - s.red()) + abs(a.green() - s.green()) + abs(a.blue() - s.blue()) < 30
            for a in around
            for s in shades
        )
    assert hits > len(xs) * 0.7


def test_the_night_lies_beside_the_road(on_the_road: MapView) -> None:
    """Departure after dark: the halo darkens the ground a few pixels off the line."""
    by_day, by_night = on_the_road, on_the_road.grab().toImage()
    plan = synthetic.plan()
    curves = synthetic.curves(plan, Choice(18, 0, 0))
    bright = type(curves)(
        **{
            **{f: getattr(curves, f) for f in curves.__dataclass_fields__},
            "sun_elevation_deg": curves.sun_elevation_deg * 0 + 30,
        }
    )
    by_day.show_curves(bright, 0, synthetic.ZONE)
    other = by_day.grab().toImage()
    assert by_night != other


def test_the_sunny_side_of_the_load_is_drawn_at_the_vehicle_and_told_in_words(on_the_road: MapView) -> None:
    """It stood in the words of a loading place alone: which side that is along the road was nowhere to be seen."""
    view, curves = on_the_road, on_the_road.curves
    told = [(float(at), view.sun_words(float(at))) for at in curves.time_s]
    lit = next(at for at, words in told if "left side" in words or "right side" in words)
    dark = next(at for at, words in told if not words)
    azimuth = sun_on_load(curves, lit).azimuth_deg
    view.set_cursor(lit)
    at = map_marks._vehicle_at(view.sight(), curves, lit)
    away = map_marks.SUN_AWAY_PX * QPointF(np.sin(np.radians(azimuth)), -np.cos(np.radians(azimuth)))
    spot, ink = (at + away + QPointF(3.4, 0)).toPoint(), QColor(theme.current().caution)
    assert _near(ink, view.grab().toImage(), (spot.x(), spot.y()))
    view.set_cursor(dark)
    at = map_marks._vehicle_at(view.sight(), curves, dark)
    picture = view.grab().toImage()
    around = [at + map_marks.SUN_AWAY_PX * QPointF(np.cos(t), np.sin(t)) for t in np.arange(0, 6.3, 0.1)]
    assert not any(picture.pixelColor(point.toPoint()) == ink for point in around)
    heads, rows = view.table()
    assert len({len(row) for row in (heads, *rows)}) == 1
    assert any("side of the load" in row[-1] for row in rows)
    assert any(row[-1] == "" for row in rows)


def test_names_of_the_places_called_at_do_not_cover_each_other(on_the_road: MapView) -> None:
    from PySide6.QtGui import QPainter

    taken: list[QRectF] = []
    canvas = QImage(on_the_road.size(), QImage.Format.Format_RGB32)
    painter = QPainter(canvas)
    map_marks.paint_waypoints(painter, on_the_road.sight(), on_the_road.waypoints, taken)
    painter.end()
    assert len(taken) == 3
    assert not any(a.intersects(b) for i, a in enumerate(taken) for b in taken[i + 1 :])


def test_no_name_lies_over_the_mark_of_another_stop(on_the_road: MapView) -> None:
    """Eight stops close together: three names were struck through by the squares of their neighbours."""
    from PySide6.QtGui import QPainter

    near = [
        Site(
            f"Longish name {n}",
            on_the_road.waypoints[0].lat_deg + 0.012 * n,
            on_the_road.waypoints[0].lon_deg,
            "UTC",
        )
        for n in range(8)
    ]
    taken: list[QRectF] = []
    canvas = QImage(on_the_road.size(), QImage.Format.Format_RGB32)
    painter, sight = QPainter(canvas), on_the_road.sight()
    map_marks.paint_waypoints(painter, sight, near, taken)
    painter.end()
    xs, ys = sight.pixels([site.lat_deg for site in near], [site.lon_deg for site in near])
    assert taken
    assert not any(box.contains(float(x), float(y)) for box in taken for x, y in zip(xs, ys, strict=True))


def test_the_first_place_set_is_marked_before_there_is_a_second(view: MapView) -> None:
    draft = {"origin": {"name": "Ludlow", "lat": 52.368, "lon": -2.718}}
    bare = view.grab().toImage()
    view.show_pins(draft)
    assert [site.name for site in view.waypoints] == ["Ludlow"]
    view.show_road(None, ())
    view.show_pins(draft)
    assert [site.name for site in view.waypoints] == ["Ludlow"]
    assert view.grab().toImage() != bare


def test_a_place_set_elsewhere_takes_the_road_of_before_off_the_map(on_the_road: MapView) -> None:
    """And one that lies on it, by whatever name, leaves it."""
    sites = on_the_road.waypoints
    ends = {"origin": sites[0], "destination": sites[-1]}
    draft = {name: {"name": "x", "lat": site.lat_deg, "lon": site.lon_deg} for name, site in ends.items()}
    draft["stops"] = [{"name": "s", "lat": site.lat_deg, "lon": site.lon_deg} for site in sites[1:-1]]
    on_the_road.show_pins(draft)
    assert on_the_road.road is not None
    draft["destination"] = {"name": "Quimper", "lat": 48.0, "lon": -4.1}
    on_the_road.show_pins(draft)
    assert on_the_road.road is None
    assert on_the_road.curves is None
    assert [site.name for site in on_the_road.waypoints] == ["x", "s", "Quimper"]


def test_on_a_low_map_the_key_leaves_the_whole_road_in_sight(on_the_road: MapView, qtbot) -> None:
    """On a map as low as beside the board every corner has some of the road: the key lay over its ends."""
    from PySide6.QtGui import QPainter

    on_the_road.resize(364, 145)
    on_the_road.fit()
    canvas = QImage(on_the_road.size(), QImage.Format.Format_RGB32)
    painter = QPainter(canvas)
    sight = on_the_road.sight()
    box = map_marks.paint_key(painter, sight, on_the_road._key(), on_the_road.road, on_the_road.waypoints)
    painter.end()
    xs, ys = sight.pixels(on_the_road.road.lat_deg, on_the_road.road.lon_deg)
    assert not any(box.contains(float(x), float(y)) for x, y in zip(xs, ys, strict=True))
    assert QRectF(0, 0, sight.wide, sight.high).contains(box)


@pytest.mark.parametrize("wide", [364, 700])
def test_everybody_the_map_is_owed_to_is_named_on_it(on_the_road: MapView, wide: int) -> None:
    """One line cut off the name of those who made the road data."""
    from planner.services.roads.osrm import ATTRIBUTION

    metrics = QFontMetricsF(theme.font(-1.6))
    text = f"Land and borders: Natural Earth. Towns: GeoNames, CC BY 4.0. {ATTRIBUTION}"
    lines = map_marks.in_lines(text, metrics, wide - 12, map_marks.CREDIT_LINES)
    assert len(lines) <= 2
    assert "OpenStreetMap contributors" in " ".join(lines)
    assert all(metrics.horizontalAdvance(line) <= wide - 12 for line in lines)
    on_the_road.resize(wide, 145)
    on_the_road.show_road(replace(on_the_road.road, attribution=ATTRIBUTION), on_the_road.waypoints)
    painter = QPainter(canvas := QImage(on_the_road.size(), QImage.Format.Format_RGB32))
    credit, key = on_the_road._paint_corners(painter, on_the_road.sight())
    painter.end()
    assert canvas.rect().contains(credit.toAlignedRect())
    assert not credit.intersects(key)


def test_a_map_with_the_keyboard_shows_it(on_the_road: MapView, qtbot) -> None:
    view = on_the_road
    view.activateWindow()
    view.setFocus()
    qtbot.waitUntil(view.hasFocus, timeout=PATIENCE_MS)
    with_it = view.grab().toImage()
    view.clearFocus()
    assert view.grab().toImage() != with_it
    edge = with_it.pixelColor(view.width() // 2, 1)
    assert (edge.red() - edge.blue()) > 80, "in the colour of the accent"


def test_a_click_while_picking_names_a_point(view: MapView, qtbot) -> None:
    view.set_picking(True)
    with qtbot.waitSignal(view.point_picked) as told:
        qtbot.mouseClick(view.viewport(), Qt.MouseButton.LeftButton, pos=view.viewport().rect().center())
    lat, lon = told.args
    assert -85 < lat < 85
    assert -180 < lon < 180


def test_keys_move_and_zoom(view: MapView, qtbot) -> None:
    across, up = (span[0] for span in view._box.viewRange())
    qtbot.keyClick(view, Qt.Key.Key_Right)
    assert view._box.viewRange()[0][0] > across
    assert view._box.viewRange()[1][0] == pytest.approx(up)
    qtbot.keyClick(view, Qt.Key.Key_Up)
    assert view._box.viewRange()[1][0] > up
    wide = np.ptp(view._box.viewRange()[0])
    qtbot.keyClick(view, Qt.Key.Key_Plus)
    assert np.ptp(view._box.viewRange()[0]) < wide


def test_the_land_moves_with_the_map(view: MapView) -> None:
    view.show_ground(DataSource().ground())
    before = view.grab().toImage()
    view._box.translateBy(x=0.04, y=0.0)
    after = view.grab().toImage()
    shift = round(0.04 / np.ptp(view._box.viewRange()[0]) * view.width())
    water = QColor(theme.current().water).lightness()

    def wet(picture: QImage, x: int) -> bool:
        return abs(picture.pixelColor(x, 140).lightness() - water) <= 2

    row = range(20, 500, 3)
    followed = np.mean([wet(before, x + shift) == wet(after, x) for x in row])
    stayed = np.mean([wet(before, x) == wet(after, x) for x in row])
    assert followed > 0.85
    assert followed > stayed


def test_a_dragged_map_moves_what_is_painted_and_paints_anew_once_it_rests(
    on_the_road: MapView, qtbot
) -> None:
    """Sixty frames a second leave no time to paint a thousand kilometres anew for each."""
    view = on_the_road
    view.show_ground(DataSource().ground())
    painted = []
    view._over._paint = lambda painter, sight, paint=view._paint_still: (
        painted.append(sight.wide),
        paint(painter, sight),
    )
    view.viewport().repaint()
    painted.clear()
    for _ in range(6):
        view._box.translateBy(x=0.0004, y=0.0002)
        view.viewport().repaint()
    assert len(painted) == 1  # more than is in sight, once
    assert painted[0] > view.width()
    moved = view.grab().toImage()
    qtbot.waitUntil(lambda: len(painted) == 2)
    assert painted[1] == view.width()
    at_rest = view.grab().toImage()
    xs, ys = view.sight().pixels(synthetic.road().lat_deg[::40], synthetic.road().lon_deg[::40])
    spots = [(int(x), int(y)) for x, y in zip(xs, ys, strict=True) if view.rect().contains(int(x), int(y))]
    alike = [_near(moved.pixelColor(*spot), at_rest, spot) for spot in spots]
    assert np.mean(alike) > 0.9


def _near(ink: QColor, picture: QImage, spot: tuple[int, int]) -> bool:
    """Whether a colour is found within a pixel of a spot."""
    around = [picture.pixelColor(spot[0] + i, spot[1] + j) for i in (-1, 0, 1) for j in (-1, 0, 1)]
    return any(
        abs(a.red() - ink.red()) + abs(a.green() - ink.green()) + abs(a.blue() - ink.blue()) < 60
        for a in around
    )


@pytest.mark.parametrize("flags", ["1", "0", "10", "01", "0110", "1011", "110011", "101010", "1111", "0000"])
def test_the_pieces_of_a_line_are_the_segments_wanted_and_no_others(flags: str) -> None:
    wanted = np.array([flag == "1" for flag in flags])
    x = np.arange(len(flags) + 1, dtype=float)
    path = road_line._pieces(x, x * 0.0, wanted)
    drawn, at = set(), None
    for number in range(path.elementCount()):
        element = path.elementAt(number)
        if element.isLineTo():
            assert element.x - at == 1.0
            drawn.add(int(at))
        at = element.x
    assert drawn == set(np.flatnonzero(wanted).tolist())


# -- tiles -------------------------------------------------------------------------------------------


@pytest.fixture
def server() -> Iterator[ThreadingHTTPServer]:
    """A tile server on this machine that paints every tile in one ink and notes who asked for what."""
    image = QImage(256, 256, QImage.Format.Format_RGB32)
    image.fill(INK)
    buffer = QBuffer()
    buffer.open(QBuffer.OpenModeFlag.WriteOnly)
    image.save(buffer, "PNG")
    body = bytes(buffer.data())

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.server.seen.append((self.path, self.headers["User-Agent"]))
            self.send_response(self.server.status)
            self.send_header("Content-Type", "image/png")
            self.send_header("Cache-Control", "max-age=604800")
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_) -> None:
            """Quiet."""

    made = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    made.seen, made.status = [], 200
    thread = threading.Thread(target=made.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    yield made
    made.shutdown()
    made.server_close()
    thread.join()


def _tiles(server: ThreadingHTTPServer, folder: Path) -> Tiles:
    return Tiles(
        f"http://127.0.0.1:{server.server_address[1]}/{{z}}/{{x}}/{{y}}.png",
        "Skepway/test (invented@example.org)",
        folder,
    )


def test_tiles_in_sight_are_fetched_credited_and_painted(
    view: MapView, server, qtbot, tmp_path: Path
) -> None:
    tiles = _tiles(server, tmp_path)
    view.show_tiles(tiles, "Streets: invented")
    qtbot.waitUntil(lambda: len(server.seen) >= 2 and not tiles._asked, timeout=PATIENCE_MS)
    view.viewport().repaint()
    assert view.grab().toImage().pixelColor(350, 200).name() == INK.name()
    assert all(agent == "Skepway/test (invented@example.org)" for _, agent in server.seen)
    assert len({path for path, _ in server.seen}) == len(server.seen), "no tile is asked for twice"
    view.show_tiles(None, "")


def test_a_server_that_refuses_is_left_alone_and_the_land_stays(
    view: MapView, server, qtbot, tmp_path: Path
) -> None:
    server.status = 503
    view.show_ground(DataSource().ground())
    tiles = _tiles(server, tmp_path)
    view.show_tiles(tiles, "x")
    qtbot.waitUntil(lambda: bool(tiles._refused) and not tiles._asked, timeout=PATIENCE_MS)
    asked = len(server.seen)
    for _ in range(5):
        view.viewport().repaint()
    qtbot.wait(50)
    assert len(server.seen) == asked
    colours = {view.grab().toImage().pixelColor(x, 250).name() for x in range(0, 700, 7)}
    assert theme.current().land in colours
    view.show_tiles(None, "")


def test_a_server_is_asked_for_few_tiles_at_once(view: MapView, server, qtbot, tmp_path: Path) -> None:
    """A screen is a dozen tiles and more; whoever gives them away asks for some manners."""
    tiles = _tiles(server, tmp_path)
    painter = QPainter(picture := QImage(1600, 1200, QImage.Format.Format_RGB32))
    sight = QRectF(0.48, 0.62, 0.05, 0.0375)
    tiles.paint(painter, sight, picture.size())
    painter.end()
    wanted = in_sight(sight, zoom_for(sight.width(), picture.width()))
    assert len(wanted) > MOST_AT_ONCE == len(tiles._asked)
    tiles.close()


def test_tiles_cover_the_view_without_gaps() -> None:
    sight, size = QRectF(0.48, 0.62, 0.05, 0.04), QSize(1000, 800)
    depth = zoom_for(sight.width(), size.width())
    boxes = [place(key, sight, size) for key in in_sight(sight, depth)]
    union = QRectF()
    for box in boxes:
        union = union.united(box)
        assert box.width() == pytest.approx(boxes[0].width())
    assert union.contains(QRectF(0, 0, 1000, 800))
    assert 128 < boxes[0].width() < 512


def test_no_town_is_named_over_the_road_or_a_pin(on_the_road: MapView) -> None:
    """The road ran through "Telford", and the pin of Leeds covered the end of "Preston"."""
    sight, road = on_the_road.sight(), on_the_road.road
    line = map_marks.boxes_along(sight, road, on_the_road.waypoints)
    xs, ys = sight.pixels(road.lat_deg, road.lon_deg)
    assert all(
        any(box.adjusted(-1, -1, 1, 1).contains(QPointF(float(x), float(y))) for box in line)
        for x, y in zip(xs[::7], ys[::7], strict=True)
        if 4 < x < sight.wide - 4 and 4 < y < sight.high - 4
    )
    picture = QImage(int(sight.wide), int(sight.high), QImage.Format.Format_RGB32)
    painter = QPainter(picture)
    taken: list[QRectF] = []
    map_marks.paint_waypoints(painter, sight, on_the_road.waypoints, taken)
    for pin in map_marks._points(sight, on_the_road.waypoints):
        assert any(box.contains(pin) for box in line[:3])
    taken += line
    before = len(taken)
    map_marks.paint_towns(painter, sight, on_the_road._ground, taken)
    painter.end()
    named = taken[before:]
    assert named
    assert not [box for box in named if any(box.intersects(piece) for piece in taken[:before])]


def test_a_place_that_stands_alone_is_shown_with_what_lies_around_it() -> None:
    """The first place set was shown as a disc on bare land: 8 km of it."""
    room = QRectF(0, 0, 360, 144)
    x, y = mercator([52.37], [-2.72])
    _, up = framing(x, y, room, 24.0, 34.0)
    km = (up[1] - up[0]) * 40_075 * np.cos(np.radians(52.37))
    assert 60 < km < 250
    near = mercator([52.37, 52.38], [-2.72, -2.70])
    _, up = framing(*near, room, 24.0, 34.0)
    assert (up[1] - up[0]) * 40_075 < 30


@pytest.mark.parametrize("shape", [(3.0, 0.2), (0.2, 3.0)])
def test_the_whole_road_lies_over_the_key_and_the_credits(shape: tuple[float, float]) -> None:
    room = QRectF(0, 0, 360, 144)
    x, y = np.array([0.5, 0.5 + shape[0] / 100]), np.array([0.6, 0.6 + shape[1] / 100])
    across, up = framing(x, y, room, 24.0, 34.0)
    per_px = (up[1] - up[0]) / room.height()
    assert (across[1] - across[0]) / room.width() == pytest.approx(per_px), "a map is not stretched"
    edges = (y.min() - up[0], up[1] - y.max(), x.min() - across[0], across[1] - x.max())
    for edge, least in zip(edges, (34.0, 24.0, 24.0, 24.0), strict=True):
        assert edge / per_px >= least - 1e-6


def test_how_long_one_may_stand_is_told_on_the_trip_alone() -> None:
    found = SimpleNamespace(
        time_s=np.array([0.0, 900.0, 1800.0]),
        shortest_s=lambda *_: np.array([600.0, 1200.0, 7200.0]),
        horizon_s=21_600.0,
    )
    assert [stand_words(found, at_s) for at_s in (-1.0, 1801.0)] == ["", ""]
    assert stand_words(None, 900.0) == ""
    assert "20" in stand_words(found, 1000.0)
