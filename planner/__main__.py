"""Start Skepway: the window when called without arguments, the command line otherwise."""

from __future__ import annotations

import importlib
import sys

from planner.cli.exits import Exit

WINDOW = "planner.ui.main"


def main() -> int:
    """Entry of ``skepway`` and of ``python -m planner``; hands back the exit code."""
    if len(sys.argv) > 1:
        from planner.cli.main import main as command_line

        return command_line(sys.argv[1:])
    return _window()


def _window() -> int:
    """Open the window; where Qt is not installed, say so and name the command line."""
    try:
        return int(importlib.import_module(WINDOW).main())
    except ModuleNotFoundError as error:
        if not (error.name or "").startswith((WINDOW, "PySide6", "pyqtgraph")):
            raise
        print(
            f"The window needs {error.name}, which is not installed here. "
            "Install Skepway with its dependencies, or use the command line: skepway --help",
            file=sys.stderr,
        )
        return Exit.STORAGE


if __name__ == "__main__":
    sys.exit(main())
