"""Start Skepway: the window when called without arguments or with a trip file alone, the command line otherwise."""

from __future__ import annotations

import importlib
import sys
from pathlib import Path

from planner.cli.stopping import leave_to_the_system

WINDOW = "planner.ui.main"


def main() -> int:
    """Entry of ``skepway`` and of ``python -m planner``; hands back the exit code."""
    words = sys.argv[1:]
    if words and not _is_trip(words):
        leave_to_the_system()
        from planner.cli.main import main as command_line

        return command_line(words)
    return _window(words)


def _is_trip(words: list[str]) -> bool:
    """A trip file and nothing else: what a desktop hands over after a click on it."""
    return len(words) == 1 and words[0].endswith(".toml") and Path(words[0]).is_file()


def _window(words: list[str]) -> int:
    """Open the window, on a trip where one is named; where Qt is not installed, say so and name the command line."""
    try:
        return int(importlib.import_module(WINDOW).main(words))
    except ModuleNotFoundError as error:
        if not (error.name or "").startswith((WINDOW, "PySide6", "pyqtgraph")):
            raise
        from planner.cli.exits import Exit

        print(
            f"The window needs {error.name}, which is not installed here. "
            "Install Skepway with its dependencies, or use the command line: skepway --help",
            file=sys.stderr,
        )
        return int(Exit.STORAGE)


if __name__ == "__main__":
    sys.exit(main())
