"""A very large batch, chunk by chunk, for its memory: ``python -m tests.benchmarks.many CASES``."""

from __future__ import annotations

import sys

from tests.benchmarks.__main__ import judged_peaks
from tests.benchmarks.batch import HOURS, batch_of
from tests.benchmarks.timing import once
from tests.peak import held_mb


def main(cases: int) -> None:
    """Print time and memory."""
    clock, processor = once(lambda: judged_peaks(batch_of(cases)))
    times, held_gib = f"{clock:.1f} s ({processor:.1f} s processor)", held_mb() / 1024.0
    print(f"{cases} cases x {HOURS:.0f} h: {times}, {held_gib:.2f} GiB at most")


if __name__ == "__main__":
    main(int(sys.argv[1]))
