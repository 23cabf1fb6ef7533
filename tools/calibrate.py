"""Narrow the ranges of the model by the trade's judgement, and write them to ``resources/posterior.toml``.

One command makes it again: ``python tools/calibrate.py --jobs 2``. It draws sets of the numbers that act only as a
product, lets every row of the trade's year meet each with one box, then those that carry the weight with many loads and
boxes, and weighs them. What is judged is written in ``resources/trade_year.toml``, how in ``planner/app/trade``.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path

from planner.app.common.executors import workers
from planner.app.trade.narrow import Size, judged_sets, narrowed
from planner.app.trade.sets import Effort
from planner.app.trade.table import load_trade_year
from planner.bundled import resource_path
from planner.store.catalogue import load_catalogue
from planner.store.posterior import FILE, write_posterior

SEED = 1


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sets", type=int, default=10_000, help="sets drawn (10000)")
    parser.add_argument("--fine", type=int, default=300, help="sets looked at closely (300)")
    parser.add_argument("--loads", type=int, default=64, help="loads of each of these and each row (64)")
    parser.add_argument("--boxes", type=int, default=12, help="boxes of each load (12)")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--jobs", type=int, default=1, help="processes (1)")
    parser.add_argument("--to", type=Path, default=resource_path(FILE), help="file to write")
    args = parser.parse_args()
    catalogue = load_catalogue()
    size = Size(args.sets, args.fine, Effort(args.loads, args.boxes))
    with workers(args.jobs) as executor:
        judged = judged_sets(
            load_trade_year(catalogue), catalogue, size, args.seed, executor=executor, step=_told
        )
    found = narrowed(judged, catalogue.parameters, args.seed, date.today().isoformat())
    write_posterior(found, args.to)
    print(json.dumps({key: value for key, value in found.report.items() if key != "rows"}, indent=1))


def _told(what: str) -> Callable[[float], None]:
    began, said = time.monotonic(), [0.0]

    def tell(share: float) -> None:
        now = time.monotonic()
        if now - said[0] > 30.0 or share >= 1.0:
            said[0] = now
            print(f"{what}: {share:.0%} after {now - began:.0f} s", flush=True)

    return tell


if __name__ == "__main__":
    main()
