"""What attacks once found, each as the statement that must hold."""

from __future__ import annotations

import io
import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing, suppress
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from email.utils import formatdate
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from urllib.parse import quote

import numpy as np
import pytest

from planner import reading
from planner.bundled import resource_path
from planner.cli import forecast as forecast_command
from planner.cli.exits import Exit
from planner.cli.main import main
from planner.cli.planning import exit_for, sources_of
from planner.cli.voice import speaking
from planner.errors import InputError, ServiceError, StorageError
from planner.model.geo import cumulative_km
from planner.model.records import Road, Weather
from planner.services.forecast import met_norway, nws, open_meteo
from planner.services.forecast.points import choose_points
from planner.services.forecast.span import Span, instant_s
from planner.services.geocoding.saved import places_file, saved_places
from planner.services.http import Client, Limits, UnreadableError
from planner.services.roads import osrm
from planner.services.roads.engine import build_network, find_engine, running_engine
from planner.services.roads.polyline import decode
from planner.services.settings import load_settings
from planner.store.clocks import instant_s as local_instant_s
from planner.store.dayfile import write_day
from planner.store.logbook import bundle
from planner.store.logbook.book import Logbook
from planner.store.logbook.records import Entry, KnownTrip
from tests.app.small_day import small_draft
from tests.hard.behaviours import FAULTS
from tests.hard.readers import TRIPS, chained, exported, sealed
from tests.hard.test_services import REQUEST, SHORT, _points
from tests.services import standin
from tests.services.standin import StandIn
from tests.services.test_engine_rules import extract, programs

PATIENT = Limits(first_pause_s=0.001)


@pytest.fixture
def client(tmp_path: Path) -> Client:
    return Client.open(tmp_path / "cache", contact="invented@example.org", limits=PATIENT)


def asked(client: Client, world: StandIn) -> Any:
    return client.get("Plain service", f"{world.url}/plain", json.loads)


# -- roads ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("seconds", [0.0, -60.0, 1e300])
def test_no_road_is_believed_that_nobody_can_drive(seconds: float, client: Client, world: StandIn) -> None:
    def change(document: Any) -> None:
        for route in document["routes"]:
            for leg in route["legs"]:
                leg["duration"] = seconds

    world.always("/route/v1", standin.mangled(change))
    with pytest.raises(ServiceError, match="impossible"):
        osrm.find(client, world.settings(), REQUEST)


def test_a_long_number_in_a_shape_costs_no_time() -> None:
    began = time.process_time()
    with pytest.raises(UnreadableError):
        decode("~" * 1_000_000)
    assert time.process_time() - began < 5.0


def test_a_failed_build_leaves_the_network_that_was_there(tmp_path: Path) -> None:
    tiles = tmp_path / "roads"
    good = programs(tmp_path / "good", 'touch "$(dirname "$2")/1.gph"')
    assert build_network(good, extract(tmp_path), tiles) == 1
    for number, build in enumerate(("exit 1", "exit 0", 'touch "$(dirname "$2")/2.gph"; exit 3')):
        bad = programs(tmp_path / f"bad{number}", build)
        with pytest.raises(StorageError):
            build_network(bad, extract(tmp_path), tiles)
        assert sorted(path.name for path in tiles.iterdir()) == ["1.gph", "valhalla.json"]
        assert not list(tmp_path.glob(".roads*"))


@pytest.mark.filterwarnings("ignore:.*fork:DeprecationWarning")
@pytest.mark.skipif(not hasattr(os, "fork"), reason="forks")
def test_a_kill_takes_the_engine_along(tmp_path: Path) -> None:
    """The pretended engine writes its number down and runs on; whoever started it is killed."""
    mark = tmp_path / "engine"
    programs(tmp_path / "bin", 'touch "$(dirname "$2")/1.gph"', f"echo $$ > {mark}; exec sleep 60")
    engine = find_engine(tmp_path / "bin")
    build_network(engine, extract(tmp_path), tmp_path / "roads")
    child = os.fork()
    if child == 0:
        try:
            with running_engine(engine, tmp_path / "roads"):
                pass
        finally:
            os._exit(1)
    _until(lambda: mark.exists() and bool(mark.read_text().strip()))
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    number = int(mark.read_text())
    _until(lambda: not _runs(number))


def _runs(number: int) -> bool:
    try:
        return b"sleep" in Path(f"/proc/{number}/cmdline").read_bytes()
    except OSError:
        return False


def _until(true: Any) -> None:
    deadline = time.monotonic() + 240.0
    while not true():
        assert time.monotonic() < deadline
        time.sleep(0.02)


# -- answers -------------------------------------------------------------------------------------


def test_a_failed_refresh_is_told_although_the_kept_answer_has_a_validator(
    client: Client, world: StandIn
) -> None:
    world.always(
        "/plain", standin.with_headers(last_modified=formatdate(0, usegmt=True), cache_control="max-age=9999")
    )
    asked(client, world)
    world.heal()
    world.always("/plain", standin.reset())
    again = asked(client.with_(refresh=True), world)
    assert again.stale
    assert "broke off" in again.problem


def test_a_time_without_a_zone_is_refused_wherever_it_comes_from() -> None:
    assert instant_s(datetime(2026, 6, 1, tzinfo=UTC)) == datetime(2026, 6, 1, tzinfo=UTC).timestamp()
    with pytest.raises(UnreadableError, match="names no zone"):
        instant_s(datetime(2026, 6, 1))


def test_hours_without_end_are_refused_before_they_are_laid_out(client: Client, world: StandIn) -> None:
    from planner.services.forecast import met_norway

    def change(document: Any) -> None:
        rows = document["properties"]["timeseries"]
        rows[0]["time"], rows[-1]["time"] = "0001-01-01T00:00:00Z", "9999-12-31T00:00:00Z"

    world.always("/weatherapi", standin.mangled(change))
    day_s = world.today_s + 86_400.0
    with pytest.raises(ServiceError, match="the answer spans"):
        met_norway.forecast(client, world.settings(), _points().only(0), Span(day_s, day_s + 23 * 3600.0))


@pytest.mark.parametrize(
    "contact", ["jürg@bienen.example", "пчела@example.org", "蜂", "a@example.org\r\nX-Evil: 1", " "]
)
def test_any_contact_travels(contact: str, tmp_path: Path, world: StandIn) -> None:
    client = Client.open(tmp_path, contact=contact, limits=SHORT)
    asked(client, world)
    client.close()
    agent = world.last("/plain").headers["User-Agent"]
    assert agent.isascii()
    assert "X-Evil" not in world.last("/plain").headers


def test_a_key_that_no_header_can_carry_is_told_as_a_key(client: Client, world: StandIn) -> None:
    settings = world.settings(forecast={"key": "schlüssel"})
    with pytest.raises(ServiceError, match=r"key .* holds a letter that no key has"):
        open_meteo.elevations_m(client, settings, np.array([48.0]), np.array([8.0]))


@pytest.mark.parametrize("key", ["secret+/0123456789=", "k~7q"])
@pytest.mark.parametrize("code", [200, 500, 401])
def test_no_key_stands_anywhere_although_the_service_echoes_it(
    code: int, key: str, tmp_path: Path, world: StandIn, home: Path
) -> None:
    written = quote(key, safe="")
    echo = {"error": True, "reason": f"your key {key} is tired, as in ?key={written}", "elevation": [key]}
    world.always("/v1/elevation", standin.status(code, echo, x_key=key))
    client = Client.open(home / "cache", limits=SHORT)
    with pytest.raises(ServiceError) as caught:
        open_meteo.elevations_m(
            client, world.settings(forecast={"key": key}), np.array([48.0]), np.array([8.0])
        )
    client.get(
        "Plain service", f"{world.url}/v1/elevation", bytes, headers={"X-Api-Key": key}
    ) if code == 200 else None
    client.close()
    for form in (key, written):
        assert form not in str(caught.value)
        for path in home.rglob("*"):
            assert not path.is_file() or form.encode() not in path.read_bytes(), path


def test_a_command_says_what_it_waits_for_and_gives_up_in_the_end(
    world: StandIn, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("planner.services.http.adapter.TELL_AFTER_S", 0.1)
    monkeypatch.setattr("planner.cli.planning.PATIENCE_S", 0.6)
    world.always("/plain", standin.silent())
    began = time.monotonic()
    with sources_of(SimpleNamespace(offline=False, refresh=False)) as sources:  # type: ignore[arg-type]
        for _ in range(3):
            with pytest.raises(ServiceError, match="no complete answer"):
                asked(sources.client, world)
    assert time.monotonic() - began < 30.0  # without an end the service would be waited for longer
    assert "Waiting for Plain service" in capsys.readouterr().err


@pytest.mark.parametrize("service", ["met_norway", "nws"])
def test_many_points_of_a_slow_service_are_told_of_once_and_bounded_together(
    service: str, world: StandIn, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each request is quick enough to need no word and no end; together they are not."""
    monkeypatch.setattr("planner.services.http.adapter.TELL_AFTER_S", 0.3)
    monkeypatch.setattr("planner.cli.planning.PATIENCE_S", 0.8)
    module = {"met_norway": met_norway, "nws": nws}[service]
    monkeypatch.setattr(module, "GAP_S", 0.0)
    world.always("/weatherapi" if service == "met_norway" else "/points", standin.late(0.15))
    lat = np.linspace(40.0, 43.0, 31)
    lon = np.full(31, -90.0)
    km = cumulative_km(lat, lon)
    road = Road(lat, lon, np.full(31, 300.0), km, km / 60.0 * 3600.0, (0, 30), "invented")
    points = choose_points(road, most=12)
    assert len(points) > 6
    began = time.monotonic()
    with (
        sources_of(SimpleNamespace(offline=False, refresh=False)) as sources,  # type: ignore[arg-type]
        pytest.raises(ServiceError, match="no complete answer"),
    ):
        module.forecast(
            sources.client, world.settings(), points, Span(world.today_s, world.today_s + 86_400.0)
        )
    assert time.monotonic() - began < 30.0  # without an end the service would be waited for longer
    assert capsys.readouterr().err.count("Waiting for") == 1


def test_every_command_waits_for_services_through_the_one_door() -> None:
    """Which says within two seconds what it waits for and gives up in the end; days and parcels once did neither."""
    folder = Path(forecast_command.__file__).parent
    opening = [path.name for path in folder.glob("*.py") if "Sources.open(" in path.read_text("utf-8")]
    assert opening == ["planning.py"]


@pytest.mark.parametrize("kind", ["lane", "day"])
def test_a_week_without_weather_is_an_exit_code_of_its_own(kind: str, tmp_path: Path) -> None:
    path = resource_path("demo", kind, "parcel-spring.toml" if kind == "lane" else "collection-day.toml")
    for beside in path.parent.iterdir():
        (tmp_path / beside.name).write_bytes(beside.read_bytes())
    text = path.read_text("utf-8")
    (tmp_path / "file.toml").write_text(
        text[: text.index("[weather]")] + '[weather]\nsource = "open_meteo"\n'
    )
    assert main([kind, str(tmp_path / "file.toml"), "--offline"]) == Exit.SERVICE


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["lane", "day"])
def test_weather_of_another_week_is_an_exit_code_of_its_own(kind: str, tmp_path: Path) -> None:
    """A file that does not reach the days asked about: nobody can tell, and the shell is told so."""
    if kind == "day":
        draft = small_draft()
        path = tmp_path / "day.toml"
        named = {**draft, "buyers": draft["buyers"][:2], "weather": {"source": "file", "file": "w.csv"}}
        write_day(named, path)
    else:
        path = tmp_path / "lane.toml"
        text = resource_path("demo", "lane", "parcel-spring.toml").read_text("utf-8")
        path.write_text(text[: text.index("[weather]")] + '[weather]\nsource = "file"\nfile = "w.csv"\n')
    (tmp_path / "w.csv").write_bytes(resource_path("demo", "nuc-pickup-weather.csv").read_bytes())
    assert main([kind, str(path)]) == Exit.SERVICE


# -- what is told --------------------------------------------------------------------------------


def test_not_knowing_is_an_exit_code_of_its_own() -> None:
    for missing, code in ((("weather",), Exit.SERVICE), (("road",), Exit.SERVICE), ((), Exit.FINE)):
        assert exit_for(SimpleNamespace(missing=missing, decision="cannot_tell")) == code  # type: ignore[arg-type]


def weather_of(rain_mm: list[float], notes: tuple[str, ...] = (), issued_s: float = 0.0) -> Weather:
    hours = len(rain_mm)
    flat = np.full((hours, 1), 10.0)
    one = np.zeros(1)
    return Weather(
        np.arange(hours) * 3600.0, one, one, one, one, flat, flat, flat, flat, flat, flat, flat, flat, flat, flat,
        np.array(rain_mm)[:, None], source="s", attribution="", issued_s=issued_s, notes=notes,
    )  # fmt: skip


def test_the_rain_of_a_day_is_that_of_its_24_hours() -> None:
    """1 mm in each hour of two days; the stamp of midnight tells of the hour before it."""
    from zoneinfo import ZoneInfo

    from planner.units import METRIC

    weather = weather_of([1.0] * 49)
    lines = forecast_command._table(weather, [0.0, 86_400.0, 172_800.0], ZoneInfo("UTC"), METRIC)
    assert [line.split()[-1] for line in lines[1:]] == ["24.0", "24.0"]


def test_an_answer_is_fresh_or_old_never_both() -> None:
    old = weather_of([0.0], ("answer is 2 h old: working offline",))
    assert forecast_command._age(old, 7200.0) == ""
    assert forecast_command._age(replace(old, notes=()), 100.0) == ", fresh"
    assert forecast_command._age(replace(old, notes=()), 7200.0) == ", 2.0 h old"


def test_nothing_steers_the_terminal_or_turns_its_letters(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = io.StringIO()
    monkeypatch.setattr(sys, "stdout", stream)
    with speaking():
        print("a\x1b[2J\x9bb\u202ec\x00d\ttab")
    assert stream.getvalue() == "a\ufffd[2J\ufffdb\ufffdc\ufffdd\ttab\n"


@pytest.mark.parametrize("year", ["0001", "1899", "2201", "9999"])
def test_years_without_trips_are_a_fault_of_the_file(year: str) -> None:
    with pytest.raises(InputError, match="not between 1900 and 2200"):
        local_instant_s(f"{year}-12-31T23:00", "Europe/Berlin", "window.to")


def test_a_byte_order_mark_is_no_fault() -> None:
    places_file().parent.mkdir(parents=True)
    places_file().write_bytes(b'\xef\xbb\xbf[[place]]\nname = "home"\nlat = 1\nlon = 2\n')
    (places_file().parent / "settings.toml").write_bytes(b'\xef\xbb\xbfcontact = "a"\n')
    assert [site.name for site in saved_places()] == ["home"]
    assert load_settings(environment={}).contact == "a"


# -- the net -------------------------------------------------------------------------------------


def test_the_net_catches_what_readers_raise_and_keeps_the_traceback_without_the_key() -> None:
    with (
        pytest.raises(StorageError, match="told"),
        reading.net(lambda fault: StorageError("told"), ["secret-key"]),
    ):
        raise KeyError("secret-key")
    kept = reading.log_file().read_text()
    assert "KeyError" in kept
    assert "test_found.py" in kept
    assert "secret-key" not in kept
    assert reading.log_file().stat().st_mode & 0o077 == 0


def test_the_net_lets_explained_errors_and_stops_through() -> None:
    for kind in (KeyboardInterrupt, SystemExit):
        with pytest.raises(kind), reading.net(lambda fault: StorageError("told")):
            raise kind
    with pytest.raises(InputError), reading.net(lambda fault: StorageError("told")):
        raise InputError([])


def test_the_log_does_not_grow_for_ever(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reading, "MOST_LOG_BYTES", 2000)
    for number in range(30):
        reading.keep_trace(ValueError(f"number {number}"))
    assert reading.log_file().stat().st_size < 4000
    assert "number 29" in reading.log_file().read_text()


def test_our_own_arithmetic_stands_over_no_net() -> None:
    """Nothing that calculates imports it."""
    root = Path(reading.__file__).parent
    rooms = [*(root / "model").glob("*.py"), *(root / "app").rglob("*.py")]
    assert rooms
    assert [path.name for path in rooms if "planner.reading" in path.read_text("utf-8")] == []


# -- the window ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "folder",
    [
        "Öl & it's 100 %25",
        *(pytest.param(name, marks=pytest.mark.slow) for name in ("Öl & Öfen", 'a "quoted" (b) c;d', "蜂")),
    ],
)
def test_ticks_are_seen_wherever_the_program_lies(folder: str, tmp_path: Path) -> None:
    """Painted in a process of its own: a ticked box must differ from an unticked one, and the sheet be read whole."""
    pytest.importorskip("PySide6")
    import shutil

    from planner.bundled import resource_path

    home = tmp_path / folder
    shutil.copytree(resource_path("icons"), home / "icons")
    script = f"""
import sys
from pathlib import Path
from PySide6.QtCore import qInstallMessageHandler
from PySide6.QtWidgets import QApplication, QCheckBox
said = []
qInstallMessageHandler(lambda kind, context, text: said.append(text))
from planner.ui.look import theme
theme.resource_path = lambda *parts: Path({str(home)!r}).joinpath(*parts)
app = QApplication([])
theme.apply(app, "light")
box = QCheckBox("x")
box.resize(80, 30)
box.setChecked(True)
ticked = box.grab().toImage()
pale = sum(ticked.pixelColor(x, y).lightness() > 200 for x in range(3, 13) for y in range(9, 21))
assert pale > 3, pale
assert not [text for text in said if "parse" in text or "Cannot open" in text], said
"""
    done = subprocess.run(
        [sys.executable, "-c", script],
        env={**os.environ, "QT_QPA_PLATFORM": "offscreen"},
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr


def test_two_windows_keep_each_others_recent_trips_and_bear_a_damaged_file(tmp_path: Path) -> None:
    from planner.ui.trip.preferences import Preferences

    file = tmp_path / "config" / "window.json"
    first, second = Preferences.load(file), Preferences.load(file)
    first.opened(tmp_path / "a.toml")
    second.opened(tmp_path / "b.toml")
    assert [Path(text).name for text in Preferences.load(file).recent] == ["b.toml", "a.toml"]
    for damaged in (b"[" * 100_000, b"\xff", b'{"recent": 7}', b"9" * 5000):
        file.write_bytes(damaged)
        assert Preferences.load(file).recent == []


def test_two_weeks_at_ten_minutes_are_not_too_many() -> None:
    from planner.store.tripparts import window_of

    start = datetime(2027, 5, 1, 6, 0)
    table = {"from": start.isoformat(), "to": (start + timedelta(days=14)).isoformat(), "step_minutes": 10}
    window = window_of(table, "UTC")
    assert (window.last_s - window.first_s) / window.step_s + 1 == 2017


# -- the logbook's zip ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("at_s", "abc"),
        ("at_s", 1e12),
        ("number", "1"),
        ("kind", "strange"),
        ("subject", [1]),
        ("device", None),
    ],
)
def test_no_event_is_taken_in_for_ever_that_no_page_can_show(column: str, value: Any, tmp_path: Path) -> None:
    """Its hashes are right: another program made it. Events are only added, so that it would stay."""
    lines = [{**json.loads(line), column: value} for line in exported()["json/event.jsonl"].splitlines()]
    events = chained("\n".join(map(json.dumps, lines)).encode())
    (tmp_path / "b.zip").write_bytes(sealed({**exported(), "json/event.jsonl": events}))
    book = Logbook(tmp_path / "b" / "logbook.sqlite", device="b")
    with pytest.raises(InputError, match=f"event.{column}"):
        bundle.take_in(book, tmp_path / "b.zip")
    assert not book.events()


@pytest.mark.parametrize(
    "part",
    [
        {"json/event.jsonl": b"[" + b"[]," * 2_000_000 + b"[]]"},
        {"json/plan.jsonl": b'{"id": "' + b"0" * 40_000_000 + b'"}'},
        {"media/" + "0" * 64: bytes(60_000_000)},
        {bundle.ABOUT: b'{"skepway_logbook": ' + b"[" * 100_000 + b"]" * 100_000 + b"}"},
    ],
    ids=["many lists", "one long line", "a picture of noughts", "deep"],
)
def test_a_zip_that_unfolds_beyond_reason_is_refused_or_read_soon(
    part: dict[str, bytes], tmp_path: Path
) -> None:
    (tmp_path / "b.zip").write_bytes(sealed({**exported(), **part}))
    began = time.thread_time()
    with suppress(InputError):
        bundle.take_in(Logbook(tmp_path / "b" / "logbook.sqlite", device="b"), tmp_path / "b.zip")
    assert time.thread_time() - began < 3.0


def test_a_grid_of_no_address_leaves_the_last_good_answer(client: Client, world: StandIn) -> None:
    span = Span(world.today_s + 86_400.0, world.today_s + 2 * 86_400.0 - 3600.0)
    point = _points(40.0, -90.0).only(0)
    nws.forecast(client, world.settings(), point, span)
    world.always("/points", standin.mangled(lambda cell: {"properties": {"forecastGridData": "\x1b[2J:;--"}}))
    again = nws.forecast(client.with_(refresh=True), world.settings(), point, span)
    assert np.isfinite(again.air_c).any()


def test_an_answer_of_impossible_numbers_leaves_the_last_good_one(client: Client, world: StandIn) -> None:
    """They are left out, and then nothing is left: such an answer covers no hour."""
    span = Span(world.today_s + 86_400.0, world.today_s + 2 * 86_400.0 - 3600.0)
    point = _points(40.0, -90.0).only(0)
    nws.forecast(client, world.settings(), point, span)
    world.always("/gridpoints", FAULTS["all numbers vast"])
    again = nws.forecast(client.with_(refresh=True), world.settings(), point, span)
    assert np.isfinite(again.air_c).any()
    assert np.abs(again.elevation_m).max() < 9_000.0


def test_an_event_of_a_kind_that_damage_made_is_shown_as_it_stands(
    trip_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A bit turned in the word: its line ended in a traceback, and with it all that stood beside it."""
    trip_path.write_bytes(TRIPS[0])
    main(["logbook", "add", str(trip_path), "note", "wind"])
    path = Logbook().path
    with closing(sqlite3.connect(path)) as book, book:
        for (name,) in book.execute("select name from sqlite_master where type = 'trigger'").fetchall():
            book.execute(f"drop trigger {name}")
        book.execute("update event set kind = 'nmte'")
    capsys.readouterr()
    assert main(["logbook", "show", str(trip_path)]) == 0
    assert "nmte: wind" in capsys.readouterr().out
    assert main(["logbook", "verify"]) == Exit.STORAGE


@pytest.mark.parametrize("text", [b"by the heath", b"program"], ids=["in a text", "in the name of a column"])
def test_a_logbook_with_bytes_that_are_no_text_is_told(text: bytes, tmp_path: Path) -> None:
    book = Logbook(tmp_path / "logbook.sqlite", device="a")
    book.add(Entry("note", 1.8e9, body={"text": "quiet by the heath"}))
    book.path.write_bytes(book.path.read_bytes().replace(text, text[:-1] + b"\xab"))
    with pytest.raises(StorageError, match=r"logbook\.sqlite"):
        (book.events(), book.plans("t"))


@pytest.mark.parametrize(
    ("table", "column", "value"),
    [
        ("event", "body", None),
        ("event", "at_s", "soon"),
        ("trip", "title", None),
        ("plan", "made_s", None),
        ("person", "name", None),
    ],
)
def test_a_logbook_with_a_column_gone_is_told(table: str, column: str, value: Any, tmp_path: Path) -> None:
    """A page with a bit turned gives nothing where something must stand, and the database does not mind."""
    book = Logbook(tmp_path / "logbook.sqlite", device="a")
    book.add(Entry("note", 1.8e9, body={"text": "quiet"}, who=book.person_key("Ada")))
    book.know_trip(KnownTrip("t", "T", "Yard", "2027-05-01", "x", ""))
    book.pin({"a": 1}, made_s=1.0, trip="t", title="T", inputs="x")
    with closing(sqlite3.connect(book.path)) as damaged, damaged:
        damaged.execute(f"create table loose as select * from {table}")
        damaged.execute(f"drop table {table}")
        damaged.execute(f"alter table loose rename to {table}")
        damaged.execute(f"update {table} set {column} = ?", (value,))
    with pytest.raises(StorageError, match=r"logbook\.sqlite"):
        (book.events(), book.trips(), book.known_trip("t"), book.plans("t"), book.people())
