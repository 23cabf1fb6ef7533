"""The logbook as one zip to hand on or to keep: CSV and JSON for each table, the pictures, a manifest of hashes.

``manifest.txt`` is what ``sha256sum -c`` reads; the zip's own comment bears the hash of all before it, so that a
changed byte of the zip's table is noticed too. Taking the same zip in twice changes nothing.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import re
import sqlite3
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any, BinaryIO

from planner import __version__
from planner.errors import Fault, InputError, StorageError, reason_of
from planner.files import writing
from planner.reading import net
from planner.store.clocks import FIRST_YEAR, LAST_YEAR
from planner.store.logbook import people
from planner.store.logbook.book import Logbook, own_chain, unpacked
from planner.store.logbook.chain import COLUMNS, FIRST, hash_of
from planner.store.logbook.database import opened
from planner.store.logbook.records import KINDS, SUBJECTS, Person
from planner.store.schema import shown
from planner.words import say

FORMAT = 1
TABLES = {
    "trip": ("key", ("key", "title", "origin", "day", "load", "path")),
    "person": ("key", people.COLUMNS),
    "media": ("hash", ("hash", "kind", "bytes", "taken_s", "width", "height")),
    "plan": ("made_s, id", ("id", "code", "made_s", "trip", "title", "inputs", "program", "snapshot")),
    "event": ("book, number", COLUMNS),
}
"""Each table of the export: its order and its columns."""

INSTANTS = {"at_s", "made_s", "taken_s", "erased_s"}
WHOLE = {"number": 2**53, "offset_s": 2 * 86_400, "bytes": 2**53, "width": 2**31, "height": 2**31}
UNKNOWN = {"taken_s", "width", "height", "erased_s"}
CHOICES = {"event.kind": KINDS, "event.subject_kind": SUBJECTS}
FIRST_S, LAST_S = (datetime(year, 1, 1, tzinfo=UTC).timestamp() for year in (FIRST_YEAR, LAST_YEAR))
"""What may stand in a column; every other holds text."""

ABOUT, MANIFEST = "about.json", "manifest.txt"
MARK = b"skepway-sha256:"
LONGEST_LINE, MOST_BRACKETS = 30_000_000, 1_000_000
MOST_PACKED, MOST_MANIFEST = 100, 30_000_000
"""How many times its size a bundle may unfold to, and how many bytes a manifest may be."""
CHUNK = 1 << 20
STAMP = (1980, 1, 1, 0, 0, 0)
"""Every entry bears the same date: the same logbook makes the same zip."""


@dataclass(frozen=True)
class TakenIn:
    """How much a bundle brought that was not there before."""

    events: int = 0
    pictures: int = 0
    plans: int = 0
    people: int = 0

    @property
    def nothing(self) -> bool:
        return not (self.events or self.pictures or self.plans or self.people)


# -- out -------------------------------------------------------------------------------------------


def export(logbook: Logbook, path: Path, papers: Mapping[str, bytes] | None = None) -> int:
    """Write the whole logbook into one zip, piece by piece; the number of events. Raises StorageError.

    ``papers`` by file name go with it for people to read; nothing is read back from them.
    """
    with opened(logbook.path, writing=False) as book, writing(path, private=True) as stream:
        with zipfile.ZipFile(stream, "w", allowZip64=True) as bundle:
            lines: list[str] = []
            about = {"skepway_logbook": FORMAT, "program": __version__, "book": own_chain(book)}
            _entry(bundle, lines, ABOUT, _text([json.dumps(about, sort_keys=True) + "\n"]))
            for table, (order, columns) in TABLES.items():
                asked = f"select {','.join(columns)} from {table} order by {order}"
                _entry(bundle, lines, f"json/{table}.jsonl", _json_lines(columns, book.execute(asked)))
                _entry(bundle, lines, f"csv/{table}.csv", _csv_lines(columns, book.execute(asked)))
            for name, content in sorted((papers or {}).items()):
                _entry(bundle, lines, f"papers/{name}", iter((content,)))
            for (mark,) in book.execute("select hash from media order by hash"):
                _entry(
                    bundle, lines, f"media/{mark}", _pieces(logbook.evidence.path(mark), mark), packed=False
                )
            with bundle.open(_info(MANIFEST), "w") as target:
                target.write("".join(lines).encode())
            bundle.comment = MARK + b"0" * 64
        _seal(stream)
        return int(book.execute("select count(*) from event").fetchone()[0])


def _info(name: str, packed: bool = True) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name, STAMP)
    info.compress_type = zipfile.ZIP_DEFLATED if packed else zipfile.ZIP_STORED
    info.external_attr = 0o600 << 16
    return info


def _entry(
    bundle: zipfile.ZipFile, lines: list[str], name: str, content: Iterator[bytes], *, packed: bool = True
) -> None:
    digest = hashlib.sha256()
    with bundle.open(_info(name, packed), "w", force_zip64=True) as target:
        for piece in content:
            digest.update(piece)
            target.write(piece)
    lines.append(f"{digest.hexdigest()}  {name}\n")


def _pieces(path: Path, mark: str) -> Iterator[bytes]:
    try:
        with path.open("rb") as stream:
            while piece := stream.read(CHUNK):
                yield piece
    except OSError as error:
        reason = reason_of(error)
        raise StorageError(say("logbook.picture_not_read", mark=mark, reason=reason)) from error


def _text(lines: Sequence[str]) -> Iterator[bytes]:
    for line in lines:
        yield line.encode("utf-8", "surrogatepass")


def _json_lines(columns: Sequence[str], rows: sqlite3.Cursor) -> Iterator[bytes]:
    for row in rows:
        values = dict(zip(columns, row, strict=True))
        if "snapshot" in values:
            values["snapshot"] = _unfolded(values["snapshot"])
        yield (json.dumps(values, ensure_ascii=False) + "\n").encode("utf-8", "surrogatepass")


def _csv_lines(columns: Sequence[str], rows: sqlite3.Cursor) -> Iterator[bytes]:
    """For people and spreadsheets; a pinned plan's snapshot is in the JSON alone, for it is no table."""
    shown = [at for at, name in enumerate(columns) if name != "snapshot"]
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\r\n")
    table.writerow([columns[at] for at in shown])
    for row in rows:
        table.writerow([_harmless(row[at]) for at in shown])
        if text.tell() > CHUNK:
            yield text.getvalue().encode("utf-8", "replace")
            text.seek(0)
            text.truncate()
    yield text.getvalue().encode("utf-8", "replace")


def _harmless(value: Any) -> Any:
    """A text that a spreadsheet would take for a formula gets a quotation mark in front."""
    return f"'{value}" if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r") else value


def _unfolded(packed: bytes) -> str:
    text = unpacked(packed)
    if text is None:
        raise StorageError(say("logbook.plan_changed", code="?"))
    return text.decode("utf-8", "surrogatepass")


def _seal(stream: BinaryIO) -> None:
    """Put the hash of all before it into the zip's comment."""
    stream.flush()
    stream.seek(0, io.SEEK_END)
    end = stream.tell() - 64
    mark = _hash_of_start(stream, end)
    stream.seek(end)
    stream.write(mark.encode())


def _hash_of_start(stream: IO[bytes], length: int) -> str:
    digest = hashlib.sha256()
    stream.seek(0)
    while length > 0:
        piece = stream.read(min(CHUNK, length))
        if not piece:
            break
        digest.update(piece)
        length -= len(piece)
    return digest.hexdigest()


# -- looked at -------------------------------------------------------------------------------------


def faults(path: Path) -> Iterator[str]:
    """What in a bundle is not as it was written, each named. Raises InputError for a file that is no bundle."""
    with _opened(path) as (bundle, stream):
        found = list(_damaged_entries(bundle))
        yield from found
        stream.seek(0, io.SEEK_END)
        end = stream.tell() - 64
        stream.seek(max(end - len(MARK), 0))
        sealed = stream.read(len(MARK) + 64)
        if sealed != MARK + _hash_of_start(stream, end).encode() and not found:
            yield say("logbook.zip_table_changed", file=path.name)


def _damaged_entries(bundle: zipfile.ZipFile) -> Iterator[str]:
    try:
        lines = bundle.read(MANIFEST).decode("ascii").splitlines()
        wanted = {name: mark for mark, name in (line.split("  ", 1) for line in lines)}
    except Exception:  # whatever a damaged manifest makes zip, zlib and the decoding raise
        yield say("logbook.part_changed", part=MANIFEST)
        return
    there = {info.filename for info in bundle.infolist()} - {MANIFEST}
    for name in sorted(wanted.keys() - there):
        yield say("logbook.part_missing", part=name)
    for name in sorted(there - wanted.keys()):
        yield say("logbook.part_unknown", part=name)
    for name in sorted(there & wanted.keys()):
        if _entry_hash(bundle, name) != wanted[name]:
            yield say("logbook.part_changed", part=name)


def _entry_hash(bundle: zipfile.ZipFile, name: str) -> str | None:
    digest = hashlib.sha256()
    try:
        with bundle.open(name) as stream:
            while piece := stream.read(CHUNK):
                digest.update(piece)
    except Exception:  # a damaged entry: bad sum, bad header, bad packing
        return None
    return digest.hexdigest()


@contextmanager
def _opened(path: Path) -> Iterator[tuple[zipfile.ZipFile, IO[bytes]]]:
    def unreadable(fault: Exception) -> InputError:
        problem = say("logbook.no_bundle", reason=type(fault).__name__)
        return InputError([Fault("file", "", problem, say("logbook.choose_bundle"))], path.name)

    try:
        stream = path.open("rb")
    except OSError as error:
        reason = reason_of(error)
        raise StorageError(say("logbook.bundle_not_read", path=str(path), reason=reason)) from error
    with stream:
        with net(unreadable):
            bundle = zipfile.ZipFile(stream)
            if _unfolds_beyond(bundle, path.stat().st_size):
                raise ValueError("more than its size can hold")
        with bundle:
            yield bundle, stream


def _unfolds_beyond(bundle: zipfile.ZipFile, packed_bytes: int) -> bool:
    """Whether the parts would be larger than any logbook so packed, or the manifest than any list of names."""
    sizes = {info.filename: info.file_size for info in bundle.infolist()}
    whole = sum(info.file_size for info in bundle.infolist())  # a name may stand twice
    small = max(sizes.get(name, 0) for name in (ABOUT, MANIFEST))
    return whole > MOST_PACKED * packed_bytes or small > MOST_MANIFEST


# -- in --------------------------------------------------------------------------------------------


def take_in(logbook: Logbook, path: Path) -> TakenIn:
    """Take another logbook's bundle in, all of it or nothing; what is there already stays as it is.

    Raises
    ------
    InputError : no bundle, one of a later version, or one in which something was changed (named)
    StorageError : it cannot be read or kept
    """
    changed = tuple(faults(path))
    with _opened(path) as (bundle, _):
        version = _version(bundle) if changed == () else 0
        if changed:
            problem = say("logbook.bundle_changed", what=" ".join(changed))
            raise InputError([Fault("file", "", problem, say("logbook.fetch_again"))], path.name)
        if version > FORMAT:
            problem = say("logbook.newer_bundle", version=version, known=FORMAT)
            raise InputError([Fault("file", "", problem, say("logbook.newer_program"))], path.name)

        def nonsense(fault: Exception) -> InputError:
            problem = say("logbook.no_bundle", reason=type(fault).__name__)
            return InputError([Fault("file", "", problem, say("logbook.choose_bundle"))], path.name)

        with net(nonsense):
            pictures = _take_pictures(logbook, bundle)
            with opened(logbook.path) as book:
                _rows_in(book, bundle, "trip", "insert or ignore")
                _rows_in(book, bundle, "media", "insert or ignore")
                everybody = [people.merge(book, _person(row)) for row in _lines(bundle, "person")]
                plans = sum(_plan_in(book, row) for row in _lines(bundle, "plan"))
                events = _events_in(book, bundle, path.name)
    return TakenIn(events, pictures, plans, sum(everybody))


def _version(bundle: zipfile.ZipFile) -> int:
    try:
        return int(json.loads(bundle.read(ABOUT))["skepway_logbook"])
    except (ValueError, KeyError, TypeError, RecursionError):
        return 0


def _lines(bundle: zipfile.ZipFile, table: str) -> Iterator[dict[str, Any]]:
    with bundle.open(f"json/{table}.jsonl") as stream:
        while line := stream.readline(LONGEST_LINE):
            if line.count(b"[") + line.count(b"{") > MOST_BRACKETS:
                raise ValueError("more tables than memory")
            row = json.loads(line.decode("utf-8", "surrogatepass"))
            if set(row) != set(TABLES[table][1]):
                raise ValueError(say("logbook.the_columns_of", table=f"{table}"))
            faults = [
                Fault(
                    f"{table}.{name}",
                    shown(value),
                    say("logbook.no_bundle", reason=name),
                    say("logbook.choose_bundle"),
                )
                for name, value in row.items()
                if not _fits(f"{table}.{name}", name, value)
            ]
            if faults:
                raise InputError(faults, bundle.filename or "")
            yield row


def _fits(place: str, column: str, value: Any) -> bool:
    """Whether a value may stand in a column: an event that is taken in stays for ever, and all pages read it."""
    if place in CHOICES:
        return value in CHOICES[place]
    if value is None:
        return column in UNKNOWN
    if column in INSTANTS:
        return isinstance(value, int | float) and FIRST_S <= value <= LAST_S
    if column in WHOLE:
        return isinstance(value, int) and not isinstance(value, bool) and abs(value) < WHOLE[column]
    return isinstance(value, str)


def _rows_in(book: sqlite3.Connection, bundle: zipfile.ZipFile, table: str, how: str) -> None:
    columns = TABLES[table][1]
    text = f"{how} into {table} ({','.join(columns)}) values ({','.join('?' * len(columns))})"
    book.executemany(text, ([row[name] for name in columns] for row in _lines(bundle, table)))


def _person(row: dict[str, Any]) -> Person:
    return Person(**{name: row[name] for name in people.COLUMNS if name != "sum"})


def _plan_in(book: sqlite3.Connection, row: dict[str, Any]) -> bool:
    import zlib

    text = row["snapshot"].encode("utf-8", "surrogatepass")
    if hashlib.sha256(text).hexdigest() != row["id"]:
        raise ValueError("a plan's hash")
    if not isinstance(json.loads(text), dict):
        raise ValueError("a plan")
    values = {**row, "snapshot": zlib.compress(text, 9)}
    columns = TABLES["plan"][1]
    done = book.execute(
        f"insert or ignore into plan ({','.join(columns)}) values ({','.join('?' * len(columns))})",
        [values[name] for name in columns],
    )
    return done.rowcount > 0


def _events_in(book: sqlite3.Connection, bundle: zipfile.ZipFile, where: str) -> int:
    """Add the events that are new, each held against the one before it in its chain."""
    ends: dict[str, tuple[int, str]] = {
        chain: (int(number), mark) for chain, number, mark in book.execute("select * from chain")
    }
    added = 0
    for row in _lines(bundle, "event"):
        chain, number = row["book"], row["number"]
        length, before = ends.get(chain, (0, FIRST))
        if number <= length:
            known = book.execute(
                "select hash from event where book = ? and number = ?", (chain, number)
            ).fetchone()
            if known is None or known[0] != row["hash"]:
                raise _apart(row, where)
            continue
        hashed = [row[name] for name in COLUMNS[:-2]]
        if number != length + 1 or row["before"] != before or hash_of(before, hashed) != row["hash"]:
            raise _apart(row, where)
        book.execute(
            f"insert into event values ({','.join('?' * len(COLUMNS))})", [row[name] for name in COLUMNS]
        )
        ends[chain] = (number, row["hash"])
        added += 1
    book.executemany("insert or replace into chain values (?,?,?)", [(c, n, h) for c, (n, h) in ends.items()])
    return added


def _apart(row: dict[str, Any], where: str) -> InputError:
    name = f"{str(row['book'])[:8]}/{row['number']}"
    return InputError([Fault("event", name, say("logbook.chains_differ"), say("logbook.keep_both"))], where)


def _take_pictures(logbook: Logbook, bundle: zipfile.ZipFile) -> int:
    new = 0
    for info in bundle.infolist():
        mark = info.filename.removeprefix("media/")
        if not re.fullmatch("[0-9a-f]{64}", mark) or mark == info.filename:
            continue
        if not logbook.evidence.path(mark).is_file():
            new += 1
        with bundle.open(info) as stream:
            logbook.evidence.take_in(stream, mark)  # type: ignore[arg-type]
    return new
