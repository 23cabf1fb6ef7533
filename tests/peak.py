"""What a program held at most, asked by the program itself."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
STATUS = Path("/proc/self/status")
TOLD = STATUS.exists()
"""Whether the system keeps the figure; Linux only."""


def held_mb() -> float:
    """Highest resident memory of this program since it began, MB.

    Not ``ru_maxrss``, which keeps over the start of a program what its starter held: a small plan begun by a
    large run of tests would be told as the size of that run (``getrusage(2)``, ``exec_mmap`` of the kernel).
    """
    return int(STATUS.read_text().partition("VmHWM:")[2].split()[0]) / 1024.0


def alone(script: str, *words: str) -> float:
    """The figure that a script of Python prints, run in a process of its own with the warnings of a test.

    A process that was forked has what its starter let go of to grow into, and seems to need less.
    """
    command = [sys.executable, "-W", "error", "-c", script, *words]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return float(done.stdout)
