"""Run the trade's year through the program and keep what it says in ``resources/trade_results.toml``.

``python tools/trade_results.py --jobs 2``; after ``tools/calibrate.py``, and whenever the model has changed.
It lists the rows that are not met, which ``tests/app/trade_unmet.py`` has to name with their shares.
"""

from __future__ import annotations

import argparse
from datetime import date
from pathlib import Path

from planner.app.common.executors import workers
from planner.app.trade.results import FILE, write_results
from planner.app.trade.run import SAMPLES, SEED, trade_results
from planner.app.trade.table import load_trade_year
from planner.app.trade.words import headline
from planner.bundled import resource_path
from planner.store.catalogue import load_catalogue


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--samples", type=int, default=SAMPLES)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--jobs", type=int, default=1, help="processes (1)")
    parser.add_argument("--to", type=Path, default=resource_path(FILE), help="file to write")
    args = parser.parse_args()
    catalogue = load_catalogue()
    with workers(args.jobs) as executor:
        results = trade_results(
            load_trade_year(catalogue), catalogue, samples=args.samples, seed=args.seed, executor=executor
        )
    write_results(results, args.seed, date.today().isoformat(), args.to)
    print(headline(results))
    for result in results:
        if result.found == "fails":
            print(f"RUINED   {result.row.name}: {result.ruined_share:.2f}")
        if result.found_chilled == "fails":
            print(f"CHILLED  {result.row.name}: {result.chilled_share:.2f}")


if __name__ == "__main__":
    main()
