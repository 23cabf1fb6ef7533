"""A folder of sheets: every file of one trip written, one after the other, and what the next printing must know."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextvars import copy_context
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

from planner.app.common.progress import Progress, Stop
from planner.app.sheets.drive import buyer_sheet, driver_sheet
from planner.app.sheets.facts import TripFacts
from planner.app.sheets.records import Label, Sheet
from planner.app.sheets.stay import receipt_sheet, receiver_sheet, yard_sheet
from planner.app.sheets.stuck import entries, labels
from planner.errors import Cancelled
from planner.files import made, write_bytes
from planner.paper.diary import calendar
from planner.paper.pdf import Fit, Paper, labels_pdf, sheet_pdf
from planner.paper.phone import sheet_html
from planner.reading import read_bounded
from planner.store.people import Person
from planner.units import METRIC, UnitSystem

MEMORY = "sheets.json"
"""What was printed last into a folder: the code of the plan and how often the calendar changed."""
MOST_NAME_BYTES = 80


@dataclass(frozen=True)
class Wanted:
    """How sheets are printed: ``language`` where a person names none."""

    language: str = "en"
    paper: Paper = "a4"
    units: UnitSystem = METRIC


@dataclass(frozen=True)
class Written:
    """What was written: ``paths`` in order, ``remarks`` by file, in words, the code of the plan and of the one it
    ``replaces``, "" where there was none."""

    paths: tuple[Path, ...]
    remarks: tuple[str, ...]
    code: str
    replaces: str = ""


@dataclass(frozen=True)
class Piece:
    """A file still to be made, the content and remarks of which ``make`` gives."""

    name: str
    make: Callable[[], tuple[bytes, Sequence[str]]]


Fits = dict[tuple[str, str], Fit]
"""How the first sheet of each kind and language found room, for the others of one printing."""


def paper_piece(name: str, sheet: Sheet, wanted: Wanted, fits: Fits) -> Piece:
    """A sheet on paper; it takes over how the first of its kind and language found room."""

    def make() -> tuple[bytes, Sequence[str]]:
        kind = sheet.kind, sheet.language
        printed = sheet_pdf(sheet, wanted.paper, wanted.units, like=fits.get(kind))
        if printed.fit is not None:
            fits.setdefault(kind, printed.fit)
        return printed.data, printed.remarks

    return Piece(f"{name}.pdf", make)


def page_piece(name: str, sheet: Sheet, wanted: Wanted) -> Piece:
    """A sheet as a page for the phone."""
    return Piece(f"{name}.html", lambda: (sheet_html(sheet, wanted.units).encode("utf-8", "replace"), ()))


def labels_piece(cells: Sequence[Label], wanted: Wanted) -> Piece:
    """The labels of all boxes."""

    def make() -> tuple[bytes, Sequence[str]]:
        printed = labels_pdf(cells, wanted.language, wanted.paper, wanted.units)
        return printed.data, printed.remarks

    return Piece("labels.pdf", make)


def text_piece(name: str, make: Callable[[], str]) -> Piece:
    """A text to be sent by whoever likes to."""
    return Piece(name, lambda: (make().encode("utf-8", "replace"), ()))


def write_sheets(
    folder: Path,
    facts: TripFacts,
    people: Sequence[Person] = (),
    wanted: Wanted | None = None,
    *,
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
) -> Written:
    """Write every sheet of a trip into a folder, which is made.

    A sheet that replaces another one of this folder says so. Raises StorageError, Cancelled.
    """
    wanted = wanted or Wanted()
    known = _known(made(folder), facts)
    facts = replace(facts, proof=replace(facts.proof, replaces=known["replaces"]))
    pieces = pieces_of(facts, people, wanted, known["sequence"])
    paths, remarks = write_pieces(folder, pieces, on_progress, should_stop)
    write_bytes(folder / MEMORY, json.dumps(known, indent=1).encode())
    return Written(paths, remarks, facts.code, known["replaces"])


def pieces_of(facts: TripFacts, people: Sequence[Person], wanted: Wanted, sequence: int = 0) -> list[Piece]:
    """Every file of a trip, still to be made; ``sequence`` counts the changes of its calendar."""
    return list(_Press(facts, wanted, sequence).pieces(people))


_WORKERS = 2
"""Setting pages lets go of the interpreter's lock; more would cost memory, about 60 MB each."""


def write_pieces(
    folder: Path,
    pieces: Sequence[Piece],
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
) -> tuple[tuple[Path, ...], tuple[str, ...]]:
    """Make every piece, two at a time, and write them in order into a folder that stands: the paths, and remarks.

    Raises StorageError, Cancelled.
    """
    with ThreadPoolExecutor(_WORKERS) as workers:
        try:
            found = _all_written(folder, pieces, workers, on_progress, should_stop)
        except BaseException:
            workers.shutdown(cancel_futures=True)
            raise
    return tuple(path for path, _ in found), tuple(line for _, said in found for line in said)


def _all_written(
    folder: Path,
    pieces: Sequence[Piece],
    workers: ThreadPoolExecutor,
    on_progress: Progress | None,
    should_stop: Stop | None,
) -> list[tuple[Path, list[str]]]:
    """Every piece made by the workers, in the language spoken here, and written here, in order."""
    made_pieces = [workers.submit(copy_context().run, piece.make) for piece in pieces]
    found = []
    for number, (piece, making) in enumerate(zip(pieces, made_pieces, strict=True)):
        if should_stop and should_stop():
            raise Cancelled
        content, said = making.result()
        path = folder / piece.name
        write_bytes(path, content)
        found.append((path, [f"{piece.name}: {line}" for line in said]))
        if on_progress:
            on_progress((number + 1) / len(pieces))
    return found


def _known(folder: Path, facts: TripFacts) -> dict[str, Any]:
    """What this printing replaces and the number of its calendar, from what the folder remembers.

    A memory that cannot be read, or of another trip, is none.
    """
    before: dict[str, Any] = {}
    try:
        found = json.loads(read_bounded(folder / MEMORY, 100_000))
        if isinstance(found, dict) and found.get("trip") == facts.trip_key:
            before = found
    except (OSError, ValueError, RecursionError):
        pass
    code = facts.code
    sequence, replaces = before.get("sequence"), before.get("code")
    if not isinstance(sequence, int) or not _is_code(replaces):
        return {"trip": facts.trip_key, "code": code, "replaces": "", "sequence": 0}
    if replaces == code:
        last = before.get("replaces")
        return {
            "trip": facts.trip_key,
            "code": code,
            "replaces": last if _is_code(last) else "",
            "sequence": sequence,
        }
    return {"trip": facts.trip_key, "code": code, "replaces": replaces, "sequence": sequence + 1}


def _is_code(text: object) -> bool:
    return isinstance(text, str) and re.fullmatch("[A-Z]{4}", text) is not None


class _Press:
    """Makes pieces; sheets of one kind and language take over how the first of them found room."""

    def __init__(self, facts: TripFacts, wanted: Wanted, sequence: int) -> None:
        self._facts, self._wanted, self._sequence = facts, wanted, sequence
        self._fits: Fits = {}

    def pieces(self, people: Sequence[Person]) -> Iterator[Piece]:
        facts, language = self._facts, self._wanted.language
        yield from self._both("driver", driver_sheet(facts, language))
        yield from self._both("receiver", receiver_sheet(facts, language))
        yield from self._both("yard", yard_sheet(facts, people, language))
        yield labels_piece(labels(self._facts), self._wanted)
        yield Piece("trip.ics", partial(self._diary, language))
        for other in sorted({one.language for one in people} - {"", language}):
            yield Piece(f"trip-{other}.ics", partial(self._diary, other))
        if not people:
            yield self._paper("receipt", receipt_sheet(facts, None, language))
        for person, name in zip(people, file_names(people), strict=True):
            theirs = person.language or language
            yield from self._both(f"buyer-{name}", buyer_sheet(facts, person, theirs))
            yield self._paper(f"receipt-{name}", receipt_sheet(facts, person, theirs))

    def _both(self, name: str, sheet: Sheet) -> Iterator[Piece]:
        yield self._paper(name, sheet)
        yield page_piece(name, sheet, self._wanted)

    def _paper(self, name: str, sheet: Sheet) -> Piece:
        return paper_piece(name, sheet, self._wanted, self._fits)

    def _diary(self, language: str) -> tuple[bytes, Sequence[str]]:
        facts = self._facts
        made_diary = calendar(
            entries(facts),
            language,
            facts.trip_key,
            stamp_s=facts.proof.printed_s,
            sequence=self._sequence,
            units=self._wanted.units,
        )
        return made_diary, ()


def file_names(people: Sequence[Person]) -> list[str]:
    """A part of a file name for each person: their name in letters any disk takes, told apart by number."""
    names: list[str] = []
    taken: set[str] = set()
    for person in people:
        stem = _file_safe(person.name)
        name, number = stem, 1
        while name.casefold() in taken:
            number += 1
            name = f"{stem}-{number}"
        taken.add(name.casefold())
        names.append(name)
    return names


def _file_safe(name: str) -> str:
    """Letters and figures of any script, words joined by hyphens; "unnamed" where nothing is left."""
    text = unicodedata.normalize("NFC", name[:200])
    kept = "".join(c if c.isalnum() or c == "." else " " for c in text)
    joined = "-".join(kept.split()).strip(".-")
    while len(joined.encode("utf-8", "replace")) > MOST_NAME_BYTES:
        joined = joined[:-1]
    return joined or "unnamed"
