"""Two workers of a Dask cluster beside two processes of this machine, in turns: the same weeks of a season chart.

.venv/bin/python -m tests.benchmarks.cluster [WEEKS] [ROUNDS]

Prints the ratio of the times on the clock (85 % and more is asked of the cluster), the processor time of a week, and
what a year of 1,000 such lanes costs by that.
"""

from __future__ import annotations

import os
import statistics
import sys
import time
from concurrent.futures import Executor

import distributed

from planner.app.common.executors import workers
from planner.app.season.chart import WEEKS, Lane, season
from tests.app.years import season_weather
from tests.model.scenarios import HOUR_S, NUC, at, catalogue, replace, road, trip

PLACE = "pickup_canopy_shut_dark"


def lane() -> Lane:
    """A nucleus in a pickup, an hour and a half on the road, every hour of every day."""
    return Lane(trip(replace(NUC, frames_of_bees=6.0, floor_blocked_share=0.4), PLACE), road(1.5), PLACE)


def took_s(weeks: int, executor: Executor | None) -> float:
    """Seconds on the clock for so many weeks."""
    weather = season_weather(at(2026, 1, 1) - HOUR_S, 7 * weeks + 4)
    began = time.perf_counter()
    season(lane(), weather, catalogue(), executor=executor)
    return time.perf_counter() - began


def main(weeks: int = 26, rounds: int = 3) -> int:
    """Print the table."""
    processor = time.process_time()
    alone_s = took_s(min(weeks, 4), None)
    each_s = (time.process_time() - processor) / min(weeks, 4)
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}; one process: {alone_s:.2f} s for 4 weeks")
    here: list[float] = []
    there: list[float] = []
    with (
        workers(processes=2) as pool,
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, host="127.0.0.1"
        ) as local,
        workers(cluster=local.scheduler_address) as cluster,
    ):
        for number in range(rounds + 1):
            times = took_s(weeks, pool), took_s(weeks, cluster)
            if number:  # the first lets every process begin
                here.append(times[0])
                there.append(times[1])
                print(
                    f"  {weeks} weeks: two processes {times[0]:6.2f} s, two workers {times[1]:6.2f} s",
                    flush=True,
                )
    print(f"two workers do {statistics.median(here) / statistics.median(there):.0%} of what two processes do")
    year_s = WEEKS * each_s
    print(
        f"a week {each_s:.3f} s of a processor; a lane's year {year_s:.1f} s; 1,000 lanes {year_s * 1000 / 3600:.1f} h"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
