"""``skepway install-desktop``: an entry in the menu, an icon, and trip files that open with a click."""

from __future__ import annotations

import argparse

from planner.cli.exits import Exit
from planner.desktop import install


def configure(parser: argparse.ArgumentParser) -> None:
    del parser  # it takes nothing


def run(args: argparse.Namespace) -> int:
    del args
    for path in install():
        print(f"Wrote {path}")
    return Exit.FINE
