"""What a program held at most, asked by the program itself."""

from __future__ import annotations

from pathlib import Path

STATUS = Path("/proc/self/status")
TOLD = STATUS.exists()
"""Whether the system keeps the figure; Linux only."""


def held_mb() -> float:
    """Highest resident memory of this program since it began, MB.

    Not ``ru_maxrss``, which keeps over the start of a program what its starter held: a small plan begun by a
    large run of tests would be told as the size of that run (``getrusage(2)``, ``exec_mmap`` of the kernel).
    """
    return int(STATUS.read_text().partition("VmHWM:")[2].split()[0]) / 1024.0
