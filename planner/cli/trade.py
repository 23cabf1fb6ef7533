"""``skepway trade``: what the program says of common trips, beside what keepers say of them."""

from __future__ import annotations

import argparse
from dataclasses import replace

from planner.app.common.executors import workers
from planner.app.trade.run import SAMPLES, trade_results
from planner.app.trade.table import TradeYear, load_trade_year
from planner.app.trade.words import trade_document, trade_words
from planner.cli.candidate import print_said
from planner.cli.exits import Exit
from planner.cli.options import (
    add_catalogue,
    add_json,
    add_samples,
    add_units,
    catalogue_of,
    units_of,
    whole,
    write_json,
)
from planner.cli.progress import ProgressLine
from planner.errors import Fault, InputError
from planner.store.schema import did_you_mean


def configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("rows", nargs="*", metavar="ROW", help="rows of the table by name (all of them)")
    add_catalogue(parser)
    add_units(parser)
    add_samples(parser, SAMPLES)
    add_json(parser)
    parser.add_argument("--jobs", type=whole(1), default=1, metavar="N", help="work in so many processes (1)")


def run(args: argparse.Namespace) -> int:
    catalogue = catalogue_of(args)
    year = _chosen(load_trade_year(catalogue), args.rows)
    with workers(args.jobs) as executor, ProgressLine("The trade's year") as progress:
        results = trade_results(
            year, catalogue, samples=args.samples, seed=args.seed, executor=executor, on_progress=progress
        )
    print_said(args, trade_words(year, results, args.seed, units_of(args)))
    if args.json:
        write_json(args.json, trade_document(year, results, args.seed))
    return Exit.FINE


def _chosen(year: TradeYear, names: list[str]) -> TradeYear:
    """The table with only the rows asked for. Raises InputError for a row that is not there."""
    faults = [
        Fault("ROW", name, "no such row in the table", did_you_mean(name, year.rows))
        for name in names
        if name not in year.rows
    ]
    if faults:
        raise InputError(faults)
    return replace(year, rows={name: year.rows[name] for name in names}) if names else year
