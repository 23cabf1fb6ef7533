"""``skepway reserve``, ``tipping``, ``season`` and ``fit`` as a user runs them."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from planner.cli.main import main
from planner.model.catalogue import Catalogue
from planner.store.profiles import read_profile
from planner.store.tripfile import TripFile, load_trip
from planner.store.weatherfile import weather_text
from tests.app.loggers import logged, truth
from tests.app.years import season_weather
from tests.conftest import BEFORE
from tests.model.scenarios import at

PICKUP = BEFORE / "nuc-pickup.toml"
PICK = [
    "--leave",
    "2027-05-15T09:00",
    "--place",
    "pickup_canopy_shut_dark",
    "--setup",
    "as_declared",
    "--draws",
    "8",
]


@pytest.fixture(scope="module")
def trip(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The buyer's pickup with three departures and three places, shut as it is lifted: planned in no time."""
    folder = tmp_path_factory.mktemp("trip")
    text = PICKUP.read_text(encoding="utf-8")
    text = (
        text.replace("T05:00", "T07:00")
        .replace("T23:00", "T09:00")
        .replace("step_minutes = 30", "step_minutes = 60")
        .replace('rule = "after_sunset"\ndelay_minutes = 15', 'rule = "at_loading"')
    )
    for place in ("cabin_seat_cooled", "cabin_windows_open", "cabin_shut_dark", "open_trailer"):
        text = text.replace(f'  "{place}",\n', "")
    (folder / PICKUP.name).write_text(text, encoding="utf-8")
    weather = PICKUP.with_name("nuc-pickup-weather.csv")
    (folder / weather.name).write_bytes(weather.read_bytes())
    return str(folder / PICKUP.name)


def run(*args: str, code: int = 0) -> None:
    assert main([str(arg) for arg in args]) == code


def is_picture(path: Path) -> bool:
    return ET.parse(path).getroot().tag.endswith("svg")


def test_the_reserve_names_the_worst_spot_and_tries_delays(
    trip: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    out = tmp_path / "reserve.json"
    run(
        "reserve",
        trip,
        *PICK,
        "--delay",
        "jam:60@100",
        "--pictures",
        str(tmp_path / "new"),
        "--json",
        str(out),
    )
    text = capsys.readouterr().out
    assert "worst spot to stand is between" in text.splitlines()[0]
    assert "traffic jam" in text
    document = json.loads(out.read_text())
    assert document["variants"] == ["shut", "doors", "shade", "misted"]
    assert len(document["moments"]) > 15
    assert document["worst"]["central"]["km"] >= 0.0
    assert is_picture(tmp_path / "new" / "reserve.svg")


def test_us_units_reach_every_figure(trip: str, capsys: pytest.CaptureFixture[str]) -> None:
    run("reserve", trip, *PICK, "--units", "us", "--delay", "ferry:30@60mi")
    out = capsys.readouterr().out
    assert " mi" in out
    assert "°C" not in out
    assert " km" not in out


def test_the_tipping_point_is_told_for_the_moment_asked(
    trip: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    args = [
        "--leave",
        "2027-05-15T07:00",
        "--place",
        "pickup_canopy_open_dark",
        "--setup",
        "as_declared",
        "--draws",
        "8",
    ]
    run("tipping", trip, *args, "--at", "2027-05-15T09:30", "--pictures", str(tmp_path))
    assert capsys.readouterr().out.splitlines()[0].startswith("Saturday 07:00")
    assert is_picture(tmp_path / "tipping.svg")
    run("tipping", trip, *args, "--json", "-")
    document = json.loads(capsys.readouterr().out)
    assert len(document["curve"]["core_c"]) == len(document["curve"]["made_w"])
    assert len(document["headroom_w"]) == 3


@pytest.mark.parametrize(
    ("args", "names"),
    [
        (["reserve", "--draws", "8", "--leave", "2027-05-15T09:07"], "--leave"),
        (["reserve", "--draws", "8", "--place", "pickup_bedd"], "pickup_bed"),
        (["reserve", "--draws", "8", "--setup", "wings"], "--setup"),
        (["reserve", *PICK, "--delay", "jam:60@9999"], "at_km"),
        (["tipping", *PICK, "--at", "2027-05-17T09:00"], "no box is shut"),
    ],
)
def test_what_is_not_in_the_trip_is_named(
    args: list[str], names: str, trip: str, capsys: pytest.CaptureFixture[str]
) -> None:
    run(args[0], trip, *args[1:], code=2)
    assert names in capsys.readouterr().err


def test_a_delay_that_cannot_be_read_is_refused(trip: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["reserve", "--delay", "party:60@10"])
    assert "breakdown" in capsys.readouterr().err


def test_a_season_is_charted_and_gone_on_with(
    trip: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    weather = tmp_path / "lane.csv"
    weather.write_text(weather_text(season_weather(at(2027, 5, 1), 9)), encoding="utf-8")
    args = [
        "season",
        trip,
        "--weather",
        str(weather),
        "--place",
        "pickup_bed",
        "--folder",
        str(tmp_path / "f"),
    ]
    run(*args, "--pictures", str(tmp_path))
    assert "of 100 boxes) at any hour in" in capsys.readouterr().out.splitlines()[0]
    assert is_picture(tmp_path / "season.svg")
    run(*args, "--json", "-")
    document = json.loads(capsys.readouterr().out)
    assert 7 * 24 <= sum(map(sum, document["days"])) < 8 * 24  # the last nights end after the weather
    assert len(list((tmp_path / "f").glob("20*.npz"))) == 2


@pytest.mark.slow
def test_a_log_becomes_a_profile_that_the_next_plan_takes(
    trip: str,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    pickup_before: TripFile,
    catalogue: Catalogue,
) -> None:
    assert pickup_before.road is not None
    assert pickup_before.weather.weather is not None
    log, profile = tmp_path / "log.csv", tmp_path / "profiles" / "ply.toml"
    asked = load_trip(Path(trip), catalogue).trip
    time_s, temps = truth(asked, pickup_before.road, pickup_before.weather.weather, catalogue)
    found = logged(time_s, temps, 1)
    rows = [f"{second:.0f},{temp}" for second, temp in zip(found.time_s, found.temps_c[:, 0], strict=True)]
    log.write_text("\n".join(["unix,temp_c", *rows]), encoding="utf-8")
    args = ["fit", trip, str(log), "--profile", str(profile), "--pictures", str(tmp_path)]
    run(*args)
    assert "times the heat of the catalogue" in capsys.readouterr().out.splitlines()[0]
    assert is_picture(tmp_path / "fit.svg")
    assert len(read_profile(profile).trips) == 1
    run(*args, "--json", str(tmp_path / "fit.json"))
    assert len(read_profile(profile).trips) == 2
    assert json.loads((tmp_path / "fit.json").read_text())["box_type"] == read_profile(profile).name
    run("plan", trip, "--catalogue", str(profile), "--rows", "1", "--draws", "8")


def test_what_a_log_does_not_say_is_asked_for(
    trip: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    log = tmp_path / "log.csv"
    rows = [f"2027-05-15 {6 + i // 60:02d}:{i % 60:02d},{33 + i % 3}" for i in range(90)]
    log.write_text("\n".join(["time,temp (C)", *rows]), encoding="utf-8")
    run("fit", trip, str(log), code=2)
    assert "time zone" in capsys.readouterr().err
    run("fit", trip, str(log), "--zone", "Europe/London", "--load", "9", code=2)
    assert "--load" in capsys.readouterr().err
