"""The season chart: its shares, the same on every executor, nothing lost when it is broken off."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import textwrap
import time
from dataclasses import replace
from datetime import date
from pathlib import Path

import distributed
import numpy as np
import pytest

from planner.app.answer.ask import ask
from planner.app.common.executors import Processes, map_unordered, workers
from planner.app.season.chart import Lane, Season, _chart, _days, _piece, _weeks, season, worked_out
from planner.app.season.words import season_words
from planner.errors import Cancelled, InputError
from planner.model.preparations import AS_DECLARED
from planner.model.records import DepartureWindow, Weather
from planner.store.typicalyear import parse_year
from tests.app.years import pvgis_text, season_weather
from tests.model.scenarios import HOUR_S, NUC, at, catalogue, road, trip

ROOT = Path(__file__).resolve().parents[2]
FIRST_S = at(2026, 6, 1) - HOUR_S
DAYS = 24
PLACE = "pickup_canopy_shut_dark"


def lane() -> Lane:
    strong = replace(NUC, frames_of_bees=6.0, floor_blocked_share=0.4)
    return Lane(trip(strong, PLACE), road(1.5), PLACE)


def weather() -> Weather:
    return season_weather(FIRST_S, DAYS, warmer_k=2.0)


@pytest.fixture(scope="module")
def chart() -> Season:
    """Three weeks of June, worked out in one go."""
    return season(lane(), weather(), catalogue())


def same(one: Season, other: Season) -> bool:
    names = ("days", "safe_share", "boxes_share", "robust_share", "peak_c")
    return all(np.array_equal(getattr(one, n), getattr(other, n), equal_nan=True) for n in names)


def test_every_known_day_and_hour_is_counted_once(chart: Season) -> None:
    assert chart.days.sum() == 24 * ((chart.last_day - chart.first_day).days + 1)
    assert set(np.unique(chart.days)) <= {0, 1, 2, 3, 4, 5, 6, 7}


def test_a_share_is_what_asking_each_day_gives(chart: Season) -> None:
    """Two o'clock in the afternoon in the 23rd week of the year, asked day by day in other samples."""
    first = lane()
    safe = []
    week, hour = 22, 14
    for day in range(week * 7, week * 7 + 7):
        leave_s = at(2026, 1, 1) + day * 86_400.0 + (hour - 2) * HOUR_S  # summer time in Rome
        one = replace(first.trip, window=DepartureWindow(leave_s, leave_s), loading_places=(first.place,))
        found = ask(
            one, first.road, weather(), catalogue(), counts=(64,), setups=(AS_DECLARED,), otherwise=False
        ).answer(finished=True)
        assert found.best is not None
        assert found.best.harm_of_100 is not None
        safe.append(1.0 - found.best.harm_of_100.value / 100.0)
    assert chart.days[week, hour] == 7
    assert chart.safe_share[week, hour] == pytest.approx(np.mean(safe), abs=0.15)


def test_nights_are_safer_than_afternoons_and_disturbed_bees_less_safe(chart: Season) -> None:
    known = chart.days[:, 0] > 0
    assert np.nanmean(chart.safe_share[known, 2]) > np.nanmean(chart.safe_share[known, 13])
    assert np.all(chart.robust_share[known] <= chart.safe_share[known])
    assert 0.0 < np.nanmean(chart.safe_share[known]) < 1.0


def test_weeks_that_are_apart_are_named_apart() -> None:
    """Safe at every hour but in weeks 9 to 13 (some hours), 20 and 22 (none): no span from the first to the last."""
    share = np.ones((53, 24))
    share[9:14, 12:] = 0.5
    share[[20, 22]] = 0.0
    days = np.full((53, 24), 7)
    year = Season(
        lane(), "made", date(2026, 1, 1), date(2026, 12, 31), days, share, 1.0 - share, share, 30.0 * share, 0
    )
    headline = season_words(year, catalogue()).headline
    assert "at any hour in 46 of 53 weeks" in headline
    assert "at some hours in 5 (5 Mar to 8 Apr)" in headline
    assert "at none in 2 (21 May to 27 May and 4 Jun to 10 Jun)" in headline


@pytest.mark.slow
def test_processes_give_the_same_chart(chart: Season) -> None:
    with workers(processes=2) as executor:
        assert isinstance(executor, Processes)
        assert same(season(lane(), weather(), catalogue(), executor=executor), chart)


@pytest.mark.parametrize("processes", [False, pytest.param(True, marks=pytest.mark.slow)])
@pytest.mark.filterwarnings("ignore::DeprecationWarning", "ignore::ResourceWarning")
def test_a_dask_cluster_gives_the_same_chart(chart: Season, processes: bool) -> None:
    """Workers that are threads are spoken to through sockets as well, everything sent; processes take long to begin."""
    with (
        distributed.LocalCluster(
            n_workers=2,
            threads_per_worker=1,
            processes=processes,
            protocol="tcp://",
            dashboard_address=None,
            host="127.0.0.1",
        ) as cluster,
        workers(cluster=cluster.scheduler_address) as executor,
    ):
        assert same(season(lane(), weather(), catalogue(), executor=executor), chart)


def test_a_cluster_that_does_not_answer_is_explained() -> None:
    with pytest.raises(InputError, match="scheduler"), workers(cluster="tcp://127.0.0.1:1"):
        pass


@pytest.mark.slow
def test_after_a_kill_it_goes_on_with_nothing_lost(chart: Season, tmp_path: Path) -> None:
    """A process killed without warning after its first finished week; the next call finds that week."""
    folder = tmp_path / "weeks"
    script = f"""
        from pathlib import Path
        from planner.app.season.chart import season
        from tests.app.test_season import catalogue, lane, weather
        import time
        season(lane(), weather(), catalogue(), folder=Path({str(folder)!r}), on_progress=lambda _: time.sleep(0.3))
    """
    process = subprocess.Popen([sys.executable, "-c", textwrap.dedent(script)], cwd=ROOT, env=os.environ)
    try:
        deadline = time.monotonic() + 60.0
        while not list(folder.glob("20*.npz")) and process.poll() is None and time.monotonic() < deadline:
            time.sleep(0.01)
        os.kill(process.pid, signal.SIGKILL)
    finally:
        process.wait()
    kept = len(list(folder.glob("20*.npz")))
    assert 1 <= kept < 4
    again = season(lane(), weather(), catalogue(), folder=folder)
    assert again.reused == kept
    assert same(again, chart)
    assert season(lane(), weather(), catalogue(), folder=folder).reused == 4


def test_a_stop_keeps_the_finished_weeks(chart: Season, tmp_path: Path) -> None:
    shares: list[float] = []
    with pytest.raises(Cancelled):
        season(
            lane(),
            weather(),
            catalogue(),
            folder=tmp_path,
            on_progress=shares.append,
            should_stop=lambda: len(shares) > 2,
        )
    assert shares == [0.0, 0.25, 0.5]
    again = season(lane(), weather(), catalogue(), folder=tmp_path)
    assert again.reused == 2
    assert same(again, chart)


def test_a_folder_begun_with_other_inputs_is_refused(tmp_path: Path) -> None:
    short = season_weather(FIRST_S, 4)
    season(lane(), short, catalogue(), folder=tmp_path)
    with pytest.raises(InputError, match="other inputs"):
        season(lane(), season_weather(FIRST_S, 4, warmer_k=0.1), catalogue(), folder=tmp_path)


def test_a_typical_year_covers_every_day_of_it() -> None:
    """The first and last days of the year too, from closing the evening before; only two days worked out here."""
    year = parse_year(pvgis_text(), "year.csv")
    first, last = _days(year, lane().trip.origin.zone)
    assert (first.month, first.day, last.month, last.day) == (1, 1, 12, 31)
    weeks = list(_weeks(first, last))
    assert sum(days for _, _, days in weeks) == 365
    ends = [(weeks[0][0], weeks[0][1], 1), (weeks[-1][0], weeks[-1][1], 1)]
    pieces = [worked_out(_piece(key, lane(), year, catalogue(), day, days)) for key, day, days in ends]
    found = _chart(lane(), year, first, last, pieces, 0)
    assert found.days.sum() == 48


def test_weather_of_a_day_is_too_short() -> None:
    with pytest.raises(InputError, match="too short"):
        season(lane(), season_weather(FIRST_S, 1), catalogue())


def test_a_failing_piece_reaches_the_caller() -> None:
    with pytest.raises(ZeroDivisionError):
        list(map_unordered(lambda n: 1 // n, [1, 0]))
