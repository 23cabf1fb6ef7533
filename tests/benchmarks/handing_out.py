"""How fast work is handed out: pieces that do nothing, singly and in bundles, to processes of this machine.

.venv/bin/python -m tests.benchmarks.handing_out [SECONDS] [CLUSTER]
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator

from planner.app.common import executors
from planner.app.common.executors import map_with, workers


def nothing(common: bytes, job: int) -> int:
    return job


def until(end_s: float) -> Iterator[int]:
    job = 0
    while time.monotonic() < end_s:
        yield job
        job += 1


def rate(seconds: float, most: int, cluster: str) -> float:
    """Pieces a second, ``most`` in a bundle, a common part of 1 MB sent once."""
    executors.MOST_IN_A_BUNDLE = most
    with workers(processes=2, cluster=cluster) as pool:
        list(map_with(nothing, bytes(1_000_000), range(8), pool))  # let the processes begin
        begun_s = time.monotonic()
        done = sum(1 for _ in map_with(nothing, bytes(1_000_000), until(begun_s + seconds), pool))
        return done / (time.monotonic() - begun_s)


if __name__ == "__main__":
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    cluster = sys.argv[2] if len(sys.argv) > 2 else ""
    for most in (1, 256):
        print(f"{rate(seconds, most, cluster):10.0f} pieces a second, at most {most} in a bundle", flush=True)
