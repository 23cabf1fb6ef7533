"""What eighty people's sheets cost, the plan ready: ``python -m tests.benchmarks.sheets``.

Buyers' PDFs, yard sheet, labels and calendar, then the whole folder with receipts and phone pages; A4 in English,
and in six languages by turns on Letter. Each row is a process of its own, from the first import of what sets pages: its
clock, its processor time, the most memory it held. ``--check`` ends with 1 where the first row is over its target: on
two idle cores by the clock, else by the processor.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from itertools import cycle
from pathlib import Path

from planner.paper.folder import Wanted, pieces_of, write_pieces
from planner.paper.pdf import Paper
from planner.words import languages
from tests.benchmarks.timing import busyness
from tests.paper.made import facts, groups, people
from tests.peak import held_mb

PEOPLE = 80
MOST_S, MOST_MB = 6.0, 300.0
CORES = 2
BUSY = 1.3
"""Clock over processor time of a plain loop from which on the clock says nothing."""
ROWS: dict[str, tuple[Paper, bool, bool]] = {
    "buyers, yard, labels, calendar": ("a4", False, False),
    "the same in six languages, Letter": ("letter", False, True),
    "the whole folder": ("a4", True, False),
}


def one(name: str) -> dict[str, float]:
    """Write the files of a row into a folder: how many, seconds on the clock and of the processor, MB."""
    paper, whole, mixed = ROWS[name]
    crowd = people(PEOPLE)
    if mixed:
        crowd = tuple(
            replace(each, language=said) for each, said in zip(crowd, cycle(languages()), strict=False)
        )
    wanted = sum(each.count for each in crowd)
    trip = facts(boxes=wanted, groups=(replace(groups()[0], count=wanted, names=()),))
    with tempfile.TemporaryDirectory() as folder:
        begin, busy = time.perf_counter(), time.process_time()
        pieces = [
            piece for piece in pieces_of(trip, crowd, Wanted(paper=paper)) if whole or _is_asked(piece.name)
        ]
        paths, _ = write_pieces(Path(folder), pieces)
        took, busy = time.perf_counter() - begin, time.process_time() - busy
    return {"files": len(paths), "clock_s": took, "processor_s": busy, "mb": held_mb()}


def _is_asked(name: str) -> bool:
    if name.startswith("buyer-"):
        return name.endswith(".pdf")
    return name in ("yard.pdf", "labels.pdf") or name.endswith(".ics")


def main() -> int:
    """Print the rows."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument(
        "--check", action="store_true", help="exit code 1 where the first row is over its target"
    )
    parser.add_argument("--row", choices=tuple(ROWS), help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.row:
        print(json.dumps(one(asked.row)))
        return 0
    busy = busyness()
    print(f"A plain loop takes {busy:.1f} times its processor time. At most {MOST_S:g} s and {MOST_MB:g} MB.")
    found = {}
    for name in ROWS:
        command = [sys.executable, "-m", "tests.benchmarks.sheets", "--row", name]
        done = subprocess.run(command, capture_output=True, text=True, check=True)
        found[name] = json.loads(done.stdout)
        print(
            "{:35s} {files:4.0f} files {clock_s:6.2f} s clock {processor_s:6.2f} s processor {mb:5.0f} MB".format(
                name, **found[name]
            ),
            flush=True,
        )
    first = next(iter(found.values()))
    took = first["clock_s"] if busy <= BUSY else first["processor_s"] / CORES
    return int(asked.check and (took > MOST_S or first["mb"] > MOST_MB))


if __name__ == "__main__":
    sys.exit(main())
