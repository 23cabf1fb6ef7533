"""``skepway plan TRIP``: the answer first, then its window, the best candidates, the reasons, how sure, cautions."""

from __future__ import annotations

import argparse
import shutil
import sys
import textwrap
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from planner.app.answer.board import board_svg
from planner.app.answer.compare import snapshot
from planner.app.answer.documents import as_csv, as_document, as_html, as_json
from planner.app.answer.records import Answer
from planner.app.answer.settled import curves_of, settled_plan
from planner.app.answer.words import COLUMNS, Words, table
from planner.app.inspect.records import start_cautions
from planner.app.plan.pictures import curves_svg
from planner.cli import quick
from planner.cli.options import add_samples, add_sources, add_trip, add_units, catalogue_of, units_of, whole
from planner.cli.planning import SAMPLES, answer_of, asked_of, exit_for, given_of, journalled
from planner.cli.progress import Stopwatch
from planner.cli.voice import DASH
from planner.files import made, write_text
from planner.model.catalogue import Catalogue
from planner.reading import printable
from planner.units import UnitSystem
from planner.words import say

ROWS = 8
"""With so many options the whole answer is a page."""

CELL = 36
"""Letters of a table's cell before it goes on in the next line."""


def configure(parser: argparse.ArgumentParser) -> None:
    add_trip(parser, required=False)
    quick.configure(parser)
    add_units(parser)
    add_sources(parser)
    add_samples(parser, SAMPLES)
    parser.add_argument("--timing", action="store_true", help="say where the time went")
    parser.add_argument(
        "--json", type=Path, metavar="FILE", help="write the whole answer as JSON ('-': to the screen)"
    )
    parser.add_argument(
        "--csv", type=Path, metavar="FILE", help="write every option as CSV ('-': to the screen)"
    )
    parser.add_argument("--html", type=Path, metavar="FILE", help="write a report with plots, fit to print")
    parser.add_argument("--pictures", type=Path, metavar="FOLDER", help="write the plots as SVG files")
    parser.add_argument(
        "--rows", type=whole(0), default=ROWS, metavar="N", help=say("cli.plan_rows", rows=ROWS)
    )
    parser.add_argument(
        "--fail-if-unsafe",
        action="store_true",
        help="hand back 10 for do not go, 11 for cannot tell, 12 for go if; else an answer is 0 whatever it says",
    )


def run(args: argparse.Namespace) -> int:
    clock = Stopwatch()
    catalogue, units, now_s = catalogue_of(args), units_of(args), time.time()
    found = quick.trip_of(args, catalogue, now_s)
    clock.lap("reading the trip")
    given = given_of(args, found, now_s)
    clock.lap("road and forecast")
    asked = asked_of(given, catalogue, args, now_s)
    clock.lap("simulating variants")
    said = answer_of(given, asked, catalogue, args, now_s)
    if said.best is not None:
        boxes = start_cautions(args.trip, found.trip, catalogue, said.best.leave_s, now_s)
        said = replace(said, cautions=(*boxes, *said.cautions))
    clock.lap("answer")
    if DASH not in (args.json, args.csv):
        _print_answer(said, catalogue, units, args.rows)
    if args.json:
        _write(args.json, lambda: as_json(as_document(said)))
    if args.csv:
        _write(args.csv, lambda: as_csv(said))
    if (args.html or args.pictures) and asked is not None and said.best is not None:
        _write_report(args, said, catalogue, units)
    clock.lap("writing")
    if args.trip and asked is not None:
        journalled(args.trip, now_s, snapshot(said, now_s).as_document())
    clock.lap("journal")
    if args.timing:
        print(clock.table(), file=sys.stderr)
    return exit_for(said, fail_if_unsafe=args.fail_if_unsafe)


def _write_report(args: argparse.Namespace, said: Answer, catalogue: Catalogue, units: UnitSystem) -> None:
    assert said.best is not None
    drawn = curves_of(said, said.best, catalogue)
    plan = settled_plan(said, said.best, catalogue)
    if args.html:
        _write(args.html, lambda: as_html(said, plan, drawn, catalogue, units))
    if args.pictures:
        folder = made(args.pictures)
        _write(folder / "departures.svg", lambda: board_svg(said, catalogue, units))
        _write(folder / "temperatures.svg", lambda: curves_svg(plan, drawn, units))


def _write(path: Path, text: Callable[[], str]) -> None:
    """Write to a file in one step; ``-`` is the screen."""
    if path == DASH:
        sys.stdout.write(text())
        return
    made(path.parent)
    write_text(path, printable(text()))
    print(f"Wrote {path}", file=sys.stderr)


def _print_answer(said: Answer, catalogue: Catalogue, units: UnitSystem, rows: int) -> None:
    _print_text(said.sentence)
    if said.window:
        _print_text(said.window)
    if said.next_best:
        _print_text(say("cli.next_best", candidate=said.next_best))
    if rows and said.candidates:
        print()
        _print_table(table(said, catalogue, units, rows), Words(said, catalogue, units).heads())
    more = [text for text in said.settle if text not in said.sentence]
    for title, lines in (
        ("Why", said.reasons),
        ("How sure", (*said.how_sure, *more, *said.notes)),
        ("Cautions", said.cautions),
    ):
        if lines:
            print(f"\n{title}")
        for line in lines:
            _print_text(line, "  - ")


def _print_text(text: str, before: str = "") -> None:
    """A text, broken between words on a screen; what is read by another program stays in one line."""
    if not sys.stdout.isatty():
        print(before + text)
        return
    width, indent = shutil.get_terminal_size().columns, " " * len(before)
    print(textwrap.fill(text, max(width, 40), initial_indent=before, subsequent_indent=indent))


def _print_table(rows: list[dict[str, str]], heads: dict[str, str]) -> None:
    """A long cell is broken between words, so that the columns beside it stay in sight."""
    cells = [{key: textwrap.wrap(row[key], CELL) or [""] for key in COLUMNS} for row in (heads, *rows)]
    width = {key: max(len(line) for row in cells for line in row[key]) for key in COLUMNS}
    for row in cells:
        for at in range(max(len(lines) for lines in row.values())):
            line = ((row[key][at] if at < len(row[key]) else "").ljust(width[key]) for key in COLUMNS)
            print("  ".join(line).rstrip())
