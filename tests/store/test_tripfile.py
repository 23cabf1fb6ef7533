"""The trip file: every fault named beside its field, every good file turned into the trip it states."""

from __future__ import annotations

import copy
import errno
import math
import os
from contextlib import suppress
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner import files
from planner.bundled import resource_path
from planner.errors import Fault, InputError, StorageError
from planner.model.catalogue import Catalogue
from planner.model.records import Closing, Misting
from planner.store import documents, tripfile
from planner.store.tripfile import faults, load_trip, read_draft, resolve, upgrade, write_draft
from tests.length import few_or_all

Draft = dict[str, Any]

DEMOS = ("night-pollination", "nuc-pickup", "swarm-run")
BEFORE_S = datetime(2027, 1, 1, tzinfo=UTC).timestamp()


def put(draft: Draft, path: str, value: Any) -> Draft:
    """The draft with one value set, ``load.0.count`` style; ``...`` takes the value out."""
    *way, last = [int(part) if part.isdigit() else part for part in path.split(".")]
    table: Any = draft
    for part in way:
        table = table[part]
    if value is ...:
        del table[last]
    else:
        table[last] = value
    return draft


def only_fault(draft: Draft, catalogue: Catalogue) -> Fault:
    found = faults(draft, catalogue)
    assert len(found) == 1, [str(fault) for fault in found]
    return found[0]


# -- what a good file says ----------------------------------------------------------------------


def test_the_draft_of_these_tests_has_no_fault(draft: Draft, catalogue: Catalogue) -> None:
    assert faults(draft, catalogue) == ()


@pytest.mark.parametrize("name", DEMOS)
def test_every_demo_is_free_of_faults_and_marked_invented(name: str, catalogue: Catalogue) -> None:
    found = load_trip(resource_path("demo", f"{name}.toml"), catalogue)
    assert found.trip.invented
    assert "invented" in found.trip.title
    assert found.weather.weather is not None
    assert found.weather.weather.kind == "invented"
    assert found.road is not None
    assert found.remarks == ()


@pytest.mark.parametrize("name", DEMOS)
def test_demo_weather_is_small_and_covers_closing_and_drive(name: str, catalogue: Catalogue) -> None:
    path = resource_path("demo", f"{name}-weather.csv")
    assert path.stat().st_size < 150_000
    found = load_trip(resource_path("demo", f"{name}.toml"), catalogue)
    weather, road = found.weather.weather, found.road
    assert weather is not None
    assert road is not None
    assert weather.time_s[0] <= found.trip.window.first_s - 12 * 3600
    assert weather.time_s[-1] >= found.trip.window.last_s + road.driving_s + 3 * 3600
    assert weather.km[-1] >= road.length_km - 0.1
    for values in (weather.air_c, weather.dew_c, weather.ghi_w_m2, weather.dni_w_m2, weather.dhi_w_m2):
        assert np.isfinite(values).all()


@pytest.mark.parametrize("name", DEMOS)
def test_demo_weather_is_coherent(name: str) -> None:
    """Dew point below air, no sun at night, and the beam a surface sees plus diffuse near the global sum."""
    from planner.store.weatherfile import read_weather

    weather = read_weather(resource_path("demo", f"{name}-weather.csv"))
    assert (weather.dew_c < weather.air_c).all()
    assert (weather.dhi_w_m2 <= weather.ghi_w_m2 + 1).all()
    dark = weather.ghi_w_m2 == 0
    assert dark.any()
    assert (weather.dni_w_m2[dark] == 0).all()
    swing = weather.air_c.max(axis=0) - weather.air_c.min(axis=0)
    assert (swing > 8).all()


@pytest.mark.parametrize(("said", "colour"), [(None, "dark"), ("dark", "dark"), ("white", "white")])
def test_a_vehicle_has_a_body_of_one_colour(
    draft: Draft, catalogue: Catalogue, said: str | None, colour: str
) -> None:
    """Got before: the dark and the white body of one van were compared as if one could choose on the day."""
    asked = put(draft, "vehicle.colour", said) if said else draft
    trip = resolve(asked, catalogue, now_s=BEFORE_S).trip
    found = {catalogue.loading_places[name].colour for name in trip.loading_places}
    assert found == {colour}


def test_a_trip_says_what_the_draft_says(draft: Draft, catalogue: Catalogue) -> None:
    trip = resolve(draft, catalogue, now_s=BEFORE_S).trip
    nucs, swarm = trip.groups
    assert [site.name for site in trip.waypoints] == ["Yard", "Garden", "Pumps", "Heath"]
    assert trip.destination.zone == "Europe/London"
    assert trip.origin.elevation_m == 80
    assert (nucs.count, nucs.frames_of_bees, nucs.load_waypoint, nucs.unload_waypoint) == (4, 5.0, 0, 3)
    assert math.isnan(nucs.bees_kg)
    assert nucs.misting == Misting(20.0, 3600.0, 1800.0)
    assert (swarm.bees_kg, swarm.load_waypoint, swarm.loading_place) == (1.8, 1, "van_roof_fan_white")
    assert swarm.closing == Closing("clock", 0.0, 21 * 3600 + 600, fixed=True)
    assert trip.closing == Closing("after_sunset", 1200.0)
    assert trip.loading_places == catalogue.alternatives_of("van", "dark")
    assert trip.window.first_s == datetime(2027, 5, 12, 17, tzinfo=UTC).timestamp()
    assert trip.window.step_s == 1800
    assert trip.arrival.latest_s == datetime(2027, 5, 13, 8, tzinfo=UTC).timestamp()
    assert trip.arrival.gate_open_s == 5.5 * 3600
    assert math.isnan(trip.arrival.gate_shut_s)
    assert (trip.waiting_shade, trip.loading_s, trip.open_after_s) == (False, 2700, 1200)
    assert trip.drive_time_factor == 1.1


def test_own_weather_names_its_place_and_day(draft: Draft, catalogue: Catalogue) -> None:
    request = resolve(draft, catalogue, now_s=BEFORE_S).weather
    (day,) = request.days
    assert (request.source, day.site.name, day.day) == ("own", "Yard", date(2027, 5, 12))
    assert (day.dawn_low_c, day.afternoon_high_c, day.dew_point_c, day.wind_ms) == (9, 21, 7, 3)
    assert math.isnan(day.humidity_share)


def test_a_trip_may_leave_the_road_to_be_searched(draft: Draft, catalogue: Catalogue) -> None:
    found = resolve(put(draft, "road", ...), catalogue, now_s=BEFORE_S)
    assert found.road is None
    assert any("no road" in remark for remark in found.remarks)


def test_a_window_in_the_past_is_a_remark_not_a_fault(draft: Draft, catalogue: Catalogue) -> None:
    later = datetime(2028, 1, 1, tzinfo=UTC).timestamp()
    assert any("past" in remark for remark in resolve(draft, catalogue, now_s=later).remarks)
    assert not any("past" in remark for remark in resolve(draft, catalogue, now_s=BEFORE_S).remarks)


def test_a_name_of_an_older_file_that_nothing_reads_is_a_remark(draft: Draft, catalogue: Catalogue) -> None:
    before = resolve(draft, catalogue, now_s=BEFORE_S)
    after = resolve(put(draft, "load.0.frame_direction", "across"), catalogue, now_s=BEFORE_S)
    assert after.trip == before.trip
    assert before.remarks == ()
    assert after.remarks == ("frame_direction is no longer read; it never changed an answer.",)


def test_zones_are_found_from_the_coordinates(draft: Draft, catalogue: Catalogue) -> None:
    draft["origin"].pop("zone")
    draft["destination"].update(lat=40.0, lon=-30.0)
    draft.pop("road")
    trip = resolve(draft, catalogue, now_s=BEFORE_S).trip
    assert trip.origin.zone == "Europe/London"
    assert trip.destination.zone == "Etc/GMT+2"


def test_two_calls_at_one_yard_are_told_apart_by_loading_and_unloading(
    draft: Draft, catalogue: Catalogue
) -> None:
    draft["destination"] = dict(draft["origin"])
    draft["load"][0].update(loaded_at="Yard", unloaded_at="Yard")
    draft.pop("road")
    group = resolve(draft, catalogue, now_s=BEFORE_S).trip.groups[0]
    assert (group.load_waypoint, group.unload_waypoint) == (0, 3)


# -- what a bad file hears ----------------------------------------------------------------------


def test_all_faults_are_reported_at_once(draft: Draft, catalogue: Catalogue) -> None:
    put(draft, "load.0.frames_of_bees", -1)
    put(draft, "load.1.colour", "red")
    put(draft, "origin.lat", math.nan)
    put(draft, "window.step_minutes", "often")
    put(draft, "title", ...)
    put(draft, "vehicle.kind", "vann")
    assert {fault.field for fault in faults(draft, catalogue)} == {
        "load[0].frames_of_bees",
        "load[1].colour",
        "origin.lat",
        "window.step_minutes",
        "title",
        "vehicle.kind",
    }


@pytest.mark.parametrize(
    ("path", "value", "field", "remedy"),
    [
        ("load.0.frames_of_bee", 5, "load[0].frames_of_bee", "frames_of_bees"),
        ("windows", {}, "windows", "window"),
        ("load.0.box_type", "national_nuc5_plywood", "load[0].box_type", "national_nuc5_ply"),
        ("load.0.place", "van_rooffan_white", "load[0].place", "van_roof_fan_white"),
        ("vehicle.places", ["open_trailr"], "vehicle.places[0]", "open_trailer"),
        ("vehicle.kind", "pick-up", "vehicle.kind", "pickup"),
        ("load.0.roof", "screens", "load[0].roof", "screen"),
        ("load.0.unloaded_at", "Heathe", "load[0].unloaded_at", "Heath"),
        ("origin.zone", "Europe/Londn", "origin.zone", "Europe/London"),
        ("weather.own.0.place", "Yrad", "weather.own[0].place", "Yard"),
    ],
)
def test_a_misspelt_word_names_the_nearest_known_one(
    draft: Draft, catalogue: Catalogue, path: str, value: Any, field: str, remedy: str
) -> None:
    fault = only_fault(put(draft, path, value), catalogue)
    assert fault.field == field
    assert f'"{remedy}"' in fault.remedy


@pytest.mark.parametrize(
    ("path", "value", "field"),
    [
        ("load.0.count", 0, "load[0].count"),
        ("load.0.count", 2.5, "load[0].count"),
        ("load.0.count", True, "load[0].count"),
        ("load.0.count", 10**400, "load[0].count"),
        ("load.0.stores_frames", math.inf, "load[0].stores_frames"),
        ("load.0.stores_frames", 4, "load[0].stores_frames"),
        ("load.0.frames_of_bees", 30, "load[0].frames_of_bees"),
        ("load.0.frames_of_bees", ..., "load[0].frames_of_bees"),
        ("load.0.bees_kg", 1.0, "load[0].frames_of_bees"),
        ("load.1.bees_kg", 0, "load[1].bees_kg"),
        ("load.1.stores_frames", 1, "load[1].stores_frames"),
        ("load.0.label", "Swarm", "load[1].label"),
        ("load.0.closing", {"rule": "clock"}, "load[0].closing.clock"),
        ("load.0.misting", {"ml": 5}, "load[0].misting.first_minutes"),
        ("load.0.loaded_at", "Pumps", "load[0].loaded_at"),
        ("load.0.loaded_at", 9, "load[0].loaded_at"),
        ("load.0.loaded_at", 3, "load[0].unloaded_at"),
        ("load.1.unloaded_at", "Yard", "load[1].unloaded_at"),
        ("load", [], "load"),
        ("stops.0.dwell_minutes", -5, "stops[0].dwell_minutes"),
        ("stops.0.purpose", "coffee", "stops[0].purpose"),
        ("closing.clock", "21:00", "closing.clock"),
        ("closing.rule", "sometime", "closing.rule"),
        ("window.to", "2027-05-11T06:00", "window.to"),
        ("window.to", "2028-05-11T06:00", "window.to"),
        ("window.step_minutes", 0, "window.step_minutes"),
        ("window.from", "tomorrow", "window.from"),
        ("window.from", "2027-02-30T10:00", "window.from"),
        ("arrival.gate_open", "25:00", "arrival.gate_open"),
        ("arrival.latest", "2027-05-12T09:00", "arrival.latest"),
        ("weather.own.0.humidity_percent", 60, "weather.own[0].dew_point_c"),
        ("weather.own.0.afternoon_high_c", 5, "weather.own[0].afternoon_high_c"),
        ("weather.own.0.date", "2027-13-01", "weather.own[0].date"),
        ("weather.own", ..., "weather.own"),
        ("weather.source", "file", "weather.file"),
        ("weather.source", "embedded", "weather.table"),
        ("weather.source", "a_friend", "weather.source"),
        ("road.legs.0.km", 10, "road.legs[0].km"),
        ("road.legs.0.minutes", 5, "road.legs[0].minutes"),
        ("road.legs", [{"km": 99, "minutes": 99}], "road.legs"),
        ("road.points", [[52, -1, 0], [52.6, 0.2, 99]], "road"),
        ("vehicle", {}, "vehicle"),
        ("version", 7, "version"),
        ("version", ..., "version"),
        ("version", "1", "version"),
        ("origin.lat", 91, "origin.lat"),
        ("origin", 3, "origin"),
    ],
)
def test_what_cannot_be_is_named(
    draft: Draft, catalogue: Catalogue, path: str, value: Any, field: str
) -> None:
    found = faults(put(draft, path, value), catalogue)
    assert field in {fault.field for fault in found}, [str(fault) for fault in found]
    assert all(fault.problem and fault.remedy for fault in found)


def test_a_roof_screen_that_does_not_exist_is_refused(draft: Draft, catalogue: Catalogue) -> None:
    draft["load"][0].update(box_type="national_nuc5_card", roof="screen", floor="solid")
    assert only_fault(draft, catalogue).field == "load[0].roof"


def test_frames_in_a_box_without_frames_are_refused(draft: Draft, catalogue: Catalogue) -> None:
    draft["load"][1].pop("bees_kg")
    draft["load"][1]["frames_of_bees"] = 3
    fault = only_fault(draft, catalogue)
    assert fault.field == "load[1].frames_of_bees"
    assert "bees_kg" in fault.remedy


def test_a_name_shared_by_two_stops_asks_for_the_number(draft: Draft, catalogue: Catalogue) -> None:
    draft["stops"][1]["name"] = "Garden"
    fault = only_fault(draft, catalogue)
    assert fault.field == "load[1].loaded_at"
    assert "1, 2" in fault.remedy


@pytest.mark.parametrize(
    ("local", "words", "offsets"),
    [
        ("2027-03-28T01:30", "skip", ("+00:00", "+01:00")),
        ("2027-10-31T01:30", "twice", ("+01:00", "+00:00")),
    ],
)
def test_a_departure_in_a_clock_change_asks_for_the_offset(
    draft: Draft, catalogue: Catalogue, local: str, words: str, offsets: tuple[str, str]
) -> None:
    draft["window"] = {"from": local, "to": local[:11] + "08:00"}
    draft.pop("arrival")
    fault = only_fault(draft, catalogue)
    assert fault.field == "window.from"
    assert words in fault.problem
    for offset in offsets:
        assert f"{local}{offset}" in fault.remedy


def test_a_departure_with_its_offset_is_plain_on_every_night(draft: Draft, catalogue: Catalogue) -> None:
    draft["window"] = {"from": "2027-10-31T01:30+01:00", "to": "2027-10-31T01:30+00:00"}
    draft.pop("arrival")
    window = resolve(draft, catalogue, now_s=BEFORE_S).trip.window
    assert window.last_s - window.first_s == 3600


def test_resolving_a_faulty_draft_raises_every_fault(draft: Draft, catalogue: Catalogue) -> None:
    put(draft, "load.0.count", 0)
    put(draft, "vehicle.kind", "sledge")
    with pytest.raises(InputError) as caught:
        resolve(draft, catalogue)
    assert len(caught.value.faults) == 2


def test_thousands_of_faults_are_cut_short(draft: Draft, catalogue: Catalogue) -> None:
    draft["load"] = [{"nonsense": at} for at in range(400)]
    found = faults(draft, catalogue)
    assert 50 < len(found) < 150
    assert "not listed" in found[-1].problem


# -- files --------------------------------------------------------------------------------------


def test_a_written_draft_reads_back_the_same(draft: Draft, tmp_path: Path) -> None:
    write_draft(draft, tmp_path / "trip.toml")
    assert read_draft(tmp_path / "trip.toml") == draft


def test_writing_keeps_the_comments_of_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "trip.toml"
    old = resource_path("demo", "nuc-pickup.toml").read_text("utf-8")
    path.write_text(old, "utf-8")
    draft = read_draft(path)
    draft["load"][0]["frames_of_bees"] = 7
    draft["window"]["step_minutes"] = 20
    draft["closing"].pop("delay_minutes")
    write_draft(draft, path)
    text = path.read_text("utf-8")
    comments = [line for line in old.splitlines() if line.startswith("#")]
    assert len(comments) > 4
    assert [line for line in comments if line not in text] == []
    assert read_draft(path) == draft


def test_native_toml_dates_are_read_as_text(tmp_path: Path, catalogue: Catalogue, draft: Draft) -> None:
    path = tmp_path / "trip.toml"
    write_draft(draft, path)
    text = path.read_text("utf-8").replace('"2027-05-12T18:00"', "2027-05-12T18:00:00")
    path.write_text(text.replace('"05:30"', "05:30:00").replace('"2027-05-12"', "2027-05-12"), "utf-8")
    assert read_draft(path) == draft
    write_draft(draft, path)
    assert read_draft(path) == draft


def test_a_full_disk_leaves_the_old_file_whole(
    draft: Draft, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "trip.toml"
    write_draft(draft, path)
    before = path.read_bytes()

    def full(handle: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(files.os, "fsync", full)
    with pytest.raises(StorageError, match="No space left"):
        write_draft(put(draft, "title", "Another"), path)
    assert path.read_bytes() == before
    assert os.listdir(tmp_path) == ["trip.toml"]


def test_a_folder_that_is_not_there_is_explained(draft: Draft, tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="folder"):
        write_draft(draft, tmp_path / "nowhere" / "trip.toml")


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"   \n\n",
        b"\x00\x01\x02\x03",
        b"\xff\xfe\x00t",
        b'version = 1\ntitle = "cut off',
        b"version = 1\nversion = 1\n",
        b"a = " + b"[" * 3000,
        b"a = " + b"9" * 9000,
        b"[a" + b".a" * 3000 + b"]",
        b"x = 1e999\n",
        b"\x89PNG\r\n\x1a\n" + bytes(range(256)),
    ],
    ids=lambda raw: repr(raw[:12]),
)
def test_hostile_files_are_explained(raw: bytes, tmp_path: Path, catalogue: Catalogue) -> None:
    path = tmp_path / "trip.toml"
    path.write_bytes(raw)
    with pytest.raises(InputError) as caught:
        load_trip(path, catalogue)
    assert caught.value.faults


def test_a_file_that_is_too_long_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "trip.toml"
    path.write_bytes(b"# " + b"x" * documents.MAX_TOML_BYTES)
    with pytest.raises(InputError, match="longer than"):
        read_draft(path)


def test_a_missing_file_and_a_folder_are_explained(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="could not be read"):
        read_draft(tmp_path / "none.toml")
    with pytest.raises(InputError, match="not a file"):
        read_draft(tmp_path)


def test_a_file_of_a_later_version_asks_for_a_newer_program(draft: Draft) -> None:
    with pytest.raises(InputError, match="newer"):
        upgrade(put(draft, "version", 2))


def test_older_versions_are_brought_up_step_by_step(draft: Draft, monkeypatch: pytest.MonkeyPatch) -> None:
    steps = {
        -1: lambda old: {**old, "version": 0, "heading": old.pop("name")},
        0: lambda old: {**old, "version": 1, "title": old.pop("heading")},
    }
    monkeypatch.setattr(tripfile, "_UPGRADES", steps)
    old = {**draft, "version": -1, "name": "Old name"}
    old.pop("title")
    upgraded = upgrade(old)
    assert (upgraded["version"], upgraded["title"]) == (1, "Old name")


# -- properties ---------------------------------------------------------------------------------

ANYTHING = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.integers(min_value=-(10**400), max_value=10**400)
    | st.floats()
    | st.text(max_size=20)
    | st.sampled_from(["Yard", "2027-03-28T01:30", "van", "99:99", "file", "../../etc/passwd", "\x00"]),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=12), inner, max_size=4),
    max_leaves=8,
)


def _spots(value: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return ([path] if path else []) + [spot for key, each in inner for spot in _spots(each, (*path, key))]


def _mutate(draft: Draft, spot: tuple[str | int, ...], value: Any) -> None:
    table: Any = draft
    for part in spot[:-1]:
        try:
            table = table[part]
        except (KeyError, IndexError, TypeError):
            return  # an earlier mutation took this branch away
    if isinstance(table, dict) or (isinstance(table, list) and isinstance(spot[-1], int)):
        try:
            table[spot[-1]] = value
        except IndexError:
            return


@pytest.mark.parametrize("examples", few_or_all(40, 300))
def test_no_mutation_of_a_draft_ends_in_anything_but_faults(
    examples: int, valid_draft: Draft, catalogue: Catalogue, tmp_path: Path
) -> None:
    @settings(max_examples=examples, deadline=None)
    @given(data=st.data())
    def holds(data: st.DataObject) -> None:
        draft = copy.deepcopy(valid_draft)
        for _ in range(data.draw(st.integers(1, 3))):
            _mutate(draft, data.draw(st.sampled_from(_spots(valid_draft))), data.draw(ANYTHING))
        found = faults(draft, catalogue, tmp_path)
        assert all(fault.problem and fault.remedy for fault in found)
        if found:
            with pytest.raises(InputError):
                resolve(draft, catalogue, tmp_path)
        else:
            resolve(draft, catalogue, tmp_path)

    holds()


@pytest.mark.parametrize("examples", few_or_all(20, 100))
def test_no_road_of_any_shape_ends_in_anything_but_faults(
    examples: int, valid_draft: Draft, catalogue: Catalogue
) -> None:
    @settings(max_examples=examples, deadline=None)
    @given(
        points=st.lists(st.lists(ANYTHING, max_size=6) | ANYTHING, max_size=5),
        waypoints=st.lists(ANYTHING, max_size=5),
    )
    def holds(points: list[Any], waypoints: list[Any]) -> None:
        draft = copy.deepcopy(valid_draft)
        draft["road"] = {"points": points, "calls": waypoints}
        assert faults(draft, catalogue) or not points

    holds()


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(raw=st.binary(max_size=400))
def test_random_bytes_only_ever_give_faults(raw: bytes, catalogue: Catalogue, tmp_path: Path) -> None:
    path = tmp_path / "trip.toml"
    path.write_bytes(raw)
    with pytest.raises(InputError):
        load_trip(path, catalogue)


@pytest.mark.parametrize("examples", few_or_all(30, 150))
def test_a_damaged_demo_file_gives_a_trip_or_faults(
    examples: int, catalogue: Catalogue, tmp_path: Path
) -> None:
    @settings(max_examples=examples, deadline=None)
    @given(start=st.integers(0, 6000), length=st.integers(0, 60), patch=st.binary(max_size=8))
    def holds(start: int, length: int, patch: bytes) -> None:
        raw = resource_path("demo", "nuc-pickup.toml").read_bytes()
        path = tmp_path / "trip.toml"
        path.write_bytes(raw[:start] + patch + raw[start + length :])
        with suppress(InputError):
            load_trip(path, catalogue)

    holds()


@pytest.mark.parametrize("examples", few_or_all(25, 150))
def test_any_text_and_number_survives_writing_and_reading(
    examples: int, valid_draft: Draft, tmp_path: Path
) -> None:
    @settings(max_examples=examples, deadline=None)
    @given(
        title=st.text(min_size=1, max_size=60).filter(str.strip),
        names=st.lists(st.text(min_size=1, max_size=12), min_size=2, max_size=2),
        frames=st.floats(0, 10),
        dwell=st.integers(0, 600) | st.floats(0, 600),
        fresh=st.booleans(),
    )
    def holds(title: str, names: list[str], frames: float, dwell: float, fresh: bool) -> None:
        draft = copy.deepcopy(valid_draft)
        path = tmp_path / "trip.toml"
        if fresh:
            path.unlink(missing_ok=True)
        else:
            write_draft(draft, path)
        draft["title"] = title
        for group, name in zip(draft["load"], names, strict=True):
            group["label"] = name
        draft["load"][0]["frames_of_bees"] = frames
        draft["stops"][0]["dwell_minutes"] = dwell
        write_draft(draft, path)
        assert read_draft(path) == draft

    holds()
