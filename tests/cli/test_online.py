"""The whole main job on the command line against services that really speak HTTP, on this machine."""

from __future__ import annotations

import inspect
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest

from planner.app.answer import ask
from planner.cli.main import main
from planner.model.preparations import AS_DECLARED
from planner.services.settings import save_settings
from tests.services.standin import StandIn, status

TRIP = "plan --from Ludlow --to Norwich --vehicle van --rows 2 --draws 8"
LONG_TRIP = "plan --from Penzance --to Wick --vehicle van --rows 1 --draws 8"


@pytest.fixture
def world() -> Iterator[StandIn]:
    """Every service at this machine, and the user's settings pointing there."""
    with StandIn() as server:
        save_settings(server.settings())
        yield server


@pytest.fixture(autouse=True)
def _as_declared(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is asked of the services is tested here, not what else the boxes could be given."""
    monkeypatch.setitem(inspect.unwrap(ask.ask).__kwdefaults__, "setups", (AS_DECLARED,))


def words(line: str) -> list[str]:
    """The arguments with an hour of tomorrow evening as window, within every forecast."""
    leave = datetime.fromtimestamp(time.time(), UTC) + timedelta(days=1)
    times = ["--leave", f"{leave:%Y-%m-%d}T18:00", "--until", f"{leave:%Y-%m-%d}T19:00"]
    return [*line.split(), *(times if line.startswith("plan") else [])]


def test_two_names_become_a_plan(world: StandIn, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(words(TRIP)) == 0
    said = capsys.readouterr()
    assert said.out.startswith(("Go", "Do not go", "Cannot tell"))
    assert "Open-Meteo" in said.out
    assert world.asked("/route") == 1
    assert world.asked("/v1/forecast") == 1


def test_without_the_network_the_last_answers_serve_and_tell_their_age(
    world: StandIn, capsys: pytest.CaptureFixture[str]
) -> None:
    main(words(TRIP))
    first = capsys.readouterr().out.splitlines()[0]
    world.always("/", status(503))
    asked = len(world.seen)
    assert main(words(TRIP + " --offline")) == 0
    assert capsys.readouterr().out.splitlines()[0] == first
    assert len(world.seen) == asked


def test_offline_nobody_is_asked_though_nothing_is_kept(world: StandIn) -> None:
    """Whoever works offline pays for the network or has it watched; that an answer is missing is no reason to ask."""
    assert main(["forecast", "52.4,-2.7", "--offline"]) == 3
    main(["route", "52.4,-2.7", "52.6,1.3", "--offline"])
    assert world.seen == []


@pytest.mark.parametrize("days", [1, 3])
def test_a_forecast_has_a_line_for_each_day_asked_for(
    days: int, world: StandIn, capsys: pytest.CaptureFixture[str]
) -> None:
    first = datetime.fromtimestamp(time.time(), UTC).date() + timedelta(days=1)
    assert main(["forecast", "51.5,0.0", "--day", f"{first}", "--days", f"{days}"]) == 0
    told = [line[:10] for line in capsys.readouterr().out.splitlines()]
    asked = [f"{first + timedelta(days=ahead):%a %d %b}" for ahead in range(days)]
    start = told.index(asked[0])
    assert told[start : start + days] == asked
    assert f"{first + timedelta(days=days):%a %d %b}" not in told


def test_a_dead_service_is_covered_by_its_last_answer(
    world: StandIn, capsys: pytest.CaptureFixture[str]
) -> None:
    main(words(TRIP))
    capsys.readouterr()
    world.always("/", status(503))
    assert main(words(TRIP + " --refresh")) == 0
    assert "old" in capsys.readouterr().out


def test_a_dead_service_without_an_earlier_answer_says_what_to_do(
    world: StandIn, capsys: pytest.CaptureFixture[str]
) -> None:
    world.always("/v1/forecast", status(503))
    assert main(words(TRIP)) == 3
    assert "Open-Meteo" in capsys.readouterr().err


def test_a_thousand_kilometres_take_at_most_three_forecast_requests(
    world: StandIn, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(words(LONG_TRIP)) == 0
    forecasts = sum(world.asked(path) for path in ("/v1/forecast", "/v1/archive", "/v1/elevation"))
    assert world.asked("/v1/forecast") == 1
    assert forecasts <= 3
    capsys.readouterr()
    seen = len(world.seen)
    assert main([*words(LONG_TRIP), "--timing"]) == 0  # now from the warm cache
    assert len(world.seen) == seen
    assert "road and forecast" in capsys.readouterr().err


def test_recheck_asks_again_and_compares(
    world: StandIn, tmp_path_factory: pytest.TempPathFactory, capsys: pytest.CaptureFixture[str]
) -> None:
    saved = tmp_path_factory.mktemp("trip") / "trip.toml"
    assert main([*words(TRIP), "--save", str(saved)]) == 0
    assert main(["plan", str(saved), "--draws", "8"]) == 0
    before = world.asked("/v1/forecast")
    assert main(["recheck", str(saved), "--draws", "8"]) == 0
    assert world.asked("/v1/forecast") == before + 1
    assert "No window changed" in capsys.readouterr().out


def test_certainty_may_be_drawn_from_the_ensemble(
    world: StandIn, tmp_path_factory: pytest.TempPathFactory, capsys: pytest.CaptureFixture[str]
) -> None:
    saved = tmp_path_factory.mktemp("trip") / "trip.toml"
    main([*words(TRIP), "--save", str(saved)])
    capsys.readouterr()
    assert main(["sure", str(saved), "--ensemble", "--draws", "16"]) == 0
    assert "of 100" in capsys.readouterr().out
    assert world.asked("/v1/ensemble") == 1
