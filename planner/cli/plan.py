"""``skepway plan TRIP``: the answer first, then the best candidates, then the reasons."""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from planner.app.plan.documents import as_csv, as_document, as_html, table
from planner.app.plan.pictures import board_svg, curves_svg
from planner.app.plan.plan import curves, plan_trip
from planner.app.plan.recheck import snapshot
from planner.app.plan.results import Plan
from planner.app.plan.words import Answer, answer
from planner.cli import quick
from planner.cli.options import add_samples, add_sources, add_trip, add_units, catalogue_of, units_of, whole
from planner.cli.planning import journalled, ready_of, told
from planner.cli.progress import ProgressLine, Stopwatch
from planner.files import made, write_text
from planner.model.catalogue import Catalogue
from planner.reading import printable
from planner.units import UnitSystem

DASH = Path("-")
COLUMNS = (
    ("leave", "Leave"),
    ("place", "Loading place"),
    ("setup", "Boxes"),
    ("peak", "Peak"),
    ("headroom", "Headroom"),
    ("verdicts", "Verdicts"),
)


def configure(parser: argparse.ArgumentParser) -> None:
    add_trip(parser, required=False)
    quick.configure(parser)
    add_units(parser)
    add_sources(parser)
    add_samples(parser, 0)
    parser.add_argument("--timing", action="store_true", help="say where the time went")
    parser.add_argument(
        "--json", type=Path, metavar="FILE", help="write every option as JSON ('-': to the screen)"
    )
    parser.add_argument(
        "--csv", type=Path, metavar="FILE", help="write every option as CSV ('-': to the screen)"
    )
    parser.add_argument("--html", type=Path, metavar="FILE", help="write a report with plots, fit to print")
    parser.add_argument("--pictures", type=Path, metavar="FOLDER", help="write the plots as SVG files")
    parser.add_argument(
        "--rows", type=whole(0), default=12, metavar="N", help="options to print (default 12)"
    )


def run(args: argparse.Namespace) -> int:
    clock = Stopwatch()
    catalogue, units, now_s = catalogue_of(args), units_of(args), time.time()
    found = quick.trip_of(args, catalogue, now_s)
    clock.lap("reading the trip")
    given = ready_of(args, found, now_s)
    clock.lap("road and forecast")
    with ProgressLine("Planning") as progress:
        plan = plan_trip(given.trip, given.road, given.weather, catalogue, on_progress=progress)
    clock.lap("planning")
    said = answer(plan, catalogue, units, now_s=now_s)
    if args.samples:
        said = _with_chance(args, plan, catalogue, units, said)
        clock.lap("simulating variants")
    clock.lap("answer")
    for remark in given.remarks:
        print(f"Remark: {remark}", file=sys.stderr)
    screen_taken = DASH in (args.json, args.csv)
    if not screen_taken:
        _print_answer(plan, said, units, args.rows)
    if args.json:
        _write(args.json, lambda: json.dumps(as_document(plan, said), indent=1, ensure_ascii=False) + "\n")
    if args.csv:
        _write(args.csv, lambda: as_csv(plan))
    if args.html or args.pictures:
        sampled = curves(plan, said.choice, catalogue)
        if args.html:
            _write(args.html, lambda: as_html(plan, said, sampled, units))
        if args.pictures:
            folder = made(args.pictures)
            _write(folder / "departures.svg", lambda: board_svg(plan, said.choice, units))
            _write(folder / "temperatures.svg", lambda: curves_svg(plan, sampled, units))
    clock.lap("writing")
    if args.trip:
        journalled(args.trip, now_s, snapshot(plan, now_s).as_document())
    clock.lap("journal")
    if args.timing:
        print(clock.table(), file=sys.stderr)
    return told(plan)


def _with_chance(
    args: argparse.Namespace, plan: Plan, catalogue: Catalogue, units: UnitSystem, said: Answer
) -> Answer:
    """The answer with what its variants say in front of how sure it is."""
    from planner.app.chance.words import how_sure  # late: only this needs scipy
    from planner.cli.sure import sharpest

    chance = how_sure(sharpest(plan, catalogue, args.samples, args.seed), units=units, choice=said.choice)
    return replace(said, how_sure=(chance.headline, *chance.comparisons, *chance.settle, *said.how_sure))


def _write(path: Path, text: Callable[[], str]) -> None:
    """Write to a file in one step; ``-`` is the screen."""
    if path == DASH:
        sys.stdout.write(text())
        return
    write_text(path, printable(text()))
    print(f"Wrote {path}", file=sys.stderr)


def _print_answer(plan: Plan, said: Answer, units: UnitSystem, rows: int) -> None:
    print(said.headline)
    if said.next_best:
        print(f"Next best: {said.next_best}")
    if rows:
        print()
        _print_table(table(plan, units, rows), units)
    for title, lines in (
        ("Why", said.reasons),
        ("How sure", (*said.how_sure, *said.notes)),
        ("Cautions", said.cautions),
    ):
        print(f"\n{title}")
        for line in lines:
            print(f"  - {line}")


def _print_table(rows: list[dict[str, str]], units: UnitSystem) -> None:
    heads = dict(COLUMNS)
    heads["peak"] += f" {units.temp_unit} (calm-agitated)"
    width = {key: max(len(heads[key]), *(len(row[key]) for row in rows)) for key, _ in COLUMNS}
    for row in (heads, *rows):
        print("  ".join(row[key].ljust(width[key]) for key, _ in COLUMNS).rstrip())
