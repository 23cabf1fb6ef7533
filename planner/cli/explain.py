"""``skepway explain FOLDER``: two pages to read offline, what we say of common trips and the model in one drawing."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from planner.app.explain.page import page_html
from planner.app.explain.pages import explaining_pages
from planner.cli.exits import Exit
from planner.cli.options import add_catalogue, add_units, catalogue_of, units_of
from planner.errors import StorageError, reason_of
from planner.store.documents import write_text
from planner.words import say


def configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("folder", type=Path, metavar="FOLDER", help="where the pages are written")
    add_catalogue(parser)
    add_units(parser)


def run(args: argparse.Namespace) -> int:
    pages = explaining_pages(catalogue_of(args), units_of(args))
    try:
        args.folder.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        raise StorageError(
            say("cli.folder_not_used", folder=str(args.folder), strerror=reason_of(error))
        ) from error
    for name, page in pages.items():
        path = args.folder / f"{name}.html"
        write_text(path, page_html(page))
        print(say("cli.wrote", path=str(path)), file=sys.stderr)
    return Exit.FINE
